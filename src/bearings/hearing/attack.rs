//! When a string was last struck, and how loud each band is when nothing is.

use std::collections::VecDeque;

use rustfft::num_complex::Complex;

/// A sudden rise by this factor, in power, is a key struck: 3 dB.
const RISE: f64 = 2.0;
/// Hops whose loudest a rise is measured against. Beats of 9 a second and faster have passed
/// their loudest moment within; slower ones do not rise suddenly.
const BEFORE: usize = 12;
/// Hops that belong to the rise itself.
const RISING: usize = 2;
/// Hops after a rise that still have some of what was before in them.
const UNSETTLED: usize = 8;
/// Sound must stand out from the floor by this factor, in power: 9 dB.
const ABOVE: f64 = 8.0;
/// How fast the floor rises, in power a hop: 1 dB a second.
const FLOOR_RISES: f64 = 1.002_305;
/// The lowest floor, in power.
const LOWEST: f64 = 1e-10;
/// Hops that the floor is the mean of.
const SMOOTHED: f64 = 10.0;

/// Watches for strings that are struck.
pub(super) struct Attack {
    energies: VecDeque<f64>,
    since: usize,
    floors: Vec<Floor>,
}

#[derive(Debug, Clone, Copy)]
struct Floor {
    mean: f64,
    floor: f64,
}

impl Attack {
    pub(super) fn new(bands: usize) -> Self {
        Self {
            energies: VecDeque::with_capacity(BEFORE + RISING),
            since: 0,
            floors: vec![
                Floor {
                    mean: 0.0,
                    floor: LOWEST,
                };
                bands
            ],
        }
    }

    /// Takes in a hop: its mean square and the value of each band.
    pub(super) fn take(&mut self, energy: f64, values: &[Complex<f64>]) {
        if self.energies.len() == BEFORE + RISING {
            self.energies.pop_front();
        }
        let before = self.energies.iter().take(BEFORE).copied();
        let loudest = before.fold(0.0, f64::max);
        let is_struck = self.energies.len() >= BEFORE && energy > RISE * loudest.max(LOWEST);
        self.since = if is_struck { 0 } else { self.since + 1 };
        self.energies.push_back(energy);
        for (floor, value) in self.floors.iter_mut().zip(values) {
            floor.mean += (value.norm_sqr() - floor.mean) / SMOOTHED;
            floor.floor = (floor.floor * FLOOR_RISES).min(floor.mean).max(LOWEST);
        }
    }

    /// Hops that nothing was struck in, less those that had to settle.
    pub(super) fn since(&self) -> usize {
        self.since.saturating_sub(UNSETTLED)
    }

    /// Whether a band's last second stands out from what it is when nothing sounds.
    pub(super) fn is_above_floor(&self, band: usize, window: &[Complex<f64>]) -> bool {
        let last = &window[window.len().saturating_sub(40)..];
        let power = last.iter().map(Complex::norm_sqr).sum::<f64>() / last.len().max(1) as f64;
        power > ABOVE * self.floors[band].floor.max(LOWEST)
    }
}
