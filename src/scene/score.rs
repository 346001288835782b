//! A scene as it is written down: the types behind `demo-sessions/*.ron`.
//!
//! Nothing here is checked beyond the spelling of notes and names; [`Scene::compose`] does
//! that and turns the written parts into a timeline.
//!
//! [`Scene::compose`]: super::Scene::compose

use std::collections::BTreeMap;
use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use super::Sound;
use crate::tuning::{Chain, Partial, PitchStandard};
use crate::units::{Note, NoteName, ParseNoteError};

/// A whole scene as written.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Score {
    /// The version of the form.
    pub version: Version,
    /// The heading.
    pub title: String,
    /// One sentence on what is to be heard.
    #[serde(default)]
    pub about: String,
    /// The level of A4 and the note that keeps it.
    pub pitch: PitchStandard,
    /// The keyboard's temperament by name: `sixth-comma`.
    pub temperament: String,
    /// The accidentals the keyboard owns.
    #[serde(default = "Chain::usual")]
    pub chain: Chain,
    /// The trumpets' series.
    pub trumpets: TrumpetScore,
    /// Where the scene ends or begins again, in seconds, up to 3600.
    pub length_s: f64,
    /// What happens then.
    #[serde(default)]
    pub at_end: AtEnd,
    /// The room; without one the players sound dry.
    #[serde(default)]
    pub room: Option<Room>,
    /// RMS level of the hiss on every channel; none if left out.
    #[serde(default)]
    pub noise_dbfs: Option<f64>,
    /// How fast everybody rises.
    #[serde(default)]
    pub drift_cents_per_minute: f64,
    /// What chance starts from.
    #[serde(default)]
    pub seed: u64,
    /// Passages that several parts use.
    #[serde(default)]
    pub phrases: BTreeMap<String, Vec<Item>>,
    /// One channel each, in this order.
    pub players: Vec<PlayerScore>,
    /// What the leader types while it is recorded: minutes since the start, and what.
    #[serde(default)]
    pub leader: Vec<(f64, LeaderAct)>,
}

/// Something a leader does at the keyboard of the program.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub enum LeaderAct {
    /// Reads the thermometer.
    Celsius(f64),
    /// Marks the moment.
    Mark(String),
    /// Records what was agreed on a note: all play where the partial stands.
    FollowPartial(NoteName),
    /// All play where the keyboard stands.
    FollowTemperament(NoteName),
    /// All meet so many cents from the tempered place.
    MeetBetween(NoteName, f64),
    /// The trumpet is bent to the tempered place.
    TrumpetLips(NoteName),
    /// The keyboard is silent on it.
    KeyboardLeavesOut(NoteName),
    /// Each stays where it is.
    LeaveExposed(NoteName),
}

/// The version every file states first; only 1 exists.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(try_from = "u64")]
pub struct Version;

impl TryFrom<u64> for Version {
    type Error = String;
    fn try_from(number: u64) -> Result<Self, String> {
        if number == 1 {
            Ok(Self)
        } else {
            Err(format!(
                "version '{number}' is not known: this program reads version 1, so write 1 or \
                 use the program that wrote the file"
            ))
        }
    }
}

/// The trumpets' series; partial 8 sounds the tempered tonic.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TrumpetScore {
    /// Their key.
    pub key: NoteName,
}

/// What happens when a scene is over.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Deserialize)]
pub enum AtEnd {
    /// It stops.
    #[default]
    Stop,
    /// It begins again.
    Repeat,
}

/// The room around the players.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Room {
    /// Time in which sound dies away by 60 dB, in seconds, 0.1 to 8.
    pub rt60_s: f64,
    /// Level of the reverberation of a steady sound relative to the sound itself, -60 to 6.
    pub wet_db: f64,
    /// How loud each player is in the other channels, -60 to 0; not at all if left out.
    #[serde(default)]
    pub leak_db: Option<f64>,
}

/// One player and the part.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlayerScore {
    /// The role: "Trumpet II".
    pub name: String,
    /// The instrument's name in files: `natural-trumpet`.
    pub instrument: String,
    /// What it sounds like.
    pub sound: Sound,
    /// RMS level of a note played at 0 dB, -80 to -6.
    pub level_dbfs: f64,
    /// How fast this player rises, on top of everybody's drift.
    #[serde(default)]
    pub drift_cents_per_minute: f64,
    /// Where this player's pitch goes besides: minutes since the start, and cents. It glides
    /// from point to point and stays outside them.
    #[serde(default)]
    pub moves: Vec<(f64, f64)>,
    /// The vibrato of every note that names none.
    #[serde(default)]
    pub vibrato: Option<VibratoScore>,
    /// What is played, one thing after the other.
    pub part: Vec<Item>,
}

/// A vibrato.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct VibratoScore {
    /// Swings a second, 0.5 to 12.
    pub rate_hz: f64,
    /// From the centre to the turning point, 0 to 100.
    pub extent_cents: f64,
    /// How long the note is held plain before the swing grows.
    #[serde(default)]
    pub after_s: f64,
}

/// One thing in a part. Times are in seconds.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub enum Item {
    /// A note.
    Play {
        /// Which: `F#5`, `partial 11`, `5/4 of Trumpet I`.
        note: Target,
        /// How long it is held; the release follows.
        for_s: f64,
        /// Further notes held with it.
        #[serde(default)]
        with: Vec<Target>,
        /// How far from its place, for good.
        #[serde(default)]
        cents: f64,
        /// How far from its place, as it moves: seconds after the start, and cents. Between
        /// the points the pitch glides.
        #[serde(default)]
        path: Vec<(f64, f64)>,
        /// Louder or softer than usual.
        #[serde(default)]
        level_db: f64,
        /// Vibrato of this note.
        #[serde(default)]
        vibrato: Option<VibratoScore>,
        /// How long the sound takes to build up; the instrument's own way if left out.
        #[serde(default)]
        attack_s: Option<f64>,
        /// How long the sound takes to die after the note.
        #[serde(default)]
        release_s: Option<f64>,
    },
    /// Silence of so many seconds.
    Rest(f64),
    /// Silence until so many seconds after the part, the phrase or this turn of a repeat
    /// began.
    At(f64),
    /// A passage from `phrases`.
    Phrase(String),
    /// A passage several times.
    Repeat {
        /// How often, 1 to 1000.
        times: u32,
        /// The passage.
        part: Vec<Item>,
    },
    /// A passage again and again until the scene is over.
    Loop(Vec<Item>),
}

/// Text that names no pitch.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum TargetError {
    /// Neither note nor partial nor ratio.
    #[error(
        "'{0}' is no pitch: write a note (F#5), a partial (partial 11) or a ratio to another \
         player (5/4 of Trumpet I)"
    )]
    Unreadable(String),
    /// A note that cannot be read.
    #[error(transparent)]
    Note(#[from] ParseNoteError),
    /// A partial out of range.
    #[error("'{0}' is no partial: they run from 1 to 24")]
    Partial(String),
    /// A ratio out of range.
    #[error("'{0}' is no ratio: write two whole numbers from 1 to 64, such as 5/4")]
    Ratio(String),
}

/// Where a note belongs.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub enum Target {
    /// On the keyboard's note.
    Tempered(Note),
    /// On the trumpets' partial.
    Partial(Partial),
    /// At a ratio to the note another player holds when this one begins, wherever that goes.
    Ratio {
        /// Above the line.
        upper: u32,
        /// Below the line.
        lower: u32,
        /// The player who is followed.
        of: String,
    },
}

impl FromStr for Target {
    type Err = TargetError;
    fn from_str(text: &str) -> Result<Self, TargetError> {
        let text = text.trim();
        if let Some(number) = text.strip_prefix("partial ") {
            return number
                .trim()
                .parse()
                .ok()
                .and_then(|number: u8| Partial::new(number).ok())
                .map(Self::Partial)
                .ok_or_else(|| TargetError::Partial(number.trim().to_owned()));
        }
        if let Some((ratio, of)) = text.split_once(" of ") {
            let part = |text: &str| {
                text.trim()
                    .parse::<u32>()
                    .ok()
                    .filter(|n| (1..=64).contains(n))
            };
            let (upper, lower) = ratio
                .split_once('/')
                .and_then(|(upper, lower)| Some((part(upper)?, part(lower)?)))
                .ok_or_else(|| TargetError::Ratio(ratio.to_owned()))?;
            return Ok(Self::Ratio {
                upper,
                lower,
                of: of.trim().to_owned(),
            });
        }
        if text.contains(' ') || text.is_empty() {
            return Err(TargetError::Unreadable(text.to_owned()));
        }
        Ok(Self::Tempered(text.parse()?))
    }
}

impl fmt::Display for Target {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Tempered(note) => f.pad(&note.ascii()),
            Self::Partial(partial) => f.pad(&format!("partial {}", partial.number())),
            Self::Ratio { upper, lower, of } => f.pad(&format!("{upper}/{lower} of {of}")),
        }
    }
}

impl TryFrom<String> for Target {
    type Error = TargetError;
    fn try_from(text: String) -> Result<Self, TargetError> {
        text.parse()
    }
}

impl From<Target> for String {
    fn from(target: Target) -> Self {
        target.to_string()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn pitches_survive_there_and_back() {
        for text in ["F#5", "Bb3", "partial 11", "5/4 of Trumpet I"] {
            assert_eq!(text.parse::<Target>().unwrap().to_string(), text);
        }
    }

    #[test]
    fn nonsense_is_told_what_to_do() {
        let check = |text: &str, part: &str| {
            let error = text.parse::<Target>().unwrap_err().to_string();
            assert!(error.contains(part), "{text}: {error}");
        };
        check("partial 25", "run from 1 to 24");
        check("5/0 of Organ", "such as 5/4");
        check("5 of Organ", "such as 5/4");
        check("a loud note", "is no pitch");
        check("", "is no pitch");
        check("H4", "is no note name");
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn no_text_breaks_the_reader(text in "\\PC{0,16}") {
            let _ = text.parse::<Target>();
        }
    }
}
