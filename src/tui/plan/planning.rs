//! What a plan's view begins with.

use std::path::PathBuf;

use crate::plan::{Casting, Choice, Programme, Settled, Weights};
use crate::tuning::Temperament;

/// A programme with the choices it is looked at in.
#[derive(Debug, Clone, PartialEq)]
pub struct Planning {
    /// What the programme is called.
    pub title: String,
    /// The pieces.
    pub programme: Programme,
    /// Their scores, in the same order, as they can be opened from here.
    pub scores: Vec<PathBuf>,
    /// By what the players were told apart.
    pub casting: Casting,
    /// The temperaments to choose from, in the order they are listed; the choice's own is put in
    /// front when it is not among them.
    pub temperaments: Vec<Temperament>,
    /// What is chosen at first.
    pub choice: Choice,
    /// How much the sides count at first.
    pub weights: Weights,
}

impl Planning {
    /// What is settled with `choice`.
    pub(super) fn settled(&self, choice: &Choice) -> Settled {
        Settled::new(
            &self.title,
            &self.programme,
            &self.scores,
            &self.casting,
            choice,
            &self.weights,
        )
    }
}
