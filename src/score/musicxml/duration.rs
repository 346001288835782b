//! Durations in divisions of a quarter note, exactly: a part's own fine unit, in which all that
//! it writes is a whole number.

use crate::score::MOST_TICKS_PER_QUARTER;

/// A decimal number as it is written: `units` over ten to the power of `places`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Decimal {
    units: u64,
    places: u32,
}

impl Decimal {
    /// A number that is not negative, with up to nine digits before the point and six after it.
    pub(super) fn of(text: &str) -> Option<Self> {
        let text = text.trim();
        let text = text.strip_prefix('+').unwrap_or(text);
        let (whole, fraction) = text.split_once('.').unwrap_or((text, ""));
        let fraction = fraction.trim_end_matches('0');
        let digits = |text: &str| text.bytes().all(|byte| byte.is_ascii_digit());
        if !digits(whole)
            || !digits(fraction)
            || whole.len() + fraction.len() == 0 && !text.starts_with('.')
        {
            return None;
        }
        let whole = whole.trim_start_matches('0');
        if whole.len() > 9 || fraction.len() > 6 || text == "." {
            return None;
        }
        let units = format!("0{whole}{fraction}").parse().ok()?;
        Some(Self {
            units,
            places: fraction.len() as u32,
        })
    }
}

/// How finely a part's time is counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Grain {
    /// Units in a quarter note.
    pub(super) per_quarter: u64,
}

impl Grain {
    /// A unit that divides a quarter note by all `divisions` and a whole note by all `beat_types`,
    /// and in which decimals with up to `places` places in these divisions are whole.
    pub(super) fn of(
        divisions: impl Iterator<Item = Decimal>,
        beat_types: impl Iterator<Item = u64>,
        places: u32,
    ) -> Option<Self> {
        let mut per_quarter = 1;
        for division in divisions {
            if division.units > 0 {
                per_quarter = common_multiple(per_quarter, division.units)?;
            }
        }
        for beat_type in beat_types {
            per_quarter = common_multiple(per_quarter, (beat_type / 4).max(1))?;
        }
        let per_quarter = per_quarter
            .checked_mul(10_u64.checked_pow(places)?)
            .filter(|&ticks| ticks <= MOST_TICKS_PER_QUARTER)?;
        Some(Self { per_quarter })
    }

    /// A duration in units; none where it is no whole number of them or far too long.
    pub(super) fn units(self, duration: Decimal, divisions: Decimal) -> Option<u64> {
        // duration / divisions quarters, in whole numbers throughout.
        let above = u128::from(duration.units)
            * u128::from(self.per_quarter)
            * u128::from(10_u64.pow(divisions.places));
        let below = u128::from(divisions.units) * u128::from(10_u64.pow(duration.places));
        if below == 0 || !above.is_multiple_of(below) {
            return None;
        }
        u64::try_from(above / below).ok()
    }
}

impl Decimal {
    /// Digits after the point.
    pub(super) fn places(self) -> u32 {
        self.places
    }

    /// Whether it is nothing.
    pub(super) fn is_zero(self) -> bool {
        self.units == 0
    }
}

/// The least common multiple, while it stays countable.
pub(super) fn common_multiple(a: u64, b: u64) -> Option<u64> {
    let (mut x, mut y) = (a, b);
    while y > 0 {
        (x, y) = (y, x % y);
    }
    (a / x.max(1))
        .checked_mul(b)
        .filter(|&ticks| ticks <= MOST_TICKS_PER_QUARTER)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn decimals_are_read_exactly() {
        let check = |text, expected: Option<(u64, u32)>| {
            let read = Decimal::of(text).map(|decimal| (decimal.units, decimal.places));
            assert_eq!(read, expected, "{text}");
        };
        check("480", Some((480, 0)));
        check(" 2.50 ", Some((25, 1)));
        check("0012.0", Some((12, 0)));
        check("0", Some((0, 0)));
        check(".5", Some((5, 1)));
        for text in [
            "",
            ".",
            "-1",
            "1e9",
            "1.2.3",
            "9999999999",
            "0.1234567",
            "x",
            "inf",
            "\u{661}",
        ] {
            check(text, None);
        }
    }

    #[test]
    fn durations_are_whole_numbers_of_the_common_unit() {
        let decimal = |text| Decimal::of(text).unwrap();
        let grain = |divisions: &[&str], beats: &[u64], places| {
            let divisions = divisions.iter().map(|text| Decimal::of(text).unwrap());
            Grain::of(divisions, beats.iter().copied(), places)
        };
        let triplets = grain(&["8", "6"], &[4, 16], 0).unwrap();
        assert_eq!(triplets.per_quarter, 24);
        assert_eq!(triplets.units(decimal("2"), decimal("6")), Some(8));
        assert_eq!(triplets.units(decimal("12"), decimal("8")), Some(36));
        let halves = grain(&["1.5"], &[], 1).unwrap();
        assert_eq!(
            halves.units(decimal("0.5"), decimal("1.5")),
            Some(halves.per_quarter / 3)
        );
        assert_eq!(grain(&["999999999", "999999998"], &[], 0), None);
        assert_eq!(triplets.units(decimal("1"), decimal("0")), None);
        assert_eq!(triplets.units(decimal("1"), decimal("7")), None);
    }
}
