//! Writing new files: to a sibling, synced, then renamed into place. Only their owner may read
//! them, unless they are meant for everybody.

use std::fs::File;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use tempfile::{Builder, NamedTempFile};

use super::reason::reason as in_words;

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
        "cannot write '{}' ({}): check that the folder exists and may be written to",
        path.display(),
        in_words(reason)
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
    write_beside(path, bytes, false)
}

/// Writes `bytes` to `path` for everybody to read, as far as the umask lets them.
///
/// # Errors
///
/// The file exists or cannot be written; in both cases nothing has changed.
pub fn write_for_all(path: &Path, bytes: &[u8]) -> Result<(), NewFileError> {
    write_beside(path, bytes, true)
}

fn write_beside(path: &Path, bytes: &[u8], is_for_all: bool) -> Result<(), NewFileError> {
    let mut new = NewFile::begin(path, is_for_all)?;
    let written = new.sibling.write_all(bytes);
    written.map_err(|reason| failed(path, reason))?;
    new.finish()
}

/// A file being written under another name beside its own; removed again unless it is finished.
#[derive(Debug)]
pub struct NewFile {
    sibling: NamedTempFile,
    path: PathBuf,
}

impl NewFile {
    /// Begins a file to be called `path`, which must not exist yet; only its owner may read it
    /// unless it `is_for_all`, as far as the umask lets them.
    ///
    /// # Errors
    ///
    /// The file exists or nothing can be written beside it.
    pub fn begin(path: &Path, is_for_all: bool) -> Result<Self, NewFileError> {
        if path.file_name().is_none() {
            return Err(NewFileError::NoName(path.to_owned()));
        }
        // A dangling link counts as something that is there.
        if path.symlink_metadata().is_ok() {
            return Err(NewFileError::Exists(path.to_owned()));
        }
        let folder = match path.parent() {
            Some(folder) if !folder.as_os_str().is_empty() => folder,
            _ => Path::new("."),
        };
        let mut sibling = Builder::new();
        sibling.prefix(".").suffix(".part");
        #[cfg(unix)]
        if is_for_all {
            sibling.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
        }
        let begun = sibling.tempfile_in(folder);
        Ok(Self {
            sibling: begun.map_err(|reason| failed(path, reason))?,
            path: path.to_owned(),
        })
    }

    /// What is to be written into.
    pub fn file(&self) -> &File {
        self.sibling.as_file()
    }

    /// Puts it in its place, when all of it lies on the disk. What has appeared there meanwhile
    /// is not written over.
    ///
    /// # Errors
    ///
    /// There is a file by now, or the disk does not take it.
    pub fn finish(self) -> Result<(), NewFileError> {
        let Self { sibling, path } = self;
        let synced = sibling.as_file().sync_all();
        synced.map_err(|reason| failed(&path, reason))?;
        let placed = sibling.persist_noclobber(&path);
        placed.map(drop).map_err(|error| failed(&path, error.error))
    }
}

fn failed(path: &Path, reason: io::Error) -> NewFileError {
    let path = path.to_owned();
    match reason.kind() {
        io::ErrorKind::AlreadyExists => NewFileError::Exists(path),
        _ => NewFileError::Write { path, reason },
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs;

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
    fn of_many_who_write_at_once_one_has_the_name() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("page.html");
        let written: Vec<Option<String>> = std::thread::scope(|scope| {
            let writers = (0..8).map(|number| {
                let text = number.to_string().repeat(50_000);
                let path = &path;
                scope.spawn(move || write_new(path, &text).is_ok().then_some(text))
            });
            let writers: Vec<_> = writers.collect();
            writers
                .into_iter()
                .map(|writer| writer.join().unwrap())
                .collect()
        });
        let done: Vec<&String> = written.iter().flatten().collect();
        let [only] = done[..] else {
            panic!("{} have written it", done.len())
        };
        assert_eq!(&fs::read_to_string(&path).unwrap(), only);
        assert_eq!(files(folder.path()), ["page.html"], "nothing is left over");
    }

    #[test]
    fn the_longest_name_can_be_written() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("x".repeat(255));
        write_new(&path, "text").unwrap();
        assert_eq!(fs::read_to_string(&path).unwrap(), "text");
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
