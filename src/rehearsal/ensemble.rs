//! Who plays, through which input, and what everyone is measured against.

use serde::{Deserialize, Serialize};

use crate::analysis::chord::{Company, MOST_VOICES};
use crate::tuning::{Chain, Tuning};
use crate::units::{Cents, Note};

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
    /// How many may sound at once through this input, 1 to [`MOST_PLAYERS`].
    pub players: usize,
}

/// The most players one input can be shared by.
pub const MOST_PLAYERS: usize = MOST_VOICES;

impl Channel {
    /// Whether several players share the input, so that it is heard as a chord.
    pub fn is_shared(&self) -> bool {
        self.players > 1
    }
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
    /// Players of any kind who share a microphone, trumpets aside.
    Section,
    /// A microphone for the whole room, trumpets and all.
    Room,
}

/// How far a player comfortably moves a held note, in cents either way.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reach {
    /// Upwards.
    pub up: Cents,
    /// Downwards, as a positive number.
    pub down: Cents,
}

impl Reach {
    const fn new(up: f64, down: f64) -> Self {
        Self {
            up: Cents::new(up),
            down: Cents::new(down),
        }
    }

    /// What is left of it for a note that lies `off` from where it is counted from.
    pub(super) fn after(self, off: Cents) -> Self {
        Self {
            up: Cents::new((self.up - off).get().max(0.0)),
            down: Cents::new((self.down + off).get().max(0.0)),
        }
    }
}

impl Family {
    /// How many players an input of this family has unless the file says it.
    pub fn usual_players(self) -> usize {
        match self {
            Self::Section | Self::Room => MOST_PLAYERS,
            Self::Trumpets
            | Self::Strings
            | Self::Plucked
            | Self::Winds
            | Self::Voices
            | Self::Keyboard => 1,
        }
    }

    /// Who may sound through an input of this family.
    pub fn companies(self) -> &'static [Company] {
        match self {
            Self::Trumpets => &[Company::Trumpets],
            Self::Room => &[Company::Trumpets, Company::Others],
            Self::Strings
            | Self::Plucked
            | Self::Winds
            | Self::Voices
            | Self::Keyboard
            | Self::Section => &[Company::Others],
        }
    }

    /// Whether trumpets may sound through an input of this family.
    pub fn has_trumpets(self) -> bool {
        self.companies().contains(&Company::Trumpets)
    }

    /// Whether its notes stay where they were tuned.
    pub fn is_fixed(self) -> bool {
        matches!(self, Self::Keyboard | Self::Plucked)
    }

    /// How far a held note can be moved. These are settings of this program after common
    /// practice, without a source, and no facts: lips and tubes differ.
    pub fn reach(self) -> Reach {
        match self {
            Self::Keyboard | Self::Plucked => Reach::new(0.0, 0.0),
            // Of the room nobody knows who it is: the narrower of those who move.
            Self::Trumpets | Self::Room => Reach::new(20.0, 30.0),
            Self::Strings | Self::Winds | Self::Voices | Self::Section => Reach::new(50.0, 50.0),
        }
    }
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
