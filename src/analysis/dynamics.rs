//! How loud the sound is, and whether it swells or fades.

use crate::units::Dbfs;

/// Below this level nothing is said to sound.
const GATE_DB: f64 = -78.0;
/// A level rising by this much within three hops is a new stroke, in decibels.
const STROKE_DB: f64 = 6.0;
/// A note this far below the level it has come from is fading, in decibels ...
const FADED_DB: f64 = 8.0;
/// ... and that level sinks by this much a hop, so that a diminuendo is no fading.
const SINKS_DB: f64 = 0.05;
/// Shares by which a hop moves the quick and the slow average of the mean square: a hop alone
/// is shorter than a low note's period.
const QUICK: f64 = 0.2;
const SLOW: f64 = 0.05;

/// The level of one channel over the last hops.
#[derive(Debug)]
pub(super) struct Dynamics {
    /// Levels of the last hops, the newest last.
    last: [f64; 3],
    /// By how much the newest exceeds that of three hops before.
    rise: f64,
    /// The mean square averaged over some 50 and 200 ms.
    quick: f64,
    slow: f64,
    /// The level the note has come from, which sinks slowly.
    loudest: f64,
}

impl Dynamics {
    /// Silence so far.
    pub(super) fn new() -> Self {
        let silence = Dbfs::SILENCE.get();
        Self {
            last: [silence; 3],
            rise: 0.0,
            quick: 0.0,
            slow: 0.0,
            loudest: silence,
        }
    }

    /// Takes the mean square of a hop and gives its level.
    pub(super) fn take(&mut self, mean_square: f64) -> Dbfs {
        let level = Dbfs::of_mean_square(mean_square);
        self.rise = level.get() - self.last[0];
        self.last = [self.last[1], self.last[2], level.get()];
        self.quick += QUICK * (mean_square - self.quick);
        self.slow += SLOW * (mean_square - self.slow);
        // A sudden drop must not count as sinking for a second.
        self.slow = self.slow.min(2.0 * self.quick);
        self.loudest = (self.loudest - SINKS_DB).max(self.now_db());
        if self.is_silent() {
            (self.quick, self.slow) = (mean_square, mean_square);
            self.loudest = self.now_db();
        }
        level
    }

    /// Whether nothing sounds.
    pub(super) fn is_silent(&self) -> bool {
        self.last.iter().all(|db| *db < GATE_DB)
    }

    /// Whether the level rises as at a stroke.
    pub(super) fn strikes(&self) -> bool {
        self.rise > STROKE_DB
    }

    /// Whether a note that was louder is dying away.
    pub(super) fn fades(&self) -> bool {
        self.sinks() && self.now_db() < self.loudest - FADED_DB
    }

    /// Notes that another note was chosen. One that begins as the sound sinks is only what is
    /// left of the one before.
    pub(super) fn begin_note(&mut self) {
        if !self.sinks() {
            self.loudest = self.now_db();
        }
    }

    fn sinks(&self) -> bool {
        self.quick < self.slow
    }

    fn now_db(&self) -> f64 {
        Dbfs::of_mean_square(self.quick).get()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn after(decibels: impl IntoIterator<Item = f64>) -> Dynamics {
        let mut dynamics = Dynamics::new();
        for db in decibels {
            dynamics.take(10_f64.powf(db / 10.0));
        }
        dynamics
    }

    #[test]
    fn a_ringing_string_fades_and_a_diminuendo_does_not() {
        let falling = |per_hop: f64| (0..150).map(move |hop| -20.0 - per_hop * f64::from(hop));
        assert!(after(falling(0.3)).fades());
        assert!(!after(falling(0.05)).fades());
    }

    #[test]
    fn a_stroke_ends_the_fading() {
        let ringing = (0..100).map(|hop| -20.0 - 0.3 * f64::from(hop));
        let struck = after(ringing.chain([-34.0, -30.0, -30.0]));
        assert!(struck.strikes() && !struck.fades());
    }

    #[test]
    fn three_hops_below_the_gate_are_silence() {
        assert!(!after([-30.0, -90.0, -90.0]).is_silent());
        assert!(after([-30.0, -90.0, -90.0, -90.0]).is_silent());
    }
}
