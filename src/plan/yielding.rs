//! Who yields: the place that costs least on each note that has two true places.

use super::choice::Choice;
use super::measure::Weights;
use super::piece::Programme;
use crate::rehearsal::Resolution;
use crate::tuning::Partial;
use crate::units::{Cents, NoteName};

/// What the rehearsal could start from on one note.
#[derive(Debug, Clone, PartialEq)]
pub struct Proposal {
    /// The note, in every octave.
    pub note: NoteName,
    /// The partial most of the trumpets' notes of that name are played with.
    pub partial: Partial,
    /// How far the partial lies above the tempered note.
    pub gap: Cents,
    /// What costs least.
    pub resolution: Resolution,
    /// How far its meetings lie from pure when everyone stays in place (RMS).
    pub exposed: Cents,
    /// How far when it is done.
    pub settled: Cents,
    /// How often trumpets meet others or each other on it.
    pub count: u32,
    /// How long in all, in quarter notes.
    pub quarters: f64,
}

impl Programme {
    /// A proposal for each note on which trumpets and temperament differ and others meet them,
    /// the one that matters most first.
    pub fn proposals(&self, _choice: &Choice, _weights: &Weights) -> Vec<Proposal> {
        Vec::new()
    }
}
