//! What is sure enough to count as played: on the screen, in notes and in exercises alike.

use crate::analysis::{Pitch, Reading};
use crate::units::{Cents, Seconds};

const LEAST_CONFIDENCE: f64 = 0.5;
const WIDEST_MARGIN: Cents = Cents::new(30.0);

/// How long a note stays on the screen, and in an exercise, after its pitch was last sure.
pub(super) const LINGER: Seconds = Seconds::new(0.3);

/// Whether a pitch is sure enough to be shown and counted.
pub(super) fn is_sure(pitch: Pitch) -> bool {
    pitch.confidence >= LEAST_CONFIDENCE && pitch.margin <= WIDEST_MARGIN
}

/// The pitch of a reading, if it is sure.
pub(super) fn sure_pitch(reading: &Reading) -> Option<Pitch> {
    reading.pitch.ok().filter(|pitch| is_sure(*pitch))
}
