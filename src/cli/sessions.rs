//! `concento sessions`.

use std::io::{self, Write};
use std::path::{Path, PathBuf};

use clap::Args;

use super::PlainForm;
use super::examples::{Example, examples};
use super::guarded::tell;
use super::keeping::sessions_folder;
use crate::report::{SessionListReport, SessionSummary};
use crate::session;

const EXAMPLES: &[Example] = &[
    (
        "concento sessions",
        "What was recorded, and how much was agreed",
    ),
    (
        "concento sessions season",
        "The sessions in a folder of yours",
    ),
];

#[derive(Debug, Args)]
#[command(after_help = examples(EXAMPLES))]
pub(super) struct Arguments {
    /// The folder to look in; the one that 'concento rehearse' records into if left out
    folder: Option<PathBuf>,
    /// A list for reading, or JSON for scripts
    #[arg(long, value_enum, default_value_t = PlainForm::Table)]
    format: PlainForm,
}

pub(super) fn run(arguments: &Arguments, out: &mut dyn Write) -> anyhow::Result<()> {
    let is_given = arguments.folder.is_some();
    let Some(folder) = arguments.folder.clone().or_else(sessions_folder) else {
        anyhow::bail!("this system has no folder for data: name the folder to look in");
    };
    let paths = match candidates(&folder) {
        Ok(paths) => paths,
        // Nothing was ever recorded.
        Err(error) if !is_given && error.kind() == io::ErrorKind::NotFound => Vec::new(),
        Err(error) => anyhow::bail!(
            "cannot read the folder '{}' ({error}): check the name and whether you may read it",
            folder.display()
        ),
    };
    let mut sessions = Vec::new();
    for path in &paths {
        match session::survey_session(path) {
            Ok(session) => {
                let summary = SessionSummary::new(
                    name_of(path),
                    session.begun.clone(),
                    session.length(),
                    &session.chronicle,
                    session.ended_well,
                );
                sessions.push(summary.running(session.is_running));
            }
            // One that cannot be read is no reason not to list the others.
            Err(error) => {
                tell(&error.in_list());
            }
        }
    }
    sessions.sort_by(|a, b| (&a.begun, &a.name).cmp(&(&b.begun, &b.name)));
    let report = SessionListReport {
        folder: folder.display().to_string(),
        sessions,
    };
    let text = match arguments.format {
        PlainForm::Json => report.to_json(),
        PlainForm::Table if report.sessions.is_empty() => format!(
            "no sessions in '{}': 'concento rehearse' records one, with '--session' where you \
             want it\n",
            report.folder
        ),
        PlainForm::Table => format!("{}\nin {}\n", report.to_table(), report.folder),
    };
    Ok(out.write_all(text.as_bytes())?)
}

/// The files of a folder that are sessions, by their ending or by what they begin with.
fn candidates(folder: &Path) -> io::Result<Vec<PathBuf>> {
    let mut paths = Vec::new();
    for entry in std::fs::read_dir(folder)? {
        let path = entry?.path();
        let is_called_so = path.extension().is_some_and(|ending| ending == "session");
        if is_called_so || session::is_session(&path) {
            paths.push(path);
        }
    }
    paths.sort();
    Ok(paths)
}

/// As it is typed; what would steer a terminal is not shown.
fn name_of(path: &Path) -> String {
    let name = path.file_name().unwrap_or(path.as_os_str());
    session::shown(&name.to_string_lossy())
}
