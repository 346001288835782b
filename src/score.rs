//! What is written: the parts of a score and the notes that sound in them, read from MusicXML
//! and Standard MIDI Files. Bytes in, a [`Score`] out; opens no file.

mod read;
mod time;

use crate::units::Note;

pub use read::{LARGEST_SCORE, ScoreError, read};
pub use time::{Bar, Bars, ScorePlace, Ticks};

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
