//! Sensory roughness of two tones: how much their partials disturb each other.

use crate::units::Hertz;

/// How many partials a tone is taken to have.
const PARTIALS: usize = 6;

/// How much weaker each partial is than the one below: a choice of this program.
const FALL: f64 = 0.88;

/// Pairs farther apart than this many units add less than a hundred millionth.
const APART: f64 = 6.0;

/// The roughness of two tones of six partials, each 0.88 times as strong as the one below,
/// summed over all pairs of partials, those of one tone included. Without unit: an octave from
/// middle C has 0.10, an equal-tempered third there 1.98.
///
/// Two pure tones f1 < f2 have min(a1, a2) (5 exp(-3.51 x) - 5 exp(-5.75 x)) with
/// x = 0.24 (f2 - f1) / (0.0207 f1 + 18.96): the consonance curve of J. Acoust. Soc. Am. 38, 548
/// (1965) as parameterised in 94(3), 1218 (1993).
pub fn roughness(lower: Hertz, upper: Hertz) -> f64 {
    between(lower.get(), upper.get()) + within(lower.get()) + within(upper.get())
}

/// The strength of each partial.
fn strengths() -> [f64; PARTIALS] {
    std::array::from_fn(|index| FALL.powi(index as i32))
}

/// What the partials of one tone do to those of another.
pub(super) fn between(one_hz: f64, other_hz: f64) -> f64 {
    let strengths = strengths();
    let mut sum = 0.0;
    for (i, one) in strengths.iter().enumerate() {
        for (j, other) in strengths.iter().enumerate() {
            sum += one.min(*other) * pair((i + 1) as f64 * one_hz, (j + 1) as f64 * other_hz);
        }
    }
    sum
}

/// What the partials of a tone do to each other.
pub(super) fn within(hz: f64) -> f64 {
    let strengths = strengths();
    let mut sum = 0.0;
    for (i, strength) in strengths.iter().enumerate() {
        for lower in 0..i {
            sum += strength * pair((lower + 1) as f64 * hz, (i + 1) as f64 * hz);
        }
    }
    sum
}

/// Two pure tones of strength one.
fn pair(one_hz: f64, other_hz: f64) -> f64 {
    let (low, high) = (one_hz.min(other_hz), one_hz.max(other_hz));
    let x = 0.24 * (high - low) / (0.0207 * low + 18.96);
    if x > APART {
        return 0.0;
    }
    5.0 * ((-3.51 * x).exp() - (-5.75 * x).exp())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Cents;

    #[test]
    fn the_worked_figures_come_out() {
        // Computed independently from the constants of the paper named above, four decimals,
        // for a lower tone of 261.6256 Hz.
        let middle_c = Hertz::new(261.625_565).unwrap();
        let check = |cents: f64, expected: f64| {
            let found = roughness(middle_c, middle_c.raised(Cents::new(cents)));
            assert!((found - expected).abs() < 1e-4, "{cents}: {found}");
        };
        let pure = |over: f64, under: f64| 1200.0 * (over / under).log2();
        check(pure(5.0, 4.0), 1.7144);
        check(400.0, 1.9751);
        check(4.0 * pure(3.0, 2.0) - 2400.0, 2.0631);
        check(pure(3.0, 2.0), 0.5949);
        check(700.0, 0.6936);
        check(pure(3.0, 2.0) - pure(81.0, 80.0) / 4.0, 0.8519);
        check(1200.0, 0.1000);
    }
}
