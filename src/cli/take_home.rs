//! The page everyone takes home, asked for on the screen while it is still up.

use std::path::{Path, PathBuf};

use crate::rehearsal::Chronicle;
use crate::report::{Digest, Occasion, rehearsal_page};
use crate::session;

/// Where the page of a rehearsal goes, and what it is called.
#[derive(Debug, Clone)]
pub(super) struct TakeHome {
    page: PathBuf,
    name: String,
    begun: String,
    is_running: bool,
}

impl TakeHome {
    /// Of a rehearsal that goes on: beside its session file, or in the present folder where it
    /// is not kept.
    pub(super) fn of_running(session: Option<&Path>, begun: String) -> Self {
        match session {
            Some(session) => Self {
                is_running: true,
                ..Self::of_session(session, begun)
            },
            None => Self {
                page: PathBuf::from("rehearsal.html"),
                name: "rehearsal".to_owned(),
                begun,
                is_running: true,
            },
        }
    }

    /// Of a session that is looked at again: beside its file.
    pub(super) fn of_session(session: &Path, begun: String) -> Self {
        let name = session.file_stem().unwrap_or_default().to_string_lossy();
        Self {
            page: session.with_extension("html"),
            name: name.into_owned(),
            begun,
            is_running: false,
        }
    }

    /// Writes the page of what has happened so far; says where it is or why it cannot be.
    pub(super) fn write(&self, chronicle: &Chronicle) -> String {
        let digest = Digest::of(Occasion {
            name: &self.name,
            begun: &self.begun,
            chronicle,
            ended_well: !self.is_running,
            is_running: self.is_running,
            notice: None,
        });
        let page = rehearsal_page(&[digest], None);
        match session::write_numbered(&self.page, &page) {
            Ok(path) => {
                let path = std::path::absolute(&path).unwrap_or(path);
                format!(
                    "the page is in {}",
                    session::shown(&path.display().to_string())
                )
            }
            Err(error) => error.to_string(),
        }
    }
}

#[cfg(test)]
mod tests {
    use std::fs;

    use super::*;

    #[test]
    fn a_page_lies_beside_its_session_and_replaces_none() {
        let folder = tempfile::tempdir().unwrap();
        let session = folder.path().join("friday.session");
        let begun = "2026-11-27T19:30:00+01:00".to_owned();
        let take_home = TakeHome::of_running(Some(&session), begun);
        for name in ["friday.html", "friday-2.html"] {
            let told = take_home.write(&Chronicle::default());
            assert!(told.contains(name), "{told}");
            let page = fs::read_to_string(folder.path().join(name)).unwrap();
            assert!(page.contains("<html") && page.contains("friday"));
        }
        let nowhere = TakeHome::of_session(&folder.path().join("no/x.session"), String::new());
        let told = nowhere.write(&Chronicle::default());
        assert!(told.contains("cannot write"), "{told}");
    }
}
