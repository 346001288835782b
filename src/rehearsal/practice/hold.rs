//! A note while it is being held.

use super::Approach;
use crate::units::{Cents, Seconds};

/// What can be said of the note that sounds.
#[derive(Debug, Clone, PartialEq)]
pub struct Hold {
    /// Its onset.
    pub begun: Seconds,
    /// How long it has sounded.
    pub lasting: Seconds,
    /// How long it has been inside the tolerance.
    pub inside: Seconds,
    /// How far above the target it lies, over its steady part so far; none yet at the start.
    pub off: Option<Cents>,
    /// Standard deviation about that.
    pub spread: Option<Cents>,
    /// Trend in cents a second.
    pub drift_per_second: Option<Cents>,
    /// How it came there; none until that can be told.
    pub approach: Option<Approach>,
}
