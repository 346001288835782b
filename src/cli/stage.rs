//! Puts a rehearsal on the screen: what `rehearse` and `demo` share.

use std::fs::{self, File, OpenOptions};
use std::io::{self, IsTerminal, Write};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};

use anyhow::Context;

use super::Usage;
use super::keeping::Keeping;
use crate::analysis::chord::Sought;
use crate::listening::{Inputs, Listener};
use crate::rehearsal::{Entry, Rehearsal, Update};
use crate::session::{Recorder, Status};
use crate::sound::Source;
use crate::sound::quiet::StderrGuard;
use crate::tui::{self, Ending, Options, Recording, Shell};

/// Refuses before anything is opened where there is no screen to show it on.
pub(super) fn needs_terminal() -> Result<(), Usage> {
    if io::stdout().is_terminal() {
        Ok(())
    } else {
        Err(Usage(tui::Error::NotATerminal.to_string()))
    }
}

/// What the screen needs: ears, and somewhere to record what happens.
struct Hall {
    listener: Listener,
    recorder: Recorder,
}

impl Shell for Hall {
    fn fetch(&mut self) -> Vec<Update> {
        self.listener.fetch()
    }

    fn record(&mut self, entries: Vec<Entry>) -> Option<String> {
        self.recorder.record(&entries);
        self.recorder.take_notice()
    }

    fn recording(&self) -> Recording {
        match self.recorder.status() {
            Status::Nowhere => Recording::Nowhere,
            Status::Into(name) => Recording::Into(name),
            Status::Failing(reason) => Recording::Failing(reason),
        }
    }

    fn seek(&mut self, sought: Vec<Option<Sought>>) {
        self.listener.seek(sought);
    }
}

/// Listens to `source` and shows `rehearsal` until it is ended; it is recorded as `keeping`
/// says.
pub(super) fn play(
    rehearsal: Rehearsal,
    source: Box<dyn Source>,
    inputs: Inputs,
    keeping: Keeping,
) -> anyhow::Result<()> {
    let (log, path) = open_log();
    if let Some(file) = log.as_ref().and_then(|file| file.try_clone().ok()) {
        // A second screen in one process would find the log in use already; it keeps it.
        let _ = tracing_subscriber::fmt()
            .with_ansi(false)
            .with_writer(file)
            .try_init();
    }
    let (rehearsal, recorder, told) = keeping.begin(rehearsal);
    let sought = rehearsal.sought().iter();
    let sought = sought.map(|voices| voices.as_ref().map(|voices| voices.sought().clone()));
    let listener = Listener::start(source, inputs, sought.collect())
        .context("no thread can be had to listen")?;
    let quiet = match &log {
        Some(file) => StderrGuard::to_file(file),
        None => StderrGuard::to_null(),
    };
    let mut hall = Hall { listener, recorder };
    let shown = catch_unwind(AssertUnwindSafe(|| {
        let options = Options::from_environment();
        tui::run(rehearsal, told, &mut hall, options, quiet)
    }));
    // Whatever happened, the end of the session goes to the disk before the program ends.
    if let Some(lost) = hall.recorder.finish() {
        let _ = writeln!(io::stderr(), "concento: {lost}");
    }
    conclude(shown.ok(), path.as_deref())
}

/// How a screen that was shown ended; none if the program failed.
pub(super) fn conclude(
    shown: Option<Result<Ending, tui::Error>>,
    log: Option<&Path>,
) -> anyhow::Result<()> {
    let ending = shown.ok_or_else(|| {
        let details = log.map_or_else(String::new, |p| format!("; details in '{}'", p.display()));
        anyhow::anyhow!("the program has failed, which is its own fault{details}: start it again")
    })?;
    match ending {
        Ok(Ending::Quit) => Ok(()),
        Ok(Ending::Signal(number)) => pass_on(number),
        Err(error @ tui::Error::NotATerminal) => Err(Usage(error.to_string()).into()),
        Err(error) => Err(error.into()),
    }
}

/// Ends by the signal that was caught, so that the shell knows.
#[cfg(unix)]
fn pass_on(number: i32) -> anyhow::Result<()> {
    signal_hook::low_level::emulate_default_handler(number).context("cannot end by signal")
}

#[cfg(not(unix))]
fn pass_on(_number: i32) -> anyhow::Result<()> {
    Ok(())
}

/// The log in the platform's folder for such files. There is none where it cannot be made: a
/// rehearsal does not fail for want of a log.
fn open_log() -> (Option<File>, Option<PathBuf>) {
    let Some(folders) = directories::ProjectDirs::from("", "", "concento") else {
        return (None, None);
    };
    let folder = folders
        .state_dir()
        .unwrap_or_else(|| folders.data_local_dir());
    let path = folder.join("concento.log");
    // Of the last rehearsal only: the log must not grow for ever.
    let file = fs::create_dir_all(folder).and_then(|()| {
        OpenOptions::new()
            .create(true)
            .write(true)
            .truncate(true)
            .open(&path)
    });
    match file {
        Ok(file) => (Some(file), Some(path)),
        Err(_) => (None, None),
    }
}
