//! What the program notes for itself: the log, and the folder it lies in.

use std::fs::File;
use std::io;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::PathBuf;

use crate::private::{self, FolderError};
use crate::sound::quiet::StderrGuard;
use crate::tui::{self, Ending, Opening, Options, Shell};

/// The platform's folder for such files, made where it is missing; none where it cannot be made.
///
/// # Errors
///
/// It is there, and not the user's alone.
pub(super) fn state_folder() -> Result<Option<PathBuf>, FolderError> {
    let Some(folders) = directories::ProjectDirs::from("", "", "concento") else {
        return Ok(None);
    };
    let folder = folders
        .state_dir()
        .unwrap_or_else(|| folders.data_local_dir());
    match private::make_folder(folder) {
        Ok(()) => Ok(Some(folder.to_owned())),
        Err(error) if error.is_distrust() => Err(error),
        Err(_) => Ok(None),
    }
}

/// The log in the platform's folder for such files, which takes what would be printed while
/// the screen is up. There is none where it cannot be made: a rehearsal does not fail for want
/// of a log.
pub(super) struct Log {
    file: Option<File>,
    path: Option<PathBuf>,
}

impl Log {
    /// The log of this program's own screen.
    ///
    /// # Errors
    ///
    /// Others may write to the folder it lies in.
    pub(super) fn open() -> Result<Self, FolderError> {
        Self::named("concento.log")
    }

    /// The log called `name`; the errors are the same.
    pub(super) fn named(name: &str) -> Result<Self, FolderError> {
        let Some(folder) = state_folder()? else {
            return Ok(Self {
                file: None,
                path: None,
            });
        };
        let path = folder.join(name);
        // Of the last rehearsal only: the log must not grow for ever.
        let file = private::open_emptied(&path).ok();
        let path = file.is_some().then_some(path);
        if let Some(file) = file.as_ref().and_then(|file| file.try_clone().ok()) {
            // A second screen in one process would find the log in use already; it keeps it.
            let _ = tracing_subscriber::fmt()
                .with_ansi(false)
                .with_writer(file)
                .try_init();
        }
        Ok(Self { file, path })
    }

    /// How the screen ended; an error if the program failed.
    pub(super) fn show(
        &self,
        opening: Opening,
        shell: &mut impl Shell,
        options: &Options,
    ) -> anyhow::Result<Result<Ending, tui::Error>> {
        self.guarded(|quiet| tui::run(opening, shell, options, quiet))
    }

    /// The same for any screen; standard error goes to the log as long as it is up.
    pub(super) fn guarded(
        &self,
        screen: impl FnOnce(io::Result<StderrGuard>) -> Result<Ending, tui::Error>,
    ) -> anyhow::Result<Result<Ending, tui::Error>> {
        let quiet = match &self.file {
            Some(file) => StderrGuard::to_file(file),
            None => StderrGuard::to_null(),
        };
        let shown = catch_unwind(AssertUnwindSafe(|| screen(quiet)));
        shown.map_err(|_| {
            let details = match &self.path {
                Some(path) => format!("; details in '{}'", path.display()),
                None => String::new(),
            };
            anyhow::anyhow!(
                "the program has failed, which is its own fault{details}: start it again"
            )
        })
    }
}
