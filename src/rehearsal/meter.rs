//! A level meter: rises at once, falls slowly.

use crate::units::{Dbfs, Seconds};

/// Decibels a second by which the meter falls: a bow change does not empty it.
const FALL_DB_PER_SECOND: f64 = 24.0;

/// How long a clipped sample is remembered.
const CLIP_HOLD: Seconds = Seconds::new(2.0);

/// Below this level there is nothing at the input: an open microphone hears its own noise and the
/// room's (common practice, no source).
const NOTHING_DBFS: f64 = -90.0;

/// The level of one input.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Meter {
    level: Dbfs,
    at: Seconds,
    clipped_at: Option<Seconds>,
    /// Since when there has been nothing at all, and until when that is known.
    silent: Option<(Seconds, Seconds)>,
    /// The same for nothing but zeros, which no microphone delivers that is connected.
    dead: Option<(Seconds, Seconds)>,
}

impl Meter {
    /// A meter at rest.
    pub(super) fn new() -> Self {
        Self {
            level: Dbfs::SILENCE,
            at: Seconds::new(0.0),
            clipped_at: None,
            silent: None,
            dead: None,
        }
    }

    /// A new stream: what was known of the input before says nothing of it.
    pub(super) fn restart(&mut self) {
        (self.silent, self.dead) = (None, None);
    }

    /// For how long not even the noise of a room has come through this input.
    pub fn silent_for(&self) -> Seconds {
        lasting(self.silent)
    }

    /// For how long this input has delivered nothing but zeros, as one that is muted or unplugged
    /// does: converters always add some noise of their own.
    pub fn dead_for(&self) -> Seconds {
        lasting(self.dead)
    }

    /// Shows a level.
    pub(super) fn show(&mut self, level: Dbfs, clipped: bool, now: Seconds) {
        self.fall(now);
        if level > self.level {
            self.level = level;
        }
        let since = |before: Option<(Seconds, Seconds)>| before.map_or(now, |(since, _)| since);
        self.silent = (level.get() < NOTHING_DBFS).then(|| (since(self.silent), now));
        self.dead = (level <= Dbfs::SILENCE).then(|| (since(self.dead), now));
        if clipped {
            self.clipped_at = Some(now);
        }
    }

    /// Lets the meter fall until `now`.
    pub(super) fn fall(&mut self, now: Seconds) {
        let elapsed = (now - self.at).get().max(0.0);
        self.level = Dbfs::new(self.level.get() - FALL_DB_PER_SECOND * elapsed);
        self.at = now;
        if self.clipped_at.is_some_and(|at| now - at > CLIP_HOLD) {
            self.clipped_at = None;
        }
    }

    /// The level shown.
    pub fn level(&self) -> Dbfs {
        self.level
    }

    /// Whether the input reached full scale within the last two seconds.
    pub fn is_clipped(&self) -> bool {
        self.clipped_at.is_some()
    }
}

fn lasting(span: Option<(Seconds, Seconds)>) -> Seconds {
    span.map_or(Seconds::new(0.0), |(since, until)| until - since)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_meter_rises_at_once_and_falls_slowly() {
        let mut meter = Meter::new();
        meter.show(Dbfs::new(-20.0), true, Seconds::new(1.0));
        assert_eq!(meter.level(), Dbfs::new(-20.0));
        meter.show(Dbfs::SILENCE, false, Seconds::new(1.5));
        assert!((meter.level().get() + 32.0).abs() < 1e-9);
        assert!(meter.is_clipped());
        meter.fall(Seconds::new(3.5));
        assert!(!meter.is_clipped());
        // A clock that goes back changes nothing.
        let before = meter.level();
        meter.fall(Seconds::new(2.0));
        assert_eq!(meter.level(), before);
    }
    #[test]
    fn zeros_are_told_from_the_noise_of_an_open_microphone() {
        let mut meter = Meter::new();
        for (at, level, silent_s, dead_s) in [
            (1.0, -100.0, 0.0, 0.0),
            (2.0, Dbfs::SILENCE.get(), 1.0, 0.0),
            (4.0, Dbfs::SILENCE.get(), 3.0, 2.0),
            (5.0, -100.0, 4.0, 0.0),
            (6.0, -50.0, 0.0, 0.0),
        ] {
            meter.show(Dbfs::new(level), false, Seconds::new(at));
            let told = (meter.silent_for(), meter.dead_for());
            let expected = (Seconds::new(silent_s), Seconds::new(dead_s));
            assert_eq!(told, expected, "at {at}");
        }
        meter.show(Dbfs::SILENCE, false, Seconds::new(7.0));
        meter.restart();
        meter.show(Dbfs::SILENCE, false, Seconds::new(9.0));
        assert_eq!(meter.dead_for(), Seconds::new(0.0));
    }
}
