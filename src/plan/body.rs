//! A note as someone plays it: what stands in one place whatever the part.

use super::casting::{Player, Side};
use crate::rehearsal::{Family, Reach};
use crate::tuning::Partial;
use crate::units::Note;

/// A sounding note of one kind of player.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Body {
    /// What sounds.
    pub(super) note: Note,
    /// Where it stands.
    pub(super) side: Side,
    /// Who plays it.
    pub(super) family: Family,
    /// How far it can be moved.
    pub(super) reach: Reach,
    /// The partial a trumpet plays it with; none where it must be bent, or for others.
    pub(super) partial: Option<Partial>,
}

impl Body {
    pub(super) fn new(note: Note, player: &Player, partial: Option<Partial>) -> Self {
        Self {
            note,
            side: player.side,
            family: player.family,
            reach: player.reach,
            partial,
        }
    }

    /// Whether it is the same kind of player's.
    pub(super) fn is_of(&self, player: &Player) -> bool {
        self.side == player.side && self.family == player.family && self.reach == player.reach
    }
}
