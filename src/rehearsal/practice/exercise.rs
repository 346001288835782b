//! What is practised, as data.

use serde::{Deserialize, Serialize};

use crate::tuning::Partial;
use crate::units::{Cents, Note, Seconds};

/// An exercise.
#[derive(Debug, Clone, PartialEq)]
pub struct Exercise {
    /// One word, for records and the command line.
    pub name: String,
    /// What is done, in a few words.
    pub title: String,
    /// The notes to be held.
    pub steps: Steps,
    /// The places each of them is held in, one after the other; never empty.
    pub places: Vec<Place>,
    /// How far from its place a note may lie to count as inside.
    pub tolerance: Cents,
    /// How long a note must have been inside for the next step to come by itself when it ends.
    pub hold: Seconds,
    /// Whether the axis is hidden until a note has ended.
    pub is_blind: bool,
    /// What the drone does meanwhile.
    pub accompaniment: Accompaniment,
}

/// Which notes are held.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Steps {
    /// Whatever is played.
    Any,
    /// These, one after the other, round and round; never empty.
    Notes(Vec<Step>),
}

/// One note to be held.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Step {
    /// Where this partial of the trumpets sounds.
    Partial(Partial),
    /// This note.
    Note(Note),
}

/// One of the places of a note.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Place {
    /// Nature's.
    Partial,
    /// The temperament's.
    Tempered,
    /// The one that was agreed; the tempered place where nothing was.
    Agreed,
}

/// What the drone does during an exercise.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Accompaniment {
    /// It stays as it is.
    Stays,
    /// It sounds the place that is to be held.
    Follows,
}
