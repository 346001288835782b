//! Chronicles made up note by note, for the tests of what is said about them.

use super::*;
use crate::rehearsal::tests::band;
use crate::rehearsal::{Ensemble, VoiceLabel};
use crate::tuning::Tuning;
use crate::units::{Cents, Dbfs, Hertz, Seconds};

/// A rehearsal that is made up.
pub(super) struct MadeUp {
    pub(super) ensemble: Ensemble,
    pub(super) chronicle: Chronicle,
    chance: fastrand::Rng,
}

impl MadeUp {
    pub(super) fn new(names: &[&str]) -> Self {
        let ensemble = band(names);
        let mut chronicle = Chronicle::default();
        chronicle.take(&Entry::Seated {
            at: Seconds::new(0.0),
            ensemble: Box::new(ensemble.clone()),
        });
        Self {
            ensemble,
            chronicle,
            chance: fastrand::Rng::with_seed(7),
        }
    }

    pub(super) fn tuning(&self) -> &Tuning {
        &self.ensemble.tuning
    }

    /// Somewhere between −1 and 1, near 0 more often.
    pub(super) fn chance(&mut self) -> f64 {
        self.chance.f64() + self.chance.f64() - 1.0
    }

    /// A voice held for `seconds` from `at` on, so many cents from its place.
    pub(super) fn play(&mut self, channel: usize, label: &str, at: f64, seconds: f64, cents: f64) {
        self.play_at_level(channel, label, at, seconds, cents, -20.0);
    }

    pub(super) fn play_at_level(
        &mut self,
        channel: usize,
        label: &str,
        at: f64,
        seconds: f64,
        cents: f64,
        level_dbfs: f64,
    ) {
        let label: VoiceLabel = label.parse().unwrap();
        let hertz = label.frequency(self.tuning()).raised(Cents::new(cents));
        let note = note(channel, label, at, seconds, hertz, self.tuning());
        self.take(&Entry::Note(Note {
            level: Dbfs::new(level_dbfs),
            ..note
        }));
    }

    pub(super) fn take(&mut self, entry: &Entry) {
        self.chronicle.take(entry);
    }
}

fn note(
    channel: usize,
    label: VoiceLabel,
    at: f64,
    seconds: f64,
    hertz: Hertz,
    tuning: &Tuning,
) -> Note {
    Note {
        channel,
        label,
        begun: Seconds::new(at),
        ended: Seconds::new(at + seconds),
        steady: Seconds::new(seconds - 0.2),
        hertz,
        margin: Cents::new(0.5),
        spread: Cents::new(1.5),
        level: Dbfs::new(-20.0),
        goes_on: false,
        places: tuning.place(hertz),
    }
}
