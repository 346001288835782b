//! A cluster of overlapping lines, shared out by weighted least squares.

use std::f64::consts::PI;
use std::sync::LazyLock;

use super::window::Window;

/// How far a line reaches, in bins.
pub(super) const REACH: f64 = 3.0;
/// The most lines solved together.
pub(super) const MOST_LINES: usize = 16;
/// What keeps two lines on one spot from being told apart by rounding.
const RIDGE: f64 = 1e-4;

/// A steady line's spectrum through a Hann window, one at its middle: sinc(d) / (1 - d^2) at
/// d bins from it, tabled.
static SHAPE: LazyLock<Vec<f64>> = LazyLock::new(|| {
    let last = ((REACH + 1.0) * STEPS_A_BIN) as i32;
    (0..=last)
        .map(|step| {
            let d = f64::from(step) / STEPS_A_BIN;
            if step == 0 {
                1.0
            } else if step == STEPS_A_BIN as i32 {
                0.5
            } else {
                (PI * d).sin() / (PI * d * (1.0 - d * d))
            }
        })
        .collect()
});
const STEPS_A_BIN: f64 = 128.0;

/// What a line of amplitude one has `distance` bins from its middle, within [`REACH`].
pub(super) fn shape(distance: f64) -> f64 {
    interpolated(&SHAPE, distance)
}

fn interpolated(table: &[f64], distance: f64) -> f64 {
    let place = distance.abs() * STEPS_A_BIN;
    let step = place as usize;
    table[step] + (place - step as f64) * (table[step + 1] - table[step])
}

/// G = A'WA + 1/D and b = A'Wx of a cluster. Referred to the middle of a Hann window a steady
/// line is real up to one complex amplitude, so A and G are real and b has two parts.
struct System<const N: usize> {
    count: usize,
    gram: [[f64; N]; N],
    right: [[f64; 2]; N],
    log_prior: f64,
}

impl<const N: usize> System<N> {
    /// Sets up a cluster of at most `N` rising `lines`.
    fn new(window: &Window, lines: &[f64]) -> Self {
        let count = lines.len().min(N);
        let lines = &lines[..count];
        let table = &SHAPE;
        let mut system = Self {
            count,
            gram: [[0.0; N]; N],
            right: [[0.0; 2]; N],
            log_prior: 0.0,
        };
        let from = (lines[0] - REACH).ceil().max(1.0) as usize;
        let to = ((lines[count - 1] + REACH).floor() as usize).min(window.bins.len() - 1);
        let mut first = 0;
        let mut shapes = [0.0; N];
        let trusts = &window.trust[from..=to];
        for (offset, (trust, value)) in trusts.iter().zip(&window.bins[from..=to]).enumerate() {
            let place = (from + offset) as f64;
            while first < count && lines[first] < place - REACH {
                first += 1;
            }
            let trust = f64::from(*trust);
            let (re, im) = (f64::from(value.re), f64::from(value.im));
            let mut last = first;
            while last < count && lines[last] <= place + REACH {
                shapes[last] = interpolated(table, place - lines[last]);
                last += 1;
            }
            for i in first..last {
                let weighted = shapes[i] * trust;
                system.right[i][0] += weighted * re;
                system.right[i][1] += weighted * im;
                for (gram, shape) in system.gram[i][first..=i].iter_mut().zip(&shapes[first..=i]) {
                    *gram += weighted * shape;
                }
            }
        }
        for (i, line) in lines.iter().enumerate() {
            let bin = (line.round() as usize).min(window.prior.len() - 1);
            system.log_prior += f64::from(window.log_prior[bin]);
            system.gram[i][i] += RIDGE * system.gram[i][i] + 1.0 / f64::from(window.prior[bin]);
        }
        system
    }

    /// Factors G into LL' (Cholesky) and turns b into L^-1 b; returns log det G.
    fn factor(&mut self) -> f64 {
        // The logarithm of a product, as long as the product stays within a float's range.
        let (mut log_det, mut product) = (0.0, 1.0_f64);
        for i in 0..self.count {
            let mut right = self.right[i];
            let mut rest = self.gram[i][i];
            for j in 0..i {
                let mut sum = self.gram[i][j];
                for k in 0..j {
                    sum -= self.gram[i][k] * self.gram[j][k];
                }
                let factor = sum / self.gram[j][j];
                self.gram[i][j] = factor;
                rest -= factor * factor;
                right[0] -= factor * self.right[j][0];
                right[1] -= factor * self.right[j][1];
            }
            let root = rest.max(1e-30).sqrt();
            self.gram[i][i] = root;
            product *= root;
            if !(1e-100..1e100).contains(&product) {
                log_det += 2.0 * product.ln();
                product = 1.0;
            }
            self.right[i] = [right[0] / root, right[1] / root];
        }
        log_det + 2.0 * product.ln()
    }

    fn evidence(mut self) -> f64 {
        let log_det = self.factor();
        let right = &self.right[..self.count];
        let energy: f64 = right.iter().map(|[re, im]| re * re + im * im).sum();
        energy - log_det - self.log_prior
    }
}

/// The evidence of a cluster of lines: b' G^-1 b - log det G - sum log D.
pub(super) fn evidence(window: &Window, lines: &[f64]) -> f64 {
    // Most clusters are small, and clearing a small matrix costs less.
    match lines.len() {
        0..=1 => System::<1>::new(window, lines).evidence(),
        2 => System::<2>::new(window, lines).evidence(),
        3..=4 => System::<4>::new(window, lines).evidence(),
        5..=8 => System::<8>::new(window, lines).evidence(),
        _ => System::<MOST_LINES>::new(window, lines).evidence(),
    }
}

/// The complex amplitude of each line of a cluster.
pub(super) fn amplitudes(window: &Window, lines: &[f64]) -> impl Iterator<Item = [f64; 2]> {
    let mut system = System::<MOST_LINES>::new(window, lines);
    system.factor();
    for i in (0..system.count).rev() {
        for part in 0..2 {
            let mut sum = system.right[i][part];
            for k in i + 1..system.count {
                sum -= system.gram[k][i] * system.right[k][part];
            }
            system.right[i][part] = sum / system.gram[i][i];
        }
    }
    (0..system.count).map(move |i| system.right[i])
}
