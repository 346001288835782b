//! Quantities with their units: frequencies, intervals, levels, times and spelled notes.
//!
//! A place and a distance are two types: [`Hertz`] to [`Hertz`] is [`Cents`], and
//! [`FramePosition`] to [`FramePosition`] is [`Frames`]. This module knows no other.

mod note;
mod pitch;
mod temperature;
mod time;

pub use note::{Letter, Note, NoteName, ParseNoteError};
pub use pitch::{Cents, Dbfs, Hertz, UnitError};
pub use temperature::Celsius;
pub use time::{FramePosition, Frames, SampleRate, Seconds};
