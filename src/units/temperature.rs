//! The temperature of a room.

use serde::{Deserialize, Serialize};

use super::UnitError;

/// Degrees Celsius of a room with people in it: −10 to 45.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(try_from = "f64", into = "f64")]
pub struct Celsius(f64);

impl Celsius {
    /// A temperature.
    ///
    /// # Errors
    ///
    /// It is no number or lies outside −10 to 45 degrees.
    pub fn new(degrees: f64) -> Result<Self, UnitError> {
        if (-10.0..=45.0).contains(&degrees) {
            Ok(Self(degrees))
        } else {
            Err(UnitError::Temperature(degrees))
        }
    }

    /// In degrees.
    pub fn get(self) -> f64 {
        self.0
    }

    /// Above absolute zero.
    pub fn kelvin(self) -> f64 {
        self.0 + 273.15
    }
}

impl TryFrom<f64> for Celsius {
    type Error = UnitError;
    fn try_from(degrees: f64) -> Result<Self, UnitError> {
        Self::new(degrees)
    }
}

impl From<Celsius> for f64 {
    fn from(celsius: Celsius) -> f64 {
        celsius.0
    }
}
