//! What the entries of one rehearsal, or of several sittings of it, add up to.

use super::{Agreed, Decision, Entry, Mark, Note, Notes};
use crate::rehearsal::{Channel, Ensemble, Family, HeldChord, Trial};
use crate::tuning::{Placement, Tuning};
use crate::units::{Celsius, NoteName, Seconds};

/// A shorter sitting in which nothing was held or said is none.
const BARE_S: f64 = 10.0;

/// A stretch of a rehearsal that was listened to in one go.
#[derive(Debug, Clone, PartialEq)]
pub struct Sitting {
    /// When it began, counted from the beginning of the first.
    pub begun: Seconds,
    /// The last moment anything was heard of it.
    pub ended: Seconds,
    /// Who played, in what tuning it began.
    pub ensemble: Ensemble,
}

/// A rehearsal from the beginning of its first sitting on. Pitches and times are kept;
/// whatever is said about them is computed from here.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Chronicle {
    sittings: Vec<Sitting>,
    players: Vec<Channel>,
    /// For each channel of the present ensemble the player's place.
    seats: Vec<usize>,
    /// Where the present sitting's clock stood at zero.
    offset: Seconds,
    tunings: Vec<(Seconds, Tuning)>,
    notes: Notes,
    held: Vec<(Seconds, HeldChord)>,
    trials: Vec<Trial>,
    decisions: Vec<Decision>,
    marks: Vec<Mark>,
    temperatures: Vec<(Seconds, Celsius)>,
    faults: Vec<(Seconds, String)>,
    /// Blocks lost in the sittings before, and in the present one.
    lost: (u64, u64),
}

impl Chronicle {
    /// Goes on with another sitting, whose clock stands at zero so long after the beginning of
    /// the first. A moment before the end of the last one is moved there.
    pub fn sit_down(&mut self, offset: Seconds) {
        let ended = self.ended();
        self.offset = if offset < ended { ended } else { offset };
        // Each sitting counts anew.
        self.lost = (self.blocks_lost(), 0);
    }

    /// How long after the beginning of the first sitting the present one's clock stood at zero.
    pub fn offset(&self) -> Seconds {
        self.offset
    }

    /// Takes in an entry of the present sitting.
    pub fn take(&mut self, entry: &Entry) {
        let at = self.offset + entry.at();
        let begins = matches!(entry, Entry::Seated { .. });
        if let Some(sitting) = self.sittings.last_mut()
            && sitting.ended < at
            && !begins
        {
            sitting.ended = at;
        }
        match entry {
            Entry::Seated { ensemble, .. } => self.seat(at, ensemble),
            Entry::Tuned { tuning, .. } => self.tunings.push((at, (**tuning).clone())),
            Entry::Heard(_) | Entry::Running { .. } => {}
            Entry::Note(note) => {
                if let Some(player) = self.seats.get(note.channel) {
                    self.notes.push(Note {
                        channel: *player,
                        begun: self.offset + note.begun,
                        ended: at,
                        ..*note
                    });
                }
            }
            Entry::Held { chord, .. } => self.held.push((at, (**chord).clone())),
            Entry::Tried(trial) => self.trials.push(Trial {
                begun: self.offset + trial.begun,
                ended: at,
                ..(**trial).clone()
            }),
            Entry::Decided(decision) => self.decisions.push(Decision {
                at,
                ..decision.clone()
            }),
            Entry::Marked(mark) => self.marks.push(Mark { at, ..mark.clone() }),
            Entry::Warmth { celsius, .. } => self.temperatures.push((at, *celsius)),
            Entry::Fault { text, .. } => self.faults.push((at, text.clone())),
            Entry::Lost { blocks, .. } => self.lost.1 = *blocks,
        }
    }

    fn seat(&mut self, at: Seconds, ensemble: &Ensemble) {
        self.forget_bare_sitting();
        self.seats = ensemble
            .channels
            .iter()
            .map(|channel| {
                let known = self.players.iter().position(|p| p.name == channel.name);
                known.unwrap_or_else(|| {
                    self.players.push(channel.clone());
                    self.players.len() - 1
                })
            })
            .collect();
        self.tunings.push((at, ensemble.tuning.clone()));
        self.sittings.push(Sitting {
            begun: at,
            ended: at,
            ensemble: ensemble.clone(),
        });
    }

    /// Players who were only guessed until the stream said how many there are never sat.
    fn forget_bare_sitting(&mut self) {
        let Some(last) = self.sittings.last() else {
            return;
        };
        let since = |at: Seconds| last.begun <= at;
        let is_bare = (last.ended - last.begun).get() < BARE_S
            && !self.notes.last().is_some_and(|note| since(note.ended))
            && !self.trials.last().is_some_and(|trial| since(trial.ended))
            && !self.decisions.last().is_some_and(|d| since(d.at))
            && !self.marks.last().is_some_and(|mark| since(mark.at))
            && !self.held.last().is_some_and(|(at, _)| since(*at));
        if is_bare {
            self.sittings.pop();
        }
    }

    /// The sittings in order.
    pub fn sittings(&self) -> &[Sitting] {
        &self.sittings
    }

    /// The notes of exercises, in the order they ended.
    pub fn trials(&self) -> &[Trial] {
        &self.trials
    }

    /// Everybody who played, in the order they sat down. Notes name them by their place here.
    pub fn players(&self) -> &[Channel] {
        &self.players
    }

    /// The notes in the order they ended.
    pub fn notes(&self) -> &Notes {
        &self.notes
    }

    /// Every tuning and when it began, in order.
    pub fn tunings(&self) -> &[(Seconds, Tuning)] {
        &self.tunings
    }

    /// The chords that were held.
    pub fn held(&self) -> &[(Seconds, HeldChord)] {
        &self.held
    }

    /// All decisions in order, those taken back or replaced later included.
    pub fn decisions(&self) -> &[Decision] {
        &self.decisions
    }

    /// What is agreed in the end: the last decision on each note, in the order of the notes'
    /// fifths.
    pub fn agreements(&self) -> Vec<&Decision> {
        let mut notes: Vec<NoteName> = self.decisions.iter().map(|d| d.note).collect();
        notes.sort_by_key(|note| note.fifths());
        notes.dedup();
        let last = |note: NoteName| self.decision(note);
        notes.into_iter().filter_map(last).collect()
    }

    /// What is agreed on a note; none before anything was, or after it was taken back.
    pub fn decision(&self, note: NoteName) -> Option<&Decision> {
        let last = self.decisions.iter().rev().find(|d| d.note == note)?;
        last.resolution.is_some().then_some(last)
    }

    /// What is agreed for a player of `family` on a note between these places.
    pub fn agreed(&self, family: Family, places: &Placement) -> Option<Agreed<'_>> {
        let decision = self.decision(places.tempered.note.name())?;
        let (_, tuning) = self.tunings.last()?;
        let places = tuning.places_of(places.tempered);
        let place = decision.resolution?.place(family, &places);
        Some(Agreed { decision, place })
    }

    /// The moments that were marked.
    pub fn marks(&self) -> &[Mark] {
        &self.marks
    }

    /// The temperatures that were typed in.
    pub fn temperatures(&self) -> &[(Seconds, Celsius)] {
        &self.temperatures
    }

    /// Faults of the input, in the words of the status line.
    pub fn faults(&self) -> &[(Seconds, String)] {
        &self.faults
    }

    /// Blocks of sound lost in all sittings.
    pub fn blocks_lost(&self) -> u64 {
        self.lost.0 + self.lost.1
    }

    /// The tuning at a moment; none before anybody sat down.
    pub fn tuning_at(&self, at: Seconds) -> Option<&Tuning> {
        let next = self.tunings.partition_point(|(from, _)| *from <= at);
        let before = next
            .checked_sub(1)
            .or((!self.tunings.is_empty()).then_some(0))?;
        self.tunings.get(before).map(|(_, tuning)| tuning)
    }

    /// The last moment of anything, from the beginning of the first sitting; zero of nothing.
    pub fn ended(&self) -> Seconds {
        self.sittings
            .last()
            .map_or_else(Seconds::default, |s| s.ended)
    }

    /// Takes over what was agreed in an earlier rehearsal, as agreed at this moment of this
    /// one's clock.
    pub fn carry_over(&self, at: Seconds) -> Vec<Decision> {
        let agreed = self.agreements().into_iter();
        agreed
            .map(|decision| Decision {
                at,
                ..decision.clone()
            })
            .collect()
    }
}
