use std::fs;

use super::*;
use crate::rehearsal::tests::held_chord;
use proptest::prelude::*;

fn record(number: u8) -> Record {
    let chord = held_chord(&[(8, 0.0), (number, -2.5)]);
    Record::Held(HeldRecord::new(
        &chord,
        format!("2026-11-25T19:40:{number:02}+01:00"),
    ))
}

fn folder() -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("evening.session");
    (folder, path)
}

#[test]
fn what_was_kept_is_found_again() {
    let (_folder, path) = folder();
    let (mut journal, recovered) = Journal::open(&path).unwrap();
    assert_eq!(recovered, Recovered::default());
    journal.add(&record(10)).unwrap();
    journal.add(&record(12)).unwrap();
    drop(journal);
    let text = fs::read_to_string(&path).unwrap();
    insta::assert_snapshot!("journal", text);
    let (mut journal, recovered) = Journal::open(&path).unwrap();
    assert_eq!(recovered.records, [record(10), record(12)]);
    journal.add(&record(13)).unwrap();
    let grown = fs::read_to_string(&path).unwrap();
    assert!(grown.starts_with(&text), "nothing before it has changed");
    assert_eq!(grown.lines().count(), 4);
}

#[test]
fn a_record_becomes_the_chord_again() {
    let Record::Held(record) = record(12);
    let chord = record.chord().unwrap();
    assert_eq!(HeldRecord::new(&chord, record.at.clone()), record);
    let silent = HeldRecord {
        voices: Vec::new(),
        ..record
    };
    assert_eq!(silent.chord(), None);
}

#[test]
fn a_journal_cut_anywhere_loses_no_whole_line_and_goes_on() {
    let (_folder, path) = folder();
    let (mut journal, _) = Journal::open(&path).unwrap();
    let records = [record(10), record(11), record(12)];
    for record in &records {
        journal.add(record).unwrap();
    }
    drop(journal);
    let whole = fs::read(&path).unwrap();
    for cut in 0..=whole.len() {
        fs::write(&path, &whole[..cut]).unwrap();
        let (mut journal, recovered) = Journal::open(&path).unwrap();
        // A record is whole as soon as its last character is there, with or without line end.
        let line_ends = whole.iter().enumerate().filter(|(_, byte)| **byte == b'\n');
        let n_whole = line_ends.skip(1).filter(|(end, _)| *end <= cut).count();
        assert_eq!(recovered.records, records[..n_whole], "cut at {cut}");
        let is_torn = cut > HEAD.len()
            && !whole[..cut].ends_with(b"\n")
            && whole[cut..].first() != Some(&b'\n');
        assert_eq!(recovered.notice().is_some(), is_torn, "cut at {cut}");
        journal.add(&record(13)).unwrap();
        drop(journal);
        let after = fs::read(&path).unwrap();
        assert!(
            after.starts_with(&whole[..cut]),
            "cut at {cut}: nothing is overwritten"
        );
        let (_, recovered) = Journal::open(&path).unwrap();
        let mut expected = records[..n_whole].to_vec();
        expected.push(record(13));
        assert_eq!(recovered.records, expected, "cut at {cut}");
        assert_eq!(
            recovered.passed_over.len(),
            usize::from(is_torn),
            "cut at {cut}"
        );
    }
}

#[test]
fn what_is_no_journal_is_left_alone() {
    let (folder, path) = folder();
    for text in [
        "my diary\n",
        include_str!("../../../assets/ensemble.ron"),
        "(version: 1, journal: \"other\")\n",
        "(version: 1)\n",
        "\u{0}\u{1}",
        "\n",
    ] {
        fs::write(&path, text).unwrap();
        let error = Journal::open(&path).unwrap_err();
        assert!(matches!(error, JournalError::Foreign(_)), "{text}: {error}");
        assert_eq!(fs::read_to_string(&path).unwrap(), text);
    }
    fs::write(&path, [0xff, 0xfe, b'\n']).unwrap();
    assert!(matches!(
        Journal::open(&path),
        Err(JournalError::Foreign(_))
    ));
    fs::write(&path, "(version: 2, journal: \"concento\", more: 1)\n").unwrap();
    let error = Journal::open(&path).unwrap_err().to_string();
    assert!(error.contains("is a session of version 2"), "{error}");
    let lost = folder.path().join("nowhere/a.session");
    assert!(matches!(
        Journal::open(&lost),
        Err(JournalError::Write { .. })
    ));
}

#[test]
fn what_is_no_file_is_refused_at_once() {
    let folder = tempfile::tempdir().unwrap();
    let refused = |path: &Path| {
        let error = Journal::open(path).unwrap_err();
        assert!(matches!(error, JournalError::NotAFile(_)), "{error}");
    };
    refused(folder.path());
    if cfg!(unix) {
        refused(Path::new("/dev/null"));
        let pipe = folder.path().join("pipe");
        let made = std::process::Command::new("mkfifo").arg(&pipe).status();
        if made.is_ok_and(|status| status.success()) {
            refused(&pipe);
        }
    }
}

#[test]
fn a_file_that_may_only_be_read_says_so() {
    let (_folder, path) = folder();
    fs::write(&path, HEAD).unwrap();
    let denied = || io::Error::from(io::ErrorKind::PermissionDenied);
    let told = refused(&path, denied(), true).to_string();
    assert!(told.contains("may be read but not written"), "{told}");
    let told = refused(&path, denied(), false).to_string();
    assert!(told.starts_with("cannot read '"), "{told}");
    let mut permissions = fs::metadata(&path).unwrap().permissions();
    permissions.set_readonly(true);
    fs::set_permissions(&path, permissions).unwrap();
    // Some users may write whatever the permissions say.
    if let Err(error) = Journal::open(&path) {
        assert!(matches!(error, JournalError::ReadOnly { .. }), "{error}");
    }
}

#[test]
fn a_name_is_counted_on_with_or_without_ending() {
    for (name, counted) in [
        ("evening", "evening-2"),
        ("evening.session", "evening-2.session"),
        ("an.evening.session", "an.evening-2.session"),
        (".evening", ".evening-2"),
    ] {
        assert_eq!(sibling(Path::new(name), 2), Path::new(counted));
    }
}

#[test]
fn damaged_lines_are_told_and_passed_over() {
    let (_folder, path) = folder();
    let (mut journal, _) = Journal::open(&path).unwrap();
    journal.add(&record(10)).unwrap();
    drop(journal);
    let mut text = fs::read_to_string(&path).unwrap();
    text.push_str("Held((at: \"x\"))\n\u{1b}[2J\n");
    fs::write(&path, &text).unwrap();
    let (_, recovered) = Journal::open(&path).unwrap();
    assert_eq!(
        (recovered.records.len(), &recovered.passed_over[..]),
        (1, &[3, 4][..])
    );
    let notice = recovered.notice().unwrap();
    assert_eq!(
        notice,
        "2 lines of the session cannot be read and are passed over, the first is line 3"
    );
}

#[test]
fn a_journal_is_made_when_there_is_something_to_keep() {
    let (folder, _) = folder();
    let path = folder.path().join("sessions/evening.session");
    let mut journal = Journal::when_needed(&path);
    assert!(!path.exists());
    journal.add(&record(10)).unwrap();
    journal.add(&record(11)).unwrap();
    // Another rehearsal of the same second does not touch it.
    let mut other = Journal::when_needed(&path);
    other.add(&record(12)).unwrap();
    assert_eq!(journal.take_elsewhere(), None);
    assert_eq!(
        other.take_elsewhere(),
        Some(folder.path().join("sessions/evening-2.session").as_path())
    );
    assert_eq!(other.take_elsewhere(), None, "it is told once");
    assert_eq!(
        other.path(),
        folder.path().join("sessions/evening-2.session")
    );
    assert_eq!(
        Journal::open(&path).unwrap().1.records,
        [record(10), record(11)]
    );
    assert_eq!(Journal::open(other.path()).unwrap().1.records, [record(12)]);
}

#[cfg(unix)]
#[test]
fn a_full_disk_is_told_and_the_next_line_begins_anew() {
    // Linux's own full disk; elsewhere there is none to test with.
    if !Path::new("/dev/full").exists() {
        return;
    }
    let (_folder, path) = folder();
    let (mut journal, _) = Journal::open(&path).unwrap();
    journal.add(&record(10)).unwrap();
    let paper = journal
        .file
        .replace(OpenOptions::new().append(true).open("/dev/full").unwrap());
    let error = journal.add(&record(11)).unwrap_err().to_string();
    assert!(error.starts_with("cannot write '"), "{error}");
    journal.file = paper;
    journal.add(&record(12)).unwrap();
    let (_, recovered) = Journal::open(&path).unwrap();
    assert_eq!(recovered.records, [record(10), record(12)]);
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
    #[test]
    fn no_text_breaks_the_reader(lines in prop::collection::vec("\\PC{0,60}", 0..6)) {
        let text = format!("{HEAD}{}", lines.join("\n"));
        let (recovered, _) = recover(text.as_bytes(), Path::new("x")).unwrap();
        prop_assert!(recovered.passed_over.len() <= lines.len());
    }
}
