//! Tones of exactly known pitch, and noise.

use std::f64::consts::TAU;

/// Highest partial of a steady tone, in hertz.
const BRIGHT_HZ: f64 = 7_000.0;
/// Most partials of a tone.
const MOST_PARTIALS: usize = 30;

/// A tone made of sines.
pub(crate) struct Tone {
    /// Its middle frequency in hertz: that of the first partial, stretched or not.
    pub(crate) hz: f64,
    /// Peak amplitudes of the partials, from the first; full scale is 1.
    pub(crate) partials: Vec<f64>,
    /// Inharmonicity B: partial n stands at n f sqrt(1 + B n^2).
    pub(crate) inharmonicity: f64,
    /// Seconds in which the first partial falls to 1/e; higher ones fall faster.
    pub(crate) decay_s: f64,
    /// Silence before it, in seconds.
    pub(crate) onset_s: f64,
    /// Where its pitch lies above the middle, in cents at a time in seconds.
    pub(crate) cents: fn(f64) -> f64,
}

impl Tone {
    /// A steady tone whose partials fall by 6 dB an octave from a tenth of full scale.
    pub(crate) fn steady(hz: f64) -> Self {
        let count = ((BRIGHT_HZ / hz) as usize).clamp(1, MOST_PARTIALS);
        Self {
            hz,
            partials: (1..=count).map(|n| 0.1 / n as f64).collect(),
            inharmonicity: 0.0,
            decay_s: f64::INFINITY,
            onset_s: 0.0,
            cents: |_| 0.0,
        }
    }

    /// The frequency of the first partial at a moment, in hertz.
    pub(crate) fn hz_at(&self, time_s: f64) -> f64 {
        self.hz * ((self.cents)(time_s) / 1200.0).exp2()
    }

    /// Mean power at the onset, where full scale is 1.
    pub(crate) fn power(&self) -> f64 {
        self.partials.iter().map(|a| a * a / 2.0).sum()
    }

    /// The standard deviation of white noise that lies `snr_db` below the tone.
    pub(crate) fn noise_deviation(&self, snr_db: f64) -> f64 {
        (self.power() * 10_f64.powf(-snr_db / 10.0)).sqrt()
    }

    /// `seconds` of its sound at `rate_hz`.
    pub(crate) fn samples(&self, rate_hz: u32, seconds: f64) -> Vec<f32> {
        let rate_hz = f64::from(rate_hz);
        let b = self.inharmonicity;
        let partials: Vec<(f64, f64, f64)> = (1..)
            .map(f64::from)
            .zip(&self.partials)
            .map(|(n, amplitude)| (n, n * ((1.0 + b * n * n) / (1.0 + b)).sqrt(), *amplitude))
            .filter(|(_, ratio, _)| ratio * self.hz < 0.45 * rate_hz)
            .collect();
        let mut turns = 0.0;
        let sample = |i: usize| {
            let time_s = i as f64 / rate_hz;
            let age_s = time_s - self.onset_s;
            if age_s < 0.0 {
                return 0.0;
            }
            let sounding = |(n, ratio, amplitude): &(f64, f64, f64)| {
                let left = (-age_s * (1.0 + 0.2 * (n - 1.0)) / self.decay_s).exp();
                // Phases differ between the partials, so that their crests do not pile up.
                amplitude * left * (TAU * turns * ratio + n * n).sin()
            };
            let sum: f64 = partials.iter().map(sounding).sum();
            turns += self.hz_at(time_s) / rate_hz;
            sum as f32
        };
        (0..(rate_hz * seconds) as usize).map(sample).collect()
    }
}

/// Endless white noise of a standard deviation (Box and Muller's method).
pub(crate) fn noise(seed: u64, deviation: f64) -> impl Iterator<Item = f32> {
    let mut rng = fastrand::Rng::with_seed(seed);
    std::iter::repeat_with(move || {
        let radius = (-2.0 * (1.0 - rng.f64()).ln()).sqrt();
        (deviation * radius * (TAU * rng.f64()).cos()) as f32
    })
}

/// Adds noise to samples.
pub(crate) fn noisy(mut samples: Vec<f32>, seed: u64, deviation: f64) -> Vec<f32> {
    for (sample, noise) in samples.iter_mut().zip(noise(seed, deviation)) {
        *sample += noise;
    }
    samples
}
