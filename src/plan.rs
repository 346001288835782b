//! Which tuning serves a programme: from its scores, what each choice of temperament, anchor and
//! accidentals does to every meeting of two notes, with the trumpets on their unbending partials.
//! Functions of scores and settings alone; no file, screen or sound.

mod body;
mod casting;
mod choice;
mod clash;
mod key;
mod measure;
mod meetings;
mod piece;
mod ranking;
mod roughness;
mod settled;
mod usage;
mod yielding;

#[cfg(test)]
mod tests;

pub use casting::{Casting, KnownName, Pattern, Player, Side};
pub use choice::{Choice, Grid};
pub use clash::{Clash, ClashNote};
pub use key::{SeriesKey, guess_key};
pub use measure::{Measures, Weights};
pub use meetings::Occurrence;
pub use piece::{Piece, PlanError, Programme};
pub use ranking::{BestFraction, Ranked, RankedAnchor, RankedChain};
pub use roughness::roughness;
pub use settled::{Settled, SettledNote, SettledPiece, SettledTrumpets};
pub use usage::{MissingKey, Usage, UsedNote};
pub use yielding::Proposal;
