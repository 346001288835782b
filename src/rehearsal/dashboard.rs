//! The rehearsal as the screen shows it: who sounds where, against which tuning.

mod attending;
mod holding;
mod practising;
mod recording;
mod survey;
mod watching;

use super::clock::StreamClock;
use super::picture::{LivePurity, Picture};
use super::record::Seat;
use super::{
    Channel, ChannelState, Doing, Ensemble, Entry, HeldVoice, Match, Practice, Shelf, SoughtVoices,
    Update, Voice,
};
use crate::analysis::chord::{HeardChord, Sought};
use crate::analysis::{Effort, NoPitch, Reading};
use crate::sound::{SourceState, StreamFormat};
use crate::tuning::{Temperament, Tuning};
use crate::units::Seconds;

use attending::Attention;
pub use attending::Silence;
pub use holding::NothingHeld;
pub use recording::NotAdopted;
use recording::Recording;
pub use survey::Survey;

/// All that a view needs to know. Time is passed in; nothing here reads a clock.
#[derive(Debug, Clone)]
pub struct Rehearsal {
    ensemble: Ensemble,
    temperaments: Vec<Temperament>,
    /// One for each channel, with its own chain where it has one.
    tunings: Vec<Tuning>,
    /// What is sought on each shared channel; none on the others.
    sought: Vec<Option<SoughtVoices>>,
    sought_revision: u64,
    live: Picture,
    shelf: Shelf,
    /// What is shown while listening goes on.
    frozen: Option<Frozen>,
    clock: StreamClock,
    now: Seconds,
    source: SourceState,
    format: Option<StreamFormat>,
    blocks_lost: u64,
    effort: Effort,
    follows_inputs: bool,
    recording: Recording,
    practice: Option<Practice>,
    attention: Attention,
}

#[derive(Debug, Clone)]
struct Frozen {
    since: Seconds,
    picture: Picture,
}

/// One channel for a view.
#[derive(Debug, Clone, Copy)]
pub struct Part<'a> {
    /// Its place in the ensemble, from 0.
    pub index: usize,
    /// Who plays.
    pub channel: &'a Channel,
    /// What has been heard.
    pub state: &'a ChannelState,
    /// What is going on, faults of the wiring included.
    pub doing: Doing,
    /// The place beside the trumpets' chord; none on a shared channel.
    pub matched: Option<&'a Match>,
}

impl Rehearsal {
    /// A rehearsal of `ensemble` that can change between `temperaments`; the ensemble's own
    /// is put in front when it is not among them.
    pub fn new(ensemble: Ensemble, mut temperaments: Vec<Temperament>) -> Self {
        let own = ensemble.tuning.scale().temperament();
        if !temperaments.iter().any(|t| t.name == own.name) {
            temperaments.insert(0, own.clone());
        }
        let live = Picture::new(ensemble.channels.len());
        let mut recording = Recording::new(ensemble.channels.len());
        recording.seat(Seconds::new(0.0), &ensemble);
        let mut rehearsal = Self {
            ensemble,
            temperaments,
            tunings: Vec::new(),
            sought: Vec::new(),
            sought_revision: 0,
            live,
            shelf: Shelf::default(),
            frozen: None,
            clock: StreamClock::default(),
            now: Seconds::new(0.0),
            source: SourceState::Opening,
            format: None,
            blocks_lost: 0,
            effort: Effort::Full,
            follows_inputs: false,
            recording,
            practice: None,
            attention: Attention::default(),
        };
        rehearsal.retune(rehearsal.ensemble.tuning.clone());
        rehearsal
    }

    /// The same without fixed players: whenever a stream starts there is one channel for each
    /// of its inputs, made after the ensemble's first.
    pub fn following_inputs(self) -> Self {
        Self {
            follows_inputs: true,
            ..self
        }
    }

    /// Takes in a piece of news.
    pub fn take(&mut self, update: Update) {
        match update {
            Update::Reading(index, reading) => self.hear(index, &reading),
            Update::Chord(index, chord) => self.hear_chord(index, &chord),
            Update::State(state) => {
                // What was played last stays to be read.
                if state == SourceState::Ended && self.frozen.is_none() {
                    self.toggle_freeze();
                }
                // An input that is tried again and again fails once.
                if let SourceState::Waiting(fault) = &state
                    && state != self.source
                {
                    self.recording.keep(Entry::Fault {
                        at: self.now,
                        text: fault.to_string(),
                    });
                }
                self.source = state;
            }
            Update::Started(format) => self.start(format),
            Update::Lost(blocks) => {
                self.blocks_lost = blocks;
                self.recording.lose(self.now, blocks);
            }
            Update::Damaged(text) => self.take_damage(text),
            Update::Effort(effort) => self.effort = effort,
            Update::Through(heard) => {
                self.practise(|practice, _| practice.hear_through(heard));
            }
            Update::Loudspeaker(loudspeaker) => {
                self.practise(|practice, _| practice.hear_of_loudspeaker(loudspeaker));
            }
            Update::Surveyed(survey) => self.take_survey(*survey),
            Update::Recalled(entry) => self.recall_entry(&entry),
            Update::Watched(watched) => self.take_watched(watched),
        }
    }

    /// Lets time pass, and says whether the screen may look different for it.
    pub fn tick(&mut self, now: Seconds) -> bool {
        let before = self.now;
        self.now = now;
        self.live.tick(now);
        self.end_notes(Some(now));
        self.recording.tick(now);
        self.attend(now - before);
        self.tick_practice(now, now - before);
        self.live.weigh(&self.ensemble, &self.tunings);
        self.live.rematch(
            held(&self.shelf),
            &self.ensemble,
            &self.tunings,
            now - before,
        );
        // Without readings only the counted seconds and what still fades or scrolls changes.
        before.get().floor() < now.get().floor() || self.live.is_moving()
    }

    /// Finds everyone's place beside the chord in use, on the frozen picture too.
    fn rematch(&mut self) {
        let frozen = self.frozen.iter_mut().map(|frozen| &mut frozen.picture);
        for picture in frozen.chain([&mut self.live]) {
            let still = Seconds::new(0.0);
            picture.rematch(held(&self.shelf), &self.ensemble, &self.tunings, still);
        }
    }

    /// A moment of the stream on the rehearsal's clock. A replay has only one clock; a stand
    /// hears the stream as it comes.
    fn moment(&mut self, available: Seconds) -> Seconds {
        if self.recording.is_replay && !self.recording.is_watched {
            return available;
        }
        self.clock.moment(available, self.now)
    }

    /// An index beyond the last channel is passed over.
    pub(super) fn hear(&mut self, index: usize, reading: &Reading) {
        let time = self.moment(reading.available);
        let mut reading = *reading;
        // Of players who share an input one pitch would be anybody's; only the level counts.
        if self.sought.get(index).is_some_and(Option::is_some) && reading.pitch.is_ok() {
            reading.pitch = Err(NoPitch::TwoNotes);
        }
        let state = self.live.channels.get_mut(index);
        if let (Some(state), Some(tuning)) = (state, self.tunings.get(index)) {
            state.hear(reading, time, tuning);
            let player = &self.ensemble.channels[index];
            let seat = Seat {
                channel: index,
                player,
                tuning,
            };
            self.recording.hear(seat, &reading, time);
        }
        if index == 0 {
            self.practise_with(&reading, time);
        }
    }

    /// A chord of a channel that is not shared is passed over.
    pub(super) fn hear_chord(&mut self, index: usize, chord: &HeardChord) {
        let time = self.moment(chord.available);
        let names = self.sought.get(index).and_then(Option::as_ref);
        let state = self.live.chords.get_mut(index);
        if let (Some(state), Some(names), Some(tuning)) = (state, names, self.tunings.get(index)) {
            state.hear(chord, time, names, tuning);
            let player = &self.ensemble.channels[index];
            let seat = Seat {
                channel: index,
                player,
                tuning,
            };
            self.recording.hear_chord(seat, chord, names, time);
        }
    }

    pub(super) fn start(&mut self, format: StreamFormat) {
        self.clock.restart();
        for state in &mut self.live.channels {
            state.begin_stream();
        }
        if self.follows_inputs && self.ensemble.channels.len() != format.channels {
            self.take_inputs(format.channels);
        }
        self.recording.keep(Entry::Running {
            at: self.now,
            source: format.name.clone(),
        });
        self.format = Some(format);
    }

    fn take_inputs(&mut self, count: usize) {
        let Some(first) = self.ensemble.channels.first().cloned() else {
            return;
        };
        self.end_notes(None);
        self.ensemble.channels = (1..=count)
            .map(|input| Channel {
                name: format!("Input {input}"),
                input,
                ..first.clone()
            })
            .collect();
        self.live = Picture::new(count);
        self.frozen = None;
        self.recording.seat(self.now, &self.ensemble);
        self.retune(self.ensemble.tuning.clone());
    }

    /// Goes `steps` along the list of temperaments, round and round.
    pub fn step_temperament(&mut self, steps: isize) {
        let name = &self.tuning().scale().temperament().name;
        let current = self.temperaments.iter().position(|t| t.name == *name);
        let count = self.temperaments.len() as isize;
        let next = (current.unwrap_or(0) as isize + steps).rem_euclid(count) as usize;
        self.retune(self.tuning().in_temperament(&self.temperaments[next]));
    }

    /// Takes up a tuning of an earlier sitting again. One may step from its temperament to the
    /// others and back, though it may be none of the list.
    pub fn resume(&mut self, tuning: Tuning) {
        let own = tuning.scale().temperament();
        if !self.temperaments.iter().any(|t| t.name == own.name) {
            self.temperaments.insert(0, own.clone());
        }
        self.retune(tuning);
    }

    /// Moves the pitch standard by `hz`.
    pub fn shift_standard(&mut self, hz: f64) {
        let standard = self.tuning().standard().shifted(hz);
        self.retune(self.tuning().at_standard(standard));
    }

    fn retune(&mut self, tuning: Tuning) {
        if tuning != self.ensemble.tuning {
            self.recording.keep(Entry::Tuned {
                at: self.now,
                tuning: Box::new(tuning.clone()),
            });
        }
        let own = |channel: &Channel| match channel.chain {
            Some(chain) => tuning.over_chain(chain),
            None => tuning.clone(),
        };
        self.tunings = self.ensemble.channels.iter().map(own).collect();
        self.ensemble.tuning = tuning;
        self.sought = {
            let channels = self.ensemble.channels.iter().zip(&self.tunings);
            let sought = channels.map(|(channel, tuning)| {
                channel
                    .is_shared()
                    .then(|| SoughtVoices::free(channel, tuning))
            });
            sought.collect()
        };
        self.sought_revision += 1;
        let frozen = self.frozen.iter_mut().map(|frozen| &mut frozen.picture);
        for picture in frozen.chain([&mut self.live]) {
            picture.remeasure(&self.tunings);
        }
        // Whoever listens seeks anew from here on.
        self.live.forget();
        self.rematch();
    }

    /// What is sought on each channel, in the ensemble's order; none on a channel with one
    /// player. It changes with the tuning and with the inputs of a stream.
    pub fn sought(&self) -> &[Option<SoughtVoices>] {
        &self.sought
    }

    /// The same for whoever listens.
    pub fn wishes(&self) -> Vec<Option<Sought>> {
        let sought = self.sought.iter();
        sought
            .map(|voices| Some(voices.as_ref()?.sought().clone()))
            .collect()
    }

    /// Rises whenever what is sought may have changed.
    pub fn sought_revision(&self) -> u64 {
        self.sought_revision
    }

    fn picture(&self) -> &Picture {
        let frozen = self.frozen.as_ref();
        frozen.map_or(&self.live, |frozen| &frozen.picture)
    }

    /// Every voice that sounds on the channels shown, in their order.
    pub fn voices(&self) -> impl Iterator<Item = Voice<'_>> {
        let voices = self.picture().voices(&self.ensemble, &self.tunings);
        voices.filter(|voice| voice.player.visible)
    }

    /// How pure the chord is that sounds; none where there is none.
    pub fn purity(&self) -> Option<&LivePurity> {
        self.picture().purity()
    }

    /// Freezes the picture while listening goes on, or lets it go on.
    pub fn toggle_freeze(&mut self) {
        self.frozen = match self.frozen {
            Some(_) => None,
            None => Some(Frozen {
                since: self.now,
                picture: self.live.clone(),
            }),
        };
    }

    /// For how long the picture has been frozen, if it is.
    pub fn frozen_for(&self) -> Option<Seconds> {
        self.frozen.as_ref().map(|frozen| self.now - frozen.since)
    }

    /// Shows or hides a channel.
    pub fn set_visible(&mut self, index: usize, visible: bool) {
        if let Some(channel) = self.ensemble.channels.get_mut(index) {
            channel.visible = visible;
        }
    }

    /// Shows every channel.
    pub fn show_all(&mut self) {
        for channel in &mut self.ensemble.channels {
            channel.visible = true;
        }
    }

    /// The channels to show, in order.
    pub fn parts(&self) -> impl Iterator<Item = Part<'_>> {
        let picture = self.picture();
        let inputs = self.format.as_ref().map(|format| format.channels);
        self.ensemble
            .channels
            .iter()
            .zip(&picture.channels)
            .enumerate()
            .filter(|(_, (channel, _))| channel.visible)
            .map(move |(index, (channel, state))| Part {
                index,
                channel,
                state,
                doing: match inputs {
                    Some(count) if channel.input > count => Doing::NoInput(channel.input),
                    _ if channel.is_shared() => Doing::of_chord(&picture.chords[index]),
                    _ => state.doing(),
                },
                matched: picture
                    .matched(index)
                    .filter(|_| self.shelf.current().is_some()),
            })
    }

    /// Every channel's live state, shown or not, for the header's level.
    pub fn live(&self) -> impl Iterator<Item = (&Channel, &ChannelState)> {
        self.ensemble.channels.iter().zip(&self.live.channels)
    }

    /// Channels that are not shown.
    pub fn n_hidden(&self) -> usize {
        self.ensemble.channels.iter().filter(|c| !c.visible).count()
    }

    /// Who plays.
    pub fn ensemble(&self) -> &Ensemble {
        &self.ensemble
    }

    /// What notes are measured against.
    pub fn tuning(&self) -> &Tuning {
        &self.ensemble.tuning
    }

    /// The moment all this is of.
    pub fn now(&self) -> Seconds {
        self.now
    }

    /// What the source is doing.
    pub fn source(&self) -> &SourceState {
        &self.source
    }

    /// The stream, once it has started.
    pub fn format(&self) -> Option<&StreamFormat> {
        self.format.as_ref()
    }

    /// Blocks lost because the program was too slow.
    pub fn blocks_lost(&self) -> u64 {
        self.blocks_lost
    }

    /// How much is done for each second of sound: less than everything while the machine cannot
    /// keep up.
    pub fn effort(&self) -> Effort {
        self.effort
    }
}

/// The voices of the chord in use.
fn held(shelf: &Shelf) -> Option<&[HeldVoice]> {
    shelf.current().map(|(_, chord)| chord.voices.as_slice())
}
