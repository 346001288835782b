use std::fs;

use super::*;
use crate::rehearsal::tests::{band, reading};
use crate::rehearsal::{Rehearsal, Update};
use crate::session::journal::{HEAD, line};

/// The lines of a sitting of two players who hold D5 for 3 s and then E5, in the middle of
/// which it breaks off, or ends.
fn sitting(begun: &str, ends: bool) -> String {
    let mut rehearsal = Rehearsal::new(band(&["Violin I", "Viola"]), Vec::new());
    let mut entries = Vec::new();
    for hop in 1..=620_u32 {
        let time = Seconds::new(0.01 * f64::from(hop));
        rehearsal.tick(time);
        for channel in 0..2 {
            let hz = if hop < 300 { 555.0 } else { 621.0 };
            let mut reading = reading(hz + 2.0 * channel as f64);
            reading.available = time;
            rehearsal.take(Update::Reading(channel, reading));
        }
        entries.extend(rehearsal.take_entries());
    }
    if ends {
        rehearsal.finish();
        entries.extend(rehearsal.take_entries());
    }
    let mut records = vec![Record::Begun {
        at: begun.to_owned().try_into().unwrap(),
        program: crate::session::fields::Line::tidied("0"),
    }];
    records.extend(entries.iter().map(|entry| Record::of(entry, begun)));
    if ends {
        let at = entries.last().unwrap().at().into();
        records.push(Record::Ended { at });
    }
    records.iter().filter_map(line).collect()
}

#[test]
fn every_sitting_that_broke_off_keeps_its_last_notes() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("evening.session");
    let begun = "2026-11-25T19:40:00+01:00";
    let crash = sitting(begun, false);
    let later = sitting("2026-11-25T20:40:00+01:00", true);
    let again = sitting("2026-11-25T21:40:00+01:00", false);
    // Where the line that begins it was lost, the sitting before has broken off all the same.
    let headless = crash.split_once('\n').unwrap().1;
    for (text, n_notes) in [
        (crash.clone(), 4),
        (format!("{crash}{later}"), 8),
        (format!("{later}{again}"), 8),
        (format!("{crash}{later}{again}"), 12),
        (format!("{crash}{headless}"), 8),
    ] {
        fs::write(&path, format!("{HEAD}{text}")).unwrap();
        let loaded = load_session(&path).unwrap();
        let surveyed = survey_session(&path).unwrap();
        assert_eq!(loaded.chronicle.notes().len(), n_notes);
        assert_eq!(loaded.chronicle, surveyed.chronicle);
        assert_eq!(loaded.length(), surveyed.length());
        let gone_on = go_on(&path).unwrap().session;
        assert_eq!(gone_on.chronicle, surveyed.chronicle);
        let ends: Vec<f64> = loaded
            .chronicle
            .notes()
            .iter()
            .map(|n| n.ended.get())
            .collect();
        assert!(ends.is_sorted(), "{ends:?}");
        let last = loaded.chronicle.notes().last().unwrap();
        assert!((last.hertz.get() - 623.0).abs() < 0.1, "{last:?}");
    }
}
