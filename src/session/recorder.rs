//! Writes a rehearsal into its session file while it goes on, without ever keeping it waiting.
//!
//! Entries become lines at once and lie in a backlog until a thread of its own has written
//! them. A disk that is full or away is told, everything is kept in memory and tried again. The
//! file is made when the first thing worth keeping comes, so that a screen that was only looked
//! at leaves nothing behind.

mod backlog;
mod paper;
mod writer;

use std::path::{Path, PathBuf};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

use super::dates::Date;
use super::fields::Line as Text;
use super::journal::{Record, line};
use super::session_file::GoingOn;
use crate::rehearsal::Entry;
use crate::units::Seconds;
use backlog::{Backlog, Kind, Line};
use paper::{Desk, FileDesk};

/// How long the end of a rehearsal waits for the disk.
const PATIENCE: Duration = Duration::from_secs(3);

/// Where a rehearsal is recorded.
#[derive(Debug)]
pub enum Place {
    /// It is not.
    Nowhere,
    /// Into a new file; its folder is made if that is wished.
    New {
        /// Where, if the name is still free by then.
        path: PathBuf,
        /// Whether to make the folder.
        makes_folder: bool,
    },
    /// Into a file that is there.
    GoingOn(Box<GoingOn>),
}

/// Whether what happens is being written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Status {
    /// It was not asked for.
    Nowhere,
    /// Into the file of this name, or it will be as soon as there is something to keep.
    Into(String),
    /// It cannot be, for this reason; it is kept in memory and tried again.
    Failing(String),
}

/// What is recorded, and the thread that writes it.
#[derive(Debug)]
pub struct Recorder {
    shared: Arc<Shared>,
    begun: String,
    /// Lines from before there was anything worth a file.
    early: Option<Vec<Line>>,
    latest: Seconds,
    thread: Option<JoinHandle<()>>,
}

/// What the recorder and its thread share.
#[derive(Debug)]
struct Shared {
    state: Mutex<State>,
    changed: Condvar,
}

#[derive(Debug)]
struct State {
    backlog: Backlog,
    status: Status,
    /// What must be told, once each.
    notices: Vec<String>,
    /// What a new file begins with, should the first one be taken away.
    preamble: Preamble,
    /// Where all of it goes at the end if it cannot be written where it should be.
    rescue: Option<PathBuf>,
    /// Where it has gone.
    rescued: Option<PathBuf>,
    /// The file that is written to, once there is one.
    path: Option<PathBuf>,
    is_closing: bool,
    /// Whether everything is written and synced that could be.
    is_done: bool,
}

/// The lines without which those that follow say nothing.
#[derive(Debug, Clone, Default)]
struct Preamble {
    begun: String,
    seated: String,
    tuned: String,
}

impl Shared {
    /// Nobody panics while holding the lock; were it so, the state would still be sound.
    fn lock(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Recorder {
    /// Records what begins now, at this local date and time (RFC 3339).
    ///
    /// Without a thread to write with there is nothing to be done but to say so.
    pub fn start(place: Place, begun: &str) -> Self {
        let (desk, name): (Option<Box<dyn Desk>>, PathBuf) = match place {
            Place::Nowhere => (None, PathBuf::new()),
            Place::New { path, makes_folder } => (
                Some(Box::new(FileDesk::new(&path, makes_folder))),
                path.clone(),
            ),
            Place::GoingOn(going_on) => {
                let path = going_on.opened.path.clone();
                (Some(Box::new(FileDesk::going_on(going_on.opened))), path)
            }
        };
        Self::with_desk(desk, &name, begun)
    }

    /// The same; what cannot be written at the end goes into this file, or one with a name beside
    /// it that is free. Its folder is made.
    #[must_use]
    pub fn or_rescued_into(self, path: Option<PathBuf>) -> Self {
        self.shared.lock().rescue = path;
        self
    }

    fn with_desk(desk: Option<Box<dyn Desk>>, path: &Path, begun: &str) -> Self {
        let head = Date::try_from(begun.to_owned()).ok().and_then(|at| {
            let program = Text::tidied(env!("CARGO_PKG_VERSION"));
            line(&Record::Begun { at, program })
        });
        let status = match &desk {
            None => Status::Nowhere,
            Some(_) => Status::Into(file_name(path)),
        };
        let shared = Arc::new(Shared {
            state: Mutex::new(State {
                backlog: Backlog::default(),
                status,
                notices: Vec::new(),
                preamble: Preamble {
                    begun: head.unwrap_or_default(),
                    ..Preamble::default()
                },
                rescue: None,
                rescued: None,
                path: None,
                is_closing: false,
                is_done: false,
            }),
            changed: Condvar::new(),
        });
        let thread = desk.and_then(|desk| {
            let theirs = Arc::clone(&shared);
            let builder = thread::Builder::new().name("recorder".to_owned());
            let spawned = builder.spawn(move || writer::write_until_closed(&theirs, desk));
            if let Err(error) = &spawned {
                shared.lock().status = Status::Failing(error.to_string());
            }
            spawned.ok()
        });
        Self {
            shared,
            begun: begun.to_owned(),
            early: Some(Vec::new()),
            latest: Seconds::default(),
            thread,
        }
    }

    /// Takes what is to be written; never waits for a disk.
    pub fn record(&mut self, entries: &[Entry]) {
        if entries.is_empty() || self.thread.is_none() {
            return;
        }
        let mut state = self.shared.lock();
        for entry in entries {
            if self.latest < entry.at() {
                self.latest = entry.at();
            }
            let is_worth_it = is_worth_keeping(entry);
            // Nobody wants hours of an empty hall.
            if self.early.is_some() && !is_worth_it && matches!(entry, Entry::Heard(_)) {
                continue;
            }
            let Some(text) = line(&Record::of(entry, &self.begun)) else {
                continue;
            };
            match entry {
                Entry::Seated { .. } => {
                    state.preamble.seated.clone_from(&text);
                    state.preamble.tuned.clear();
                }
                Entry::Tuned { .. } => state.preamble.tuned.clone_from(&text),
                _ => {}
            }
            let line = Line {
                text,
                at: entry.at(),
                kind: Kind::of(entry),
            };
            if is_worth_it && let Some(early) = self.early.take() {
                state.backlog.extend(early);
            }
            match &mut self.early {
                Some(early) => early.push(line),
                None => state.backlog.push(line),
            }
        }
        drop(state);
        self.shared.changed.notify_all();
    }

    /// Whether what was taken is being written.
    pub fn status(&self) -> Status {
        self.shared.lock().status.clone()
    }

    /// Something that must be told now, once.
    pub fn take_notice(&mut self) -> Option<String> {
        let mut state = self.shared.lock();
        (!state.notices.is_empty()).then(|| state.notices.remove(0))
    }

    /// Where it lies, to be asked when it is finished.
    pub fn whereabouts(&self) -> Whereabouts {
        Whereabouts(Arc::clone(&self.shared))
    }

    /// Ends the sitting: what is left is written and synced, unless the disk takes too long.
    /// Says what was lost, if anything was.
    pub fn finish(mut self) -> Option<String> {
        let thread = self.thread.take()?;
        let ended = Record::Ended {
            at: self.latest.into(),
        };
        let mut state = self.shared.lock();
        if self.early.is_none()
            && let Some(text) = line(&ended)
        {
            state.backlog.push(Line {
                text,
                at: self.latest,
                kind: Kind::Other,
            });
        }
        state.is_closing = true;
        self.shared.changed.notify_all();
        let until = Instant::now() + PATIENCE;
        while !state.is_done {
            let left = until.saturating_duration_since(Instant::now());
            if left.is_zero() {
                break;
            }
            let waited = self.shared.changed.wait_timeout(state, left);
            state = waited.unwrap_or_else(PoisonError::into_inner).0;
        }
        let is_done = state.is_done;
        let (status, unwritten) = (state.status.clone(), state.backlog.bytes());
        let rescued = state.rescued.take();
        drop(state);
        if is_done {
            // It is at its very end; a thread that hangs is left behind instead.
            let _ = thread.join();
        }
        match status {
            Status::Failing(reason) if let Some(path) = rescued => Some(format!(
                "the session could not be written where it should be ({reason}): all of it is \
                 in '{}'",
                super::shown(&path.to_string_lossy())
            )),
            Status::Failing(reason) => Some(format!(
                "the end of the session could not be written ({reason})"
            )),
            _ if !is_done || unwritten > 0 => {
                Some("the end of the session could not be written: the disk does not answer".into())
            }
            _ => None,
        }
    }
}

/// Which file a session is in. It may be another than was asked for, where that one was in use or
/// has been taken away.
#[derive(Debug)]
pub struct Whereabouts(Arc<Shared>);

impl Whereabouts {
    /// The file that was written to last; none if nothing was.
    pub fn path(&self) -> Option<PathBuf> {
        self.0.lock().path.clone()
    }
}

impl Drop for Recorder {
    /// A recorder that is not finished lets its thread write what it has and end.
    fn drop(&mut self) {
        self.shared.lock().is_closing = true;
        self.shared.changed.notify_all();
    }
}

/// Whether a file should be made for it.
fn is_worth_keeping(entry: &Entry) -> bool {
    match entry {
        Entry::Heard(span) => {
            let mut samples = span.channels.iter().flat_map(|channel| &channel.samples);
            samples.any(Result::is_ok) || span.chords.iter().any(|chord| !chord.voices.is_empty())
        }
        Entry::Note(_)
        | Entry::Tried(_)
        | Entry::Held { .. }
        | Entry::Decided(_)
        | Entry::Marked(_)
        | Entry::Warmth { .. } => true,
        Entry::Seated { .. }
        | Entry::Tuned { .. }
        | Entry::Fault { .. }
        | Entry::Running { .. }
        | Entry::Lost { .. } => false,
    }
}

fn file_name(path: &Path) -> String {
    let name = path.file_name().unwrap_or(path.as_os_str());
    Text::tidied(&name.to_string_lossy()).0
}

#[cfg(test)]
mod tests;
