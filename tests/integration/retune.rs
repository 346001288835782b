//! Tunings as MIDI, read back by nothing of the program's own.

use std::fs;
use std::path::Path;

use crate::figures::{rows, scale};
use crate::program::run_in;

/// Keys and the hertz they are tuned to, from raw bytes, by the standard's formula.
fn decoded(bytes: &[u8]) -> Vec<(u8, f64)> {
    let mut found = Vec::new();
    let messages = bytes.split_inclusive(|byte| *byte == 0xf7);
    for message in messages {
        let head = message.iter().position(|byte| *byte == 0xf0).unwrap();
        let message = &message[head..];
        // Universal real time, every device, tuning, single note change, program 0.
        assert_eq!(message[..6], [0xf0, 0x7f, 0x7f, 0x08, 0x02, 0x00]);
        let (count, changes) = (usize::from(message[6]), &message[7..message.len() - 1]);
        assert_eq!(changes.len(), 4 * count);
        assert!(count <= 64 && changes.iter().all(|byte| *byte < 0x80));
        for change in changes.chunks(4) {
            assert_ne!(change[1..], [0x7f, 0x7f, 0x7f], "no change");
            let fraction = f64::from(change[2]) * 128.0 + f64::from(change[3]);
            let semitones = f64::from(change[1]) + fraction / 16_384.0 - 69.0;
            found.push((change[0], 440.0 * 2_f64.powf(semitones / 12.0)));
        }
    }
    found
}

fn retune(folder: &Path, arguments: &[&str]) -> (i32, String, String) {
    run_in(folder, &[&["retune"], arguments].concat())
}

#[test]
fn every_key_stands_where_an_independent_computation_has_it() {
    let folder = tempfile::tempdir().unwrap();
    let arguments = ["--temperament", "vallotti", "--a4", "440", "-o", "all.syx"];
    assert_eq!(retune(folder.path(), &arguments).0, 0);
    let bytes = fs::read(folder.path().join("all.syx")).unwrap();
    let tuned = decoded(&bytes);
    assert_eq!(tuned.len(), 128);
    assert_eq!(bytes.len(), 2 * (8 + 4 * 64));
    let table = rows(
        include_str!("../data/computed_cents.csv"),
        ["temperament", "note", "cents_above_c"],
    );
    let places: Vec<(String, f64)> = table
        .into_iter()
        .filter(|[system, ..]| system == "vallotti")
        .map(|[_, note, cents]| (note, cents.parse().unwrap()))
        .collect();
    let of = |name: &str| places.iter().find(|(note, _)| note == name).unwrap().1;
    let names = [
        "C", "C#", "D", "Eb", "E", "F", "F#", "G", "G#", "A", "Bb", "B",
    ];
    for (key, hz) in tuned {
        let name = names[usize::from(key % 12)];
        let octaves = f64::from(key / 12) - 5.0;
        let expected = 440.0 * 2_f64.powf(octaves + (of(name) - of("A")) / 1200.0);
        let off = 1200.0 * (hz / expected).log2();
        // Never below, and a step of the standard above at the most.
        assert!((-0.001..0.0072).contains(&off), "{key} {name}: {off}");
    }
}

#[test]
fn a_file_is_tuned_and_what_was_in_it_stays() {
    let folder = tempfile::tempdir().unwrap();
    // Tempo, two notes with running status, the end.
    let track =
        b"\0\xff\x51\x03\x07\xa1\x20\0\x90\x3c\x40\x60\x40\x40\x60\x3c\0\0\x40\0\0\xff\x2f\0";
    let mut score = b"MThd\0\0\0\x06\0\x01\0\x02\x01\xe0".to_vec();
    for _ in 0..2 {
        score.extend(b"MTrk");
        score.extend((track.len() as u32).to_be_bytes());
        score.extend(track);
    }
    fs::write(folder.path().join("score.mid"), &score).unwrap();
    let arguments = [
        "--temperament",
        "quarter-comma",
        "--into",
        "score.mid",
        "-o",
        "out.mid",
    ];
    let (code, out, err) = retune(folder.path(), &arguments);
    assert_eq!((code, &*err), (0, ""));
    assert!(
        out.contains("wrote 'out.mid': quarter-comma at A4 = 415 Hz, 126 keys"),
        "{out}"
    );
    assert_eq!(fs::read(folder.path().join("score.mid")).unwrap(), score);
    let tuned = fs::read(folder.path().join("out.mid")).unwrap();
    assert!(tuned.ends_with(&score[14 + 8 + track.len()..]));
    assert_eq!(tuned[14 + 8..][..7], track[..7]);
    let first = tuned.len() - score.len();
    let length = u32::from_be_bytes(tuned[18..22].try_into().unwrap());
    assert_eq!(length as usize, track.len() + first);
    // The selection of bank and program comes before the first note, on the first channel too.
    let select = [0, 0xb0, 101, 0, 0, 100, 4, 0, 6, 0];
    assert!(
        tuned.windows(select.len()).any(|window| window == select),
        "{tuned:02x?}"
    );
}

#[test]
fn whole_cents_are_within_half_a_cent() {
    let folder = tempfile::tempdir().unwrap();
    let arguments = ["--a4", "415", "--whole-cents", "-o", "whole.syx"];
    assert_eq!(retune(folder.path(), &arguments).0, 0);
    let bytes = fs::read(folder.path().join("whole.syx")).unwrap();
    let scale = scale("sixth-comma", 415.0);
    let names = [
        "C", "C#", "D", "Eb", "E", "F", "F#", "G", "G#", "A", "Bb", "B",
    ];
    for (key, hz) in decoded(&bytes) {
        let note = format!(
            "{}{}",
            names[usize::from(key % 12)],
            i32::from(key / 12) - 1
        );
        let Ok(note) = note.parse() else { continue };
        let off = 1200.0 * (hz / scale.frequency(note).get()).log2();
        assert!(off.abs() < 0.507, "{key}: {off}");
        let cents = 1200.0 * (hz / 440.0).log2();
        assert!((cents - cents.round()).abs() < 0.0062, "{key}: {cents}");
    }
}

#[test]
fn nothing_is_written_over_and_mistakes_are_told() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("mine.mid"), "mine").unwrap();
    for (arguments, expected, told) in [
        (&["-o", "mine.mid"][..], 1, "exists already"),
        (&["-o", "tuning.txt"], 2, ".mid"),
        (&["-o", "tuning"], 2, ".mid"),
        (&[], 2, "--output"),
        (&["-o", "a.syx", "--into", "mine.mid"], 2, "--into"),
        (
            &["-o", "a.mid", "--into", "mine.mid"],
            1,
            "no standard MIDI file",
        ),
        (&["-o", "a.mid", "--into", "none.mid"], 1, "none.mid"),
        (&["-o", "a.mid", "--into", "."], 1, "no regular file"),
        (&["-o", "nowhere/a.mid"], 1, "nowhere"),
    ] {
        let (code, out, err) = retune(folder.path(), arguments);
        assert_eq!((code, &*out), (expected, ""), "{arguments:?}: {err}");
        assert!(err.contains(told), "{arguments:?}: {err}");
    }
    let left: Vec<_> = fs::read_dir(folder.path()).unwrap().collect();
    assert_eq!(left.len(), 1);
    assert_eq!(
        fs::read_to_string(folder.path().join("mine.mid")).unwrap(),
        "mine"
    );
}
