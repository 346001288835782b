//! `concento analyse` on the sound of a demo, and what needs a terminal.

use std::io::Read;
use std::process::{Command, Stdio};

use serde_json::Value;
use tempfile::TempDir;

use crate::program::run;

/// The first seconds of the default demo: the trumpets' chord and the organ, eight channels.
fn take(folder: &TempDir) -> String {
    let path = folder.path().join("take.wav").to_str().unwrap().to_owned();
    let (code, _, errors) = run(&[
        "demo",
        "--write",
        &path,
        "--seconds",
        "4",
        "--rate",
        "16000",
    ]);
    assert_eq!((code, errors.as_str()), (0, ""));
    path
}

#[test]
fn every_reading_is_a_line_of_json_with_both_places() {
    let folder = tempfile::tempdir().unwrap();
    let (code, out, errors) = run(&["analyse", &take(&folder), "--format", "json"]);
    assert_eq!((code, errors.as_str()), (0, ""));
    let lines: Vec<Value> = out
        .lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect();
    // A hundred a second and channel.
    assert_eq!(lines.len(), 4 * 100 * 8);
    let times: Vec<f64> = lines
        .iter()
        .map(|l| l["available_s"].as_f64().unwrap())
        .collect();
    assert!(
        times.is_sorted(),
        "in the order in which they could be shown"
    );
    // The organ plays the tempered F sharp, 7.2 cents above the fifth partial's place:
    // 386.3 against 393.5 cents in sixth-comma meantone (computed).
    let organ = |l: &&Value| l["channel"] == 8 && l["available_s"].as_f64().unwrap() > 2.0;
    let readings: Vec<&Value> = lines.iter().filter(organ).collect();
    assert!(readings.len() >= 199);
    for reading in readings {
        assert_eq!(reading["why"], Value::Null, "{reading}");
        assert_eq!(reading["partial"]["number"], 5, "{reading}");
        assert_eq!(reading["tempered"]["note"], "F#4", "{reading}");
        assert!(
            (reading["partial"]["cents"].as_f64().unwrap() - 7.17).abs() < 0.5,
            "{reading}"
        );
        assert!(
            reading["tempered"]["cents"].as_f64().unwrap().abs() < 0.5,
            "{reading}"
        );
        assert!(
            reading["time_s"].as_f64() < reading["available_s"].as_f64(),
            "{reading}"
        );
    }
    for silent in lines.iter().filter(|line| line["hz"].is_null()) {
        let why = silent["why"].as_str().unwrap();
        assert!(["silence", "noise", "two-notes"].contains(&why), "{silent}");
        assert!(
            silent["partial"].is_null() && silent["tempered"].is_null(),
            "{silent}"
        );
    }
}

#[test]
fn csv_has_the_same_columns_in_every_row() {
    let folder = tempfile::tempdir().unwrap();
    let (code, out, _) = run(&["analyse", &take(&folder), "--format", "csv"]);
    assert_eq!(code, 0);
    let mut reader = csv::Reader::from_reader(out.as_bytes());
    assert_eq!(reader.headers().unwrap().len(), 14);
    assert_eq!(
        reader
            .records()
            .filter(|row| row.as_ref().unwrap().len() == 14)
            .count(),
        3200
    );
}

#[test]
fn the_notes_are_listed_for_reading() {
    let folder = tempfile::tempdir().unwrap();
    let (code, out, _) = run(&["analyse", &take(&folder)]);
    assert_eq!(code, 0);
    let organ = out.lines().find(|line| line.contains("Input 8")).unwrap();
    assert!(
        organ.contains("F\u{266f}4") && organ.contains("+7.2"),
        "{organ}"
    );
}

#[test]
fn a_closed_pipe_is_no_error() {
    let folder = tempfile::tempdir().unwrap();
    for form in ["table", "json", "csv"] {
        let mut child = Command::new(env!("CARGO_BIN_EXE_concento"))
            .args(["analyse", &take(&folder), "--format", form])
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        drop(child.stdout.take());
        let mut errors = String::new();
        child
            .stderr
            .take()
            .unwrap()
            .read_to_string(&mut errors)
            .unwrap();
        let status = child.wait().unwrap();
        assert_eq!((status.code(), errors.as_str()), (Some(0), ""), "{form}");
        std::fs::remove_file(folder.path().join("take.wav")).unwrap();
    }
}

#[test]
fn what_cannot_be_done_is_told_with_its_exit_code() {
    let folder = tempfile::tempdir().unwrap();
    let band = folder.path().join("band.ron");
    assert_eq!(run(&["new", band.to_str().unwrap()]).0, 0);
    let short = folder.path().join("short.wav");
    let short = short.to_str().unwrap();
    assert_eq!(
        run(&["demo", "alone", "--write", short, "--seconds", "1"]).0,
        0
    );
    for (arguments, code, words) in [
        (
            &["analyse", "no-such.wav"][..],
            1,
            "'no-such.wav' does not exist",
        ),
        (
            &["analyse", band.to_str().unwrap()],
            1,
            "is not a sound file",
        ),
        (
            &["analyse", short, "--ensemble", band.to_str().unwrap()],
            1,
            "is to be heard through input",
        ),
        (&["analyse"], 2, "required"),
        (&["analyse", short, "--format", "pdf"], 2, "invalid value"),
        (&["rehearse"], 2, "the screen needs a terminal"),
        (&["demo"], 2, "the screen needs a terminal"),
        (&["demo", "--write", "take.mp3"], 2, "only WAV is written"),
    ] {
        let (found, out, errors) = run(arguments);
        assert_eq!((found, out.as_str()), (code, ""), "{arguments:?}: {errors}");
        assert!(errors.contains(words), "{arguments:?}: {errors}");
    }
}
