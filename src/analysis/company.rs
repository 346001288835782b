//! Whether a second note sounds beside the one that is followed.
//!
//! Two signs: tones that the note's partials leave unexplained, and a "fundamental" that is
//! only the common measure of two notes, all of whose partials belong to one or the other.

use super::comb::{PARTIALS, tolerance_hz};
use super::fit::Fit;
use super::peaks::{Peak, Peaks};

/// Tones that carry this share of the note's own power are someone else: 10 dB below.
/// A steady neighbour leaking into the microphone at 15 dB below stays under it.
const SHARE: f64 = 0.1;
/// Hops that company must last: a hall's echo of the note before has faded by then.
const PATIENCE: u32 = 35;
/// Pairs of partials of a common measure that two notes can be: an octave is no pair, since
/// nothing tells it from one note.
const PAIRS: [(usize, usize); 7] = [(2, 3), (3, 4), (4, 5), (5, 6), (3, 5), (5, 8), (4, 7)];
/// Partials that belong to neither of a pair carry at most this share of the weight.
const FOREIGN: f64 = 0.08;

/// Counts how long company has lasted.
#[derive(Debug, Default)]
pub(super) struct Company {
    hops: u32,
}

impl Company {
    /// Forgets what was heard.
    pub(super) fn leave(&mut self) {
        self.hops = 0;
    }

    /// Whether a second note has sounded for long enough to say so, `passed` hops after the last look.
    pub(super) fn keeps(&mut self, fit: &Fit, peaks: &Peaks, passed: u32) -> bool {
        if unexplained(fit, peaks) > SHARE || common_measure(fit.hz, peaks) {
            self.hops = (self.hops + passed).min(2 * PATIENCE);
        } else {
            // Slower to go than to come: the other note's bow changes and breathes.
            self.hops = self.hops.saturating_sub(2 * passed);
        }
        self.hops >= PATIENCE
    }
}

/// Power of the clear tones that are no partials of the note, over that of its partials.
fn unexplained(fit: &Fit, peaks: &Peaks) -> f64 {
    let (mut own, mut other) = (0.0, 0.0);
    let mut n = 1;
    for peak in peaks.list() {
        // The peaks rise, and so do the partials, stretched or not.
        let off = |n: usize| (peak.hz - fit.partial_hz(n)).abs();
        while n < PARTIALS && off(n + 1) < off(n) {
            n += 1;
        }
        let power = peak.amplitude * peak.amplitude;
        let tolerance_hz = tolerance_hz(fit.hz, n, peaks.bin_hz()) + 0.5 * peaks.bin_hz();
        if off(n) <= tolerance_hz {
            own += power;
        } else if clear(peak) && off(n) > 2.0 * peaks.bin_hz() && peak.hz > 0.6 * fit.hz {
            other += power;
        }
    }
    if own > 0.0 { other / own } else { 0.0 }
}

/// A tone rather than a bump in the noise.
fn clear(peak: &Peak) -> bool {
    peak.snr > 30.0
}

/// Whether every partial of weight belongs to one of two notes above `hz`.
fn common_measure(hz: f64, peaks: &Peaks) -> bool {
    let mut weights = [0.0; 25];
    for (n, slot) in weights.iter_mut().enumerate().skip(1) {
        *slot = peaks
            .nearest(hz * n as f64, tolerance_hz(hz, n, peaks.bin_hz()))
            .map_or(0.0, |peak| peak.weight);
    }
    let all: f64 = weights.iter().sum();
    PAIRS.into_iter().any(|(p, q)| {
        let sum = |belongs: &dyn Fn(usize) -> bool| -> f64 {
            weights
                .iter()
                .enumerate()
                .skip(1)
                .filter(|(n, _)| belongs(*n))
                .map(|(_, w)| w)
                .sum()
        };
        let only_p = sum(&|n| n % p == 0 && n % q != 0);
        let only_q = sum(&|n| n % q == 0 && n % p != 0);
        let foreign = sum(&|n| n % p != 0 && n % q != 0);
        let both_lead = weights[p] > 0.3 && weights[q] > 0.3;
        both_lead && only_p > 1.0 && only_q > 1.0 && foreign < FOREIGN * all
    })
}
