//! Numbers of a journal's lines: rounded when they are written, held against sensible bounds
//! when they are read.

use serde::{Deserialize, Serialize};

use crate::units::{Cents, Hertz, Seconds};

/// The longest time a rehearsal can count to: eleven days.
const LONGEST_S: f64 = 1e6;
/// Farther than this no two pitches of music lie apart, in cents.
const WIDEST: f64 = 1e5;
/// Pitches of music, in hertz.
const LOWEST_HZ: f64 = 1.0;
const HIGHEST_HZ: f64 = 1e5;

/// Seconds on a sitting's clock, to a thousandth.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "f64", into = "f64")]
pub(in crate::session) struct Time(pub(in crate::session) f64);

/// An interval, to a thousandth of a cent.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "f64", into = "f64")]
pub(in crate::session) struct Size(pub(in crate::session) f64);

/// A frequency, to a ten-thousandth of a hertz.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "f64", into = "f64")]
pub(in crate::session) struct Pitch(pub(in crate::session) f64);

/// `number` to so many parts of a unit, without negative zero.
pub(in crate::session) fn rounded(number: f64, parts: f64) -> f64 {
    let rounded = (number * parts).round() / parts;
    if rounded == 0.0 { 0.0 } else { rounded }
}

impl From<Seconds> for Time {
    fn from(time: Seconds) -> Self {
        let held = time.get().clamp(0.0, LONGEST_S - 1.0);
        Self(rounded(held, 1e3))
    }
}

impl Time {
    pub(in crate::session) fn get(self) -> Seconds {
        Seconds::new(self.0)
    }
}

impl TryFrom<f64> for Time {
    type Error = String;
    fn try_from(seconds: f64) -> Result<Self, String> {
        if (0.0..LONGEST_S).contains(&seconds) {
            Ok(Self(seconds))
        } else {
            Err(format!("'{seconds}' is no time within a rehearsal"))
        }
    }
}

impl From<Cents> for Size {
    fn from(cents: Cents) -> Self {
        let held = if cents.get().is_nan() {
            0.0
        } else {
            cents.get()
        };
        Self(rounded(held.clamp(-WIDEST, WIDEST), 1e3))
    }
}

impl Size {
    pub(in crate::session) fn get(self) -> Cents {
        Cents::new(self.0)
    }
}

impl TryFrom<f64> for Size {
    type Error = String;
    fn try_from(cents: f64) -> Result<Self, String> {
        if (-WIDEST..=WIDEST).contains(&cents) {
            Ok(Self(cents))
        } else {
            Err(format!("'{cents}' cents are no interval"))
        }
    }
}

impl From<Hertz> for Pitch {
    fn from(hertz: Hertz) -> Self {
        Self(rounded(hertz.get().clamp(LOWEST_HZ, HIGHEST_HZ), 1e4))
    }
}

impl Pitch {
    pub(in crate::session) fn get(self) -> Hertz {
        let lowest = Hertz::new(LOWEST_HZ).expect("1 Hz is a frequency");
        Hertz::new(self.0).unwrap_or(lowest)
    }
}

impl TryFrom<f64> for Pitch {
    type Error = String;
    fn try_from(hz: f64) -> Result<Self, String> {
        if (LOWEST_HZ..=HIGHEST_HZ).contains(&hz) {
            Ok(Self(hz))
        } else {
            Err(format!("'{hz}' Hz is no pitch"))
        }
    }
}

/// The same for plain numbers.
macro_rules! into_number {
    ($($kind:ident),*) => {
        $(impl From<$kind> for f64 {
            fn from(number: $kind) -> f64 {
                number.0
            }
        })*
    };
}
into_number!(Time, Size, Pitch);
