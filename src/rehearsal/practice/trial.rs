//! How one note was held.

use serde::{Deserialize, Serialize};

use super::Place;
use crate::tuning::Partial;
use crate::units::{Cents, Hertz, Note, Seconds};

/// A note that was held towards a place, and has ended.
#[derive(Debug, Clone, PartialEq)]
pub struct Trial {
    /// The exercise's name.
    pub exercise: String,
    /// The tempered note.
    pub note: Note,
    /// The partial, where one sounds there (in its own octave).
    pub partial: Option<Partial>,
    /// Which of its places was the target.
    pub place: Place,
    /// The frequency of that place.
    pub target: Hertz,
    /// How far from it counted as inside.
    pub tolerance: Cents,
    /// Its onset, on the rehearsal's clock.
    pub begun: Seconds,
    /// Its end.
    pub ended: Seconds,
    /// How long it was inside.
    pub inside: Seconds,
    /// How far above the target its steady part lay: the centre, of a vibrato too.
    pub off: Cents,
    /// Standard deviation about the centre over the steady part.
    pub spread: Cents,
    /// Trend over the steady part, in cents a second; positive rises.
    pub drift_per_second: Cents,
    /// How it came to its place.
    pub approach: Approach,
    /// Whether the axis was hidden.
    pub was_blind: bool,
}

/// How a note came to its place.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Approach {
    /// From below.
    Below,
    /// From above.
    Above,
    /// It began there.
    Direct,
}

impl Trial {
    /// How long it sounded.
    pub fn sounding(&self) -> Seconds {
        self.ended - self.begun
    }
}
