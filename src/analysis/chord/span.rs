//! About a second of sound as five short windows.

use super::window::Window;

/// Windows in a span.
pub(super) const WINDOWS: usize = 5;
/// From the middle of one window to the next, in seconds.
pub(super) const STEP_S: f64 = 0.15;
/// What is a peak at all: so far above the floor, in power.
const OVER_FLOOR: f64 = 6.0;

/// Five windows, one after the other.
#[derive(Debug, Default)]
pub(super) struct Span {
    pub(super) windows: [Window; WINDOWS],
}

/// A peak of the mean power of a span.
#[derive(Debug, Clone, Copy)]
pub(super) struct SpanPeak {
    pub(super) hz: f64,
    pub(super) power: f64,
    pub(super) floor: f64,
}

impl Span {
    /// How far window `index` lies from the middle of the span, in seconds.
    pub(super) fn offset_s(index: usize) -> f64 {
        (index as f64 - (WINDOWS - 1) as f64 / 2.0) * STEP_S
    }

    /// What window `index` counts for; five in sum. The same as through a Hann window one
    /// second wide, so that a pitch is a well-behaved mean over one second.
    pub(super) fn share(index: usize) -> f64 {
        const SHARES: [f64; WINDOWS] = [0.527, 1.211, 1.524, 1.211, 0.527];
        SHARES[index]
    }

    /// Width of a bin.
    pub(super) fn bin_hz(&self) -> f64 {
        self.windows[0].bin_hz
    }

    /// Forgets what earlier measurements left unexplained.
    pub(super) fn trust_afresh(&mut self) {
        for window in &mut self.windows {
            window.trust_afresh();
        }
    }

    /// Power of the noise by bins, as the mean of the windows.
    pub(super) fn mean_floor(&self) -> Vec<f64> {
        self.mean(|window| &window.floor)
    }

    fn mean(&self, of: impl Fn(&Window) -> &Vec<f32>) -> Vec<f64> {
        let mut sum = vec![0.0; of(&self.windows[0]).len()];
        for window in &self.windows {
            for (sum, value) in sum.iter_mut().zip(of(window)) {
                *sum += f64::from(*value) / WINDOWS as f64;
            }
        }
        sum
    }

    /// The peaks of the mean power, rising. Their places are rough: a parabola through the
    /// logarithms of three bins.
    pub(super) fn peaks(&self) -> Vec<SpanPeak> {
        let (power, floor) = (self.mean(|w| &w.power), self.mean_floor());
        let mut peaks = Vec::new();
        for bin in 2..power.len().saturating_sub(2) {
            let [left, middle, right] = [power[bin - 1], power[bin], power[bin + 1]];
            if middle <= left || middle < right || middle < OVER_FLOOR * floor[bin] {
                continue;
            }
            let [a, b, c] = [left, middle, right].map(|p| p.max(1e-20).ln());
            let shift = 0.5 * (a - c) / (a - 2.0 * b + c);
            peaks.push(SpanPeak {
                hz: (bin as f64 + shift) * self.bin_hz(),
                power: middle,
                floor: floor[bin],
            });
        }
        peaks
    }
}
