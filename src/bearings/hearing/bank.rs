//! Takes the sound around each of a few frequencies out of everything else, a hundred times a
//! second.

use std::collections::VecDeque;
use std::f64::consts::TAU;

use rustfft::num_complex::Complex;

use crate::units::SampleRate;

/// Seconds that a value is the mean of. With a Blackman window everything 50 Hz away is gone, and
/// what lies within 12 Hz is hardly weakened.
const LENGTH_S: f64 = 0.06;
/// Values a second.
const PER_SECOND: f64 = 100.0;

/// A few narrow bands.
pub(super) struct Bank {
    rate_hz: f64,
    hop: usize,
    /// Of each band: turns a frame, and the window turned by them.
    bands: Vec<(f64, Vec<Complex<f64>>)>,
    recent: VecDeque<f32>,
    values: Vec<Complex<f64>>,
    frames: u64,
    energy: f64,
}

impl Bank {
    /// Bands around these frequencies.
    pub(super) fn new(centres_hz: &[f64], rate: SampleRate) -> Self {
        let rate_hz = rate.hz();
        let length = (LENGTH_S * rate_hz).round() as usize;
        let window: Vec<f64> = (0..length)
            .map(|n| {
                let turn = TAU * (n as f64 + 0.5) / length as f64;
                0.42 - 0.5 * turn.cos() + 0.08 * (2.0 * turn).cos()
            })
            .collect();
        let sum: f64 = window.iter().sum();
        let bands = centres_hz
            .iter()
            .map(|hz| {
                let turns = hz / rate_hz;
                // The newest sample comes last.
                let turned = window.iter().enumerate().map(|(n, weight)| {
                    let ago = (length - 1 - n) as f64;
                    Complex::from_polar(2.0 * weight / sum, TAU * (turns * ago).fract())
                });
                (turns, turned.collect())
            })
            .collect();
        Self {
            rate_hz,
            hop: (rate_hz / PER_SECOND).round().max(1.0) as usize,
            bands,
            recent: std::iter::repeat_n(0.0, length).collect(),
            values: vec![Complex::default(); centres_hz.len()],
            frames: 0,
            energy: 0.0,
        }
    }

    /// Seconds from one value to the next.
    pub(super) fn hop_s(&self) -> f64 {
        self.hop as f64 / self.rate_hz
    }

    /// Takes a sample in. With the last one of a hop comes the mean square of the hop and the
    /// value of each band: amplitude, and phase against its centre.
    pub(super) fn push(&mut self, sample: f32) -> Option<(f64, &[Complex<f64>])> {
        let sample = if sample.is_finite() { sample } else { 0.0 };
        self.recent.pop_front();
        self.recent.push_back(sample);
        self.energy += f64::from(sample) * f64::from(sample);
        self.frames += 1;
        if !self.frames.is_multiple_of(self.hop as u64) {
            return None;
        }
        let energy = std::mem::take(&mut self.energy) / self.hop as f64;
        let recent = &*self.recent.make_contiguous();
        for (value, (turns, window)) in self.values.iter_mut().zip(&self.bands) {
            let sum: Complex<f64> = recent
                .iter()
                .zip(window)
                .map(|(sample, weight)| weight * f64::from(*sample))
                .sum();
            let turned = (turns * self.frames as f64).fract();
            *value = sum * Complex::from_polar(1.0, -TAU * turned);
        }
        Some((energy, &self.values))
    }
}
