//! The way of one sinusoid from loudspeaker to microphone.

use rustfft::num_complex::Complex;

/// The age at which a gain counts as known, in hops.
pub(super) const KNOWN_HOPS: u32 = 25;

/// The same for one that cannot be told well, or is not heard at all.
const LISTENED_HOPS: u32 = 150;

/// One way. Gains are of pressure at the microphone over what is played, both in full scale.
#[derive(Debug, Clone)]
pub(super) struct Path {
    /// The frequency it was found at.
    pub(super) hz: f64,
    /// Now.
    pub(super) gain: Complex<f64>,
    /// At the last hop.
    pub(super) gain_before: Complex<f64>,
    /// Mean square of what the gain may be off by.
    pub(super) variance: f64,
    /// What stands still beside the gain.
    pub(super) still: Complex<f64>,
    /// The same of the last moments.
    pub(super) brief: Complex<f64>,
    /// The square of the loudest of them.
    pub(super) loud: f64,
    /// Hops since it was first heard.
    pub(super) age: u32,
    /// What it was when nobody played last.
    pub(super) at_rest: Option<Complex<f64>>,
}

impl Path {
    pub(super) fn unknown(hz: f64) -> Self {
        let zero = Complex::new(0.0, 0.0);
        Self {
            hz,
            gain: zero,
            gain_before: zero,
            variance: 0.0,
            still: zero,
            brief: zero,
            loud: 0.0,
            age: 0,
            at_rest: None,
        }
    }

    /// A way that was measured over some hops, with noise of this mean square in each.
    pub(super) fn measured(hz: f64, gain: Complex<f64>, noise: f64, hops: u32) -> Self {
        Self {
            gain,
            gain_before: gain,
            variance: noise / f64::from(hops.max(1)),
            age: hops,
            ..Self::unknown(hz)
        }
    }

    /// A way that was known some time ago, and may have changed a little.
    pub(super) fn recalled(self) -> Self {
        Self {
            gain_before: self.gain,
            variance: self.variance + 0.02 * self.gain.norm_sqr(),
            still: Complex::new(0.0, 0.0),
            brief: Complex::new(0.0, 0.0),
            at_rest: None,
            ..self
        }
    }

    /// Whether it can be relied on.
    pub(super) fn is_known(&self) -> bool {
        self.age >= KNOWN_HOPS
    }

    /// Whether it has been listened for so long that nothing better will come.
    pub(super) fn was_listened_for(&self) -> bool {
        self.age >= LISTENED_HOPS
    }

    /// Takes what stands still to be the way itself from now on.
    pub(super) fn take_over(&mut self) {
        self.variance += self.still.norm_sqr();
        self.age = self.age.min(KNOWN_HOPS);
        self.gain += self.still;
        self.still = Complex::new(0.0, 0.0);
        self.brief = Complex::new(0.0, 0.0);
    }

    /// Goes back to what the way was when nobody played.
    pub(super) fn go_back(&mut self) {
        if let Some(gain) = self.at_rest {
            self.gain = gain;
            self.still = Complex::new(0.0, 0.0);
            self.brief = Complex::new(0.0, 0.0);
        }
    }

    /// Nobody plays now.
    pub(super) fn rest(&mut self) {
        self.at_rest = Some(self.gain);
    }
}
