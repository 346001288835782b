//! Where what is held in a rehearsal is kept.

use std::path::Path;

use jiff::ZonedDateTime;

use crate::rehearsal::{HeldChord, Rehearsal, SHELF};
use crate::session::{HeldRecord, Journal, JournalError, Record, Recovered};

/// The session's journal, and what it held before.
#[derive(Debug, Default)]
pub(super) struct Keeping {
    journal: Option<Journal>,
    recovered: Recovered,
}

impl Keeping {
    /// Keeps in the file at `path`: one that exists is gone on with, another is made when
    /// there is something to keep.
    pub(super) fn given(path: &Path) -> anyhow::Result<Self> {
        if path.symlink_metadata().is_ok() {
            let (journal, recovered) = Journal::open(path)?;
            return Ok(Self {
                journal: Some(journal),
                recovered,
            });
        }
        let folder = path
            .parent()
            .filter(|folder| !folder.as_os_str().is_empty());
        let is_there = folder.is_none_or(Path::is_dir);
        anyhow::ensure!(
            is_there && path.file_name().is_some(),
            "'{}' cannot be made: name a file in a folder that exists",
            path.display()
        );
        Ok(Self {
            journal: Some(Journal::when_needed(path)),
            recovered: Recovered::default(),
        })
    }

    /// Keeps in the platform's folder for data, in a file named after the date and time.
    pub(super) fn by_date() -> Self {
        let folders = directories::ProjectDirs::from("", "", "concento");
        let journal = folders.map(|folders| {
            let name = ZonedDateTime::now()
                .strftime("%Y-%m-%d-%H%M%S.session")
                .to_string();
            Journal::when_needed(&folders.data_dir().join("sessions").join(name))
        });
        Self {
            journal,
            recovered: Recovered::default(),
        }
    }

    /// Puts the last chords that were kept before on the shelf.
    pub(super) fn shelve(&self, rehearsal: &mut Rehearsal) {
        let chords = self
            .recovered
            .records
            .iter()
            .filter_map(|record| match record {
                Record::Held(held) => held.chord(),
            });
        let chords: Vec<HeldChord> = chords.collect();
        for chord in chords.into_iter().rev().take(SHELF).rev() {
            rehearsal.shelve(chord);
        }
    }

    /// What must be told of the file at the start.
    pub(super) fn notice(&self) -> Option<String> {
        self.recovered.notice()
    }

    /// Adds a chord; without a journal nothing is kept beyond the rehearsal. Says what must be
    /// told: once, where it is kept, if that is not where it was asked to be.
    pub(super) fn keep(&mut self, chord: &HeldChord) -> anyhow::Result<Option<String>> {
        let Some(journal) = &mut self.journal else {
            return Ok(None);
        };
        let now = ZonedDateTime::now()
            .strftime("%Y-%m-%dT%H:%M:%S%:z")
            .to_string();
        let added = journal.add(&Record::Held(HeldRecord::new(chord, now)));
        added.map_err(|error| match error {
            // The reason first: a long name may not fit into the status line.
            JournalError::Write { path, reason } => {
                let path = path.display();
                anyhow::anyhow!("held, but not kept ({reason}): see to '{path}'")
            }
            error => anyhow::anyhow!("held, but not kept: {error}"),
        })?;
        let elsewhere = journal.take_elsewhere().and_then(Path::file_name);
        Ok(elsewhere.map(|name| {
            let (taken, name) = (chord.taken(), name.to_string_lossy());
            format!("held: {taken}; kept in '{name}', as the name asked for was in use")
        }))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rehearsal::tests::{held_chord, rehearsal};

    #[test]
    fn the_last_nine_come_back() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("evening.session");
        let mut keeping = Keeping::given(&path).unwrap();
        assert!(!path.exists(), "nothing to keep yet");
        for number in 1..=11 {
            keeping.keep(&held_chord(&[(number, 0.0)])).unwrap();
        }
        let again = Keeping::given(&path).unwrap();
        assert_eq!(again.notice(), None);
        let mut rehearsal = rehearsal(&["Trumpet I"]);
        again.shelve(&mut rehearsal);
        let names: Vec<String> = rehearsal.shelf().chords().map(|(_, c)| c.names()).collect();
        assert_eq!(
            names,
            ["p3", "p4", "p5", "p6", "p7", "p8", "p9", "p10", "p11"]
        );
        assert!(rehearsal.shelf().current().is_none());
    }

    #[test]
    fn a_name_that_came_into_use_meanwhile_is_counted_on_and_told() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("evening");
        let mut keeping = Keeping::given(&path).unwrap();
        std::fs::write(&path, "mine\n").unwrap();
        let told = keeping.keep(&held_chord(&[(8, 0.0)])).unwrap();
        assert_eq!(
            told.unwrap(),
            "held: p8; kept in 'evening-2', as the name asked for was in use"
        );
        assert_eq!(keeping.keep(&held_chord(&[(9, 0.0)])).unwrap(), None);
        assert_eq!(std::fs::read_to_string(&path).unwrap(), "mine\n");
    }

    #[test]
    fn a_file_of_another_kind_is_refused_and_a_lost_folder_too() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("band.ron");
        std::fs::write(&path, "mine\n").unwrap();
        let error = Keeping::given(&path).unwrap_err().to_string();
        assert!(error.contains("is no session of concento"), "{error}");
        let error = Keeping::given(&folder.path().join("lost/a.session")).unwrap_err();
        assert!(
            error.to_string().contains("a folder that exists"),
            "{error}"
        );
    }

    #[test]
    fn what_cannot_be_kept_is_told() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("evening.session");
        let mut keeping = Keeping::given(&path).unwrap();
        drop(folder);
        std::fs::write(path.parent().unwrap(), "in the way").unwrap();
        let error = format!("{:#}", keeping.keep(&held_chord(&[(8, 0.0)])).unwrap_err());
        assert!(
            error.starts_with("held, but not kept (") && error.contains("evening.session"),
            "{error}"
        );
        assert!(Keeping::default().keep(&held_chord(&[(8, 0.0)])).is_ok());
        std::fs::remove_file(path.parent().unwrap()).unwrap();
    }
}
