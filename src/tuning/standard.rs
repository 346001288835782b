//! The pitch standard: how high A4 stands, and which note keeps that level.

use serde::{Deserialize, Serialize};

use crate::units::{Cents, Hertz, NoteName};

/// A pitch standard the program refuses.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum StandardError {
    /// A4 outside 350 to 500 Hz.
    #[error("A4 at {0} Hz is out of reach: give 350 to 500 (392, 415, 440 and 466 are usual)")]
    OutOfReach(f64),
}

/// The level of A4 in hertz, and the note that keeps that level when temperaments change.
///
/// The kept note stands where equal temperament from A4 puts it; every other note is placed
/// from there. With A kept, as is usual, A4 itself sounds at the given frequency in every
/// temperament. With C kept, C is the same in all of them and A moves.
///
/// In files: `(a4_hz: 415.0, kept_by: "A")`, where `kept_by` may be left out.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "StandardFields", into = "StandardFields")]
pub struct PitchStandard {
    a4: Hertz,
    kept: NoteName,
}

impl PitchStandard {
    /// Lowest A4 accepted, in hertz.
    pub const LOWEST_HZ: f64 = 350.0;
    /// Highest A4 accepted, in hertz.
    pub const HIGHEST_HZ: f64 = 500.0;

    /// A standard with A4 at `a4_hz` (350 to 500), kept by the note A.
    pub fn new(a4_hz: f64) -> Result<Self, StandardError> {
        match Hertz::new(a4_hz) {
            Ok(a4) if (Self::LOWEST_HZ..=Self::HIGHEST_HZ).contains(&a4_hz) => Ok(Self {
                a4,
                kept: NoteName::A,
            }),
            _ => Err(StandardError::OutOfReach(a4_hz)),
        }
    }

    /// The same level, kept by another note.
    pub fn kept_by(self, kept: NoteName) -> Self {
        Self { kept, ..self }
    }

    /// The standard `hz` higher or lower, stopping at the limits.
    pub fn shifted(self, hz: f64) -> Self {
        let moved = (self.a4.get() + hz).clamp(Self::LOWEST_HZ, Self::HIGHEST_HZ);
        Self {
            a4: Hertz::new(moved).unwrap_or(self.a4),
            ..self
        }
    }

    /// The level that was asked for: A4 in equal temperament.
    pub fn a4(self) -> Hertz {
        self.a4
    }

    /// The note that keeps the level.
    pub fn kept(self) -> NoteName {
        self.kept
    }

    /// Where the kept note stands in the octave of middle C.
    pub fn kept_frequency(self) -> Hertz {
        let steps = self.kept.in_octave(4).key_number() - NoteName::A.in_octave(4).key_number();
        self.a4.raised(Cents::new(100.0 * f64::from(steps)))
    }
}

/// A standard as it is written in a file.
#[derive(Debug, Clone, Copy, Serialize, Deserialize)]
#[serde(rename = "pitch", deny_unknown_fields)]
struct StandardFields {
    a4_hz: A4,
    #[serde(default = "usual_kept")]
    kept_by: NoteName,
}

/// A level of A4 on its own, so that a bad one is reported where it stands.
#[derive(Debug, Clone, Copy, Serialize, Deserialize)]
#[serde(try_from = "f64", into = "f64")]
struct A4(f64);

fn usual_kept() -> NoteName {
    NoteName::A
}

impl TryFrom<f64> for A4 {
    type Error = StandardError;
    fn try_from(hz: f64) -> Result<Self, StandardError> {
        PitchStandard::new(hz).map(|_| Self(hz))
    }
}

impl From<A4> for f64 {
    fn from(a4: A4) -> Self {
        a4.0
    }
}

impl TryFrom<StandardFields> for PitchStandard {
    type Error = StandardError;
    fn try_from(fields: StandardFields) -> Result<Self, StandardError> {
        Ok(Self::new(fields.a4_hz.0)?.kept_by(fields.kept_by))
    }
}

impl From<PitchStandard> for StandardFields {
    fn from(standard: PitchStandard) -> Self {
        Self {
            a4_hz: A4(standard.a4.get()),
            kept_by: standard.kept,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn iso_16_pitch_is_the_level_of_a() {
        // ISO 16:1975, standard tuning frequency 440 Hz for the A in the treble stave.
        let standard = PitchStandard::new(440.0).unwrap();
        assert!((standard.kept_frequency().get() - 440.0).abs() < 1e-12);
    }

    #[test]
    fn a_kept_c_stands_nine_equal_semitones_below_a() {
        let standard = PitchStandard::new(440.0).unwrap().kept_by(NoteName::C);
        // Equal-tempered middle C at A=440 is 261.6256 Hz (definition of equal temperament).
        assert!((standard.kept_frequency().get() - 261.625_565).abs() < 1e-5);
    }

    #[test]
    fn limits_hold() {
        assert!(PitchStandard::new(349.9).is_err());
        assert!(PitchStandard::new(f64::NAN).is_err());
        let low = PitchStandard::new(350.0).unwrap().shifted(-0.5);
        assert!((low.a4().get() - 350.0).abs() < 1e-12);
    }

    #[test]
    fn files_cannot_bring_in_a_standard_out_of_reach() {
        let read = |text: &str| ron::from_str::<PitchStandard>(text);
        assert_eq!(read("(a4_hz: 415)"), Ok(PitchStandard::new(415.0).unwrap()));
        let kept_by_c = PitchStandard::new(466.0).unwrap().kept_by(NoteName::C);
        assert_eq!(read("(a4_hz: 466, kept_by: \"C\")"), Ok(kept_by_c));
        assert!(read("(a4_hz: 1000.0)").is_err());
        assert!(read("(a4_hz: 440, kept: \"C\")").is_err());
    }
}
