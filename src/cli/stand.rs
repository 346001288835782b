//! `concento stand`: the rehearsal that runs in another terminal, on a screen of its own.

mod watcher;

use std::io::Write;
use std::path::{Path, PathBuf};
use std::time::Duration;

use clap::Args;

use super::examples::{Example, examples};
use super::screen_arguments::ScreenArguments;
use super::stage;
use crate::rehearsal::Rehearsal;
use crate::session;
use crate::stand::{Found, Looked, folders, look};
use watcher::Watcher;

/// How long each rehearsal is given to answer.
const PATIENCE: Duration = Duration::from_millis(500);

const EXAMPLES: &[Example] = &[
    (
        "concento stand",
        "The rehearsal that runs in another terminal, seen on a screen of its own",
    ),
    (
        "concento stand friday.session",
        "The one that is kept in this file, where several run",
    ),
    (
        "concento stand --theme daylight --fps 10",
        "In other colours, and slower for a slow line",
    ),
];

#[derive(Debug, Args)]
#[command(after_help = examples(EXAMPLES))]
pub(super) struct Arguments {
    /// The session file that the rehearsal is kept in, or 'live' for the one that runs; needed
    /// only where several do
    #[arg(value_name = "SESSION")]
    session: Option<PathBuf>,
    #[command(flatten)]
    screen: ScreenArguments,
}

pub(super) fn run(arguments: &Arguments, _out: &mut dyn Write) -> anyhow::Result<()> {
    let options = arguments.screen.options()?;
    let folders = folders();
    let looked = look(&folders, PATIENCE);
    let found = choose(looked, arguments.session.as_deref())?;
    stage::needs_terminal()?;
    let ensemble = session::default_ensemble(1);
    let rehearsal = Rehearsal::new(ensemble, session::temperaments(None)?).watching();
    stage::watch(rehearsal, &mut Watcher::new(folders, found), &options)
}

/// Why no rehearsal is watched.
#[derive(Debug, PartialEq, thiserror::Error)]
enum NotFound {
    #[error("no rehearsal is running: start one with 'concento rehearse' in another terminal")]
    None,
    #[error(
        "a rehearsal is running in another version of this program, which speaks version {0} and \
         not 1: watch it with that program"
    )]
    OtherVersion(u64),
    #[error(
        "'{0}' is not being rehearsed now: leave it out for the rehearsal that runs, or look at it \
         with: concento replay {1}"
    )]
    NotRunning(String, String),
    #[error("no rehearsal that runs is kept in '{0}': leave it out for the one that runs")]
    Unknown(String),
    #[error("{} rehearsals are running: type one of\n{}", .0.len(), .0.join("\n"))]
    Several(Vec<String>),
}

/// The one that is meant.
fn choose(looked: Looked, wanted: Option<&Path>) -> Result<Found, NotFound> {
    let mut found = looked.found;
    let wanted = wanted.filter(|wanted| *wanted != Path::new("live"));
    if let Some(wanted) = wanted {
        let is_meant = |found: &Found| {
            let kept = found.sitting.session.as_deref();
            kept.is_some_and(|kept| is_one(Path::new(kept), wanted))
                || wanted == Path::new(&found.sitting.process.to_string())
        };
        return found.into_iter().find(is_meant).ok_or_else(|| {
            let name = session::shown(&wanted.display().to_string());
            if wanted.is_file() {
                NotFound::NotRunning(name, typed(&wanted.display().to_string()))
            } else {
                NotFound::Unknown(name)
            }
        });
    }
    match found.len() {
        0 => Err(looked
            .other_version
            .map_or(NotFound::None, NotFound::OtherVersion)),
        1 => Ok(found.remove(0)),
        _ => Err(NotFound::Several(found.iter().map(told).collect())),
    }
}

/// Whether two paths name one file, which may not have been made yet.
fn is_one(kept: &Path, wanted: &Path) -> bool {
    let resolved = |path: &Path| {
        let path = std::path::absolute(path).ok()?;
        let folder = path.parent()?.canonicalize().ok()?;
        let path = folder.join(path.file_name()?);
        Some(path.canonicalize().unwrap_or(path))
    };
    match (resolved(kept), resolved(wanted)) {
        (Some(kept), Some(wanted)) => kept == wanted,
        _ => false,
    }
}

/// What to type for a rehearsal, and what it is.
fn told(found: &Found) -> String {
    let sitting = &found.sitting;
    let what = sitting.what.word();
    let since = sitting.begun.get(11..16).unwrap_or(&sitting.begun);
    match &sitting.session {
        Some(session) => format!(
            "  concento stand {}   ({what} since {since})",
            typed(session)
        ),
        None => format!(
            "  concento stand {}   ({what} since {since}, kept nowhere)",
            sitting.process
        ),
    }
}

/// A path as it can be typed into a shell.
fn typed(path: &str) -> String {
    let is_plain = |c: char| c.is_alphanumeric() || "/._-+=:,@".contains(c);
    if path.chars().all(is_plain) && !path.is_empty() {
        path.to_owned()
    } else {
        format!("'{}'", path.replace('\'', r"'\''"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stand::{Sitting, What};

    fn found(what: What, session: Option<&str>, process: u32) -> Found {
        Found {
            path: PathBuf::from(format!("/run/{process}.stand")),
            sitting: Sitting {
                what,
                session: session.map(str::to_owned),
                begun: "2026-11-25T19:40:00+01:00".into(),
                process,
            },
        }
    }

    fn looked(found: &[Found]) -> Looked {
        Looked {
            found: found.to_vec(),
            other_version: None,
        }
    }

    #[test]
    fn the_one_that_runs_needs_no_name() {
        let one = found(What::Demo, None, 7);
        for wanted in [None, Some(Path::new("live")), Some(Path::new("7"))] {
            assert_eq!(
                choose(looked(std::slice::from_ref(&one)), wanted),
                Ok(one.clone())
            );
        }
        assert_eq!(choose(looked(&[]), None), Err(NotFound::None));
        let newer = Looked {
            other_version: Some(2),
            ..Looked::default()
        };
        assert_eq!(choose(newer, None), Err(NotFound::OtherVersion(2)));
    }

    #[test]
    fn of_several_one_is_told_what_to_type() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("first half.session");
        let kept = path.to_str().unwrap();
        let both = vec![
            found(What::Rehearsal, Some(kept), 7),
            found(What::Demo, None, 9),
        ];
        let refused = choose(looked(&both), None).unwrap_err().to_string();
        let expected = format!(
            "2 rehearsals are running: type one of\n  concento stand '{kept}'   (rehearsal since \
             19:40)\n  concento stand 9   (demo since 19:40, kept nowhere)"
        );
        assert_eq!(refused, expected);
        // The file may be there or not, and be named by another way.
        let way = folder.path().join(".").join("first half.session");
        assert_eq!(choose(looked(&both), Some(&way)), Ok(both[0].clone()));
        std::fs::write(&path, "").unwrap();
        assert_eq!(choose(looked(&both), Some(&way)), Ok(both[0].clone()));
        assert_eq!(
            choose(looked(&both), Some(Path::new("9"))),
            Ok(both[1].clone())
        );
    }

    #[test]
    fn a_session_that_does_not_run_can_be_replayed() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("x.session");
        let refused = choose(looked(&[]), Some(&path)).unwrap_err();
        assert!(matches!(refused, NotFound::Unknown(_)), "{refused}");
        std::fs::write(&path, "").unwrap();
        let refused = choose(looked(&[]), Some(&path)).unwrap_err().to_string();
        let replay = format!("with: concento replay {}", path.display());
        assert!(refused.contains(&replay), "{refused}");
    }
}
