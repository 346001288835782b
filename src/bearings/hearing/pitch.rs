//! The pitch and the stiffness of a string from the partials it has for itself.

/// Stiffness expected of a string, and how far it may be from that: a choice of this program that
/// has harpsichords (some hundred-thousandths) and pianos (some ten-thousandths) in it.
const USUAL_STIFFNESS: f64 = 3e-5;
const STIFFNESS_SPREAD: f64 = 1.2e-4;
/// No partial is trusted more than this, in hertz: strings are not as simple as this.
const LEAST_ERROR_HZ: f64 = 0.03;

/// A string: partial k lies at k √(a + b k²). Source of the law: stiff strings, any textbook.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Pitch {
    a: f64,
    b: f64,
    /// Variances of both, and their covariance.
    aa: f64,
    bb: f64,
    ab: f64,
}

/// A partial that was heard.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Point {
    pub(super) partial: u32,
    pub(super) hz: f64,
    pub(super) error_hz: f64,
}

impl Pitch {
    /// The string that fits these partials best; none without any.
    pub(super) fn of(points: &[Point]) -> Option<Self> {
        let first = points.first()?;
        let about = (first.hz / f64::from(first.partial)).powi(2);
        // What is known beforehand counts like one more point: the stiffness alone.
        let prior = (STIFFNESS_SPREAD * about).powi(-2);
        let mut sums = [0.0, 0.0, prior, 0.0, prior * USUAL_STIFFNESS * about];
        let rows: Vec<[f64; 3]> = points
            .iter()
            .map(|point| {
                let k = f64::from(point.partial);
                let error = point.error_hz.hypot(LEAST_ERROR_HZ);
                let square = (point.hz / k).powi(2);
                [k * k, square, (2.0 * point.hz * error / (k * k)).powi(-2)]
            })
            .collect();
        for [k2, square, weight] in &rows {
            let terms = [1.0, *k2, k2 * k2, *square, k2 * square];
            for (sum, term) in sums.iter_mut().zip(terms) {
                *sum += weight * term;
            }
        }
        let [weight, k2, k4, square, product] = sums;
        let determinant = weight * k4 - k2 * k2;
        let a = (k4 * square - k2 * product) / determinant;
        let b = (weight * product - k2 * square) / determinant;
        if !(a > 0.0 && determinant > 0.0 && b.is_finite()) {
            return None;
        }
        // Partials that fit badly make everything less certain.
        let misfit: f64 = rows
            .iter()
            .map(|[k2, square, weight]| weight * (square - a - b * k2).powi(2))
            .sum();
        let doubt = (misfit / (rows.len() as f64 - 1.0).max(1.0)).max(1.0);
        Some(Self {
            a,
            b,
            aa: doubt * k4 / determinant,
            bb: doubt * weight / determinant,
            ab: -doubt * k2 / determinant,
        })
    }

    /// Where a partial lies, and the standard error of that.
    pub(super) fn partial(&self, number: u32) -> (f64, f64) {
        let k = f64::from(number);
        let square = (self.a + self.b * k * k).max(f64::MIN_POSITIVE);
        let variance = self.aa + 2.0 * k * k * self.ab + k.powi(4) * self.bb;
        let hz = k * square.sqrt();
        (hz, k * k * variance.max(0.0).sqrt() / (2.0 * hz))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stiff_string_is_found_again() {
        let (hz, stiffness) = (200.0, 1e-4);
        let partial = |k: u32| {
            let k = f64::from(k);
            k * hz * (1.0 + stiffness * k * k).sqrt()
        };
        let points = [1, 2, 4, 5].map(|k| Point {
            partial: k,
            hz: partial(k),
            error_hz: 0.001,
        });
        let pitch = Pitch::of(&points).unwrap();
        for k in [1, 3, 6] {
            let (hz, error) = pitch.partial(k);
            assert!((hz - partial(k)).abs() < 2.0 * error, "{k}: {hz} {error}");
            assert!(error < 0.2, "{k}: {error}");
        }
        // One partial alone says little of those above.
        let alone = Pitch::of(&points[..1]).unwrap();
        let (hz, error) = alone.partial(4);
        assert!(
            (hz - partial(4)).abs() < 2.0 * error && error > 0.3,
            "{error}"
        );
        assert_eq!(Pitch::of(&[]), None);
    }
}
