//! Frequency, interval size and level.

use std::fmt;
use std::iter::Sum;
use std::ops::{Add, AddAssign, Mul, Neg, Sub};

use serde::{Deserialize, Serialize};

/// A number that does not belong to the quantity it was given for.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum UnitError {
    /// A frequency must be finite and above zero.
    #[error("'{0}' is no frequency: give a number of hertz above 0")]
    Frequency(f64),
    /// No temperature of a room.
    #[error("'{0}' is no temperature of a room: give \u{2212}10 to 45 degrees Celsius")]
    Temperature(f64),
    /// A sample rate outside what the program can work with.
    #[error("'{0}' is no usable sample rate: 8000 to 192000 frames a second are")]
    SampleRate(u32),
}

/// A frequency in hertz: finite and above zero.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(try_from = "f64", into = "f64")]
pub struct Hertz(f64);

impl Hertz {
    /// Checks that `hz` is finite and above zero.
    pub fn new(hz: f64) -> Result<Self, UnitError> {
        if hz.is_finite() && hz > 0.0 {
            Ok(Self(hz))
        } else {
            Err(UnitError::Frequency(hz))
        }
    }

    /// The number of hertz.
    pub fn get(self) -> f64 {
        self.0
    }

    /// The interval from `reference` up to this frequency; negative below it.
    pub fn above(self, reference: Self) -> Cents {
        Cents(1200.0 * (self.0 / reference.0).log2())
    }

    /// The frequency `interval` higher; the result stays within what a float can hold.
    pub fn raised(self, interval: Cents) -> Self {
        self.times((interval.0 / 1200.0).exp2())
    }

    /// The frequency multiplied by `ratio`, which the caller knows to be positive.
    pub fn times(self, ratio: f64) -> Self {
        Self((self.0 * ratio).clamp(f64::MIN_POSITIVE, f64::MAX))
    }
}

impl TryFrom<f64> for Hertz {
    type Error = UnitError;
    fn try_from(hz: f64) -> Result<Self, UnitError> {
        Self::new(hz)
    }
}

impl From<Hertz> for f64 {
    fn from(hertz: Hertz) -> f64 {
        hertz.0
    }
}

/// An interval in cents, 1200 to the octave; positive means higher.
#[derive(Debug, Clone, Copy, Default, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Cents(f64);

impl Cents {
    /// No interval at all.
    pub const UNISON: Self = Self(0.0);
    /// Twelve hundred cents.
    pub const OCTAVE: Self = Self(1200.0);

    /// An interval of `cents`.
    pub const fn new(cents: f64) -> Self {
        Self(cents)
    }

    /// The size of the frequency ratio `upper / lower`.
    pub fn of_ratio(upper: f64, lower: f64) -> Self {
        Self(1200.0 * (upper / lower).log2())
    }

    /// The number of cents.
    pub const fn get(self) -> f64 {
        self.0
    }

    /// The size without its direction.
    pub fn abs(self) -> Self {
        Self(self.0.abs())
    }

    /// The interval brought into 0 (inclusive) to 1200 (exclusive) by whole octaves.
    pub fn within_octave(self) -> Self {
        let folded = self.0.rem_euclid(1200.0);
        // `rem_euclid` of a tiny negative number rounds up to the divisor itself.
        Self(if folded >= 1200.0 { 0.0 } else { folded })
    }

    /// The interval brought into -600 (inclusive) to 600 (exclusive) by whole octaves.
    pub fn nearest_octave(self) -> Self {
        Self((Self(self.0 + 600.0)).within_octave().0 - 600.0)
    }
}

impl Add for Cents {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0 + other.0)
    }
}

impl AddAssign for Cents {
    fn add_assign(&mut self, other: Self) {
        self.0 += other.0;
    }
}

impl Sub for Cents {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(self.0 - other.0)
    }
}

impl Neg for Cents {
    type Output = Self;
    fn neg(self) -> Self {
        Self(-self.0)
    }
}

impl Mul<f64> for Cents {
    type Output = Self;
    fn mul(self, factor: f64) -> Self {
        Self(self.0 * factor)
    }
}

impl Sum for Cents {
    fn sum<I: Iterator<Item = Self>>(parts: I) -> Self {
        parts.fold(Self::UNISON, Add::add)
    }
}

/// A signal level in decibels relative to full scale: a sine that just reaches full scale
/// has an RMS level of -3.01. It says nothing about sound pressure.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Dbfs(f64);

impl Dbfs {
    /// What digital silence is shown as.
    pub const SILENCE: Self = Self(-140.0);

    /// A level of `db`, held between digital silence and +40.
    pub const fn new(db: f64) -> Self {
        if db.is_nan() {
            Self::SILENCE
        } else {
            Self(db.clamp(Self::SILENCE.0, 40.0))
        }
    }

    /// The level of a signal whose mean square is `mean_square` (full scale = 1).
    pub fn of_mean_square(mean_square: f64) -> Self {
        Self::new(10.0 * mean_square.max(1e-30).log10())
    }

    /// The number of decibels.
    pub const fn get(self) -> f64 {
        self.0
    }
}

impl fmt::Display for Cents {
    /// Whole cents with an ever-present sign and a real minus sign, or as many decimals as
    /// the precision asks for.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let decimals = f.precision().unwrap_or(0);
        let scale = 10_f64.powi(decimals as i32);
        let rounded = (self.0 * scale).round() / scale;
        let sign = if rounded > 0.0 {
            "+"
        } else if rounded < 0.0 {
            "\u{2212}"
        } else {
            "\u{b1}"
        };
        f.pad_integral_like(&format!("{sign}{:.decimals$}", rounded.abs()))
    }
}

/// Padding for text whose width is given by the formatter but whose precision is not.
trait PadText {
    fn pad_integral_like(&mut self, text: &str) -> fmt::Result;
}

impl PadText for fmt::Formatter<'_> {
    fn pad_integral_like(&mut self, text: &str) -> fmt::Result {
        let missing = self
            .width()
            .unwrap_or(0)
            .saturating_sub(text.chars().count());
        let left = match self.align() {
            Some(fmt::Alignment::Left) => 0,
            Some(fmt::Alignment::Center) => missing / 2,
            Some(fmt::Alignment::Right) | None => missing,
        };
        write!(
            self,
            "{:left$}{text}{:right$}",
            "",
            "",
            right = missing - left
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn cents_show_sign_and_width() {
        assert_eq!(format!("{}", Cents::new(7.4)), "+7");
        assert_eq!(format!("{:>4}", Cents::new(-12.6)), " \u{2212}13");
        assert_eq!(format!("{:.1}", Cents::new(-0.04)), "\u{b1}0.0");
        assert_eq!(format!("{:<5.1}|", Cents::new(0.25)), "+0.3 |");
    }

    #[test]
    fn no_frequency_from_nonsense() {
        for hz in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert!(Hertz::new(hz).is_err(), "{hz}");
        }
    }

    #[test]
    fn a_full_scale_sine_is_three_decibels_down() {
        // RMS of a sine is its peak over the square root of two: definition.
        assert!((Dbfs::of_mean_square(0.5).get() + 3.0103).abs() < 1e-4);
        assert_eq!(Dbfs::of_mean_square(0.0), Dbfs::SILENCE);
        assert_eq!(Dbfs::new(f64::NAN), Dbfs::SILENCE);
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn raising_and_measuring_agree(hz in 20.0..5000.0, cents in -3600.0..3600.0) {
            let start = Hertz::new(hz).unwrap();
            let back = start.raised(Cents::new(cents)).above(start);
            prop_assert!((back.get() - cents).abs() < 1e-8);
        }

        #[test]
        fn folding_moves_by_octaves_only(cents in -1e5..1e5) {
            let folded = Cents::new(cents).within_octave().get();
            prop_assert!((0.0..1200.0).contains(&folded));
            let octaves = (cents - folded) / 1200.0;
            prop_assert!((octaves - octaves.round()).abs() < 1e-6);
            let near = Cents::new(cents).nearest_octave().get();
            prop_assert!((-600.0..600.0).contains(&near));
        }
    }
}
