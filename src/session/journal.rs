//! The session's journal: what is decided in a rehearsal, one record a line, safe as soon as
//! it is written.
//!
//! The first line states the version. Lines are only ever added, never changed or removed. A
//! line that was cut off by a crash is told and passed over, and the next one begins below it.

mod record;

use std::fs::{File, OpenOptions};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

use serde::Deserialize;

pub use record::{HeldRecord, Record, VoiceRecord};

use super::file_error::parse;

/// The first line of every journal.
const HEAD: &str = "(version: 1, journal: \"concento\")\n";

/// The longest journal that is read, in bytes: tens of thousands of chords.
const LARGEST: u64 = 50_000_000;

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

/// What a journal held when it was opened.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Recovered {
    /// Its records, oldest first.
    pub records: Vec<Record>,
    /// Lines that could not be read, counted from 1.
    pub passed_over: Vec<usize>,
}

/// A journal that records are added to.
#[derive(Debug)]
pub struct Journal {
    path: PathBuf,
    /// Whether that is another place than the one asked for, and nobody has been told yet.
    is_elsewhere: bool,
    /// None until the first record of a journal that is made when there is something to keep.
    file: Option<File>,
    /// What must be written before the next record: the head, its rest, or the end of a line.
    before_next: String,
}

/// The first line, of whatever version.
#[derive(Deserialize)]
struct Head {
    version: u64,
    journal: String,
    // Later versions may say more.
}

impl Journal {
    /// Opens the journal at `path`, or makes it. Its folder must exist.
    ///
    /// # Errors
    ///
    /// It cannot be read or written, or it is something else; nothing has changed then.
    pub fn open(path: &Path) -> Result<(Self, Recovered), JournalError> {
        // Opening a pipe would wait for whoever is at its other end.
        if path.metadata().is_ok_and(|data| !data.is_file()) {
            return Err(JournalError::NotAFile(path.to_owned()));
        }
        let mut options = OpenOptions::new();
        let opened = options.read(true).append(true).create(true).open(path);
        let mut file = opened.map_err(|reason| {
            let is_readable = File::open(path).is_ok();
            refused(path, reason, is_readable)
        })?;
        let mut bytes = Vec::new();
        let read = (&mut file).take(LARGEST + 1).read_to_end(&mut bytes);
        read.map_err(|reason| JournalError::Read {
            path: path.to_owned(),
            reason,
        })?;
        if bytes.len() as u64 > LARGEST {
            return Err(JournalError::Foreign(path.to_owned()));
        }
        let (recovered, before_next) = recover(&bytes, path)?;
        let mut journal = Self {
            path: path.to_owned(),
            is_elsewhere: false,
            file: Some(file),
            before_next,
        };
        if bytes.len() < HEAD.len() {
            // A new file says at once whether it can be written to.
            journal.write("")?;
        }
        Ok((journal, recovered))
    }

    /// What the journal at `path` holds, without changing it.
    ///
    /// # Errors
    ///
    /// It cannot be read, or it is something else.
    pub fn read(path: &Path) -> Result<Recovered, JournalError> {
        if path.metadata().is_ok_and(|data| !data.is_file()) {
            return Err(JournalError::NotAFile(path.to_owned()));
        }
        let bytes = std::fs::read(path).map_err(|reason| JournalError::Read {
            path: path.to_owned(),
            reason,
        })?;
        Ok(recover(&bytes, path)?.0)
    }

    /// A journal at `path` that is made, with its folder, when the first record comes. A file
    /// that is there by then is not touched: the name is counted on.
    pub fn when_needed(path: &Path) -> Self {
        Self {
            path: path.to_owned(),
            is_elsewhere: false,
            file: None,
            before_next: HEAD.to_owned(),
        }
    }

    /// Adds a record; when this returns it is on the disk.
    ///
    /// # Errors
    ///
    /// It cannot be written. The next attempt begins a line of its own.
    pub fn add(&mut self, record: &Record) -> Result<(), JournalError> {
        if self.file.is_none() {
            self.make()?;
        }
        let line = ron::ser::to_string(record).map_err(|error| JournalError::Write {
            path: self.path.clone(),
            reason: io::Error::other(error),
        })?;
        self.write(&format!("{line}\n"))
    }

    /// Where it lies.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Where it lies, once, if that is not where it was asked to.
    pub fn take_elsewhere(&mut self) -> Option<&Path> {
        std::mem::take(&mut self.is_elsewhere).then_some(&self.path)
    }

    fn make(&mut self) -> Result<(), JournalError> {
        let failed = |path: &Path, reason| JournalError::Write {
            path: path.to_owned(),
            reason,
        };
        let folder = self.path.parent().unwrap_or(Path::new("."));
        std::fs::create_dir_all(folder).map_err(|reason| failed(&self.path, reason))?;
        let first = self.path.clone();
        for count in 2..100 {
            let new = OpenOptions::new()
                .append(true)
                .create_new(true)
                .open(&self.path);
            match new {
                Ok(file) => {
                    self.file = Some(file);
                    self.is_elsewhere = self.path != first;
                    return Ok(());
                }
                Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {
                    self.path = sibling(&first, count);
                }
                Err(reason) => return Err(failed(&self.path, reason)),
            }
        }
        // The next attempt begins with the name asked for.
        self.path.clone_from(&first);
        Err(failed(&first, io::ErrorKind::AlreadyExists.into()))
    }

    fn write(&mut self, line: &str) -> Result<(), JournalError> {
        let Some(file) = &mut self.file else {
            return Ok(());
        };
        let text = format!("{}{line}", self.before_next);
        let written = file
            .write_all(text.as_bytes())
            .and_then(|()| file.sync_data());
        if let Err(reason) = written {
            // Nobody knows how much of it arrived.
            if !self.before_next.starts_with('(') {
                "\n".clone_into(&mut self.before_next);
            }
            return Err(JournalError::Write {
                path: self.path.clone(),
                reason,
            });
        }
        self.before_next.clear();
        Ok(())
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

/// The records in `bytes`, and what must be written before another can follow.
fn recover(bytes: &[u8], path: &Path) -> Result<(Recovered, String), JournalError> {
    let foreign = || JournalError::Foreign(path.to_owned());
    if let Some(rest) = HEAD.as_bytes().strip_prefix(bytes) {
        // New, or cut off within the head, which is completed.
        let rest = String::from_utf8_lossy(rest).into_owned();
        return Ok((Recovered::default(), rest));
    }
    let mut lines = bytes.split(|byte| *byte == b'\n').enumerate();
    let text = |line| std::str::from_utf8(line).ok();
    let head = lines
        .next()
        .and_then(|(_, line)| text(line))
        .ok_or_else(foreign)?;
    let head: Head = parse(head).map_err(|_| foreign())?;
    if head.journal != "concento" {
        return Err(foreign());
    }
    if head.version != 1 {
        return Err(JournalError::Version {
            path: path.to_owned(),
            version: head.version,
        });
    }
    let mut recovered = Recovered::default();
    for (index, line) in lines {
        if line.iter().all(u8::is_ascii_whitespace) {
            continue;
        }
        match text(line).and_then(|line| parse::<Record>(line).ok()) {
            Some(record) => recovered.records.push(record),
            None => recovered.passed_over.push(index + 1),
        }
    }
    let ends_whole = bytes.ends_with(b"\n");
    Ok((
        recovered,
        if ends_whole {
            String::new()
        } else {
            "\n".to_owned()
        },
    ))
}

impl Recovered {
    /// What must be told of it, if anything.
    pub fn notice(&self) -> Option<String> {
        let first = self.passed_over.first()?;
        Some(match self.passed_over.len() {
            1 => format!("line {first} of the session was cut off and is passed over"),
            count => format!(
                "{count} lines of the session cannot be read and are passed over, the first is \
                 line {first}"
            ),
        })
    }
}

#[cfg(test)]
mod tests;
