//! The harmonic series of the trumpets: partial n sounds n times the fundamental.

use serde::{Deserialize, Serialize};

use super::Scale;
use crate::units::{Cents, Hertz, Note, NoteName};

/// The highest partial the program counts.
pub const HIGHEST_PARTIAL: u8 = 24;

/// A partial number out of range.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum SeriesError {
    /// Partials run from 1 to 24.
    #[error("'{0}' is no partial: they run from 1 to 24")]
    Number(u8),
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
