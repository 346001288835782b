//! A plan as text, with remarks for whoever edits it.

use std::fmt::Write;
use std::fs;
use std::path::{Component, Path, PathBuf, absolute};

use ron::extensions::Extensions;
use ron::ser::PrettyConfig;
use serde::Serialize;

use super::What;
use crate::plan::{Pattern, Settled, SettledNote, SettledPiece, SettledTrumpets};
use crate::rehearsal::Reach;
use crate::session::fields::{CommandName, Line, Prose, steers};
use crate::session::new_file::{NewFileError, write_new, write_numbered};
use crate::session::temperament_file::{Entry, temperaments};
use crate::tuning::{Anchor, Temperament};
use crate::units::NoteName;

/// Writes a plan to `path`, which must not exist yet. Scores are named relative to it.
///
/// # Errors
///
/// The file exists or cannot be written; in both cases nothing has changed.
pub fn write_plan(path: &Path, settled: &Settled) -> Result<(), NewFileError> {
    let folder = path.parent().unwrap_or(Path::new(""));
    write_new(path, &plan_text(settled, folder))
}

/// Writes a plan into the folder of `score`, under the first name that is free: `plan.ron`,
/// `plan-2.ron` and so on. Says which it is.
///
/// # Errors
///
/// It cannot be written; nothing has changed.
pub fn write_plan_beside(score: &Path, settled: &Settled) -> Result<PathBuf, NewFileError> {
    let path = score.with_file_name("plan.ron");
    let folder = path.parent().unwrap_or(Path::new(""));
    write_numbered(&path, &plan_text(settled, folder))
}

/// The whole file of a plan that lies in `folder`.
pub fn plan_text(settled: &Settled, folder: &Path) -> String {
    let mut text = String::new();
    // Writing into a string cannot fail.
    let _ = fill(&mut text, settled, folder);
    text
}

fn fill(text: &mut String, settled: &Settled, folder: &Path) -> std::fmt::Result {
    writeln!(
        text,
        "// A plan for concento: what was settled for a programme before its rehearsal.\n\
         // \"concento rehearse ENSEMBLE --plan THIS-FILE\" begins with it. Change what you like;\n\
         // lines that begin with // are remarks.\n\
         (\n    \
             version: 1,\n\n    \
             // Shown at the head of the screen.\n    \
             title: {},\n\n    \
             // How high A4 stands, in hertz (350 to 500), and the note that keeps this level.\n    \
             pitch: {},\n",
        ron(&Line::tidied(&settled.title)),
        ron(&settled.standard),
    )?;
    writeln!(
        text,
        "    // By a name that \"concento temperaments\" lists, or a definition of its own:\n    \
         //     temperament: (name: \"mine\", title: \"My own\", fifths: Regular(\"-1/7 SC\")),\n    \
         temperament: {},\n\n    \
         // The accidentals the keyboard owns, from its flattest note to its sharpest.\n    \
         chain: {},\n",
        temperament(&settled.temperament),
        ron(&settled.chain),
    )?;
    if let Some(trumpets) = settled.trumpets {
        writeln!(
            text,
            "    // The trumpets the rehearsal begins with: their key, and what ties their series \
             to the\n    \
             // keyboard. Without an anchor, partial 8 sounds the tonic.\n    \
             trumpets: {},\n",
            ron(&TrumpetsWritten::from(trumpets)),
        )?;
    }
    if !settled.notes.is_empty() {
        writeln!(
            text,
            "    // Who yields, on each note in every octave, for trumpets in that key (in any \
             without a\n    \
             // key): FollowPartial, FollowTemperament, MeetBetween(-12.0) in cents from the \
             tempered\n    \
             // note, TrumpetLips, KeyboardLeavesOut or LeaveExposed. A line that is taken out \
             leaves the\n    \
             // note open. What matters most comes first.\n    \
             agreed: ["
        )?;
        for note in &settled.notes {
            writeln!(text, "        {},", ron(&NoteWritten::from(note)))?;
        }
        writeln!(text, "    ],\n")?;
    }
    if !settled.pieces.is_empty() {
        writeln!(
            text,
            "    // The scores it was made from, by their files' names from the folder of this \
             one. The\n    \
             // plan's own view needs them; a rehearsal can begin without.\n    \
             pieces: ["
        )?;
        for piece in &settled.pieces {
            let piece = ron(&PieceWritten::new(piece, folder));
            writeln!(text, "        {piece},")?;
        }
        writeln!(text, "    ],")?;
    }
    let parts = [
        ("trumpets", "trumpet_parts", &settled.trumpet_parts),
        ("keyboard", "keyboard_parts", &settled.keyboard_parts),
    ];
    for (who, field, pattern) in parts {
        if let Some(pattern) = pattern {
            let names = ron(&pattern.to_string());
            writeln!(
                text,
                "\n    // The parts of the {who}, where their names do not tell.\n    \
                 {field}: {names},"
            )?;
        }
    }
    if !settled.reaches.is_empty() {
        writeln!(
            text,
            "\n    // Who can be moved otherwise than usual, and how far.\n    reaches: ["
        )?;
        for (pattern, reach) in &settled.reaches {
            let reach = ron(&ReachWritten::new(pattern, *reach));
            writeln!(text, "        {reach},")?;
        }
        writeln!(text, "    ],")?;
    }
    writeln!(text, ")")
}

/// A value on one line, spaced as a person writes it.
fn ron(value: &impl Serialize) -> String {
    let spaced = PrettyConfig::new().depth_limit(0);
    ron::Options::default()
        .with_default_extension(Extensions::IMPLICIT_SOME)
        .to_string_pretty(value, spaced)
        .expect("these values have a form in this syntax")
}

/// The name of a shipped temperament, or the whole definition of another one.
fn temperament(temperament: &Temperament) -> String {
    let shipped = temperaments(None).unwrap_or_default();
    let namesake = shipped
        .iter()
        .find(|shipped| shipped.name == temperament.name);
    match namesake {
        Some(shipped) if shipped.fifths() == temperament.fifths() => {
            ron(&CommandName(shipped.name.clone()))
        }
        // Its name is the program's.
        Some(_) => {
            let mut own = temperament.clone();
            own.name = format!("my-{}", temperament.name);
            ron(&Entry(own))
        }
        None => ron(&Entry(temperament.clone())),
    }
}

#[derive(Serialize)]
struct TrumpetsWritten {
    key: NoteName,
    anchor: Anchor,
}

impl From<SettledTrumpets> for TrumpetsWritten {
    fn from(trumpets: SettledTrumpets) -> Self {
        Self {
            key: trumpets.key,
            anchor: trumpets.anchor,
        }
    }
}

#[derive(Serialize)]
struct NoteWritten {
    note: NoteName,
    #[serde(skip_serializing_if = "Option::is_none")]
    key: Option<NoteName>,
    what: What,
    why: Prose,
}

impl From<&SettledNote> for NoteWritten {
    fn from(note: &SettledNote) -> Self {
        Self {
            note: note.note,
            key: note.key,
            what: note.resolution.into(),
            why: Prose::tidied(&note.remark),
        }
    }
}

#[derive(Serialize)]
struct PieceWritten {
    score: String,
    title: Line,
    #[serde(skip_serializing_if = "Option::is_none")]
    trumpets: Option<TrumpetsWritten>,
}

impl PieceWritten {
    fn new(piece: &SettledPiece, folder: &Path) -> Self {
        Self {
            score: from_folder(folder, &piece.score),
            title: Line::tidied(&piece.title),
            trumpets: piece.trumpets.map(TrumpetsWritten::from),
        }
    }
}

#[derive(Serialize)]
struct ReachWritten {
    parts: String,
    up_cents: f64,
    down_cents: f64,
}

impl ReachWritten {
    fn new(pattern: &Pattern, reach: Reach) -> Self {
        Self {
            parts: pattern.to_string(),
            up_cents: reach.up.get(),
            down_cents: reach.down.get(),
        }
    }
}

/// The name of `file` from `folder`, with slashes on every system; its whole name where no way
/// leads there. Characters that would steer a terminal become question marks.
fn from_folder(folder: &Path, file: &Path) -> String {
    let (Some(name), Some(home), Some(away)) = (
        file.file_name(),
        in_full(folder),
        in_full(file.parent().unwrap_or(Path::new(""))),
    ) else {
        return harmless(file);
    };
    let common = home
        .components()
        .zip(away.components())
        .take_while(|(one, other)| one == other)
        .count();
    if common == 0 {
        return harmless(&away.join(name));
    }
    let ups = home.components().skip(common).map(|_| Component::ParentDir);
    let way: PathBuf = ups.chain(away.components().skip(common)).collect();
    harmless(&way.join(name))
}

/// A folder's name from the root, links followed where it is there.
fn in_full(folder: &Path) -> Option<PathBuf> {
    let folder = if folder.as_os_str().is_empty() {
        Path::new(".")
    } else {
        folder
    };
    fs::canonicalize(folder).or_else(|_| absolute(folder)).ok()
}

fn harmless(path: &Path) -> String {
    let name = path.to_string_lossy();
    let name = if cfg!(windows) {
        name.replace('\\', "/")
    } else {
        name.into_owned()
    };
    name.chars()
        .map(|c| if steers(c) { '?' } else { c })
        .collect()
}
