//! What the analysis says of one channel at one moment.

use crate::units::{Cents, Dbfs, Hertz, Seconds};

/// One channel, one hop.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// The centre of the analysed sound, from the start of the stream.
    pub time: Seconds,
    /// The end of the analysed sound: the first moment a live program could show it.
    pub available: Seconds,
    /// RMS level over the last hop.
    pub level: Dbfs,
    /// Whether any sample of the last hop reached full scale.
    pub clipped: bool,
    /// The pitch, or why there is none.
    pub pitch: Result<Pitch, NoPitch>,
    /// How the pitch has moved over the last second; `None` for less than 0.3 s of note.
    pub motion: Option<Motion>,
}

/// A pitch that was heard.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pitch {
    /// The fundamental; for inharmonic strings the first partial.
    pub hertz: Hertz,
    /// The true pitch lies within this distance about 19 times in 20.
    pub margin: Cents,
    /// How sure it is that this is the note and the octave, 0 to 1.
    pub confidence: f64,
    /// Inharmonicity coefficient B (partial n at n f sqrt(1 + B n^2)), zero where none shows.
    pub inharmonicity: f64,
}

/// Why no pitch is given.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum NoPitch {
    /// Nothing sounds.
    Silence,
    /// Something sounds, but it has no one pitch: breath, bow, drum, speech.
    Noise,
    /// More than one note sounds at once.
    TwoNotes,
    /// Something sounds on the drone, too near to it to be told from it.
    Drone,
}

impl NoPitch {
    /// The word for machines.
    pub fn word(self) -> &'static str {
        match self {
            Self::Silence => "silence",
            Self::Noise => "noise",
            Self::TwoNotes => "two-notes",
            Self::Drone => "drone",
        }
    }
}

/// How a pitch has moved over the last second.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Motion {
    /// Middle of the pitch over the span: the centre of the vibrato where there is one.
    pub centre: Hertz,
    /// Standard deviation about the centre, drift and vibrato included.
    pub spread: Cents,
    /// Trend in cents a second; positive rises.
    pub drift_per_second: Cents,
    /// The vibrato, where there is one.
    pub vibrato: Option<Vibrato>,
    /// The span it was measured over, up to one second.
    pub span: Seconds,
}

/// A regular swing of the pitch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Vibrato {
    /// Swings a second.
    pub rate_hz: f64,
    /// From the centre to the turning point.
    pub extent: Cents,
}
