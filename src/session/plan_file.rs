//! The plan file: what a leader settled for a programme, for the rehearsal to begin with.
//!
//! A plan is written with remarks that explain every field. Scores are named relative to it.

mod writing;

use std::path::{Path, PathBuf};

use serde::de::{Deserialize, Deserializer};

use super::Unknown;
use super::ensemble_file::{Choice, Trumpets, at_temperament, keyboard_chain};
use super::fields::{Line, Prose, Version, checked, steers};
use super::file_error::{FileError, parse, read_text};
use super::temperament_file::{find, temperaments};
use crate::plan::{Pattern, Settled, SettledNote, SettledPiece, SettledTrumpets};
use crate::rehearsal::{Reach, Resolution};
use crate::tuning::{Chain, PitchStandard};
use crate::units::{Cents, NoteName};

pub use writing::{plan_text, write_plan, write_plan_beside};

/// A programme has so many pieces, notes to agree on, and players who differ, at the most.
const MOST: usize = 500;

/// Reads the plan at `path`. Its scores are named as they can be opened from here; whether they
/// are there is not asked.
///
/// # Errors
///
/// The file cannot be read, or something in it is wrong; nothing is replaced by defaults.
pub fn load_plan(path: &Path) -> Result<Settled, FileError> {
    read_plan(&read_text(path)?, path)
}

/// Reads a plan from `text`; `path` names it in errors, and its scores are looked for beside it.
///
/// # Errors
///
/// As for [`load_plan`].
pub fn read_plan(text: &str, path: &Path) -> Result<Settled, FileError> {
    let wrong = |fault| FileError::Content {
        path: path.to_owned(),
        fault,
    };
    let file: Fields = parse(text).map_err(wrong)?;
    let temperament = match file.temperament {
        Choice::Named(name) => find(&temperaments(None)?, &name)
            .cloned()
            .map_err(|unknown: Unknown| wrong(at_temperament(text).saying(&unknown)))?,
        Choice::Own(own) => *own,
    };
    let folder = path.parent().unwrap_or(Path::new(""));
    let piece = |piece: PieceFields| SettledPiece {
        title: piece.title.0,
        score: folder.join(piece.score.0),
        trumpets: piece.trumpets.map(SettledTrumpets::from),
    };
    Ok(Settled {
        title: file.title.0,
        standard: file.pitch,
        temperament,
        chain: file.chain,
        trumpets: file.trumpets.map(SettledTrumpets::from),
        notes: file.agreed.0,
        pieces: file.pieces.0.into_iter().map(piece).collect(),
        trumpet_parts: file.trumpet_parts.map(|parts| parts.0),
        keyboard_parts: file.keyboard_parts.map(|parts| parts.0),
        reaches: file.reaches.0.into_iter().map(|reach| reach.0).collect(),
    })
}

#[derive(serde::Deserialize)]
#[serde(rename = "plan", deny_unknown_fields)]
struct Fields {
    #[serde(rename = "version")]
    _version: Version,
    title: Line,
    pitch: PitchStandard,
    temperament: Choice,
    #[serde(default = "Chain::usual", deserialize_with = "keyboard_chain")]
    chain: Chain,
    #[serde(default)]
    trumpets: Option<Trumpets>,
    #[serde(default)]
    agreed: OnceEach,
    #[serde(default)]
    pieces: List<PieceFields>,
    #[serde(default)]
    trumpet_parts: Option<Parts>,
    #[serde(default)]
    keyboard_parts: Option<Parts>,
    #[serde(default)]
    reaches: List<ReachEntry>,
}

#[derive(serde::Deserialize)]
#[serde(rename = "piece", deny_unknown_fields)]
struct PieceFields {
    score: ScoreName,
    title: Line,
    #[serde(default)]
    trumpets: Option<Trumpets>,
}

impl From<Trumpets> for SettledTrumpets {
    fn from(trumpets: Trumpets) -> Self {
        Self {
            key: trumpets.key,
            anchor: trumpets.anchor,
        }
    }
}

/// A list that is not endless.
struct List<T>(Vec<T>);

impl<T> Default for List<T> {
    fn default() -> Self {
        Self(Vec::new())
    }
}

impl<'de, T: Deserialize<'de>> Deserialize<'de> for List<T> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        checked(deserializer, |list: Vec<T>| {
            if list.len() > MOST {
                return Err(format!("this list is too long: {MOST} are allowed"));
            }
            Ok(Self(list))
        })
    }
}

/// Each note once in every key.
#[derive(Default)]
struct OnceEach(Vec<SettledNote>);

impl<'de> Deserialize<'de> for OnceEach {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        checked(deserializer, |List(notes): List<NoteFields>| {
            let notes: Vec<SettledNote> = notes.into_iter().map(SettledNote::from).collect();
            for (at, note) in notes.iter().enumerate() {
                let clashes = |other: &SettledNote| {
                    let in_one_key = note.key.is_none() || other.key.is_none();
                    other.note == note.note && (in_one_key || other.key == note.key)
                };
                if notes[..at].iter().any(clashes) {
                    return Err(format!(
                        "{:#} stands twice for trumpets in one key: keep one of them",
                        note.note
                    ));
                }
            }
            Ok(Self(notes))
        })
    }
}

#[derive(serde::Deserialize)]
#[serde(rename = "agreed", deny_unknown_fields)]
struct NoteFields {
    note: NoteName,
    #[serde(default)]
    key: Option<NoteName>,
    what: What,
    #[serde(default)]
    why: Prose,
}

impl From<NoteFields> for SettledNote {
    fn from(fields: NoteFields) -> Self {
        Self {
            note: fields.note,
            key: fields.key,
            resolution: fields.what.into(),
            remark: fields.why.0,
        }
    }
}

/// Who yields, as a file has it.
#[derive(serde::Serialize, serde::Deserialize)]
#[serde(rename = "what")]
enum What {
    FollowPartial,
    FollowTemperament,
    MeetBetween(Move),
    TrumpetLips,
    KeyboardLeavesOut,
    LeaveExposed,
}

impl From<What> for Resolution {
    fn from(what: What) -> Self {
        match what {
            What::FollowPartial => Self::FollowPartial,
            What::FollowTemperament => Self::FollowTemperament,
            What::MeetBetween(Move(cents)) => Self::MeetBetween(Cents::new(cents)),
            What::TrumpetLips => Self::TrumpetLips,
            What::KeyboardLeavesOut => Self::KeyboardLeavesOut,
            What::LeaveExposed => Self::LeaveExposed,
        }
    }
}

impl From<Resolution> for What {
    fn from(resolution: Resolution) -> Self {
        match resolution {
            Resolution::FollowPartial => Self::FollowPartial,
            Resolution::FollowTemperament => Self::FollowTemperament,
            Resolution::MeetBetween(cents) => Self::MeetBetween(Move(cents.get())),
            Resolution::TrumpetLips => Self::TrumpetLips,
            Resolution::KeyboardLeavesOut => Self::KeyboardLeavesOut,
            Resolution::LeaveExposed => Self::LeaveExposed,
        }
    }
}

/// Cents above the tempered place, a semitone at the most.
#[derive(serde::Serialize)]
#[serde(transparent)]
struct Move(f64);

impl<'de> Deserialize<'de> for Move {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        checked(deserializer, |cents: f64| {
            if (-100.0..=100.0).contains(&cents) {
                Ok(Self(cents))
            } else {
                Err(format!(
                    "'{cents}' is no place to meet: give -100 to 100 cents from the tempered note"
                ))
            }
        })
    }
}

/// The name of a score's file.
struct ScoreName(PathBuf);

impl<'de> Deserialize<'de> for ScoreName {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        checked(deserializer, |name: String| {
            if name.trim().is_empty() {
                return Err("this score has no name: give that of its file".to_owned());
            }
            if name.contains(steers) {
                return Err(format!(
                    "'{}' holds control characters: rename the file",
                    name.escape_debug()
                ));
            }
            Ok(Self(PathBuf::from(name)))
        })
    }
}

/// Names of parts.
struct Parts(Pattern);

impl<'de> Deserialize<'de> for Parts {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        checked(deserializer, |Prose(text): Prose| {
            let pattern: Result<Pattern, _> = text.parse();
            pattern.map(Self).map_err(|error| error.to_string())
        })
    }
}

/// Who can be moved otherwise than usual.
struct ReachEntry((Pattern, Reach));

impl<'de> Deserialize<'de> for ReachEntry {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        #[derive(serde::Deserialize)]
        #[serde(rename = "reach", deny_unknown_fields)]
        struct ReachFields {
            parts: Parts,
            up_cents: Span,
            down_cents: Span,
        }
        let fields = ReachFields::deserialize(deserializer)?;
        let reach = Reach {
            up: Cents::new(fields.up_cents.0),
            down: Cents::new(fields.down_cents.0),
        };
        Ok(Self((fields.parts.0, reach)))
    }
}

/// Nothing to an octave.
struct Span(f64);

impl<'de> Deserialize<'de> for Span {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        checked(deserializer, |cents: f64| {
            if (0.0..=1200.0).contains(&cents) {
                Ok(Self(cents))
            } else {
                Err(format!(
                    "'{cents}' is no reach: give 0 to 1200 cents, without a sign"
                ))
            }
        })
    }
}

#[cfg(test)]
mod tests;
