//! Both places of a pitch, for scripts.

use serde::Serialize;

use super::layout::rounded;
use crate::tuning::Placement;
use crate::units::Note;

/// The nearest partial: its number, how many octaves from its own it was measured, and cents.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(super) struct PartialCell {
    pub(super) number: u8,
    pub(super) octaves: i8,
    pub(super) cents: f64,
}

impl PartialCell {
    /// None where no partial is near.
    pub(super) fn of(placement: &Placement) -> Option<Self> {
        placement.partial.map(|place| Self {
            number: place.partial.number(),
            octaves: place.octaves,
            cents: rounded(place.cents.get()),
        })
    }
}

/// The nearest tempered note, and cents.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(super) struct TemperedCell {
    pub(super) note: Note,
    pub(super) cents: f64,
}

impl TemperedCell {
    pub(super) fn of(placement: &Placement) -> Self {
        Self {
            note: placement.tempered.note,
            cents: rounded(placement.tempered.cents.get()),
        }
    }
}
