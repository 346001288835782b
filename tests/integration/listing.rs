//! `concento temperaments` and `concento series`.

use std::process::{Command, Stdio};

use crate::program::run;
use serde_json::Value;

fn answer(arguments: &[&str]) -> String {
    let (code, out, errors) = run(arguments);
    assert_eq!((code, errors.as_str()), (0, ""), "{arguments:?}");
    out
}

fn json(arguments: &[&str]) -> Value {
    serde_json::from_str(&answer(arguments)).unwrap()
}

/// Runs a command that must refuse: nothing on stdout, one message on stderr.
fn refusal(arguments: &[&str], code: i32) -> String {
    let (found, out, errors) = run(arguments);
    assert_eq!((found, out.as_str()), (code, ""), "{arguments:?}: {errors}");
    errors
}

#[test]
fn the_list_of_temperaments() {
    insta::assert_snapshot!(answer(&["temperaments"]));
}

#[test]
fn a_temperament_note_by_note() {
    insta::assert_snapshot!(answer(&["temperaments", "sixth-comma"]));
}

#[test]
fn a_temperament_at_another_level_over_another_chain() {
    insta::assert_snapshot!(answer(&[
        "temperaments",
        "rameau-b-flat",
        "--a4",
        "466",
        "--kept-by",
        "C",
        "--chain",
        "Ab-C#",
    ]));
}

#[test]
fn the_series_of_trumpets_in_d() {
    insta::assert_snapshot!(answer(&["series"]));
}

#[test]
fn scripts_get_numbers() {
    let list = json(&["temperaments", "--format", "json"]);
    let vallotti = list["temperaments"]
        .as_array()
        .unwrap()
        .iter()
        .find(|entry| entry["name"] == "vallotti")
        .unwrap();
    assert_eq!(vallotti["kind"], "circulating");
    // A sixth of the Pythagorean comma, 3.910002 cents.
    assert_eq!(vallotti["narrowest_fifth_cents"], -3.910_002);

    let one = json(&[
        "temperaments",
        "werckmeister-3",
        "--a4",
        "440",
        "--format",
        "json",
    ]);
    // Twice the published C3 (131.7021): public mechanical-organ digest, 23 Feb 2001.
    let c4 = one["notes"][0]["hz"].as_f64().unwrap();
    assert!((c4 - 2.0 * 131.7021).abs() < 1e-4, "{c4}");
    assert_eq!(one["fifths"].as_array().unwrap().len(), 12);
    assert_eq!(one["major_thirds"][0]["wolf"], false);

    let series = json(&["series", "--key", "C", "--a4", "440", "--format", "json"]);
    let eleventh = &series["partials"][10];
    assert_eq!(eleventh["number"], 11);
    assert_eq!(eleventh["above"]["note"], "F#5");
    assert_eq!(eleventh["nearest"], "above");
    assert!((eleventh["above"]["cents"].as_f64().unwrap() + 38.906).abs() < 0.001);
    assert_eq!(series["anchor"]["partial"], 8);

    let measured = json(&["series", "--fundamental", "69.3", "--format", "json"]);
    assert_eq!(measured["anchor"]["fundamental_hz"], 69.3);
    assert_eq!(measured["partials"][7]["hz"], 554.4);
}

#[test]
fn spreadsheets_get_rows() {
    let text = answer(&["series", "--anchor", "5=F#4", "--format", "csv"]);
    assert_eq!(text.lines().count(), 25);
    // The anchored partial sits on its note.
    let fifth: Vec<&str> = text.lines().nth(5).unwrap().split(',').collect();
    assert_eq!((fifth[3], fifth[5]), ("F#4", "0"));
    let text = answer(&["temperaments", "equal", "--format", "csv"]);
    // Nine equal semitones below A: definition.
    let c4 = (415.0 * 2_f64.powf(-0.75) * 1e6).round() / 1e6;
    assert_eq!(text.lines().nth(1), Some(format!("C,0,0,{c4}").as_str()));
    assert_eq!(
        answer(&["temperaments", "--format", "csv"]).lines().count(),
        19
    );
}

#[test]
fn requests_that_make_no_sense_are_usage_errors() {
    let check = |arguments: &[&str], part: &str| {
        let errors = refusal(arguments, 2);
        assert!(errors.contains(part), "{arguments:?}: {errors}");
    };
    check(&["temperaments", "valotti"], "did you mean 'vallotti'?");
    check(
        &["temperaments", "nonsense"],
        "there are equal, pythagorean",
    );
    check(&["temperaments", "--a4", "300"], "give 350 to 500");
    check(&["temperaments", "--a4", "high"], "'high' is no number");
    check(&["temperaments", "--chain", "C-G"], "has 2 notes");
    check(&["temperaments", "--kept-by", "H"], "'H' is no note name");
    check(&["temperaments", "--format", "xml"], "possible values");
    check(
        &["series", "--temperament", "sixth-coma"],
        "did you mean 'sixth-comma'?",
    );
    check(&["series", "--anchor", "8=C5"], "lies near D");
    check(&["series", "--anchor", "D5"], "write partial and note");
    check(&["series", "--anchor", "25=D5"], "run from 1 to 24");
    check(&["series", "--fundamental", "554"], "divide the frequency");
    check(
        &["series", "--fundamental", "70", "--anchor", "8=D5"],
        "cannot be used with",
    );
}

#[test]
fn a_user_s_file_stands_beside_the_shipped_temperaments() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("own.ron");
    let file = path.to_str().unwrap();
    let own = |text: &str| std::fs::write(&path, text).unwrap();
    own(
        "(version: 1, temperaments: [(name: \"mine\", title: \"Mine\", fifths: Regular(\"-1/7 SC\"))])",
    );
    assert!(answer(&["temperaments", "--file", file]).contains("\nmine "));
    assert!(
        answer(&["temperaments", "mine", "--file", file]).starts_with("Mine\nmine (regular), ")
    );

    own(
        "(\n    version: 1,\n    temperaments: [\n        (name: \"mine\", title: \"Mine\", fifths: Regular(\"1/7\")),\n    ],\n)\n",
    );
    let message = refusal(&["temperaments", "--file", file], 1).replace(file, "own.ron");
    insta::assert_snapshot!(message, @"concento: own.ron:4:60: '1/7' is no tempering: write a part of a comma, such as -1/6 SC, 1/12 PC, -1 schisma, 0 or 1/2 rest");

    own("(version: 1, temperaments: [(name: \"equal\", title: \"Mine\", fifths: Regular(\"0\"))])");
    let message = refusal(&["series", "--file", file], 1).replace(file, "own.ron");
    insta::assert_snapshot!(message, @"concento: own.ron:1:81: 'equal' comes with the program: give yours another name (my-equal)");

    std::fs::remove_file(&path).unwrap();
    let message = refusal(&["temperaments", "--file", file], 1);
    assert!(message.starts_with("concento: cannot read '"), "{message}");
}

#[test]
fn a_closed_pipe_is_no_error() {
    for arguments in [
        &["temperaments", "just"][..],
        &["series", "--format", "json"],
    ] {
        let mut child = Command::new(assert_cmd::cargo::cargo_bin!("concento"))
            .args(arguments)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        // Nobody reads.
        drop(child.stdout.take());
        let output = child.wait_with_output().unwrap();
        assert_eq!(output.status.code(), Some(0), "{arguments:?}");
        assert_eq!(
            String::from_utf8(output.stderr).unwrap(),
            "",
            "{arguments:?}"
        );
    }
}

#[cfg(unix)]
#[test]
fn a_full_disk_is_told_in_words() {
    for arguments in [&["temperaments"][..], &["series", "--format", "json"]] {
        let mut program = crate::program::program_under("exec >/dev/full");
        let (code, out, errors) = crate::program::said(program.args(arguments));
        let told = "concento: what was asked for cannot be written (the disk is full): send it \
                    elsewhere\n";
        assert_eq!(
            (code, out.as_str(), errors.as_str()),
            (1, "", told),
            "{arguments:?}"
        );
    }
}
