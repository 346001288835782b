//! Who plays, through which input, and what everyone is measured against.

use serde::{Deserialize, Serialize};

use crate::tuning::{Chain, Tuning};
use crate::units::Note;

/// A band ready to rehearse.
#[derive(Debug, Clone, PartialEq)]
pub struct Ensemble {
    /// The programme or the band, for the heading.
    pub title: String,
    /// What notes are measured against.
    pub tuning: Tuning,
    /// One for each player or section, in the order shown.
    pub channels: Vec<Channel>,
}

/// One player or section, heard through one input.
#[derive(Debug, Clone, PartialEq)]
pub struct Channel {
    /// The role: "Trumpet II".
    pub name: String,
    /// What is played.
    pub instrument: Instrument,
    /// The input it is heard through, counted from 1.
    pub input: usize,
    /// Whether the screen shows it at the start.
    pub visible: bool,
    /// The player's own accidentals, where they differ from the keyboard's chain.
    pub chain: Option<Chain>,
}

/// Instruments that behave alike when places are negotiated.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Family {
    /// Natural trumpets: bound to the series, bend a little.
    Trumpets,
    /// Bowed gut strings: go anywhere.
    Strings,
    /// Plucked strings with set courses or open strings.
    Plucked,
    /// Dulcian, bassoon, cornett, sackbut and other winds: bend freely.
    Winds,
    /// Singers: go anywhere.
    Voices,
    /// Organ and harpsichord: cannot bend at all.
    Keyboard,
    /// A room microphone or several players at once: nothing is known of how it yields.
    Any,
}

/// A kind of instrument.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Instrument {
    /// Name for files: `violin`.
    pub name: String,
    /// Title for people: "Violin".
    pub title: String,
    /// How it behaves.
    pub family: Family,
    /// Lowest sounding note to expect.
    pub lowest: Note,
    /// Highest sounding note to expect.
    pub highest: Note,
    /// Whether its partials may lie wide of the harmonic series (plucked and struck strings).
    #[serde(default)]
    pub inharmonic: bool,
}
