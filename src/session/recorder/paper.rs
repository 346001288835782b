//! What lines are written on: a file, or in tests a disk that fills up.

use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use crate::private;
use crate::session::journal::{self, HEAD, Opened};

/// The most bytes of a file taken away that are written again.
const MOST_COPIED: u64 = 100_000_000;

/// Something lines are written on.
pub(super) trait Paper: Send {
    /// Writes some of `bytes` at the end and says how many.
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize>;
    /// Lets what was written reach the disk.
    fn sync(&mut self) -> io::Result<()>;
    /// Whether it still lies where it is looked for.
    fn is_in_place(&self) -> bool;

    /// All that lies on it, where it can still be read.
    fn contents(&mut self) -> io::Result<Vec<u8>> {
        Err(io::ErrorKind::Unsupported.into())
    }
}

/// New paper.
pub(super) struct Sheet {
    pub(super) paper: Box<dyn Paper>,
    pub(super) path: PathBuf,
    /// What must stand before the first line.
    pub(super) head: String,
}

/// Where paper comes from.
pub(super) trait Desk: Send {
    /// Takes out the first sheet, or another one when that was taken away.
    fn lay(&mut self) -> io::Result<Sheet>;
    /// The name asked for.
    fn wanted(&self) -> &Path;
}

/// Files.
pub(super) struct FileDesk {
    wanted: PathBuf,
    makes_folder: bool,
    /// The file that is gone on with, until it is taken out.
    opened: Option<Opened>,
}

impl FileDesk {
    /// A new file is made when it is needed.
    pub(super) fn new(path: &Path, makes_folder: bool) -> Self {
        Self {
            wanted: path.to_owned(),
            makes_folder,
            opened: None,
        }
    }

    /// A file that is there is gone on with.
    pub(super) fn going_on(opened: Opened) -> Self {
        Self {
            wanted: opened.path.clone(),
            makes_folder: false,
            opened: Some(opened),
        }
    }
}

impl Desk for FileDesk {
    fn lay(&mut self) -> io::Result<Sheet> {
        if let Some(opened) = self.opened.take() {
            let paper = FilePaper {
                file: opened.file,
                path: opened.path.clone(),
            };
            return Ok(Sheet {
                paper: Box::new(paper),
                path: opened.path,
                head: opened.before_next,
            });
        }
        if self.makes_folder
            && let Some(folder) = self.wanted.parent()
        {
            private::make_folder(folder).map_err(io::Error::other)?;
        }
        let (file, path) = journal::make(&self.wanted)?;
        // Without this a new name could be lost with the power; where folders cannot be synced
        // there is nothing to be done about it.
        if let Some(folder) = path.parent() {
            let here = Path::new(".");
            let is_named = !folder.as_os_str().is_empty();
            let _ = File::open(if is_named { folder } else { here }).and_then(|f| f.sync_all());
        }
        let paper = FilePaper {
            file,
            path: path.clone(),
        };
        Ok(Sheet {
            paper: Box::new(paper),
            path,
            head: HEAD.to_owned(),
        })
    }

    fn wanted(&self) -> &Path {
        &self.wanted
    }
}

struct FilePaper {
    file: File,
    path: PathBuf,
}

impl Paper for FilePaper {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.file.write(bytes)
    }

    fn sync(&mut self) -> io::Result<()> {
        self.file.sync_data()
    }

    fn contents(&mut self) -> io::Result<Vec<u8>> {
        if self.file.metadata()?.len() > MOST_COPIED {
            return Err(io::ErrorKind::FileTooLarge.into());
        }
        let mut bytes = Vec::new();
        // What is written goes to the end wherever this leaves off.
        self.file.seek(SeekFrom::Start(0))?;
        self.file.read_to_end(&mut bytes)?;
        Ok(bytes)
    }

    #[cfg(unix)]
    fn is_in_place(&self) -> bool {
        use std::os::unix::fs::MetadataExt;
        let Ok(mine) = self.file.metadata() else {
            return true;
        };
        match self.path.metadata() {
            Ok(there) => (there.dev(), there.ino()) == (mine.dev(), mine.ino()),
            Err(error) => error.kind() != io::ErrorKind::NotFound,
        }
    }

    #[cfg(not(unix))]
    fn is_in_place(&self) -> bool {
        !matches!(self.path.try_exists(), Ok(false))
    }
}
