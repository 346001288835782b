//! Laying the bearings: the order in which a tuner sets the twelve notes of the middle octave,
//! and how each interval beats on the way. [`Hearing`] tells from sound how two strings beat and
//! where they lie. Touches no screen, device, file or clock.

mod compass;
mod course;
pub mod hearing;
mod order;
mod pair;
mod sheet;
mod words;

pub use hearing::Hearing;
pub use pair::{Pair, Sense, Sounded};
pub use sheet::{Deed, End, Method, Sheet, SheetError, Step};
pub use words::{CAUTIONS, interval};
