use std::fs;

use super::*;
use crate::rehearsal::tests::{band, held_chord, sixth_comma};
use crate::rehearsal::{Entry, HeldVoice};
use crate::session::journal::held::HeldRecord;
use crate::session::samples::{entries, entry};
use crate::units::Seconds;
use proptest::prelude::*;

const BEGUN: &str = "2026-11-25T19:40:00+01:00";

fn line_of(entry: &Entry) -> String {
    line(&Record::of(entry, BEGUN)).unwrap()
}

fn file_of(lines: &[String]) -> String {
    format!("{HEAD}{}", lines.concat())
}

fn read(bytes: &[u8]) -> Result<(Vec<Record>, Recovered, String), JournalError> {
    let mut records = Vec::new();
    let (recovered, before_next) = read_journal(
        bytes,
        Path::new("x"),
        Wanted::Everything,
        |said| match said {
            Said::Record(record) => records.push(*record),
            Said::Heard(..) => panic!("everything was wanted"),
        },
    )?;
    Ok((records, recovered, before_next))
}

fn back(line: &str) -> Option<Entry> {
    let (records, recovered, _) = read(file_of(&[line.to_owned()]).as_bytes()).unwrap();
    assert_eq!(recovered, Recovered::default(), "{line}");
    let record = records.into_iter().next()?;
    record.into_entry(|_| Seconds::default())
}

#[test]
fn every_kind_of_line_reads_like_this() {
    let lines: Vec<String> = entries(2, 3).iter().map(line_of).collect();
    insta::assert_snapshot!("journal", file_of(&lines));
}

#[test]
fn the_chords_of_the_first_sessions_are_still_read() {
    let old = "Held((at:\"2026-11-25T19:40:10+01:00\",title:\"An afternoon\",a4_hz:415.0,\
               kept_by:\"A\",temperament:\"sixth-comma\",chain:\"Eb-G#\",key:\"D\",\
               fundamental_hz:69.32,voices:[(label:\"p8\",channel:\"Trumpet 8\",hz:554.6,\
               spread_cents:0.5)]))\n";
    let Some(Entry::Held { chord, .. }) = back(old) else {
        panic!("{old}");
    };
    assert_eq!(chord.names(), "p8");
    let again = line(&Record::Held(HeldRecord::new(
        &chord,
        None,
        "2026-11-25T19:40:10+01:00",
    )));
    assert_eq!(again.unwrap(), old);
    let silent = HeldRecord::new(
        &crate::rehearsal::HeldChord {
            voices: Vec::<HeldVoice>::new(),
            ..held_chord(&[(8, 0.0)])
        },
        None,
        BEGUN,
    );
    assert_eq!(silent.chord(), None);
}

#[test]
fn every_shipped_temperament_comes_back() {
    for temperament in crate::session::temperaments(None).unwrap() {
        let entry = Entry::Tuned {
            at: Seconds::new(1.0),
            tuning: Box::new(sixth_comma().in_temperament(&temperament)),
        };
        assert_eq!(back(&line_of(&entry)), Some(entry), "{}", temperament.name);
    }
}

#[test]
fn a_journal_cut_anywhere_loses_no_whole_line() {
    let lines: Vec<String> = entries(2, 7).iter().map(line_of).collect();
    let whole = file_of(&lines).into_bytes();
    let (all, recovered, before_next) = read(&whole).unwrap();
    assert_eq!((all.len(), before_next.as_str()), (lines.len(), ""));
    assert_eq!(recovered, Recovered::default());
    let ends: Vec<usize> = (0..whole.len())
        .filter(|end| whole[*end] == b'\n')
        .collect();
    for cut in 0..=whole.len() {
        let (records, recovered, before_next) = read(&whole[..cut]).unwrap();
        // A record is whole as soon as its last character is there, with or without line end.
        let n_whole = ends.iter().skip(1).filter(|end| **end <= cut).count();
        assert_eq!(records, all[..n_whole], "cut at {cut}");
        let is_torn = cut > HEAD.len()
            && !whole[..cut].ends_with(b"\n")
            && whole[cut..].first() != Some(&b'\n');
        assert_eq!(recovered.notice().is_some(), is_torn, "cut at {cut}");
        // Whatever follows stands on a line of its own.
        let mut grown = whole[..cut].to_vec();
        grown.extend(before_next.as_bytes());
        grown.extend(lines[0].as_bytes());
        let (again, after, _) = read(&grown).unwrap();
        assert_eq!(again.len(), n_whole + 1, "cut at {cut}");
        assert_eq!(after.n_passed_over, usize::from(is_torn), "cut at {cut}");
    }
}

#[test]
fn what_is_no_journal_is_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("evening.session");
    for text in [
        "my diary\n",
        include_str!("../../../assets/ensemble.ron"),
        "(version: 1, journal: \"other\")\n",
        "(version: 1)\n",
        "\u{0}\u{1}",
        "\n",
    ] {
        fs::write(&path, text).unwrap();
        let error = open(&path, |_| {}).unwrap_err();
        assert!(matches!(error, JournalError::Foreign(_)), "{text}: {error}");
        assert_eq!(fs::read_to_string(&path).unwrap(), text);
        assert!(!is_journal(&path));
    }
    fs::write(&path, [0xff, 0xfe, b'\n']).unwrap();
    let error = open(&path, |_| {}).unwrap_err();
    assert!(matches!(error, JournalError::Foreign(_)), "{error}");
    fs::write(&path, "(version: 2, journal: \"concento\", more: 1)\n").unwrap();
    let error = open(&path, |_| {}).unwrap_err().to_string();
    assert!(error.contains("is a session of version 2"), "{error}");
    fs::write(&path, HEAD).unwrap();
    assert!(is_journal(&path));
}

#[test]
fn what_is_no_file_is_refused_at_once() {
    let folder = tempfile::tempdir().unwrap();
    let refused = |path: &Path| {
        let error = open(path, |_| {}).unwrap_err();
        assert!(matches!(error, JournalError::NotAFile(_)), "{error}");
        let error = look(path, Wanted::Everything, |_| {}).unwrap_err();
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
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("evening.session");
    fs::write(&path, HEAD).unwrap();
    let denied = || io::Error::from(io::ErrorKind::PermissionDenied);
    let told = refused(&path, denied(), true).to_string();
    assert!(told.contains("may be read but not written"), "{told}");
    let told = refused(&path, denied(), false).to_string();
    assert!(told.starts_with("cannot read '"), "{told}");
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
fn damaged_and_unknown_lines_are_told_and_passed_over() {
    let good = line_of(&entries(1, 1)[0]);
    let bad = [
        "Held((at: \"x\"))\n".to_owned(),
        "\u{1b}[2J\n".to_owned(),
        "Applause(at:3.0)\n".to_owned(),
        "Marked(at:1.0,text:\"a\\u{1b}b\")\n".to_owned(),
        "Marked(at:1.0,text:\"a\",more:1)\n".to_owned(),
        "Marked(at:-1.0,text:\"a\")\n".to_owned(),
        "Marked(at:inf,text:\"a\")\n".to_owned(),
        "Warmth(at:1.0,celsius:NaN)\n".to_owned(),
        "Begun(at:\"soon\",program:\"1\")\n".to_owned(),
        "Heard(at:1.0,ch:[\"64 -20 440.00\"])\n".to_owned(),
        "Heard(at:1.0,ch:[\"0 -20 .40\"])\n".to_owned(),
        "Heard(at:1.0,ch:[\"0 -20 inf\"])\n".to_owned(),
        format!("Heard(at:1.0,ch:[\"0 -20{}\"])\n", " -".repeat(51)),
        "Heard(at:1.0,ch:[],chords:[\"0 held 1; #1 p8 440.00 1 merged:1:2\"])\n".to_owned(),
        format!("Marked(at:1.0,text:\"{}\")\n", "a".repeat(70_000)),
    ];
    let text = file_of(&[vec![good.clone()], bad.to_vec(), vec![good]].concat());
    let (records, recovered, _) = read(text.as_bytes()).unwrap();
    assert_eq!(records.len(), 2);
    assert_eq!(recovered.n_passed_over, bad.len());
    assert_eq!(
        recovered.notice().unwrap(),
        "15 lines of the session cannot be read and are passed over, the first is line 3"
    );
}

#[test]
fn an_hour_of_eight_players_stays_small() {
    // A minute in which all sound all the time, two of them with vibrato, and each begins a
    // note every two and a half seconds.
    let bytes: usize = entries(8, 60)
        .iter()
        .map(|entry| line_of(entry).len())
        .sum();
    let megabytes_an_hour = bytes as f64 * 60.0 / 1e6;
    assert!(megabytes_an_hour < 5.0, "{megabytes_an_hour} MB");
    assert!(
        megabytes_an_hour > 2.0,
        "{megabytes_an_hour} MB: what is missing?"
    );
}

#[test]
fn who_plays_comes_back_in_full() {
    let mut ensemble = band(&["Trumpet I", "Room", "Organ"]);
    ensemble.channels[2].chain = Some("Ab-D#".parse().unwrap());
    ensemble.title = "Two\nlines \u{1b}[2J".to_owned();
    let entry = Entry::Seated {
        at: Seconds::default(),
        ensemble: Box::new(ensemble.clone()),
    };
    let Some(Entry::Seated { ensemble: read, .. }) = back(&line_of(&entry)) else {
        panic!("no ensemble");
    };
    assert_eq!(read.title, "Two lines [2J");
    assert_eq!(read.channels, ensemble.channels);
    assert_eq!(read.tuning, ensemble.tuning);
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn every_entry_comes_there_and_back(entry in entry()) {
        let line = line_of(&entry);
        let once = back(&line).unwrap();
        prop_assert_eq!(std::mem::discriminant(&once), std::mem::discriminant(&entry));
        prop_assert!((once.at().get() - entry.at().get()).abs() <= 5.1e-4);
        // Rounded once, it stays as it is.
        let twice = back(&line_of(&once)).unwrap();
        prop_assert_eq!(twice, once);
    }

    #[test]
    fn the_quick_reader_agrees_with_the_general_one(entry in entry()) {
        let line = line_of(&entry);
        if matches!(entry, Entry::Heard(_)) {
            let quick = Record::heard_at_once(line.trim_end()).unwrap();
            let general: Record = crate::session::file_error::parse(&line).unwrap();
            prop_assert_eq!(quick, general);
            let when = Record::heard_when(line.trim_end()).unwrap();
            prop_assert!((when.get() - entry.at().get()).abs() <= 5.1e-4);
        } else {
            prop_assert_eq!(Record::heard_at_once(&line), None);
        }
    }

    #[test]
    fn no_text_breaks_the_reader(lines in prop::collection::vec("\\PC{0,60}", 0..6)) {
        let text = format!("{HEAD}{}", lines.join("\n"));
        let (_, recovered, _) = read(text.as_bytes()).unwrap();
        prop_assert!(recovered.n_passed_over <= lines.len());
    }

    #[test]
    fn no_damage_breaks_the_reader(
        entry in entry(),
        place in 0.0..1.0_f64,
        damage in prop::collection::vec(any::<u8>(), 1..4),
    ) {
        let mut line = line_of(&entry).into_bytes();
        let place = (place * line.len() as f64) as usize;
        line.splice(place..(place + damage.len()).min(line.len()), damage);
        let mut file = HEAD.as_bytes().to_vec();
        file.extend(line);
        prop_assert!(read(&file).is_ok());
    }

    #[test]
    fn no_compact_text_breaks_the_reader(text in "[-0-9.!~=| #p/A-Gb?;:a-z]{0,60}") {
        let _ = super::heard::channel_from_text(&text);
        let _ = super::voices::voices_from_text(&text);
        let _ = Record::heard_at_once(&text);
    }
}
