//! The journal a session is kept in: what happens in a rehearsal, one record a line.
//!
//! The first line states the version. Lines are only ever added, never changed or removed. A
//! line that was cut off by a crash is told and passed over, and the next one begins below it.

mod heard;
mod held;
mod lines;
mod number;
mod reader;
mod record;
mod setting;
mod tried;
mod voices;

use std::fs::{File, OpenOptions, TryLockError};
use std::io;
use std::path::{Path, PathBuf};

pub(crate) use lines::{
    cents, channel_number, entry_from_line, entry_to_line, hertz, number, seconds, value_from_line,
    value_to_line, voices_from_text, voices_to_text,
};
pub use reader::Wanted;
pub(super) use reader::{Said, read_journal, record_in};
pub(super) use record::Record;

use super::file_error::written;

/// The first line of every journal.
pub(super) const HEAD: &str = "(version: 1, journal: \"concento\")\n";

/// The longest journal that is read, in bytes: days of eight players.
const LARGEST: u64 = 400_000_000;

/// A journal that cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum JournalError {
    /// It cannot be opened or read.
    #[error("cannot read '{}' ({reason}): check the name and whether you may read it", path.display())]
    Read {
        /// The file.
        path: PathBuf,
        /// The system's reason.
        reason: io::Error,
    },
    /// It may be read, and nothing can be added to it.
    #[error("'{}' may be read but not written ({reason}): give another name, or see to its permissions", path.display())]
    ReadOnly {
        /// The file.
        path: PathBuf,
        /// The system's reason.
        reason: io::Error,
    },
    /// It is a folder, a device or a pipe.
    #[error("'{}' is no file but a folder, a device or a pipe: give another name", .0.display())]
    NotAFile(PathBuf),
    /// Another program is writing to it.
    #[error("'{}' is being written to by another concento: end that one first, or give another name", .0.display())]
    InUse(PathBuf),
    /// It is far too long to be a session.
    #[error("'{}' is larger than {} MB and no session: give another name", .0.display(), LARGEST / 1_000_000)]
    TooLarge(PathBuf),
    /// It is something else.
    #[error("'{}' is no session of concento: give another name, it is left as it is", .0.display())]
    Foreign(PathBuf),
    /// A newer program wrote it.
    #[error(
        "'{}' is a session of version {version}, and this program writes version 1: give another \
         name, or use the program that wrote it",
        path.display()
    )]
    Version {
        /// The file.
        path: PathBuf,
        /// What it says.
        version: u64,
    },
    /// Nothing can be added to it.
    #[error("cannot write '{}' ({reason}): check that the folder exists and that there is room", path.display())]
    Write {
        /// The file.
        path: PathBuf,
        /// The system's reason.
        reason: io::Error,
    },
}

impl JournalError {
    /// In a list of many files, for which nobody needs advice.
    pub fn in_list(&self) -> String {
        match self {
            Self::Foreign(path) => format!("'{}' is no session of concento", path.display()),
            Self::NotAFile(path) => {
                format!(
                    "'{}' is no file but a folder, a device or a pipe",
                    path.display()
                )
            }
            Self::TooLarge(path) => format!(
                "'{}' is larger than {} MB and no session",
                path.display(),
                LARGEST / 1_000_000
            ),
            Self::Version { path, version } => format!(
                "'{}' is a session of version {version}, and this program reads version 1",
                path.display()
            ),
            Self::Read { .. } | Self::ReadOnly { .. } | Self::InUse(_) | Self::Write { .. } => {
                self.to_string()
            }
        }
    }
}

/// What had to be passed over when a journal was read.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Recovered {
    /// How many lines could not be read.
    pub n_passed_over: usize,
    /// The first of them, counted from 1.
    pub first_passed_over: Option<usize>,
    /// For how long what was heard could not be written, in seconds.
    pub missed_s: f64,
}

impl Recovered {
    /// What must be told of it, if anything.
    pub fn notice(&self) -> Option<String> {
        let lines = self
            .first_passed_over
            .map(|first| match self.n_passed_over {
                1 => format!("line {first} of the session was cut off and is passed over"),
                count => format!(
                    "{count} lines of the session cannot be read and are passed over, the first is \
                 line {first}"
                ),
            });
        let missed = (self.missed_s > 0.0).then(|| {
            let seconds = self.missed_s.ceil();
            format!("{seconds} s of the session were not written, for want of room")
        });
        match (lines, missed) {
            (Some(lines), Some(missed)) => Some(format!("{lines}; {missed}")),
            (lines, missed) => lines.or(missed),
        }
    }

    /// Forgets the line that was passed over last.
    fn forget_last(&mut self) {
        self.n_passed_over = self.n_passed_over.saturating_sub(1);
        if self.n_passed_over == 0 {
            self.first_passed_over = None;
        }
    }

    fn pass_over(&mut self, line: usize) {
        self.n_passed_over += 1;
        self.first_passed_over.get_or_insert(line);
    }
}

/// A journal that can be added to.
#[derive(Debug)]
pub(super) struct Opened {
    /// Held, so that nobody else adds to it.
    pub(super) file: File,
    pub(super) path: PathBuf,
    /// What must be written before the next record: the head, its rest, or the end of a line.
    pub(super) before_next: String,
}

/// Opens the journal at `path` to go on with it.
pub(super) fn open(
    path: &Path,
    take: impl FnMut(Said),
) -> Result<(Opened, Recovered), JournalError> {
    refuse_no_file(path)?;
    let opened = OpenOptions::new().read(true).append(true).open(path);
    let file = opened.map_err(|reason| {
        let is_readable = File::open(path).is_ok();
        refused(path, reason, is_readable)
    })?;
    lock(&file, path)?;
    let (recovered, before_next) = read_journal(&file, path, Wanted::WithoutHeard, take)?;
    let opened = Opened {
        file,
        path: path.to_owned(),
        before_next,
    };
    Ok((opened, recovered))
}

/// Reads the journal at `path` without changing it, and says whether it is being written to.
pub(super) fn look(
    path: &Path,
    wanted: Wanted,
    take: impl FnMut(Said),
) -> Result<(Recovered, bool), JournalError> {
    refuse_no_file(path)?;
    let file = File::open(path).map_err(|reason| JournalError::Read {
        path: path.to_owned(),
        reason,
    })?;
    let is_running = is_locked(&file);
    let (mut recovered, before_next) = read_journal(&file, path, wanted, take)?;
    // The rest of its last line is on the way.
    if is_running && before_next == "\n" {
        recovered.forget_last();
    }
    Ok((recovered, is_running))
}

/// Whether somebody is adding to this file; where files cannot be locked, nobody knows.
fn is_locked(file: &File) -> bool {
    match file.try_lock_shared() {
        Err(TryLockError::WouldBlock) => true,
        Ok(()) => {
            // Nobody who wants to add to it is to be kept from it.
            let _ = file.unlock();
            false
        }
        Err(TryLockError::Error(_)) => false,
    }
}

/// Whether the file at `path` begins as a journal does.
pub(super) fn is_journal(path: &Path) -> bool {
    use std::io::Read;
    let mut head = Vec::new();
    let is_file = path.metadata().is_ok_and(|data| data.is_file());
    let file = is_file.then(|| File::open(path).ok()).flatten();
    let read = file.map(|file| file.take(HEAD.len() as u64).read_to_end(&mut head));
    read.is_some_and(|read| read.is_ok()) && head == HEAD.as_bytes()
}

/// Makes a new journal at `path`, or beside it under a name that is counted on: a file that is
/// there is never touched. Only its owner may read it.
pub(super) fn make(path: &Path) -> io::Result<(File, PathBuf)> {
    let mut options = OpenOptions::new();
    // It may have to be read again, should it be taken away.
    options.read(true).append(true).create_new(true);
    #[cfg(unix)]
    {
        use std::os::unix::fs::OpenOptionsExt;
        options.mode(0o600);
    }
    let mut place = path.to_owned();
    for count in 2..100 {
        match options.open(&place) {
            Ok(file) => {
                // Where files cannot be locked there is nothing to be done about it.
                let _ = file.try_lock();
                return Ok((file, place));
            }
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {
                place = sibling(path, count);
            }
            Err(error) => return Err(error),
        }
    }
    Err(io::ErrorKind::AlreadyExists.into())
}

/// A record as its line.
pub(super) fn line(record: &Record) -> Option<String> {
    let mut line = written(record)?;
    line.push('\n');
    Some(line)
}

/// Opening a pipe would wait for whoever is at its other end.
fn refuse_no_file(path: &Path) -> Result<(), JournalError> {
    if path.metadata().is_ok_and(|data| !data.is_file()) {
        return Err(JournalError::NotAFile(path.to_owned()));
    }
    Ok(())
}

fn lock(file: &File, path: &Path) -> Result<(), JournalError> {
    match file.try_lock() {
        Err(TryLockError::WouldBlock) => Err(JournalError::InUse(path.to_owned())),
        // Some file systems know no locks.
        Ok(()) | Err(TryLockError::Error(_)) => Ok(()),
    }
}

/// Why a file that cannot be opened for adding is refused.
fn refused(path: &Path, reason: io::Error, is_readable: bool) -> JournalError {
    let path = path.to_owned();
    if is_readable {
        return JournalError::ReadOnly { path, reason };
    }
    match path.try_exists() {
        Ok(true) => JournalError::Read { path, reason },
        _ => JournalError::Write { path, reason },
    }
}

/// The name counted on: `evening-2.session` beside `evening.session`.
fn sibling(path: &Path, count: u32) -> PathBuf {
    let mut name = path.file_stem().unwrap_or_default().to_owned();
    name.push(format!("-{count}"));
    if let Some(ending) = path.extension() {
        name.push(".");
        name.push(ending);
    }
    path.with_file_name(name)
}

#[cfg(test)]
mod tests;
