//! The microphone's clock against the loudspeaker's: both say 48 000 a second, and neither
//! means quite the same.

/// How much the ratio of both clocks wanders within a second: resampling sound servers change
/// it by some parts in a million, sound cards by less than one.
const WANDER: f64 = 6e-6;
/// How much the way's length itself wanders within a second, in seconds: a millimetre of air.
const SWAY_S: f64 = 3e-6;
/// Two clocks differ by less than this.
const WIDEST: f64 = 400e-6;
/// The first guess may be off by so much.
const UNKNOWN: f64 = 100e-6;

/// A Kalman filter of two states, the delay and how fast it grows (R. E. Kalman, J. Basic Eng.
/// 82 (1960), from memory).
#[derive(Debug, Clone)]
pub(super) struct Clock {
    /// How much faster the loudspeaker's frames pass than their nominal rate says.
    skew: f64,
    /// Covariance of delay (seconds) and skew.
    variance: [f64; 3],
}

impl Clock {
    pub(super) fn new() -> Self {
        Self {
            skew: 0.0,
            variance: [0.0, 0.0, UNKNOWN * UNKNOWN],
        }
    }

    /// One plus this is the ratio of the clocks.
    pub(super) fn skew(&self) -> f64 {
        self.skew
    }

    /// Lets time pass that nothing was measured in.
    pub(super) fn pass(&mut self, elapsed_s: f64) {
        let [delay, both, skew] = self.variance;
        self.variance = [
            delay
                + 2.0 * elapsed_s * both
                + elapsed_s * elapsed_s * skew
                + SWAY_S * SWAY_S * elapsed_s,
            both + elapsed_s * skew,
            (skew + WANDER * WANDER * elapsed_s).min(UNKNOWN * UNKNOWN),
        ];
        self.variance[0] = self.variance[0].min(1e-6);
    }

    /// Takes in that the loudspeaker's frames are `ahead_s` further on than was thought, to a
    /// variance; gives how far the position has to be moved, in seconds.
    pub(super) fn correct(&mut self, ahead_s: f64, variance: f64) -> f64 {
        let [delay, both, skew] = self.variance;
        let sum = delay + variance;
        let (gain, rate_gain) = (delay / sum, both / sum);
        self.skew = (self.skew + rate_gain * ahead_s).clamp(-WIDEST, WIDEST);
        self.variance = [
            (1.0 - gain) * delay,
            (1.0 - gain) * both,
            skew - rate_gain * both,
        ];
        gain * ahead_s
    }
}
