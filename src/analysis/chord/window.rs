//! One short window of a chord: its spectrum with the phase referred to the middle, the floor
//! of the noise, and how much each bin may be trusted.

use realfft::RealFftPlanner;
use rustfft::num_complex::Complex;

use crate::analysis::spectrum::{Spectrum, fast_length};
use crate::units::SampleRate;

/// Length of a window in seconds. Longer ones do worse: players wander by a cent or more
/// within half a second, and a steady tone no longer describes them.
pub(super) const LENGTH_S: f64 = 0.35;

/// The width in hertz over which the floor is found, and the share of its bins that lie below.
const FLOOR_HZ: f64 = 120.0;
const FLOOR_SHARE: f64 = 0.25;
/// The quartile of exponentially distributed noise power is this share of its mean: ln(4/3).
const QUARTILE_OF_MEAN: f32 = 0.288;

/// The share of a line's power that a steady tone fails to explain, at 0 Hz and how it grows
/// with the square of the frequency in kHz.
const UNEXPLAINED: f32 = 0.05;
const UNEXPLAINED_GROWTH: f32 = 0.05;
const MOST_UNEXPLAINED: f32 = 0.7;
/// Bins over which the power around a line is averaged for this.
const NEIGHBOURHOOD: usize = 9;

/// A line may have as much power as the strongest bin within this ratio of frequency.
const PRIOR_REACH: f64 = 0.0263;

impl Window {
    /// Forgets what earlier measurements left unexplained.
    pub(super) fn trust_afresh(&mut self) {
        self.trust.clone_from(&self.first_trust);
    }
}

/// Turns samples into windows.
pub(super) struct Lens {
    spectrum: Spectrum,
    quantile: Vec<f32>,
}

/// What is known of one window.
#[derive(Debug, Clone, Default)]
pub(super) struct Window {
    /// Spectrum through a Hann window: a sine of amplitude a has |x| = a at its bin.
    pub(super) bins: Vec<Complex<f32>>,
    /// One over the variance of each bin: noise, and what a steady tone cannot explain.
    pub(super) trust: Vec<f32>,
    /// The same before any voice was found.
    first_trust: Vec<f32>,
    /// The power expected beforehand of a line in each bin.
    pub(super) prior: Vec<f32>,
    /// The natural logarithm of that.
    pub(super) log_prior: Vec<f32>,
    /// Power of the noise.
    pub(super) floor: Vec<f32>,
    /// Power of the bins.
    pub(super) power: Vec<f32>,
    /// Width of a bin in hertz.
    pub(super) bin_hz: f64,
}

impl Lens {
    pub(super) fn new(rate: SampleRate) -> Self {
        let length = fast_length(LENGTH_S, rate);
        Self {
            spectrum: Spectrum::new(length, rate, &mut RealFftPlanner::new()),
            quantile: Vec::new(),
        }
    }

    /// Samples in a window.
    pub(super) fn length(&self) -> usize {
        self.spectrum.length()
    }

    /// Looks at `samples`, as many as [`Self::length`] says.
    pub(super) fn look(&mut self, samples: &[f32], window: &mut Window) {
        self.spectrum.transform(samples);
        window.bin_hz = self.spectrum.bin_hz();
        let n = self.spectrum.power().len();
        window.power.clear();
        window.power.extend_from_slice(self.spectrum.power());
        window.bins.clear();
        window.bins.push(Complex::default());
        window.bins.extend((1..n).map(|bin| {
            let value = self.spectrum.value(bin);
            if bin % 2 == 0 { value } else { -value }
        }));
        self.find_floor(window);
        find_trust(window);
        window.trust.clone_from(&window.first_trust);
        find_prior(window);
    }

    /// The floor is the lower quartile of the power within a band, and between the bands'
    /// middles it is interpolated in decibels.
    fn find_floor(&mut self, window: &mut Window) {
        let n = window.power.len();
        let band = ((FLOOR_HZ / window.bin_hz).round() as usize).clamp(8, n);
        let nodes: Vec<f32> = window
            .power
            .chunks(band)
            .map(|chunk| {
                self.quantile.clear();
                self.quantile.extend_from_slice(chunk);
                let at = (chunk.len() as f64 * FLOOR_SHARE) as usize;
                let (_, value, _) = self.quantile.select_nth_unstable_by(at, f32::total_cmp);
                (*value / QUARTILE_OF_MEAN).max(1e-16).ln()
            })
            .collect();
        window.floor.clear();
        window.floor.extend((0..n).map(|bin| {
            let place = (bin as f32 / band as f32 - 0.5).max(0.0);
            let left = (place as usize).min(nodes.len() - 1);
            let right = (left + 1).min(nodes.len() - 1);
            let share = (place - left as f32).clamp(0.0, 1.0);
            (nodes[left] + share * (nodes[right] - nodes[left])).exp()
        }));
    }
}

fn find_trust(window: &mut Window) {
    let n = window.power.len();
    let half = NEIGHBOURHOOD / 2;
    let longer = (LENGTH_S as f32 / 0.5).min(1.0).powi(2);
    let mut sum: f32 = window.power[..half].iter().sum();
    window.first_trust.clear();
    for bin in 0..n {
        sum += window.power.get(bin + half).copied().unwrap_or(0.0);
        if bin > half {
            sum -= window.power[bin - half - 1];
        }
        let mean = sum.max(0.0) / NEIGHBOURHOOD as f32;
        let kilohertz = (bin as f64 * window.bin_hz / 1000.0) as f32;
        let share =
            (UNEXPLAINED + UNEXPLAINED_GROWTH * kilohertz.powi(2) * longer).min(MOST_UNEXPLAINED);
        window
            .first_trust
            .push(1.0 / (window.floor[bin] + share * mean + 1e-16));
    }
}

fn find_prior(window: &mut Window) {
    let n = window.power.len();
    window.prior.clear();
    window.prior.extend((0..n).map(|bin| {
        let reach = (bin as f64 * PRIOR_REACH).ceil() as usize;
        let around = &window.power[bin.saturating_sub(reach)..(bin + reach + 1).min(n)];
        0.5 * around.iter().copied().fold(1e-14, f32::max)
    }));
    window.log_prior.clear();
    window
        .log_prior
        .extend(window.prior.iter().map(|prior| prior.ln()));
}
