//! Peaks of a spectrum: where they stand, how strong they are, and how far they rise above
//! the noise around them.

use super::spectrum::Spectrum;

/// Bins over which the noise floor is taken to be level.
const BAND_BINS: usize = 48;
/// The share of a band's bins taken to be noise rather than partials.
const QUANTILE: f64 = 0.25;
/// Most peaks kept.
const MOST: usize = 256;
/// A peak this far below the strongest is not looked at, in decibels.
const RANGE_DB: f32 = 70.0;
/// A partial this far below the strongest weighs nothing, in decibels.
const WEIGHED_DB: f64 = 55.0;
/// A local maximum whose frequency lies farther from its bin than this is no single sine.
const FARTHEST_OFFSET: f64 = 0.8;
/// Lowest frequency at which a peak is looked for, in hertz.
const LOWEST_HZ: f64 = 24.0;

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
    /// For every bin the index of the first peak at or above it.
    first_from_bin: Vec<u16>,
    floor: Vec<f32>,
    band: Vec<f32>,
    bin_hz: f64,
    strongest: f64,
    /// Total power above the lowest frequency, by bin, summed from below.
    power_below: Vec<f64>,
}

impl Peaks {
    /// Room for the peaks of `spectrum`.
    pub(super) fn new(spectrum: &Spectrum) -> Self {
        let bins = spectrum.power().len();
        Self {
            list: Vec::with_capacity(MOST),
            first_from_bin: vec![0; bins + 1],
            floor: vec![0.0; bins.div_ceil(BAND_BINS)],
            band: Vec::with_capacity(BAND_BINS),
            bin_hz: spectrum.bin_hz(),
            strongest: 0.0,
            power_below: vec![0.0; bins + 1],
        }
    }

    /// Finds the peaks of `spectrum` anew.
    pub(super) fn find(&mut self, spectrum: &Spectrum) {
        self.measure_floor(spectrum.power());
        self.list.clear();
        self.strongest = 0.0;
        let power = spectrum.power();
        let lowest = ((LOWEST_HZ / self.bin_hz).ceil() as usize).max(2);
        let mut total = 0.0;
        let loudest = power[lowest.min(power.len() - 1)..]
            .iter()
            .copied()
            .fold(0.0, f32::max);
        let least = loudest * 10_f32.powf(-RANGE_DB / 10.0);
        for (bin, (below, here)) in self.power_below.iter_mut().zip(power).enumerate() {
            *below = total;
            if bin >= lowest {
                total += f64::from(*here);
            }
        }
        self.power_below[power.len()] = total;
        for bin in lowest..power.len() - 1 {
            let here = power[bin];
            if here <= least || here < power[bin - 1] || here <= power[bin + 1] {
                continue;
            }
            let floor = self.floor_at(bin);
            let snr = f64::from(here) / f64::from(floor.max(1e-30));
            if snr < 4.0 || self.list.len() == MOST {
                continue;
            }
            let offset = spectrum.offset(bin);
            if offset.abs() > FARTHEST_OFFSET {
                continue;
            }
            let amplitude = (f64::from(here) / hann_lobe(offset).powi(2)).sqrt();
            self.strongest = self.strongest.max(amplitude);
            self.list.push(Peak {
                hz: (bin as f64 + offset) * self.bin_hz,
                amplitude,
                snr,
                weight: 0.0,
            });
        }
        for peak in &mut self.list {
            peak.weight = weight(peak, self.strongest);
        }
        // Offsets beyond half a bin can turn neighbours round.
        self.list.sort_unstable_by(|a, b| a.hz.total_cmp(&b.hz));
        self.index();
    }

    /// All peaks, rising.
    pub(super) fn list(&self) -> &[Peak] {
        &self.list
    }

    /// Amplitude of the strongest.
    pub(super) fn strongest(&self) -> f64 {
        self.strongest
    }

    /// The width of a bin in hertz.
    pub(super) fn bin_hz(&self) -> f64 {
        self.bin_hz
    }

    /// The highest frequency looked at.
    pub(super) fn highest_hz(&self) -> f64 {
        (self.first_from_bin.len() - 2) as f64 * self.bin_hz
    }

    /// The peak nearest to `hz` and no farther from it than `tolerance_hz`.
    pub(super) fn nearest(&self, hz: f64, tolerance_hz: f64) -> Option<&Peak> {
        let low = hz - tolerance_hz;
        let bin = ((low / self.bin_hz).max(0.0) as usize).min(self.first_from_bin.len() - 1);
        let from = usize::from(self.first_from_bin[bin]);
        self.list[from..]
            .iter()
            .skip_while(|peak| peak.hz < low)
            .take_while(|peak| peak.hz <= hz + tolerance_hz)
            .min_by(|a, b| (a.hz - hz).abs().total_cmp(&(b.hz - hz).abs()))
    }

    /// Mean square of everything between two frequencies.
    pub(super) fn mean_square_between(&self, low_hz: f64, high_hz: f64) -> f64 {
        let bin = |hz: f64| ((hz / self.bin_hz).max(0.0) as usize).min(self.power_below.len() - 1);
        let sum = self.power_below[bin(high_hz)] - self.power_below[bin(low_hz)];
        // A sine of amplitude A spreads A^2 (1 + 2/4) over its bins: its mean square A^2/2
        // is a third of that.
        sum.max(0.0) / 3.0
    }

    /// Where partials leave a quarter of the bins to the noise, that quarter's upper edge
    /// tells the mean: for noise the power of a bin is exponentially distributed.
    fn measure_floor(&mut self, power: &[f32]) {
        let to_mean = (-1.0 / (1.0 - QUANTILE).ln()) as f32;
        for (floor, bins) in self.floor.iter_mut().zip(power.chunks(BAND_BINS)) {
            self.band.clear();
            self.band.extend_from_slice(bins);
            let rank = ((bins.len() as f64 * QUANTILE) as usize).min(bins.len() - 1);
            let (_, quantile, _) = self.band.select_nth_unstable_by(rank, f32::total_cmp);
            *floor = *quantile * to_mean;
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
        for (bin, slot) in self.first_from_bin.iter_mut().enumerate() {
            let edge = bin as f64 * self.bin_hz;
            while next < self.list.len() && self.list[next].hz < edge {
                next += 1;
            }
            *slot = next as u16;
        }
    }
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
    let below_db = 20.0 * (peak.amplitude / strongest).log10();
    let snr_db = 10.0 * peak.snr.log10();
    ((below_db + WEIGHED_DB) / WEIGHED_DB).clamp(0.0, 1.0) * ((snr_db - 6.0) / 10.0).clamp(0.0, 1.0)
}
