//! `concento setup` without a terminal, and `concento temperaments --fit`.

use crate::program::{run, run_in};

#[test]
fn setting_up_needs_a_terminal_and_says_what_does_not() {
    let (code, out, err) = run(&["setup"]);
    assert_eq!(code, 2);
    assert!(err.contains("setting up needs a terminal"), "{err}");
    assert!(err.contains("concento new"), "{err}");
    assert_eq!(out, "");
}

#[test]
fn measured_keys_tell_a_temperament() {
    // Quarter-comma at A4 = 415: C4 is 889.735 cents below A4, E5 696.578 above it (definition).
    let (code, out, err) = run(&[
        "temperaments",
        "--fit",
        "A=415.0,C4=248.23,E5=620.57",
        "--format",
        "json",
    ]);
    assert_eq!(code, 0, "{err}");
    let json: serde_json::Value = serde_json::from_str(&out).unwrap();
    let rows = json["temperaments"].as_array().unwrap();
    let quarter = rows
        .iter()
        .find(|row| row["name"] == "quarter-comma")
        .unwrap();
    assert_eq!(quarter["fits"], true);
    assert!(quarter["off_cents"].as_f64().unwrap() < 0.1, "{quarter}");
    assert!((json["a4_hz"].as_f64().unwrap() - 415.0).abs() < 0.5);
    assert_eq!(json["usual_hz"], 415.0);
    let (_, table, _) = run(&["temperaments", "--fit", "A=415.0", "--fit", "C=248.23"]);
    assert!(table.contains("quarter-comma"), "{table}");
}

#[test]
fn keys_that_were_not_measured_are_refused() {
    for keys in ["A", "A=x", "H=440", "A=415,", "A=-1"] {
        let (code, out, err) = run(&["temperaments", "--fit", keys]);
        assert_eq!((code, out.as_str()), (2, ""), "{keys}: {err}");
    }
    let (both, _, _) = run(&["temperaments", "equal", "--fit", "A=415"]);
    assert_eq!(both, 2);
}

#[test]
fn a_recording_that_is_not_there_is_told_before_the_screen() {
    let folder = tempfile::tempdir().unwrap();
    let (code, out, _) = run_in(folder.path(), &["setup", "--recording", "nowhere.wav"]);
    assert_ne!(code, 0);
    assert_eq!(out, "");
}
