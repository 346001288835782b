use std::fs;
use std::io;
use std::sync::atomic::{AtomicUsize, Ordering};

use super::paper::{Paper, Sheet};
use super::writer::Pen;
use super::*;
use crate::session::journal::{HEAD, Record, line};
use crate::session::samples::entries;
use crate::session::{go_on, load_session};

const BEGUN: &str = "2026-11-25T19:40:00+01:00";

/// A disk with room for so many bytes, which may grow.
#[derive(Debug, Clone, Default)]
struct SmallDisk {
    written: Arc<Mutex<Vec<u8>>>,
    room: Arc<AtomicUsize>,
}

impl Paper for SmallDisk {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let mut written = self.written.lock().unwrap();
        let room = self.room.load(Ordering::Relaxed) - written.len();
        if room == 0 {
            return Err(io::ErrorKind::StorageFull.into());
        }
        // As a real one, it takes what it can.
        let count = bytes.len().min(room);
        written.extend(&bytes[..count]);
        Ok(count)
    }

    fn sync(&mut self) -> io::Result<()> {
        Ok(())
    }

    fn is_in_place(&self) -> bool {
        true
    }
}

impl Desk for SmallDisk {
    fn lay(&mut self) -> io::Result<Sheet> {
        Ok(Sheet {
            paper: Box::new(self.clone()),
            path: "evening".into(),
            head: HEAD.to_owned(),
        })
    }

    fn wanted(&self) -> &Path {
        Path::new("evening")
    }
}

/// What the file must hold for these entries.
fn expected(entries: &[Entry]) -> String {
    let begun = Record::Begun {
        at: BEGUN.to_owned().try_into().unwrap(),
        program: Text::tidied(env!("CARGO_PKG_VERSION")),
    };
    let lines = entries.iter().map(|entry| Record::of(entry, BEGUN));
    let lines: String = [begun]
        .into_iter()
        .chain(lines)
        .filter_map(|r| line(&r))
        .collect();
    format!("{HEAD}{lines}")
}

fn until(what: &str, mut is_so: impl FnMut() -> bool) {
    let patience = Instant::now() + Duration::from_secs(20);
    while !is_so() {
        assert!(Instant::now() < patience, "{what}");
        thread::sleep(Duration::from_millis(10));
    }
}

#[test]
fn a_full_disk_tears_no_line_wherever_it_is_full() {
    let bytes: Vec<u8> = expected(&entries(1, 1)).into_bytes();
    for room in (0..bytes.len()).step_by(7) {
        let mut disk = SmallDisk::default();
        disk.room.store(room, Ordering::Relaxed);
        let mut pen = Pen::default();
        pen.take_up(bytes.clone());
        let error = pen.write(&mut disk).unwrap_err();
        assert_eq!(error.kind(), io::ErrorKind::StorageFull);
        assert!(pen.write(&mut disk).is_err() && !pen.is_empty());
        disk.room.store(room + 40, Ordering::Relaxed);
        let _ = pen.write(&mut disk);
        disk.room.store(usize::MAX, Ordering::Relaxed);
        pen.write(&mut disk).unwrap();
        assert!(pen.is_empty());
        assert_eq!(*disk.written.lock().unwrap(), bytes, "full at {room}");
    }
}

#[test]
fn a_disk_that_was_full_for_a_while_holds_everything_in_the_end() {
    let disk = SmallDisk::default();
    disk.room.store(1_000, Ordering::Relaxed);
    let paper: Box<dyn Desk> = Box::new(disk.clone());
    let mut recorder = Recorder::with_desk(Some(paper), Path::new("evening"), BEGUN);
    assert_eq!(recorder.status(), Status::Into("evening".to_owned()));
    let entries = entries(4, 10);
    let (before, after) = entries.split_at(entries.len() / 2);
    recorder.record(before);
    let full = Status::Failing("the disk is full".to_owned());
    until("the failure is told", || recorder.status() == full);
    recorder.record(after);
    disk.room.store(usize::MAX, Ordering::Relaxed);
    until("it recovers", || {
        recorder.status() == Status::Into("evening".to_owned())
    });
    assert_eq!(
        recorder.take_notice().as_deref(),
        Some("the session is being written again")
    );
    assert_eq!(recorder.take_notice(), None);
    let latest = recorder.latest;
    assert_eq!(recorder.finish(), None);
    let ended = line(&Record::Ended { at: latest.into() }).unwrap();
    let written = String::from_utf8(disk.written.lock().unwrap().clone()).unwrap();
    assert_eq!(written, format!("{}{ended}", expected(&entries)));
}

#[test]
fn what_cannot_be_written_at_the_end_is_told() {
    let disk = SmallDisk::default();
    let mut recorder = Recorder::with_desk(Some(Box::new(disk)), Path::new("evening"), BEGUN);
    recorder.record(&entries(1, 1));
    assert_eq!(
        recorder.finish().unwrap(),
        "the end of the session could not be written (the disk is full)"
    );
}

#[test]
fn a_file_is_made_when_there_is_something_to_keep() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("sessions/evening.session");
    let place = || Place::New {
        path: path.clone(),
        makes_folder: true,
    };
    let entries = entries(2, 1);
    let mut recorder = Recorder::start(place(), BEGUN);
    recorder.record(&entries[..2]);
    assert_eq!(recorder.finish(), None);
    assert!(!path.exists());
    for name in ["evening", "evening-2"] {
        let mut recorder = Recorder::start(place(), BEGUN);
        recorder.record(&entries);
        until("it is made", || {
            path.with_file_name(format!("{name}.session")).exists()
        });
        until("its name is told", || {
            recorder.status() == Status::Into(format!("{name}.session"))
        });
        let told = recorder.take_notice();
        assert_eq!(told.is_some(), name != "evening", "{told:?}");
        assert_eq!(recorder.finish(), None);
        let session = load_session(&path.with_file_name(format!("{name}.session"))).unwrap();
        assert_eq!(session.name, name);
        assert_eq!(session.begun, BEGUN);
        assert!(session.ended_well);
        assert_eq!(session.entries.len(), entries.len());
    }
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let mode = path.metadata().unwrap().permissions().mode();
        assert_eq!(mode & 0o777, 0o600, "nobody else may read it");
    }
}

#[test]
fn a_file_that_is_taken_away_is_told_and_another_one_begun() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("evening.session");
    let place = Place::New {
        path: path.clone(),
        makes_folder: false,
    };
    let mut recorder = Recorder::start(place, BEGUN);
    let entries = entries(2, 1);
    recorder.record(&entries);
    let length = expected(&entries).len() as u64;
    let is_written = || path.metadata().is_ok_and(|data| data.len() == length);
    until("it is written", is_written);
    fs::remove_file(&path).unwrap();
    until("it is written again", is_written);
    let mut told = None;
    until("it is told", || {
        told = recorder.take_notice();
        told.is_some()
    });
    let told = told.unwrap();
    assert!(
        told.starts_with("the session file was taken away"),
        "{told}"
    );
    let last = &entries[entries.len() - 1..];
    recorder.record(last);
    let latest = recorder.latest;
    assert_eq!(recorder.finish(), None);
    let ended = line(&Record::Ended { at: latest.into() }).unwrap();
    // Nothing of what was written before is missing, and nothing is there twice.
    let all: Vec<Entry> = entries.iter().chain(last).cloned().collect();
    let written = fs::read_to_string(&path).unwrap();
    assert_eq!(written, format!("{}{ended}", expected(&all)));
    let session = load_session(&path).unwrap();
    assert_eq!(session.chronicle.sittings().len(), 1);
    assert_eq!(session.begun, BEGUN);
    assert!(session.ended_well && session.recovered.notice().is_none());
}

/// Paper that is taken away once and cannot be read then.
#[derive(Debug, Clone, Default)]
struct Leaves {
    sheets: Arc<Mutex<Vec<Vec<u8>>>>,
    n_taken: Arc<AtomicUsize>,
    number: usize,
}

impl Paper for Leaves {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.sheets.lock().unwrap()[self.number].extend(bytes);
        Ok(bytes.len())
    }

    fn sync(&mut self) -> io::Result<()> {
        Ok(())
    }

    fn is_in_place(&self) -> bool {
        self.n_taken.load(Ordering::Relaxed) <= self.number
    }
}

impl Desk for Leaves {
    fn lay(&mut self) -> io::Result<Sheet> {
        let mut sheets = self.sheets.lock().unwrap();
        sheets.push(Vec::new());
        let paper = Self {
            number: sheets.len() - 1,
            ..self.clone()
        };
        Ok(Sheet {
            paper: Box::new(paper),
            path: "evening".into(),
            head: HEAD.to_owned(),
        })
    }

    fn wanted(&self) -> &Path {
        Path::new("evening")
    }
}

#[test]
fn what_was_decided_is_told_again_where_the_file_cannot_be_read() {
    let leaves = Leaves::default();
    let paper: Box<dyn Desk> = Box::new(leaves.clone());
    let mut recorder = Recorder::with_desk(Some(paper), Path::new("evening"), BEGUN);
    let entries = entries(2, 1);
    let sheet = |number: usize| {
        let sheets = leaves.sheets.lock().unwrap();
        sheets
            .get(number)
            .map(|bytes| String::from_utf8(bytes.clone()).unwrap())
    };
    recorder.record(&entries);
    let all = expected(&entries);
    until("it is written", || sheet(0).is_some_and(|text| text == all));
    leaves.n_taken.store(1, Ordering::Relaxed);
    recorder.record(&entries[entries.len() - 1..]);
    until("there is other paper", || sheet(1).is_some());
    assert_eq!(recorder.finish(), None);
    let count = |text: &str| {
        let lines = text.lines();
        let lasts = [
            "Seated(", "Tuned(", "Decided(", "Marked(", "Warmth(", "Held(",
        ];
        lasts.map(|kind| lines.clone().filter(|line| line.starts_with(kind)).count())
    };
    let (before, after) = (sheet(0).unwrap(), sheet(1).unwrap());
    assert!(after.starts_with(HEAD));
    assert_eq!(count(&after), count(&before), "{after}");
}

#[test]
fn a_sitting_is_added_below_a_torn_line() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("evening.session");
    let torn = format!("{}Marked(at:9", expected(&entries(1, 4)));
    fs::write(&path, &torn).unwrap();
    let going_on = go_on(&path).unwrap();
    assert_eq!(going_on.session.recovered.n_passed_over, 1);
    assert!(!going_on.session.ended_well);
    let later = "2026-11-25T20:40:00+01:00";
    assert_eq!(going_on.session.resumed(later), Seconds::new(3_600.0));
    let mut recorder = Recorder::start(Place::GoingOn(Box::new(going_on)), later);
    recorder.record(&entries(1, 4));
    assert_eq!(recorder.finish(), None);
    assert!(fs::read_to_string(&path).unwrap().starts_with(&torn));
    let session = load_session(&path).unwrap();
    assert_eq!(session.recovered.n_passed_over, 1);
    assert_eq!(session.chronicle.sittings().len(), 2);
    assert_eq!(session.chronicle.sittings()[1].begun, Seconds::new(3_600.0));
    // And the note that sounded when the first one broke off.
    assert_eq!(session.entries.len(), 2 * entries(1, 4).len() + 1);
    assert_eq!(session.length(), Seconds::new(3_604.0));
    let last = session.entries.last().unwrap();
    assert_eq!(session.date(last.at()), "2026-11-25T20:40:04+01:00");
}

#[test]
fn a_folder_in_the_way_is_told_until_it_can_be_made() {
    let folder = tempfile::tempdir().unwrap();
    let in_the_way = folder.path().join("sessions");
    fs::write(&in_the_way, "in the way").unwrap();
    let path = in_the_way.join("evening.session");
    let place = Place::New {
        path: path.clone(),
        makes_folder: true,
    };
    let mut recorder = Recorder::start(place, BEGUN);
    recorder.record(&entries(1, 1));
    until("the failure is told", || {
        matches!(recorder.status(), Status::Failing(_))
    });
    fs::remove_file(&in_the_way).unwrap();
    until("it recovers", || {
        recorder.status() == Status::Into("evening.session".to_owned())
    });
    assert_eq!(recorder.finish(), None);
    let session = load_session(&path).unwrap();
    assert_eq!(session.entries.len(), entries(1, 1).len());
}

/// Records into `wanted` and lets `happen` take place; what is told at the end, and what there is
/// in the place of rescue.
fn rescued(
    wanted: &Path,
    rescue: &Path,
    happen: impl FnOnce(),
) -> (Vec<Entry>, Option<String>, Option<String>) {
    let place = Place::New {
        path: wanted.to_owned(),
        makes_folder: false,
    };
    let mut recorder = Recorder::start(place, BEGUN).or_rescued_into(Some(rescue.to_owned()));
    let entries = entries(2, 4);
    let (before, after) = entries.split_at(entries.len() / 2);
    recorder.record(before);
    happen();
    until("the failure is told", || {
        matches!(recorder.status(), Status::Failing(_))
    });
    recorder.record(after);
    let told = recorder.finish();
    (entries, told, fs::read_to_string(rescue).ok())
}

#[test]
fn a_session_whose_folder_is_gone_at_the_end_is_whole_in_another_place() {
    let folder = tempfile::tempdir().unwrap();
    let (stick, rescue) = (
        folder.path().join("stick"),
        folder.path().join("data/evening"),
    );
    fs::create_dir(&stick).unwrap();
    let wanted = stick.join("evening");
    let (entries, told, kept) = rescued(&wanted, &rescue, || {
        until("it is written", || {
            wanted.metadata().is_ok_and(|d| d.len() > 1_000)
        });
        fs::remove_dir_all(&stick).unwrap();
    });
    let told = told.unwrap();
    let place = format!(
        "(the folder is not there): all of it is in '{}'",
        rescue.display()
    );
    assert!(told.ends_with(&place), "{told}");
    let kept = kept.unwrap();
    assert!(kept.starts_with(&expected(&entries)), "{kept}");
    let session = load_session(&rescue).unwrap();
    assert!(session.ended_well && session.recovered.notice().is_none());
}

#[test]
fn a_session_that_could_never_be_begun_is_whole_in_another_place_too() {
    let folder = tempfile::tempdir().unwrap();
    let rescue = folder.path().join("data/evening");
    let wanted = folder.path().join("nowhere/evening");
    let (entries, told, kept) = rescued(&wanted, &rescue, || {});
    assert!(told.unwrap().contains("all of it is in"));
    assert!(kept.unwrap().starts_with(&expected(&entries)));
    assert!(load_session(&rescue).unwrap().ended_well);
}

#[test]
fn a_name_that_is_taken_in_the_place_of_rescue_is_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let rescue = folder.path().join("evening.session");
    fs::write(&rescue, "another evening").unwrap();
    let wanted = folder.path().join("nowhere/evening.session");
    let (_, told, kept) = rescued(&wanted, &rescue, || {});
    assert_eq!(kept.unwrap(), "another evening");
    let told = told.unwrap();
    let path = told.split('\'').nth(1).unwrap();
    assert!(load_session(Path::new(path)).unwrap().ended_well, "{told}");
}
