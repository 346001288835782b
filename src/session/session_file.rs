//! A session file, opened to be looked at.

use std::path::{Path, PathBuf};

use super::JournalError;
use super::journal::Recovered;
use crate::rehearsal::{Chronicle, Entry};

/// A session file, read.
#[derive(Debug, Clone, PartialEq)]
pub struct Session {
    /// Where it lies.
    pub path: PathBuf,
    /// Its name without folder and ending.
    pub name: String,
    /// When the first sitting began: local date and time with the distance from universal
    /// time (RFC 3339).
    pub begun: String,
    /// What it adds up to.
    pub chronicle: Chronicle,
    /// All that happened in all sittings; times count from the beginning of the first.
    pub entries: Vec<Entry>,
    /// Whether the last sitting was ended as it should be, and not by a crash.
    pub ended_well: bool,
    /// What could not be read of it.
    pub recovered: Recovered,
}

/// Reads the session file at `path`; it is not changed, and may be one that is being written.
///
/// # Errors
///
/// It cannot be read, or it is something else.
pub fn load_session(path: &Path) -> Result<Session, JournalError> {
    let recovered = super::Journal::read(path)?;
    Ok(Session {
        path: path.to_owned(),
        name: path
            .file_stem()
            .map(|name| name.to_string_lossy().into_owned())
            .unwrap_or_default(),
        begun: String::new(),
        chronicle: Chronicle::default(),
        entries: Vec::new(),
        ended_well: false,
        recovered,
    })
}
