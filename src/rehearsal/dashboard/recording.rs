//! What a rehearsal leaves behind: its chronicle, what is said about it, and the entries for
//! the journal.

use super::{Rehearsal, Survey};
use crate::analysis::Reading;
use crate::analysis::chord::{HeardChord, HeardVoice};
use crate::rehearsal::record::{NoteTaker, Scribe, Seat, VoiceTaker};
use crate::rehearsal::{
    Agreed, Channel, Chronicle, Decision, Drift, Entry, HeardVoices, Ledger, Mark, Resolution,
    SampledVoice, SoughtVoices, TrueSeries,
};
use crate::sound::SourceState;
use crate::tuning::{Anchor, Placement};
use crate::units::{Celsius, Cents, NoteName, Seconds};

/// How long readings of a span are waited for after its end.
const LATE: Seconds = Seconds::new(0.2);

/// The record of a rehearsal while it goes on.
#[derive(Debug, Clone)]
pub(super) struct Recording {
    pub(super) chronicle: Chronicle,
    scribe: Scribe,
    /// One for each channel that is heard as one player.
    takers: Vec<NoteTaker>,
    /// One for each channel that is shared.
    voice_takers: Vec<VoiceTaker>,
    /// When lost blocks were last kept, and whether more were lost since.
    lost: (Seconds, Option<u64>),
    /// What the journal has not fetched yet.
    entries: Vec<Entry>,
    /// Whether all of it comes from a journal.
    pub(super) is_replay: bool,
    /// Whether that journal is a rehearsal that goes on elsewhere.
    pub(super) is_watched: bool,
    /// Whether nothing is to be said about the chronicle yet, as more of it is coming.
    is_hurried: bool,
    survey: Survey,
    surveying: Surveying,
}

/// Who makes surveys.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Surveying {
    /// They are made here, while everybody waits.
    Here,
    /// Somebody else does, and none is wanted now.
    Elsewhere,
    /// One is wanted that nobody has begun yet.
    Wanted,
    /// One is on its way.
    Ordered,
}

/// Why a measured series cannot be taken as the reference.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum NotAdopted {
    /// The player is no trumpet.
    #[error("select a trumpet: only trumpets have a series to measure")]
    NoTrumpet,
    /// Too few notes were heard.
    #[error("too few notes of this trumpet yet: six or more on three partials are needed")]
    TooFew,
    /// The notes do not agree on a fundamental.
    #[error("the notes of this trumpet agree to \u{b1}{:.0} cents only: play more of them", .0.get())]
    TooUnsure(Cents),
    /// What was measured is no trumpet's fundamental.
    #[error("what was measured is no fundamental of a trumpet: check the key of the series")]
    OutOfReach,
    /// A replay changes nothing.
    #[error("a replay changes nothing")]
    Replay,
}

impl Recording {
    pub(super) fn new(n_channels: usize) -> Self {
        Self {
            chronicle: Chronicle::default(),
            scribe: Scribe::new(n_channels),
            takers: vec![NoteTaker::default(); n_channels],
            voice_takers: vec![VoiceTaker::default(); n_channels],
            lost: (Seconds::new(f64::NEG_INFINITY), None),
            entries: Vec::new(),
            is_replay: false,
            is_watched: false,
            is_hurried: false,
            survey: Survey::default(),
            surveying: Surveying::Here,
        }
    }

    /// Keeps an entry.
    pub(super) fn keep(&mut self, entry: Entry) {
        if self.is_replay {
            return;
        }
        self.chronicle.take(&entry);
        self.entries.push(entry);
    }

    /// Keeps what was heard of a channel.
    pub(super) fn hear(&mut self, seat: Seat<'_>, reading: &Reading, time: Seconds) {
        if self.is_replay {
            return;
        }
        let out = &mut self.entries;
        self.scribe.hear(seat.channel, reading, time, out);
        let taker = self.takers.get_mut(seat.channel);
        let over = taker.map(|taker| taker.hear(reading, time));
        for taken in over.into_iter().flatten() {
            self.keep(Entry::Note(seat.alone(taken)));
        }
    }

    /// Keeps what was heard of a shared channel.
    pub(super) fn hear_chord(
        &mut self,
        seat: Seat<'_>,
        chord: &HeardChord,
        names: &SoughtVoices,
        time: Seconds,
    ) {
        if self.is_replay {
            return;
        }
        let out = &mut self.entries;
        self.scribe
            .hear_chord(seat.channel, chord, names, time, out);
        let taker = self.voice_takers.get_mut(seat.channel);
        let over = taker.map(|taker| taker.hear(chord, names, time));
        for (label, taken) in over.into_iter().flatten() {
            self.keep(Entry::Note(seat.note(label, taken)));
        }
    }

    /// Lets the notes of a channel end that are over by now, or all of them.
    pub(super) fn end_notes(&mut self, seat: Seat<'_>, now: Option<Seconds>) {
        if self.is_replay {
            return;
        }
        let over = self.takers.get_mut(seat.channel).map(|taker| match now {
            Some(now) => taker.pass(now),
            None => taker.finish(),
        });
        for taken in over.into_iter().flatten() {
            self.keep(Entry::Note(seat.alone(taken)));
        }
        let over = self.voice_takers.get_mut(seat.channel);
        let over = over.map(|taker| match now {
            Some(now) => taker.pass(now),
            None => taker.finish(),
        });
        for (label, taken) in over.into_iter().flatten() {
            self.keep(Entry::Note(seat.note(label, taken)));
        }
    }

    /// Keeps how many blocks were lost, once a second at the most: a program that is too slow
    /// loses many.
    pub(super) fn lose(&mut self, now: Seconds, blocks: u64) {
        self.lost.1 = Some(blocks);
        self.keep_lost(now);
    }

    fn keep_lost(&mut self, now: Seconds) {
        if (now - self.lost.0).get() >= 1.0
            && let Some(blocks) = self.lost.1.take()
        {
            self.lost.0 = now;
            self.keep(Entry::Lost { at: now, blocks });
        }
    }

    /// Begins anew with other players.
    pub(super) fn seat(&mut self, at: Seconds, ensemble: &super::Ensemble) {
        let n_channels = ensemble.channels.len();
        self.scribe = Scribe::new(n_channels);
        self.takers = vec![NoteTaker::default(); n_channels];
        self.voice_takers = vec![VoiceTaker::default(); n_channels];
        self.keep(Entry::Seated {
            at,
            ensemble: Box::new(ensemble.clone()),
        });
    }

    /// Lets time pass.
    pub(super) fn tick(&mut self, now: Seconds) {
        if !self.is_replay {
            self.scribe.turn(now - LATE, &mut self.entries);
        }
        self.keep_lost(now);
        if self.is_hurried {
            return;
        }
        self.survey(now);
    }

    /// Sees to it that what is said about the chronicle is not too old.
    fn survey(&mut self, now: Seconds) {
        let chronicle = &self.chronicle;
        match self.surveying {
            Surveying::Here if self.survey.is_due(chronicle, now) => {
                self.survey = Survey::of(chronicle);
                self.survey.made_at = Some(now);
            }
            Surveying::Elsewhere if self.survey.is_due(chronicle, now) => {
                self.surveying = Surveying::Wanted;
            }
            _ => self.survey.amend(chronicle),
        }
    }
}

impl Rehearsal {
    /// Goes on with a chronicle of earlier sittings.
    pub fn going_on(mut self, chronicle: Chronicle) -> Self {
        let mut recording = Recording::new(self.ensemble.channels.len());
        recording.chronicle = chronicle;
        recording.surveying = self.recording.surveying;
        recording.seat(self.now, &self.ensemble);
        self.recording = recording;
        self
    }

    /// The same as a replay: everything comes in as [`Update::Recalled`](crate::rehearsal::Update::Recalled), and nothing is kept.
    pub fn replaying(mut self) -> Self {
        self.recording = Recording::new(self.ensemble.channels.len());
        self.recording.is_replay = true;
        self
    }

    /// Holds back what is said about the chronicle, or lets it come: a replay that catches up
    /// says it once, at the end.
    pub fn hurry(&mut self, is_hurried: bool) {
        self.recording.is_hurried = is_hurried;
    }

    /// Whether this is a replay.
    pub fn is_replay(&self) -> bool {
        self.recording.is_replay
    }

    /// What has been kept since the last call, for the journal.
    pub fn take_entries(&mut self) -> Vec<Entry> {
        std::mem::take(&mut self.recording.entries)
    }

    /// Closes what is still open at the end of a rehearsal: notes that sound, readings of the
    /// last half second. To be followed by [`take_entries`](Self::take_entries).
    pub fn finish(&mut self) {
        self.end_notes(None);
        self.finish_practice();
        let beyond = self.now + crate::rehearsal::SPAN + LATE;
        self.recording.tick(beyond);
    }

    /// Lets the notes end that are over by `now`, or all of them.
    pub(super) fn end_notes(&mut self, now: Option<Seconds>) {
        let seats = self.ensemble.channels.iter().zip(&self.tunings).enumerate();
        for (channel, (player, tuning)) in seats {
            let seat = Seat {
                channel,
                player,
                tuning,
            };
            self.recording.end_notes(seat, now);
        }
    }

    /// Leaves it to somebody else to make surveys of all notes, which take long when there are
    /// many: [`Self::take_survey_order`] says of what, [`Update::Surveyed`](super::super::Update)
    /// brings what came of it.
    pub fn survey_elsewhere(&mut self) {
        self.recording.surveying = Surveying::Elsewhere;
    }

    /// What a survey is to be made of now, if one is to be made.
    pub fn take_survey_order(&mut self) -> Option<Chronicle> {
        let recording = &mut self.recording;
        let is_wanted = recording.surveying == Surveying::Wanted;
        is_wanted.then(|| {
            recording.surveying = Surveying::Ordered;
            recording.chronicle.clone()
        })
    }

    /// Takes a survey that was made elsewhere.
    pub(super) fn take_survey(&mut self, survey: Survey) {
        let recording = &mut self.recording;
        // One that was ordered before surveys were made here again says nothing new.
        if recording.surveying != Surveying::Here {
            recording.surveying = Surveying::Elsewhere;
            recording.survey = survey;
            recording.survey.made_at = Some(self.now);
            recording.survey.amend(&recording.chronicle);
        }
    }

    /// The record so far.
    pub fn chronicle(&self) -> &Chronicle {
        &self.recording.chronicle
    }

    /// The table of notes, a few seconds old at the most.
    pub fn ledger(&self) -> &Ledger {
        &self.recording.survey.ledger
    }

    /// The drift, a few seconds old at the most; none while nothing has been heard.
    pub fn drift(&self) -> Option<&Drift> {
        self.recording.survey.drift.as_ref()
    }

    /// The true series of the player at this place among the chronicle's players.
    pub fn true_series(&self, player: usize) -> Option<&TrueSeries> {
        self.recording.survey.series.get(player)?.as_ref()
    }

    /// What is agreed for a player of this channel on a note between these places.
    pub fn agreed(&self, channel: &Channel, places: &Placement) -> Option<Agreed<'_>> {
        let family = channel.instrument.family;
        self.chronicle().agreed(family, places)
    }

    /// Records what was agreed on a note, or takes it back.
    pub fn decide(&mut self, note: NoteName, resolution: Option<Resolution>, remark: &str) {
        self.recording.keep(Entry::Decided(Decision {
            at: self.now,
            note,
            resolution,
            remark: remark.to_owned(),
        }));
    }

    /// Takes over decisions of an earlier rehearsal.
    pub fn take_over(&mut self, decisions: Vec<Decision>) {
        for decision in decisions {
            self.recording.keep(Entry::Decided(Decision {
                at: self.now,
                ..decision
            }));
        }
    }

    /// Marks this moment.
    pub fn mark(&mut self, text: &str) {
        self.mark_at(self.now, text);
    }

    /// Marks a moment that has just been.
    pub fn mark_at(&mut self, at: Seconds, text: &str) {
        self.recording.keep(Entry::Marked(Mark {
            at,
            text: text.to_owned(),
        }));
    }

    /// Records the room's temperature.
    pub fn set_temperature(&mut self, celsius: Celsius) {
        self.recording.keep(Entry::Warmth {
            at: self.now,
            celsius,
        });
    }

    /// Takes the measured series of the trumpet on this channel as the reference; says by how
    /// much the fundamental moved, and how sure that is.
    ///
    /// # Errors
    ///
    /// There is nothing to adopt; nothing has changed.
    pub fn adopt_series(&mut self, channel: usize) -> Result<(Cents, Cents), NotAdopted> {
        if self.recording.is_replay {
            return Err(NotAdopted::Replay);
        }
        let player = self.ensemble.channels.get(channel);
        let player = player.ok_or(NotAdopted::NoTrumpet)?;
        if player.instrument.family != crate::rehearsal::Family::Trumpets || player.is_shared() {
            return Err(NotAdopted::NoTrumpet);
        }
        let players = self.chronicle().players();
        let index = players.iter().position(|other| other.name == player.name);
        let series = index.and_then(|index| TrueSeries::of(self.chronicle(), index));
        let series = series.ok_or(NotAdopted::TooFew)?;
        if !series.is_sure() {
            return Err(NotAdopted::TooUnsure(series.margin));
        }
        let anchor = Anchor::Fundamental {
            hz: series.fundamental,
        };
        let key = self.tuning().series().key();
        anchor.check(key).map_err(|_| NotAdopted::OutOfReach)?;
        let moved = series
            .fundamental
            .above(self.tuning().series().fundamental());
        self.retune(self.tuning().anchored(anchor));
        Ok((moved, series.margin))
    }

    /// Takes in an entry of a journal that is replayed.
    pub(super) fn recall_entry(&mut self, entry: &Entry) {
        self.recording.chronicle.take(entry);
        match entry {
            Entry::Seated { ensemble, .. } => {
                self.ensemble = self.seen(ensemble);
                self.live = super::Picture::new(ensemble.channels.len());
                self.frozen = None;
                self.retune(ensemble.tuning.clone());
            }
            Entry::Tuned { tuning, .. } => self.retune((**tuning).clone()),
            Entry::Heard(span) => {
                for chord in &span.chords {
                    self.recall_chord(chord, self.now);
                }
            }
            Entry::Held { chord, .. } => {
                self.shelf.put((**chord).clone());
            }
            // What a stand is told of the source comes as news.
            Entry::Fault { .. } | Entry::Running { .. } if self.recording.is_watched => {}
            Entry::Fault { .. } | Entry::Running { .. } => self.source = SourceState::Running,
            Entry::Lost { blocks, .. } => self.blocks_lost = *blocks,
            Entry::Note(_)
            | Entry::Tried(_)
            | Entry::Decided(_)
            | Entry::Marked(_)
            | Entry::Warmth { .. } => {}
        }
    }

    pub(super) fn recall_chord(&mut self, chord: &HeardVoices, available: Seconds) {
        let Some(Some(names)) = self.sought.get(chord.channel) else {
            return;
        };
        let place = |label| names.labels().iter().position(|other| *other == label);
        let voice = |voice: &SampledVoice| {
            Some(HeardVoice {
                identity: voice.identity,
                place: place(voice.label)?,
                hertz: voice.hertz,
                margin: voice.margin,
                confidence: 1.0,
                status: voice.status,
                beating: voice.beating,
                is_named: voice.is_named,
                or_place: voice.or_label.and_then(place),
            })
        };
        let heard = HeardChord {
            time: available,
            available,
            span: chord.span,
            level: crate::units::Dbfs::SILENCE,
            sound: chord.sound,
            voices: chord.voices.iter().filter_map(voice).collect(),
        };
        self.hear_chord(chord.channel, &heard);
    }
}
