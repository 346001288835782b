//! The trumpets' true series, from the notes they play.

use super::Chronicle;
use crate::tuning::Partial;
use crate::units::{Cents, Hertz};

/// Where one partial of one player stands beside the player's own series.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Habit {
    /// The partial.
    pub partial: Partial,
    /// Cents from its place in the fitted series, the median.
    pub cents: Cents,
    /// How far its notes spread.
    pub spread: Cents,
    /// How many notes.
    pub count: usize,
    /// Whether it helped to find the fundamental: 7, 11, 13 and 14 never do, as players bend
    /// them.
    pub counts: bool,
}

/// A tube as it sounds in the hands of its player.
#[derive(Debug, Clone, PartialEq)]
pub struct TrueSeries {
    /// The player's place among [`Chronicle::players`].
    pub player: usize,
    /// The fundamental, as it is now.
    pub fundamental: Hertz,
    /// It is right to this distance, 19 times in 20.
    pub margin: Cents,
    /// Cents from the fundamental that is reckoned with.
    pub from_planned: Cents,
    /// How many notes it rests on.
    pub count: usize,
    /// Partial by partial.
    pub habits: Vec<Habit>,
}

impl TrueSeries {
    /// The series of `player` as of the last ten minutes; none while too little is known.
    pub fn of(_chronicle: &Chronicle, _player: usize) -> Option<Self> {
        None
    }
}
