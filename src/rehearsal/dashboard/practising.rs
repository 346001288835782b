//! A rehearsal of one player with a drone.

use super::Rehearsal;
use crate::analysis::Reading;
use crate::drone::{Pitches, Wanted};
use crate::rehearsal::{Entry, Practice, Target, Trial};
use crate::tuning::Placement;
use crate::units::{Hertz, Seconds};

impl Rehearsal {
    /// The same with a drone and exercises for the player of its first channel.
    pub fn practising(self, practice: Practice) -> Self {
        Self {
            practice: Some(practice),
            ..self
        }
    }

    /// The drone and the exercise, if this is a practice.
    pub fn practice(&self) -> Option<&Practice> {
        self.practice.as_ref()
    }

    /// Changes something about the practice, if this is one; gives what came of it.
    pub fn practise<T>(
        &mut self,
        change: impl FnOnce(&mut Practice, &Pitches<'_>) -> T,
    ) -> Option<T> {
        let mut practice = self.practice.take()?;
        let done = self.with_pitches(|pitches| change(&mut practice, pitches));
        self.practice = Some(practice);
        done
    }

    /// Where the note of the exercise belongs.
    pub fn target(&self) -> Option<Target> {
        let practice = self.practice.as_ref()?;
        self.with_pitches(|pitches| practice.course().target(pitches))?
    }

    /// Where the tones of the drone stand, whether or not it sounds.
    pub fn drone_soundings(&self) -> Vec<crate::drone::Sounding> {
        let practice = self.practice.as_ref();
        let soundings = practice
            .and_then(|practice| self.with_pitches(|pitches| practice.drone().soundings(pitches)));
        soundings.unwrap_or_default()
    }

    /// What the loudspeaker has to play; silence where this is no practice.
    pub fn wanted(&self) -> Wanted {
        let practice = self.practice.as_ref();
        let wanted = practice.and_then(|p| self.with_pitches(|pitches| p.wanted(pitches)));
        wanted.unwrap_or_else(Wanted::silence)
    }

    fn with_pitches<T>(&self, run: impl FnOnce(&Pitches<'_>) -> T) -> Option<T> {
        let (player, tuning) = (self.ensemble.channels.first()?, self.tunings.first()?);
        let agreed = |places: &Placement| -> Option<Hertz> { self.agreed(player, places)?.place };
        Some(run(&Pitches {
            tuning,
            agreed: &agreed,
        }))
    }

    pub(super) fn practise_with(&mut self, reading: &Reading, time: Seconds) {
        let trial = self.practise(|practice, pitches| practice.hear(reading, time, pitches));
        self.keep_trial(trial.flatten());
    }

    pub(super) fn tick_practice(&mut self, now: Seconds, elapsed: Seconds) {
        if self.practice.is_none() {
            return;
        }
        let sounding = self
            .live
            .channels
            .first()
            .and_then(|c| c.sounding())
            .copied();
        let trial = self
            .practise(|practice, pitches| practice.tick(now, elapsed, sounding.as_ref(), pitches));
        self.keep_trial(trial.flatten());
    }

    pub(super) fn finish_practice(&mut self) {
        // A note may have begun before the one before it was told.
        while let Some(trial) = self.practise(Practice::finish).flatten() {
            self.keep_trial(Some(trial));
        }
    }

    fn keep_trial(&mut self, trial: Option<Trial>) {
        if let Some(trial) = trial {
            self.recording.keep(Entry::Tried(Box::new(trial)));
        }
    }
}
