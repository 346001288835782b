//! The way of one bundle of sinusoids from loudspeaker to microphone: a gain and a phase, known
//! better and better, and followed as they change.

use rustfft::num_complex::Complex;

/// How much of itself a gain may change by from one hop to the next.
const RESTLESS: f64 = 0.003;
/// The largest share of a hop's news that is believed.
const MOST_BELIEVED: f64 = 0.12;
/// Over how many hops the noise is averaged.
const NOISE_HOPS: f64 = 25.0;
/// Over how many hops what stands still beside the known gain is averaged.
const STILL_HOPS: f64 = 30.0;
/// What is heard beside a gain is in doubt from here on, relative to it (power) ...
const DOUBTFUL: f64 = 1.6e-3;
/// ... if so much of it stands still.
const STANDS: f64 = 0.3;
/// The age at which a gain counts as known.
pub(super) const KNOWN_HOPS: u32 = 25;

/// One way. Gains are of pressure at the microphone over what is played, both in full scale.
#[derive(Debug, Clone)]
pub(super) struct Path {
    /// The frequency it was found at.
    pub(super) hz: f64,
    /// Now.
    pub(super) gain: Complex<f64>,
    /// At the last hop.
    pub(super) gain_before: Complex<f64>,
    /// Of the gain, by what is known.
    variance: f64,
    /// Mean square of the news.
    noise: f64,
    /// Mean of the news: what stands still beside the gain.
    still: Complex<f64>,
    /// Hops since it was first heard.
    pub(super) age: u32,
    /// What it was before something that stood still was taken to be the way itself.
    fallback: Option<Complex<f64>>,
}

impl Path {
    pub(super) fn unknown(hz: f64) -> Self {
        let zero = Complex::new(0.0, 0.0);
        Self {
            hz,
            gain: zero,
            gain_before: zero,
            variance: 0.0,
            noise: 0.0,
            still: zero,
            age: 0,
            fallback: None,
        }
    }

    /// A way that was measured over some hops, with noise of this mean square in each.
    pub(super) fn measured(hz: f64, gain: Complex<f64>, noise: f64, hops: u32) -> Self {
        Self {
            gain,
            gain_before: gain,
            variance: noise / f64::from(hops.max(1)),
            noise,
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
            fallback: None,
            ..self
        }
    }

    /// Whether it can be relied on.
    pub(super) fn is_known(&self) -> bool {
        self.age >= KNOWN_HOPS
    }

    /// Mean square of what is heard beside the known gain.
    pub(super) fn noise(&self) -> f64 {
        self.noise
    }

    /// What stands still beside the known gain.
    pub(super) fn still(&self) -> Complex<f64> {
        self.still
    }

    /// What the way was before, where another has been taken for it.
    pub(super) fn fallback(&self) -> Option<Complex<f64>> {
        self.fallback
    }

    /// Takes in how far off the gain was in a hop in which `presence` (0 to 1) of the sound's
    /// power was played.
    pub(super) fn learn(&mut self, news: Complex<f64>, presence: f64) {
        self.gain_before = self.gain;
        if presence < 0.02 {
            return;
        }
        let square = news.norm_sqr();
        let share = (1.0 / NOISE_HOPS).max(1.0 / f64::from(self.age + 1)) * presence;
        self.noise += (square - self.noise) * share;
        self.still += (news - self.still) * (presence / STILL_HOPS);
        // A sound that begins must not be believed before the mean has noticed it.
        let noise = self.noise.max(square);
        let variance = self.variance + (RESTLESS * self.gain.norm()).powi(2);
        let by_variance = if noise > 0.0 {
            variance / (variance + noise)
        } else {
            MOST_BELIEVED
        };
        // What stands still beside it may be a player on the very same pitch, who must not be
        // taken for the way.
        let is_in_doubt = self.is_known()
            && self.still.norm_sqr() > DOUBTFUL * self.gain.norm_sqr()
            && self.still.norm_sqr() > STANDS * self.noise;
        if is_in_doubt {
            self.variance = variance;
            self.age = self.age.saturating_add(1);
            return;
        }
        let by_age = if self.is_known() {
            0.0
        } else {
            1.0 / f64::from(self.age + 1)
        };
        let believed = by_variance.max(by_age).min(MOST_BELIEVED);
        self.variance = (1.0 - believed) * variance;
        if !self.is_known() {
            self.variance = self.variance.max(noise / f64::from(self.age + 1));
        }
        self.gain += news * (believed * presence);
        self.age = self.age.saturating_add(1);
    }

    /// Takes what stands still to be the way itself from now on.
    pub(super) fn take_over(&mut self) {
        self.fallback = self.fallback.or(Some(self.gain));
        self.gain += self.still;
        self.still = Complex::new(0.0, 0.0);
        self.age = self.age.min(KNOWN_HOPS / 2);
    }

    /// Goes back to what the way was before.
    pub(super) fn fall_back(&mut self) {
        if let Some(gain) = self.fallback.take() {
            self.gain = gain;
            self.still = Complex::new(0.0, 0.0);
        }
    }

    /// Forgets what the way was before.
    pub(super) fn stay(&mut self) {
        self.fallback = None;
    }
}
