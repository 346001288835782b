//! Score files: only a regular file is opened, and no more of it is read than a score can have.

use std::fs::File;
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use crate::score::{LARGEST_SCORE, Score, ScoreError, read};

/// A score file that cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum ScoreFileError {
    /// It cannot be opened or read.
    #[error("cannot read '{}' ({reason}): check the name and whether you may read it", path.display())]
    Read {
        /// The file.
        path: PathBuf,
        /// The system's reason.
        reason: io::Error,
    },
    /// It is a folder, a device or a pipe.
    #[error("'{}' is no file: give the name of a score (.musicxml, .mxl or .mid)", path.display())]
    NoFile {
        /// What was given.
        path: PathBuf,
    },
    /// What is in it is no score that can be read.
    #[error("'{}': {fault}", path.display())]
    Content {
        /// The file.
        path: PathBuf,
        /// What and where.
        fault: ScoreError,
    },
}

/// Reads the score at `path`.
///
/// # Errors
/// The file cannot be opened or is none, or its content cannot be read as a score.
pub fn load_score(path: &Path) -> Result<Score, ScoreFileError> {
    let unread = |reason| ScoreFileError::Read {
        path: path.to_owned(),
        reason,
    };
    // Asked before it is opened, as opening a pipe waits for somebody to write to it.
    if !path.metadata().map_err(unread)?.is_file() {
        return Err(ScoreFileError::NoFile {
            path: path.to_owned(),
        });
    }
    let wrong = |fault| ScoreFileError::Content {
        path: path.to_owned(),
        fault,
    };
    let file = File::open(path).map_err(unread)?;
    let length = file.metadata().map_err(unread)?.len();
    if length > LARGEST_SCORE {
        return Err(wrong(ScoreError::TooLarge));
    }
    let mut bytes = Vec::with_capacity(length as usize);
    // It may have grown since; one byte too many is told by the reader.
    file.take(LARGEST_SCORE + 1)
        .read_to_end(&mut bytes)
        .map_err(unread)?;
    let name = path.file_stem().unwrap_or_default().to_string_lossy();
    read(&bytes, &name).map_err(wrong)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::session::shown;

    const TITLED: &str = "<score-partwise><part-list><score-part id='P'><part-name>a&#9;\u{202e}b\
        </part-name></score-part></part-list><part id='P'><measure><attributes><divisions>1</divisions>\
        </attributes><note><pitch><step>D</step><octave>5</octave></pitch><duration>1</duration></note>\
        </measure></part></score-partwise>";

    #[test]
    fn a_score_is_read_from_its_file_alone() {
        let folder = tempfile::tempdir().unwrap();
        let check = |name: &str, part: &str| {
            let error = load_score(&folder.path().join(name))
                .unwrap_err()
                .to_string();
            assert!(error.contains(part), "{error}");
        };
        check("none.mxl", "cannot read");
        check("", "is no file");
        let large = File::create(folder.path().join("large.xml")).unwrap();
        // A hundred megabytes that take no room on the disk; none of them is read.
        large.set_len(100_000_000).unwrap();
        check("large.xml", "larger than 32 MB");
        std::fs::write(folder.path().join("note.txt"), "do not forget the mutes").unwrap();
        check("note.txt", "neither MusicXML nor a MIDI file");
        let path = folder.path().join("invention.xml");
        std::fs::write(&path, TITLED).unwrap();
        let score = load_score(&path).unwrap();
        assert_eq!(score.title, "invention");
        // What a score calls its parts can be shown as it is.
        assert_eq!(score.parts[0].name, "a b");
        assert_eq!(shown(&score.parts[0].name), score.parts[0].name);
    }

    #[cfg(unix)]
    #[test]
    fn a_device_is_no_score() {
        let error = load_score(Path::new("/dev/zero")).unwrap_err().to_string();
        assert!(error.contains("is no file"), "{error}");
    }
}
