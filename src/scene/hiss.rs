//! Chance with a fixed start: hiss, and the slow wandering of pitch and level.

use std::f64::consts::TAU;

/// Noise with its treble cut, of RMS 1.
#[derive(Debug, Clone)]
pub(super) struct Hiss {
    chance: fastrand::Rng,
    share: f32,
    scale: f32,
    state: f32,
}

impl Hiss {
    /// Noise that falls off above `cut_hz`.
    pub(super) fn new(seed: u64, cut_hz: f64, rate_hz: f64) -> Self {
        let share = 1.0 - (-TAU * cut_hz / rate_hz).exp();
        // A uniform number in -1..1 has variance 1/3, and a one-pole low-pass with share a
        // passes a / (2 - a) of it.
        let scale = (3.0 * (2.0 - share) / share).sqrt();
        Self {
            chance: fastrand::Rng::with_seed(seed),
            share: share as f32,
            scale: scale as f32,
            state: 0.0,
        }
    }

    /// The next sample.
    pub(super) fn next(&mut self) -> f32 {
        let white = self.chance.f32() * 2.0 - 1.0;
        self.state += self.share * (white - self.state);
        self.state * self.scale
    }
}

/// Sines in one wander.
const SWAYS: usize = 5;

/// A slow, smooth, random movement that can be asked for at any moment: a handful of sines
/// between 0.07 and 0.9 Hz.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Wander {
    /// Frequency in hertz and phase in turns.
    sways: [(f64, f64); SWAYS],
    /// Amplitude of each.
    amplitude: f64,
}

impl Wander {
    /// A wander of the given RMS.
    pub(super) fn new(seed: u64, rms: f64) -> Self {
        let mut chance = fastrand::Rng::with_seed(seed);
        let mut hz = 0.07;
        let sways = std::array::from_fn(|_| {
            let sway = (hz * (1.0 + 0.3 * chance.f64()), chance.f64());
            hz *= 1.8;
            sway
        });
        Self {
            sways,
            amplitude: rms * (2.0 / SWAYS as f64).sqrt(),
        }
    }

    /// The movement at `time_s`.
    pub(super) fn at(&self, time_s: f64) -> f64 {
        if self.amplitude == 0.0 {
            return 0.0;
        }
        let sum: f64 = self
            .sways
            .iter()
            .map(|(hz, phase)| (TAU * (hz * time_s + phase)).sin())
            .sum();
        self.amplitude * sum
    }

    /// The largest movement there can be.
    pub(super) fn most(&self) -> f64 {
        self.amplitude * SWAYS as f64
    }
}

/// A seed for one purpose of one player, far from every other one.
pub(super) fn seed(scene: u64, player: usize, purpose: u64) -> u64 {
    let mut mixer = fastrand::Rng::with_seed(
        scene
            .wrapping_mul(0x9e37_79b9_7f4a_7c15)
            .wrapping_add((player as u64) << 8)
            .wrapping_add(purpose),
    );
    mixer.u64(..)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hiss_has_the_level_it_says() {
        for (cut_hz, rate_hz) in [(1_000.0, 8_000.0), (3_000.0, 48_000.0), (60.0, 8_000.0)] {
            let mut hiss = Hiss::new(1, cut_hz, rate_hz);
            let n = 200_000;
            let power: f64 = (0..n).map(|_| f64::from(hiss.next()).powi(2)).sum();
            // Within 0.5 dB: the cut leaves few independent samples.
            let db = 10.0 * (power / f64::from(n)).log10();
            assert!(db.abs() < 0.5, "{cut_hz} at {rate_hz}: {db}");
        }
    }

    #[test]
    fn a_wander_has_the_size_it_says_and_never_jumps() {
        let wander = Wander::new(7, 1.5);
        let times = (0..60_000).map(|i| f64::from(i) * 0.01);
        let values: Vec<f64> = times.map(|t| wander.at(t)).collect();
        let square = values.iter().map(|v| v * v).sum::<f64>() / values.len() as f64;
        assert!((square.sqrt() - 1.5).abs() < 0.15, "{}", square.sqrt());
        let jump = values
            .windows(2)
            .map(|w| (w[1] - w[0]).abs())
            .fold(0.0, f64::max);
        // Fastest sine: about 0.96 Hz at under 1 cent.
        assert!(jump < 0.15, "{jump}");
        assert!(values.iter().all(|v| v.abs() <= wander.most()));
    }
}
