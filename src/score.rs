//! What is written: the parts of a score and the notes that sound in them, read from MusicXML
//! and Standard MIDI Files. Bytes in, a [`Score`] out; opens no file.

mod encoding;
mod faults;
mod midi;
mod musicxml;
mod names;
mod outline;
mod packed;
mod read;
mod spelled;
mod time;

use crate::units::Note;

pub use faults::{BarFault, ScoreError};
pub(crate) use midi::has_impossible_frames;
pub use read::read;
pub use time::{Bar, Bars, ScorePlace, Ticks};

/// The longest file that is read, in bytes.
pub const LARGEST_SCORE: u64 = 32_000_000;

/// The longest text in a packed score, in bytes. An opera act of an hour for thirty staves has
/// about half of it, with every position on the page.
const LARGEST_UNPACKED: u64 = 128_000_000;
/// Parts of one score; the largest orchestras have about sixty.
const MOST_PARTS: usize = 500;
/// Notes of one score; a large opera act has about a fifth of them.
const MOST_NOTES: usize = 1_000_000;
/// Bars of one score; a large opera act has about three thousand.
const MOST_BARS: usize = 50_000;
/// Quarter notes in a bar: a whole chant may be written in one.
const LONGEST_BAR: u64 = 10_000;
/// Ticks in a quarter note. With the limits above, the longest score has 5e17 ticks, which a
/// `u64` holds.
const MOST_TICKS_PER_QUARTER: u64 = 1_000_000_000;

/// A piece as it is written, at sounding pitch, repeats played once.
#[derive(Debug, Clone, PartialEq)]
pub struct Score {
    /// What it is called in tables: its title, or the name of its file.
    pub title: String,
    /// The parts in the order of the score, each with a name no other has.
    pub parts: Vec<Part>,
    /// Where its bars begin.
    pub bars: Bars,
    /// Key signatures in the order they come, with where each begins to hold: fifths, negative
    /// for flats, at sounding pitch.
    pub signatures: Vec<(Ticks, i8)>,
    /// Where the spelling of its notes comes from.
    pub spelling: Spelling,
    /// What was done with it that must be told, a sentence each without a final stop.
    pub remarks: Vec<String>,
}

/// Where a score's spelling comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Spelling {
    /// It is written in the score.
    Written,
    /// A MIDI file holds keys only: it was guessed from signatures and context.
    Guessed,
}

/// What one player or section plays.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// Its name: "Tromba I".
    pub name: String,
    /// Its notes by onset, then from the lowest; tied notes are one.
    pub notes: Vec<ScoreNote>,
}

/// One note, however many ties it is written with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ScoreNote {
    /// What sounds.
    pub note: Note,
    /// When it begins.
    pub onset: Ticks,
    /// When it ends; later than its onset.
    pub end: Ticks,
}

impl Score {
    /// Where the last note ends.
    pub fn end(&self) -> Ticks {
        let ends = self
            .parts
            .iter()
            .flat_map(|part| &part.notes)
            .map(|note| note.end);
        ends.max().unwrap_or_default()
    }
}

/// Refuses more than `limit` of something.
fn at_most(what: &'static str, count: usize, limit: usize) -> Result<(), ScoreError> {
    if count > limit {
        return Err(ScoreError::TooMany { what, limit });
    }
    Ok(())
}

/// Where a note stands among the notes of its part.
fn in_order(note: &ScoreNote) -> (Ticks, i32, Ticks) {
    (note.onset, note.note.key_number(), note.end)
}

#[cfg(test)]
mod tests;
