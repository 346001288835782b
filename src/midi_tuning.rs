//! A temperament as messages of the MIDI Tuning Standard, for synthesisers and players that honour
//! it. Touches no file.
//!
//! The message is the single note tuning change, which the synthesisers that were tried all
//! honour; each channel then has to select the tuning. Source of all bytes: MIDI Tuning (CA-020,
//! CA-021, RP-020), by its formula: several of the frequencies printed there are wrong.

mod code;
mod messages;
mod standard_file;

pub use code::Code;
pub use messages::{KeyTuning, exclusive_messages};
pub use standard_file::{MidiFileError, tuned_file, tuning_file};

/// How finely pitches are told.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Fineness {
    /// As finely as the standard can: 0.006 cents.
    #[default]
    Full,
    /// To the nearest whole cent, for synthesisers that cut off what is less than one.
    WholeCents,
}
