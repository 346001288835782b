//! `concento` alone: the first screen, and whatever is chosen there, until it is left.

use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};

use clap::Parser;

use super::keeping::sessions_folder;
use super::screen_arguments::ScreenArguments;
use super::{Arguments, stage};
use crate::score::{self, ScoreError};
use crate::session;
use crate::settings::{self, Settings};
use crate::tui::{Choice, Door, Home};

/// What scores are called.
const SCORES: [&str; 5] = ["musicxml", "mxl", "xml", "mid", "midi"];

/// The longest file that is looked into for notes, in bytes.
const LONGEST_WITHOUT: u64 = 65_536;

/// Scores of a folder that are taken for a programme, at the most.
const MOST_SCORES: usize = 40;

/// Shows the first screen, and does what is chosen there, until it is left.
pub(super) fn run(screen: &ScreenArguments, out: &mut dyn Write) -> anyhow::Result<()> {
    let settings = settings::load()?;
    let options = screen.with(&settings)?;
    let mut home = Home::new(choices(&settings), &options);
    loop {
        let Some(door) = stage::choose(&mut home, &options)? else {
            return Ok(());
        };
        let told = match line(door, &settings) {
            Some(line) => begin(line, out),
            None => None,
        };
        home.again(choices(&settings), told);
    }
}

/// Carries out a command as if it had been typed; says what went wrong, if anything did.
fn begin(line: Vec<PathBuf>, out: &mut dyn Write) -> Option<String> {
    let parsed = Arguments::try_parse_from(std::iter::once(PathBuf::from("concento")).chain(line));
    let outcome = match parsed {
        Ok(Arguments {
            command: Some(command),
            ..
        }) => command.carry_out(out),
        Ok(_) => Ok(()),
        Err(error) => Err(error.into()),
    };
    outcome
        .err()
        .map(|error| session::shown(&format!("{error:#}")))
}

/// The command behind a door.
fn line(door: Door, settings: &Settings) -> Option<Vec<PathBuf>> {
    let word = |word: &str| PathBuf::from(word);
    Some(match door {
        Door::Listen => match &settings.ensemble {
            Some(ensemble) => vec![word("rehearse"), ensemble.clone()],
            None => vec![word("rehearse")],
        },
        Door::Demo => vec![word("demo")],
        Door::Practise => vec![word("practise")],
        Door::Last => vec![word("replay"), last_session()?],
        Door::Plan => {
            let words = [word("plan"), word("--screen")];
            words.into_iter().chain(scores(Path::new("."))).collect()
        }
        Door::Setup => vec![word("setup")],
    })
}

/// What there is to begin with now.
fn choices(settings: &Settings) -> Vec<Choice> {
    let choice = |door, title, about: String| Choice {
        door,
        title,
        about,
        is_open: true,
    };
    let listen = match &settings.ensemble {
        Some(path) => format!(
            "the ensemble of '{}'",
            session::shown(&path.display().to_string())
        ),
        None => "each input of the microphone by itself, in sixth-comma at A = 415".to_owned(),
    };
    let last = match last_session() {
        Some(path) => Choice {
            about: about_session(&path),
            ..choice(Door::Last, "Look at the last one again", String::new())
        },
        None => Choice {
            about: "nothing has been recorded yet: listen first, it is kept by itself".to_owned(),
            is_open: false,
            ..choice(Door::Last, "Look at the last one again", String::new())
        },
    };
    let n_scores = scores(Path::new(".")).len();
    let plan = Choice {
        about: match n_scores {
            0 => "no score here: start concento in the folder of your MusicXML or MIDI files"
                .to_owned(),
            1 => "the score in this folder: which temperament, which notes clash".to_owned(),
            count => {
                format!("the {count} scores in this folder: which temperament, which notes clash")
            }
        },
        is_open: n_scores > 0,
        ..choice(Door::Plan, "Plan a programme", String::new())
    };
    vec![
        choice(Door::Listen, "Listen now", listen),
        choice(
            Door::Demo,
            "Demo",
            "an invented band finds its chord; no microphone is needed".to_owned(),
        ),
        choice(
            Door::Practise,
            "Practise alone",
            "a drone, and exercises against it".to_owned(),
        ),
        last,
        plan,
        choice(
            Door::Setup,
            "Set up an ensemble",
            "who plays into which input, pitch and temperament: by ear".to_owned(),
        ),
    ]
}

/// The session that was written to last.
fn last_session() -> Option<PathBuf> {
    let entries = fs::read_dir(sessions_folder()?).ok()?;
    let sessions = entries.filter_map(Result::ok).filter_map(|entry| {
        let path = entry.path();
        let is_one = path.extension().is_some_and(|ending| ending == "session");
        let data = entry
            .metadata()
            .ok()
            .filter(|data| is_one && data.is_file() && session::is_session(&path))?;
        Some((data.modified().ok()?, path))
    });
    sessions.max().map(|(_, path)| path)
}

fn about_session(path: &Path) -> String {
    let name = path.file_stem().unwrap_or_default().to_string_lossy();
    let name = session::shown(&name);
    match session::survey_session(path) {
        Ok(session) => {
            let minutes = (session.length().get() / 60.0).ceil();
            let agreed = session.chronicle.agreements().len();
            format!("{name}: {minutes} min, {agreed} agreed")
        }
        // Whoever chooses it hears what is the matter.
        Err(_) => name,
    }
}

/// Whether a MIDI file tunes or controls an instrument and plays nothing, as the program's own do.
fn is_without_notes(path: &Path) -> bool {
    let is_short = path
        .metadata()
        .is_ok_and(|data| data.len() <= LONGEST_WITHOUT);
    is_short
        && fs::read(path).is_ok_and(|bytes| score::read(&bytes, "") == Err(ScoreError::NoNotes))
}

/// Scores in a folder, by name.
fn scores(folder: &Path) -> Vec<PathBuf> {
    let Ok(entries) = fs::read_dir(folder) else {
        return Vec::new();
    };
    let mut found: Vec<PathBuf> = entries
        .filter_map(Result::ok)
        .map(|entry| entry.path())
        .filter(|path| {
            let ending = path.extension().and_then(|ending| ending.to_str());
            let is_score = ending.is_some_and(|e| SCORES.contains(&e.to_lowercase().as_str()));
            is_score && path.is_file() && !is_without_notes(path)
        })
        .collect();
    found.sort();
    found.truncate(MOST_SCORES);
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn scores_are_found_by_their_names() {
        let folder = tempfile::tempdir().unwrap();
        for name in ["b.MusicXML", "a.mid", "c.txt", "d", ".xml"] {
            fs::write(folder.path().join(name), "").unwrap();
        }
        fs::create_dir(folder.path().join("e.mxl")).unwrap();
        // A header and a track that ends at once.
        let silent = b"MThd\0\0\0\x06\0\0\0\x01\0\x60MTrk\0\0\0\x04\0\xff\x2f\0";
        fs::write(folder.path().join("tuning.mid"), silent).unwrap();
        let names: Vec<String> = scores(folder.path())
            .iter()
            .map(|path| path.file_name().unwrap().to_string_lossy().into_owned())
            .collect();
        assert_eq!(names, ["a.mid", "b.MusicXML"]);
        assert_eq!(
            scores(&folder.path().join("nowhere")),
            Vec::<PathBuf>::new()
        );
    }

    #[test]
    fn every_door_leads_to_a_command() {
        let settings = Settings::default();
        for door in [Door::Listen, Door::Demo, Door::Practise] {
            let line = line(door, &settings).unwrap();
            let words = std::iter::once(PathBuf::from("concento")).chain(line);
            assert!(Arguments::try_parse_from(words).is_ok(), "{door:?}");
        }
    }
}
