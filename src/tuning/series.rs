//! The harmonic series of the trumpets: partial n sounds n times the fundamental.

use serde::{Deserialize, Serialize};

use super::Scale;
use crate::units::{Cents, Hertz, Note, NoteName};

/// The highest partial the program counts.
pub const HIGHEST_PARTIAL: u8 = 24;

/// A partial or an anchor that cannot be.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum SeriesError {
    /// Partials run from 1 to 24.
    #[error("'{0}' is no partial: they run from 1 to 24")]
    Number(u8),
    /// The anchor's note is not where a trumpet in that key has the partial.
    #[error(
        "partial {partial} of a trumpet in {key} does not sound {note}: it lies near {near} (in \
         one octave or another)"
    )]
    Anchor {
        /// The key of the trumpet.
        key: NoteName,
        /// The number of the partial.
        partial: u8,
        /// The note it was to sound.
        note: Note,
        /// A note it could sound.
        near: NoteName,
    },
    /// A fundamental that no trumpet has.
    #[error(
        "'{0}' Hz is no fundamental of a trumpet: it lies within 30 to 150, so divide the \
         frequency you measured by the number of its partial"
    )]
    Fundamental(f64),
}

/// The number of a partial, 1 to 24.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "u8", into = "u8")]
pub struct Partial(u8);

impl Partial {
    /// Checks that `number` lies within 1 to 24.
    pub fn new(number: u8) -> Result<Self, SeriesError> {
        if (1..=HIGHEST_PARTIAL).contains(&number) {
            Ok(Self(number))
        } else {
            Err(SeriesError::Number(number))
        }
    }

    /// All of them, rising.
    pub fn all() -> impl Iterator<Item = Self> {
        (1..=HIGHEST_PARTIAL).map(Self)
    }

    /// The number.
    pub fn number(self) -> u8 {
        self.0
    }

    /// The interval from the fundamental.
    pub fn above_fundamental(self) -> Cents {
        Cents::of_ratio(f64::from(self.0), 1.0)
    }
}

impl TryFrom<u8> for Partial {
    type Error = SeriesError;
    fn try_from(number: u8) -> Result<Self, SeriesError> {
        Self::new(number)
    }
}

impl From<Partial> for u8 {
    fn from(partial: Partial) -> Self {
        partial.0
    }
}

/// What ties the series to a pitch.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub enum Anchor {
    /// This partial sounds exactly this tempered note.
    PartialSounds {
        /// The partial.
        partial: Partial,
        /// The tempered note it sounds.
        note: Note,
    },
    /// The fundamental was measured.
    Fundamental {
        /// Its frequency in hertz.
        hz: Hertz,
    },
}

impl Anchor {
    /// The usual anchor: partial 8 sounds the tonic, between A4 and G♯5.
    pub fn tonic(key: NoteName) -> Self {
        let octave = if key.in_octave(4).key_number() >= Note::A4.key_number() {
            4
        } else {
            5
        };
        Self::PartialSounds {
            partial: Partial(8),
            note: key.in_octave(octave),
        }
    }

    /// Checks that a trumpet in `key` can be tied to its pitch this way: the note lies within
    /// 75 cents of the partial in some octave, counted in equal temperament, or the fundamental within 30 to 150 Hz (a
    /// bound of this program: trumpets from low B flat to F at any standard fit well within).
    pub fn check(self, key: NoteName) -> Result<(), SeriesError> {
        match self {
            Self::PartialSounds { partial, note } => {
                let expected = Cents::new(100.0 * key.key() as f64) + partial.above_fundamental();
                let given = Cents::new(100.0 * note.name().key() as f64);
                if (given - expected).nearest_octave().abs() <= Cents::new(75.0) {
                    return Ok(());
                }
                let semitones = (partial.above_fundamental().get() / 100.0).round() as i32;
                // Seven fifths make a semitone (apart from octaves); the spelling that lies
                // nearest to the key on the chain of fifths reads best.
                let fifths = (semitones * 7 + 5).rem_euclid(12) - 5;
                Err(SeriesError::Anchor {
                    key,
                    partial: partial.number(),
                    note,
                    near: NoteName::from_fifths(key.fifths() + fifths).unwrap_or(key),
                })
            }
            Self::Fundamental { hz } if (30.0..=150.0).contains(&hz.get()) => Ok(()),
            Self::Fundamental { hz } => Err(SeriesError::Fundamental(hz.get())),
        }
    }
}

/// The series of the trumpets, standing at a pitch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Series {
    key: NoteName,
    anchor: Anchor,
    fundamental: Hertz,
}

impl Series {
    /// The series of a trumpet in `key`, tied to `scale` by `anchor`.
    pub fn new(key: NoteName, anchor: Anchor, scale: &Scale) -> Self {
        let fundamental = match anchor {
            Anchor::PartialSounds { partial, note } => scale
                .frequency(note)
                .times(1.0 / f64::from(partial.number())),
            Anchor::Fundamental { hz } => hz,
        };
        Self {
            key,
            anchor,
            fundamental,
        }
    }

    /// The key the trumpets are called after.
    pub fn key(&self) -> NoteName {
        self.key
    }

    /// What ties the series to a pitch.
    pub fn anchor(&self) -> Anchor {
        self.anchor
    }

    /// The frequency of partial 1, which is not a playable note.
    pub fn fundamental(&self) -> Hertz {
        self.fundamental
    }

    /// The frequency of a partial.
    pub fn frequency(&self, partial: Partial) -> Hertz {
        self.fundamental.times(f64::from(partial.number()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn anchor(partial: u8, note: &str) -> Anchor {
        Anchor::PartialSounds {
            partial: Partial::new(partial).unwrap(),
            note: note.parse().unwrap(),
        }
    }

    #[test]
    fn the_usual_anchor_is_the_tonic_of_the_clarino_octave() {
        // A D trumpet's eighth partial is d'', a low B flat trumpet's the B flat below:
        // common practice.
        for (key, note) in [
            ("C", "C5"),
            ("D", "D5"),
            ("F", "F5"),
            ("G#", "G#5"),
            ("A", "A4"),
            ("Bb", "Bb4"),
            ("Cb", "Cb5"),
        ] {
            let key: NoteName = key.parse().unwrap();
            assert_eq!(Anchor::tonic(key), anchor(8, note));
            assert_eq!(Anchor::tonic(key).check(key), Ok(()));
        }
    }

    #[test]
    fn only_notes_near_the_partial_can_anchor_it() {
        for (partial, note) in [
            (8, "D5"),
            (3, "A3"),
            (5, "F#4"),
            (11, "G5"),
            (11, "G#5"),
            (13, "B5"),
        ] {
            assert_eq!(anchor(partial, note).check(NoteName::D), Ok(()), "{note}");
        }
        for (partial, note) in [(8, "C5"), (3, "G3"), (5, "E4"), (11, "A5")] {
            assert!(anchor(partial, note).check(NoteName::D).is_err(), "{note}");
        }
        let error = anchor(5, "E4").check(NoteName::D).unwrap_err().to_string();
        assert!(error.contains("near F\u{266f}"), "{error}");
    }

    #[test]
    fn a_measured_partial_is_no_fundamental() {
        let measured = |hz| Anchor::Fundamental {
            hz: Hertz::new(hz).unwrap(),
        };
        assert_eq!(measured(69.3).check(NoteName::D), Ok(()));
        assert!(measured(554.0).check(NoteName::D).is_err());
    }

    #[test]
    fn partials_have_bounds() {
        assert!(Partial::new(0).is_err());
        assert!(Partial::new(25).is_err());
        assert_eq!(Partial::all().count(), 24);
    }
}
