//! Peaks of a spectrum: where they stand, how strong they are, and how far they rise above
//! the noise around them.

use super::spectrum::Spectrum;

/// Bins over which the noise floor is taken to be level.
const BAND_BINS: usize = 48;
/// The share of a band's bins taken to be noise rather than partials.
const QUANTILE: f64 = 0.25;
/// Most peaks kept.
pub(super) const MOST: usize = 256;
/// A peak this far below the strongest is not looked at, in decibels.
const RANGE_DB: f32 = 60.0;
/// A partial this far below the strongest weighs nothing, in decibels.
const WEIGHED_DB: f64 = 55.0;
/// A peak below this power over the noise is noise.
const LEAST_SNR: f32 = 4.0;
/// A local maximum whose frequency lies farther from its bin than this is no single sine.
const FARTHEST_OFFSET: f64 = 0.8;
/// Lowest frequency at which a peak is looked for, in hertz.
const LOWEST_HZ: f64 = 24.0;
/// Bins from one entry of the index to the next.
const INDEX_BINS: usize = 8;

/// One peak.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Peak {
    /// Interpolated frequency.
    pub(super) hz: f64,
    /// Peak amplitude of the sine, full scale being 1.
    pub(super) amplitude: f64,
    /// Power over that of the noise in a bin.
    pub(super) snr: f64,
    /// What it is worth as a partial, 0 to 1.
    pub(super) weight: f64,
}

/// The peaks of one spectrum, rising.
pub(super) struct Peaks {
    list: Vec<Peak>,
    /// The first peak at or above every eighth bin.
    first_from: Vec<u16>,
    floor: Vec<f32>,
    bin_hz: f64,
    highest_hz: f64,
    strongest: f64,
    /// Power of all peaks.
    power: f64,
}

impl Peaks {
    /// Room for the peaks of `spectrum`.
    pub(super) fn new(spectrum: &Spectrum) -> Self {
        let bins = spectrum.power().len();
        Self {
            list: Vec::with_capacity(MOST),
            first_from: vec![0; bins.div_ceil(INDEX_BINS) + 1],
            floor: vec![0.0; bins.div_ceil(BAND_BINS)],
            bin_hz: spectrum.bin_hz(),
            highest_hz: spectrum.highest_hz(),
            strongest: 0.0,
            power: 0.0,
        }
    }

    /// Finds the peaks of `spectrum` anew.
    pub(super) fn find(&mut self, spectrum: &Spectrum) {
        let power = spectrum.power();
        self.measure_floor(power);
        self.list.clear();
        self.strongest = 0.0;
        self.power = 0.0;
        let lowest = ((LOWEST_HZ / self.bin_hz).ceil() as usize).max(2);
        let least = largest(&power[lowest.min(power.len())..]) * 10_f32.powf(-RANGE_DB / 10.0);
        for band in 0..self.floor.len() {
            // The floor is drawn straight between bands, so it is nowhere below the lowest.
            let near = &self.floor[band.saturating_sub(1)..(band + 2).min(self.floor.len())];
            let floor = near.iter().copied().fold(f32::INFINITY, f32::min);
            let least = least.max(LEAST_SNR * floor);
            let from = (band * BAND_BINS).max(lowest);
            let upto = ((band + 1) * BAND_BINS).min(power.len() - 1);
            for bin in from..upto {
                let here = power[bin];
                if here > least && here >= power[bin - 1] && here > power[bin + 1] {
                    self.take(spectrum, bin);
                }
            }
        }
        for peak in &mut self.list {
            peak.weight = weight(peak, self.strongest);
        }
        self.index();
    }

    /// Keeps the local maximum at `bin` if it is the peak of a sine.
    fn take(&mut self, spectrum: &Spectrum, bin: usize) {
        let here = spectrum.power()[bin];
        let snr = here / self.floor_at(bin).max(1e-30);
        if snr < LEAST_SNR || self.list.len() == MOST {
            return;
        }
        let offset = spectrum.offset(bin);
        if offset.abs() > FARTHEST_OFFSET {
            return;
        }
        let amplitude = f64::from(here).sqrt() / hann_lobe(offset);
        self.strongest = self.strongest.max(amplitude);
        self.power += amplitude * amplitude;
        let peak = Peak {
            hz: (bin as f64 + offset) * self.bin_hz,
            amplitude,
            snr: f64::from(snr),
            weight: 0.0,
        };
        // Offsets beyond half a bin can turn neighbours round.
        let above = self.list.iter().rev().take_while(|p| p.hz > peak.hz);
        let at = self.list.len() - above.count();
        self.list.insert(at, peak);
    }

    /// All peaks, rising.
    pub(super) fn list(&self) -> &[Peak] {
        &self.list
    }

    /// Amplitude of the strongest.
    pub(super) fn strongest(&self) -> f64 {
        self.strongest
    }

    /// Sum of the squared amplitudes of all peaks.
    pub(super) fn power(&self) -> f64 {
        self.power
    }

    /// The width of a bin in hertz.
    pub(super) fn bin_hz(&self) -> f64 {
        self.bin_hz
    }

    /// The highest frequency looked at.
    pub(super) fn highest_hz(&self) -> f64 {
        self.highest_hz
    }

    /// The peak nearest to `hz` and no farther from it than `tolerance_hz`.
    pub(super) fn nearest(&self, hz: f64, tolerance_hz: f64) -> Option<&Peak> {
        self.nearest_from(self.first_at(hz - tolerance_hz), hz, tolerance_hz)
    }

    /// The same, from a place in the list that is known already.
    pub(super) fn nearest_from(&self, first: usize, hz: f64, tolerance_hz: f64) -> Option<&Peak> {
        let mut best = None;
        let mut least = tolerance_hz;
        for peak in &self.list[first..] {
            let off = (peak.hz - hz).abs();
            if off <= least {
                least = off;
                best = Some(peak);
            } else if peak.hz > hz {
                break;
            }
        }
        best
    }

    /// The place in the list of the first peak at or above `hz`.
    pub(super) fn first_at(&self, hz: f64) -> usize {
        let slot = (hz / (self.bin_hz * INDEX_BINS as f64)).max(0.0) as usize;
        let mut at = usize::from(self.first_from[slot.min(self.first_from.len() - 1)]);
        while self.list.get(at).is_some_and(|peak| peak.hz < hz) {
            at += 1;
        }
        at
    }

    /// Where partials leave a quarter of the bins to the noise, that quarter's upper edge
    /// tells the mean: for noise the power of a bin is exponentially distributed.
    fn measure_floor(&mut self, power: &[f32]) {
        let to_mean = (-1.0 / (1.0 - QUANTILE).ln()) as f32;
        for (floor, bins) in self.floor.iter_mut().zip(power.chunks(BAND_BINS)) {
            let rank = ((bins.len() as f64 * QUANTILE) as usize).min(bins.len() - 1);
            *floor = ranked(bins, rank as u32) * to_mean;
        }
    }

    /// The floor at a bin, drawn straight between the middles of the bands.
    fn floor_at(&self, bin: usize) -> f32 {
        let place = (bin as f32 / BAND_BINS as f32 - 0.5).max(0.0);
        let low = (place as usize).min(self.floor.len() - 1);
        let high = (low + 1).min(self.floor.len() - 1);
        let share = place - low as f32;
        self.floor[low] * (1.0 - share) + self.floor[high] * share
    }

    fn index(&mut self) {
        let mut next = 0;
        for (slot, first) in self.first_from.iter_mut().enumerate() {
            let edge = (slot * INDEX_BINS) as f64 * self.bin_hz;
            while next < self.list.len() && self.list[next].hz < edge {
                next += 1;
            }
            *first = next as u16;
        }
    }
}

/// The value above `rank` others, to a quarter of a decibel: halved out rather than sorted, as
/// counting takes all values at once. The values are not negative.
fn ranked(values: &[f32], rank: u32) -> f32 {
    /// A sixteenth of an octave, in the last places of a 32-bit float.
    const NEAR: u32 = 1 << 19;
    // Of floats that are not negative the greater has the greater bits.
    let (mut low, mut high) = (0_u32, largest(values).to_bits());
    while high - low > NEAR {
        let middle = u32::midpoint(low, high);
        let least = f32::from_bits(middle);
        let below: u32 = values.iter().map(|value| u32::from(*value <= least)).sum();
        if below > rank {
            high = middle;
        } else {
            low = middle;
        }
    }
    f32::from_bits(u32::midpoint(low, high))
}

/// The largest of many values, eight at a time.
fn largest(values: &[f32]) -> f32 {
    let mut lanes = [0.0_f32; 8];
    for chunk in values.chunks(8) {
        for (lane, value) in lanes.iter_mut().zip(chunk) {
            *lane = if *value > *lane { *value } else { *lane };
        }
    }
    lanes.into_iter().fold(0.0, f32::max)
}

/// Height of the Hann window's main lobe `offset` bins from its centre (1 at the centre).
fn hann_lobe(offset: f64) -> f64 {
    let x = std::f64::consts::PI * offset;
    let sinc = if x.abs() < 1e-6 { 1.0 } else { x.sin() / x };
    sinc / (1.0 - offset * offset).max(1e-3)
}

/// What a peak is worth as a partial: by its level under the strongest, and less where it
/// hardly rises above the noise.
fn weight(peak: &Peak, strongest: f64) -> f64 {
    /// 16 dB: from here on the noise takes nothing.
    const CLEAR: f64 = 39.81;
    let below_db = 20.0 * (peak.amplitude / strongest).log10();
    let by_level = ((below_db + WEIGHED_DB) / WEIGHED_DB).clamp(0.0, 1.0);
    if peak.snr >= CLEAR {
        return by_level;
    }
    by_level * ((10.0 * peak.snr.log10() - 6.0) / 10.0).clamp(0.0, 1.0)
}
