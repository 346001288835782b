//! The slow swell of two tones that beat.

use crate::units::Seconds;

/// Beats a second up to which a swell can be followed by the eye.
const FASTEST_HZ: f64 = 8.0;

/// Slower than this counts as standing still: one beat in ten seconds.
const STILL_HZ: f64 = 0.1;

/// How fast the rate shown follows the rate measured.
const FOLLOW_S: f64 = 0.3;

/// A rate of beats and where in the beat we are. The swell goes on smoothly while the rate
/// changes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pulse {
    rate_hz: f64,
    /// In beats, 0 to 1.
    phase: f64,
}

impl Pulse {
    /// Beats that begin to be counted now.
    pub(super) fn new(rate_hz: f64) -> Self {
        Self {
            rate_hz: rate_hz.abs(),
            phase: 0.0,
        }
    }

    /// Lets time pass while the tones beat `rate_hz` times a second.
    pub(super) fn go_on(&mut self, rate_hz: f64, elapsed: Seconds) {
        self.draw_to(rate_hz, elapsed);
        let beats = self.rate_hz * elapsed.get().max(0.0);
        self.phase = (self.phase + beats).rem_euclid(1.0);
    }

    /// Draws the rate to another without letting time pass.
    pub(super) fn draw_to(&mut self, rate_hz: f64, elapsed: Seconds) {
        let share = 1.0 - (-elapsed.get().max(0.0) / FOLLOW_S).exp();
        self.rate_hz += (rate_hz.abs() - self.rate_hz) * share;
    }

    /// Beats a second.
    pub fn rate_hz(self) -> f64 {
        self.rate_hz
    }

    /// Whether the tones stand still against one another.
    pub fn is_still(self) -> bool {
        self.rate_hz < STILL_HZ
    }

    /// How loud the two tones are together, 0 to 1; none where they beat too fast to follow.
    ///
    /// Two tones of equal strength sound as |cos(pi d t)| times one of them, d their
    /// difference in hertz: sum of two cosines.
    pub fn swell(self) -> Option<f64> {
        let is_slow = self.rate_hz <= FASTEST_HZ;
        is_slow.then(|| (std::f64::consts::PI * self.phase).cos().abs())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pulse_swells_once_a_beat() {
        let mut pulse = Pulse::new(2.0);
        let mut valleys = 0;
        let mut before = [1.0, 1.0];
        for _ in 0..3000 {
            pulse.go_on(2.0, Seconds::new(0.001));
            let swell = pulse.swell().unwrap();
            valleys += u32::from(before[1] < before[0] && before[1] <= swell);
            before = [before[1], swell];
        }
        assert_eq!(valleys, 6, "two a second for three seconds");
    }

    #[test]
    fn only_what_can_be_followed_swells() {
        assert!(Pulse::new(-7.9).swell().is_some());
        assert!(Pulse::new(8.1).swell().is_none());
        assert!(Pulse::new(0.05).is_still());
    }

    #[test]
    fn a_change_of_rate_makes_no_jump() {
        let mut pulse = Pulse::new(1.0);
        pulse.go_on(1.0, Seconds::new(0.3));
        let before = pulse.swell().unwrap();
        pulse.go_on(6.0, Seconds::new(0.001));
        assert!((pulse.swell().unwrap() - before).abs() < 0.02);
    }
}
