//! What a drone sounds like: the strengths of its partials.

use serde::{Deserialize, Serialize};

use crate::scene::Sound;
use crate::units::Hertz;

/// The most partials a tone has.
pub(super) const MOST_PARTIALS: usize = 16;

/// A kind of sound. The strengths of the partials are those of the demo's instruments, played
/// softly: chosen by ear, no facts.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Timbre {
    /// Soft flue pipes.
    #[default]
    Organ,
    /// A double reed.
    Reed,
    /// Bowed strings.
    String,
    /// Soft brass.
    Brass,
    /// One partial and no others.
    Sine,
}

impl Timbre {
    /// All of them, in the order they follow one another.
    pub const ALL: [Self; 5] = [
        Self::Organ,
        Self::Reed,
        Self::String,
        Self::Brass,
        Self::Sine,
    ];

    /// The one after it, round and round.
    pub fn next(self) -> Self {
        let place = Self::ALL.iter().position(|timbre| *timbre == self);
        Self::ALL[place.map_or(0, |place| (place + 1) % Self::ALL.len())]
    }

    /// What it is called.
    pub fn word(self) -> &'static str {
        match self {
            Self::Organ => "organ",
            Self::Reed => "reed",
            Self::String => "string",
            Self::Brass => "brass",
            Self::Sine => "sine",
        }
    }

    /// Relative amplitude of partial `n` (from 1) of a tone, itself sounding at `hz`.
    pub(super) fn amplitude(self, n: usize, hz: Hertz) -> f64 {
        let softly = |sound: Sound| sound.amplitude(n, hz, 0.0);
        match self {
            Self::Organ => softly(Sound::Organ),
            Self::Reed => softly(Sound::Reed),
            Self::String => softly(Sound::Bowed),
            Self::Brass => softly(Sound::Brass),
            Self::Sine if n == 1 => 1.0,
            Self::Sine => 0.0,
        }
    }
}
