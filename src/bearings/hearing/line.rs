//! The frequency of a single line in a band, by how its phase goes on.

use std::f64::consts::TAU;

use rustfft::num_complex::Complex;

/// Neighbouring values share most of the sound they are the mean of; so many count as one.
const ALIKE: f64 = 6.0;
/// A phase that departs more than this, in radians, from a straight line is no single line's.
const WORST_PHASE: f64 = 0.45;

/// A line in a band.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Line {
    /// How far above the centre of the band.
    pub(super) offset_hz: f64,
    /// Its standard error.
    pub(super) error_hz: f64,
}

/// The line in a window of values `hop_s` apart, or none where there is more than one or less.
pub(super) fn line(window: &[Complex<f64>], hop_s: f64) -> Option<Line> {
    let pairs = window.iter().zip(window.iter().skip(1));
    let turn: Complex<f64> = pairs.map(|(a, b)| b * a.conj()).sum();
    if window.len() < 8 || turn.norm() <= 0.0 {
        return None;
    }
    let coarse = turn.arg();
    // Phases against the coarse line, unwrapped; weighed by power, as loud moments are clearer.
    let mut points = Vec::with_capacity(window.len());
    let mut phase = 0.0;
    let mut before = window[0];
    for (n, value) in window.iter().enumerate() {
        if n > 0 {
            let step = (value * before.conj()).arg() - coarse;
            phase += (step + TAU / 2.0).rem_euclid(TAU) - TAU / 2.0;
        }
        before = *value;
        points.push((n as f64 * hop_s, phase, value.norm_sqr()));
    }
    let weight: f64 = points.iter().map(|p| p.2).sum();
    let mean = |of: &dyn Fn(&(f64, f64, f64)) -> f64| {
        points.iter().map(|p| p.2 * of(p)).sum::<f64>() / weight
    };
    let (time, angle) = (mean(&|p| p.0), mean(&|p| p.1));
    let spread = mean(&|p| (p.0 - time).powi(2));
    let slope = mean(&|p| (p.0 - time) * (p.1 - angle)) / spread;
    let left = mean(&|p| (p.1 - angle - slope * (p.0 - time)).powi(2));
    if !left.is_finite() || left.sqrt() > WORST_PHASE {
        return None;
    }
    let squares: f64 = points.iter().map(|p| p.2 * p.2).sum();
    let count = (weight * weight / squares / ALIKE).max(1.0);
    Some(Line {
        offset_hz: (coarse / hop_s + slope) / TAU,
        error_hz: (left / (spread * count)).sqrt() / TAU,
    })
}
