//! Writing new files: to a sibling, synced, then renamed into place. Only their owner may read
//! them, unless they are meant for everybody.

use std::fs::{self, File};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use crate::private;

/// A new file that could not be written.
#[derive(Debug, thiserror::Error)]
pub enum NewFileError {
    /// Something of that name is there already.
    #[error("'{}' exists already: choose another name, or move it away first", .0.display())]
    Exists(PathBuf),
    /// The name ends in no file.
    #[error("'{}' is no name for a file: give one", .0.display())]
    NoName(PathBuf),
    /// It cannot be written.
    #[error(
        "cannot write '{}' ({reason}): check that the folder exists and may be written to",
        path.display()
    )]
    Write {
        /// The file.
        path: PathBuf,
        /// The system's reason.
        reason: io::Error,
    },
}

/// Writes a commented example ensemble to `path`, which must not exist yet.
///
/// # Errors
///
/// The file exists or cannot be written; in both cases nothing has changed.
pub fn write_example(path: &Path) -> Result<(), NewFileError> {
    write_new(path, include_str!("../../assets/ensemble.ron"))
}

/// Writes `text` to `path`, which must not exist yet.
///
/// # Errors
///
/// The file exists or cannot be written; in both cases nothing has changed.
pub fn write_new(path: &Path, text: &str) -> Result<(), NewFileError> {
    write_new_bytes(path, text.as_bytes())
}

/// The most names that are tried for a file that must not replace another.
const MOST_NAMES: u32 = 1_000;

/// Writes `text` to `path`, or where that exists under the same name with a number; returns where
/// it lies.
///
/// # Errors
///
/// It cannot be written, or a thousand such files exist; in both cases nothing has changed.
pub fn write_numbered(path: &Path, text: &str) -> Result<PathBuf, NewFileError> {
    let stem = path.file_stem().unwrap_or_default().to_os_string();
    let mut number = 1;
    loop {
        let numbered = if number == 1 {
            path.to_owned()
        } else {
            let mut name = stem.clone();
            name.push(format!("-{number}"));
            if let Some(ending) = path.extension() {
                name.push(".");
                name.push(ending);
            }
            path.with_file_name(name)
        };
        match write_new(&numbered, text) {
            Err(NewFileError::Exists(_)) if number < MOST_NAMES => number += 1,
            written => return written.map(|()| numbered),
        }
    }
}

/// Writes `bytes` to `path`, which must not exist yet.
///
/// # Errors
///
/// The file exists or cannot be written; in both cases nothing has changed.
pub fn write_new_bytes(path: &Path, bytes: &[u8]) -> Result<(), NewFileError> {
    write_beside(path, bytes, private::create_new)
}

/// Writes `bytes` to `path` for everybody to read, as far as the umask lets them.
///
/// # Errors
///
/// The file exists or cannot be written; in both cases nothing has changed.
pub fn write_for_all(path: &Path, bytes: &[u8]) -> Result<(), NewFileError> {
    write_beside(path, bytes, |path| File::create_new(path))
}

fn write_beside(
    path: &Path,
    bytes: &[u8],
    create_new: fn(&Path) -> io::Result<File>,
) -> Result<(), NewFileError> {
    let name = path
        .file_name()
        .ok_or_else(|| NewFileError::NoName(path.to_owned()))?;
    // A dangling link counts as something that is there.
    if path.symlink_metadata().is_ok() {
        return Err(NewFileError::Exists(path.to_owned()));
    }
    let mut sibling_name = std::ffi::OsString::from(".");
    sibling_name.push(name);
    sibling_name.push(format!(".{}.part", std::process::id()));
    let sibling = path.with_file_name(sibling_name);
    let written = create_new(&sibling)
        .and_then(|file| write_synced(file, bytes))
        .and_then(|()| fs::rename(&sibling, path));
    written.map_err(|reason| {
        // What is left of the attempt is of no use; failing to remove it changes nothing.
        let _ = fs::remove_file(&sibling);
        NewFileError::Write {
            path: path.to_owned(),
            reason,
        }
    })
}

fn write_synced(mut file: File, bytes: &[u8]) -> io::Result<()> {
    file.write_all(bytes)?;
    file.sync_all()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn files(folder: &Path) -> Vec<String> {
        let mut names: Vec<String> = fs::read_dir(folder)
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .collect();
        names.sort();
        names
    }

    #[test]
    fn an_example_is_written_once_and_nothing_else_is_left() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("band.ron");
        write_example(&path).unwrap();
        assert_eq!(files(folder.path()), ["band.ron"]);
        fs::write(&path, "mine").unwrap();
        assert!(matches!(write_example(&path), Err(NewFileError::Exists(_))));
        assert_eq!(fs::read_to_string(&path).unwrap(), "mine");
        assert_eq!(files(folder.path()), ["band.ron"]);
    }

    #[test]
    fn folders_are_neither_made_nor_replaced() {
        let folder = tempfile::tempdir().unwrap();
        let lost = folder.path().join("nowhere/band.ron");
        assert!(matches!(
            write_example(&lost),
            Err(NewFileError::Write { .. })
        ));
        assert!(matches!(
            write_example(folder.path()),
            Err(NewFileError::Exists(_))
        ));
        assert!(matches!(
            write_example(Path::new("..")),
            Err(NewFileError::NoName(_))
        ));
        assert!(files(folder.path()).is_empty());
    }
}
