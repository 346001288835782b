//! The pitch from all partials together: a weighted least-squares fit of one fundamental,
//! with inharmonicity where the partials show it.

use super::comb::{PARTIALS, tolerance_hz};
use super::peaks::Peaks;

/// What the strongest partial's frequency cannot be trusted beyond, as a share of itself, for
/// neighbours, the room and unsteadiness: between these, as the partials' scatter shows.
const LEAST_MODEL_ERROR: f64 = 1e-4 * CENT;
const MODEL_ERROR: f64 = 0.1 * CENT;
/// One cent as a share of a frequency.
const CENT: f64 = 5.777_895e-4;
/// Rounds of finding the model error.
const WEIGHINGS: usize = 2;
/// Rounds of throwing out partials that do not belong.
const ROUNDS: usize = 3;
/// Largest inharmonicity looked for: gut and thin metal strings stay well below.
const LARGEST_B: f64 = 2e-3;

/// A fitted tone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Fit {
    /// The first partial's frequency.
    pub(super) hz: f64,
    /// Inharmonicity coefficient.
    pub(super) inharmonicity: f64,
    /// Standard error of the fundamental in cents by the weights of its partials.
    pub(super) error_cents: f64,
    /// How far the partials lie from the fit, root mean square by weight, in cents.
    pub(super) scatter_cents: f64,
}

impl Fit {
    /// Where partial `n` stands.
    pub(super) fn partial_hz(&self, n: usize) -> f64 {
        let n = n as f64;
        n * self.hz * ((1.0 + self.inharmonicity * n * n) / (1.0 + self.inharmonicity)).sqrt()
    }
}

#[derive(Debug, Clone, Copy, Default)]
struct Found {
    n: f64,
    /// Measured frequency divided by the partial's number.
    hz: f64,
    weight: f64,
    /// Variance by the noise around it.
    noise: f64,
    /// By how much more than the strongest partial it is open to other errors.
    exposure: f64,
}

impl Found {
    /// Weighs the partial by its noise and a model error of this variance.
    fn weigh(&mut self, model: f64) {
        self.weight = 1.0 / (self.noise + model * self.exposure);
    }
}

/// Fits the partials of a fundamental near `hz`, up to number `most`.
///
/// Partial n stands at n f sqrt(1 + B n^2) (Fletcher, JASA 36, 1964); with g = f^2 and
/// h = f^2 B the squares (hz/n)^2 = g + h n^2 are linear in both unknowns. A partial's
/// frequency over its number has a variance of one over n^2 times its signal-to-noise
/// ratio, to which the model's own error is added.
pub(super) fn fit(peaks: &Peaks, hz: f64, most: usize) -> Option<Fit> {
    let mut found = [Found::default(); PARTIALS];
    let mut count = 0;
    let mut near = (hz, 0.0);
    let mut sums = Sums::default();
    for n in 1..=most.min(PARTIALS) {
        let number = n as f64;
        let expected = number * near.0 * (1.0_f64 + near.1 * number * number).sqrt();
        let Some(peak) = peaks.nearest(expected, tolerance_hz(near.0, n, peaks.bin_hz())) else {
            continue;
        };
        // A Hann window's frequency error is about 0.55 bins over the root of the SNR.
        let noise = 0.55 * peaks.bin_hz() / peak.snr.sqrt() / peak.hz;
        found[count] = Found {
            n: number,
            hz: peak.hz / number,
            weight: 0.0,
            noise: noise * noise,
            // Weak partials are moved more by their neighbours and by the room.
            exposure: peaks.strongest() / peak.amplitude,
        };
        found[count].weigh(MODEL_ERROR * MODEL_ERROR);
        sums.add(&found[count]);
        count += 1;
        if count >= 4 {
            near = sums.solve(true).unwrap_or(near);
        }
    }
    let found = &mut found[..count];
    for _ in 0..WEIGHINGS {
        let model = model_error(found, solve(found)?);
        for f in found.iter_mut() {
            f.weigh(model);
        }
    }
    for _ in 0..ROUNDS {
        let result = solve(found)?;
        soften(found, result);
    }
    let result = solve(found)?;
    let (fundamental, b) = result;
    let weight: f64 = found.iter().map(|f| f.weight).sum();
    Some(Fit {
        hz: fundamental * (1.0 + b).sqrt(),
        inharmonicity: b,
        error_cents: (1.0 / weight).sqrt() / CENT,
        scatter_cents: (squared_error(found, result) / weight).sqrt() / CENT,
    })
}

/// The sums of a weighted least-squares fit.
#[derive(Debug, Clone, Copy, Default)]
struct Sums {
    weight: f64,
    x: f64,
    xx: f64,
    y: f64,
    xy: f64,
}

impl Sums {
    fn add(&mut self, found: &Found) {
        let (x, y) = (found.n * found.n, found.hz * found.hz);
        self.weight += found.weight;
        self.x += found.weight * x;
        self.xx += found.weight * x * x;
        self.y += found.weight * y;
        self.xy += found.weight * x * y;
    }

    /// The fundamental without stretch and the inharmonicity, which is zero unless
    /// `stretched`.
    fn solve(&self, stretched: bool) -> Option<(f64, f64)> {
        if self.weight <= 0.0 {
            return None;
        }
        let determinant = self.weight * self.xx - self.x * self.x;
        if stretched && determinant > 1e-9 * self.weight * self.xx {
            let g = (self.xx * self.y - self.x * self.xy) / determinant;
            let h = (self.weight * self.xy - self.x * self.y) / determinant;
            if g > 0.0 && (0.0..=LARGEST_B).contains(&(h / g)) {
                return Some((g.sqrt(), h / g));
            }
        }
        Some(((self.y / self.weight).sqrt(), 0.0))
    }
}

/// Weighted least squares; with stretch where it shows beyond doubt: five partials, and a fit
/// with stretch that leaves less than half of the squared error.
fn solve(found: &[Found]) -> Option<(f64, f64)> {
    let mut sums = Sums::default();
    for f in found {
        sums.add(f);
    }
    let plain = sums.solve(false)?;
    if found.len() < 5 {
        return Some(plain);
    }
    let stretched = sums.solve(true)?;
    let shows =
        stretched.1 > 0.0 && squared_error(found, stretched) < 0.5 * squared_error(found, plain);
    Some(if shows { stretched } else { plain })
}

/// A partial's relative deviation from the fit.
fn residual(f: &Found, (hz, b): (f64, f64)) -> f64 {
    f.hz / (hz * (1.0 + b * f.n * f.n).sqrt()) - 1.0
}

fn squared_error(found: &[Found], fit: (f64, f64)) -> f64 {
    found
        .iter()
        .map(|f| f.weight * residual(f, fit).powi(2))
        .sum()
}

/// The variance of the model error that explains why the partials scatter by more than the
/// noise lets them: by the method of moments, as a random effect.
fn model_error(found: &[Found], fit: (f64, f64)) -> f64 {
    let freedom = 1.0 - 1.0 / found.len() as f64;
    let (mut scatter, mut exposure) = (0.0, 0.0);
    for f in found {
        scatter += f.weight * (residual(f, fit).powi(2) - freedom * f.noise);
        exposure += f.weight * freedom * f.exposure;
    }
    let largest = MODEL_ERROR * MODEL_ERROR;
    if exposure > 0.0 {
        (scatter / exposure).clamp(LEAST_MODEL_ERROR * LEAST_MODEL_ERROR, largest)
    } else {
        largest
    }
}

/// Partials far from the fit (another player's, a resonance) lose weight: Cauchy's
/// weighting, with the typical deviation as its scale.
fn soften(found: &mut [Found], fit: (f64, f64)) {
    let weight: f64 = found.iter().map(|f| f.weight).sum();
    let typical = (squared_error(found, fit) / weight).sqrt().max(0.5 * CENT);
    for f in found.iter_mut() {
        f.weight /= 1.0 + (residual(f, fit) / (4.0 * typical)).powi(2);
    }
}
