//! `concento chord` on chords of known pitch.

use std::f64::consts::TAU;
use std::path::Path;

use serde_json::Value;

use crate::program::run;

/// A chord of steady voices with eight partials each, at 16 kHz in two channels: silence, and
/// the chord.
fn write_chord(path: &Path, voices: &[f64], seconds: f64) {
    let spec = hound::WavSpec {
        channels: 2,
        sample_rate: 16_000,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut writer = hound::WavWriter::create(path, spec).unwrap();
    for frame in 0..(16_000.0 * seconds) as u32 {
        let time = f64::from(frame) / 16_000.0;
        let sum: f64 = voices
            .iter()
            .flat_map(|hz| (1..=8).map(move |n| (f64::from(n), *hz)))
            .map(|(n, hz)| (TAU * n * hz * time + n * n).sin() / n)
            .sum();
        writer.write_sample(0_i16).unwrap();
        writer.write_sample((2_500.0 * sum) as i16).unwrap();
    }
    writer.finalize().unwrap();
}

/// D major on the partials 8, 10 and 12 of trumpets in D at 415, the tenth 6 cents high.
fn take(folder: &tempfile::TempDir) -> String {
    let fundamental = 554.4801 / 8.0;
    let path = folder.path().join("chord.wav");
    let tenth = 10.0 * fundamental * (6.0 / 1200.0_f64).exp2();
    let voices = [8.0 * fundamental, tenth, 12.0 * fundamental];
    write_chord(&path, &voices, 2.5);
    path.to_str().unwrap().to_owned()
}

fn lines(out: &str) -> Vec<Value> {
    out.lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect()
}

#[test]
fn every_voice_of_every_update_is_a_line_of_json() {
    let folder = tempfile::tempdir().unwrap();
    let take = take(&folder);
    let expected = [
        "chord",
        &take,
        "--channel",
        "2",
        "--format",
        "json",
        "--expect",
        "p8,p10,p12",
    ];
    let free = [
        "chord",
        &take,
        "--channel",
        "2",
        "--format",
        "json",
        "--sections",
        "trumpets",
    ];
    for arguments in [expected, free] {
        let (code, out, errors) = run(&arguments);
        assert_eq!((code, errors.as_str()), (0, ""));
        let lines = lines(&out);
        assert!(lines.len() >= 3 * 7, "{}", lines.len());
        for line in lines {
            let label = line["label"].as_str().unwrap();
            let cents = line["partial"]["cents"].as_f64().unwrap();
            let (number, true_cents) = match label {
                "p8" => (8, 0.0),
                "p10" => (10, 6.0),
                "p12" => (12, 0.0),
                other => panic!("{other}"),
            };
            assert_eq!(line["partial"]["number"], number);
            assert_eq!(line["status"], "ok");
            assert!((cents - true_cents).abs() < 0.3, "{line}");
            assert!(cents - true_cents <= line["margin_cents"].as_f64().unwrap());
            assert!(line["confidence"].as_f64().unwrap() > 0.5);
            assert_eq!(line["window_s"], 1.0);
            assert!(line["tempered"]["note"].is_string());
            assert!(line["merged_with"].is_null() && line["beats_hz"].is_null());
        }
    }
}

#[test]
fn a_voice_that_is_expected_and_silent_has_no_pitch() {
    let folder = tempfile::tempdir().unwrap();
    let (code, out, _) = run(&[
        "chord",
        &take(&folder),
        "--channel",
        "2",
        "--format",
        "json",
        "--expect",
        "p8,p11",
    ]);
    assert_eq!(code, 0);
    let silent: Vec<Value> = lines(&out)
        .into_iter()
        .filter(|l| l["label"] == "p11")
        .collect();
    assert!(!silent.is_empty());
    for line in silent {
        assert_eq!(line["status"], "absent");
        assert!(line["hz"].is_null() && line["partial"].is_null());
    }
}

#[test]
fn the_table_lists_chords_and_silence_says_so() {
    let folder = tempfile::tempdir().unwrap();
    let take = take(&folder);
    let (code, out, _) = run(&["chord", &take, "--channel", "2", "--sections", "trumpets"]);
    assert_eq!(code, 0);
    let rows: Vec<&str> = out.lines().collect();
    assert_eq!(rows.len(), 4, "{out}");
    assert!(
        rows[0].contains("partial") && rows[0].contains("tempered"),
        "{out}"
    );
    assert!(rows[2].contains("p10") && rows[2].contains("+6."), "{out}");
    let (code, out, _) = run(&["chord", &take]);
    assert_eq!(
        (code, out.as_str()),
        (0, "no chord was held for a second\n")
    );
}

#[test]
fn what_cannot_be_done_is_refused_with_advice() {
    let folder = tempfile::tempdir().unwrap();
    let take = take(&folder);
    let nine = "p3,p4,p5,p6,p7,p8,p9,p10,p11";
    for (arguments, code, words) in [
        (
            vec!["--expect", "q8"],
            2,
            "write a partial (p8) or a note (F#4)",
        ),
        (vec!["--expect", "p25"], 2, "they run from 1 to 24"),
        (vec!["--expect", nine], 2, "give 8 at the most"),
        (vec!["--channel", "3"], 2, "give one from 1 to 2"),
        (vec!["--fundamental", "554"], 2, "divide the frequency"),
        (
            vec!["--temperament", "mine"],
            2,
            "no temperament is called 'mine'",
        ),
        (
            vec!["--sections", "drums"],
            2,
            "possible values: trumpets, strings",
        ),
    ] {
        let all = [vec!["chord", take.as_str()], arguments].concat();
        let (found, _, errors) = run(&all);
        assert_eq!(found, code, "{all:?}: {errors}");
        assert!(errors.contains(words), "{all:?}: {errors}");
    }
    let (code, _, errors) = run(&["chord", "no-such.wav"]);
    assert_eq!(code, 1);
    assert!(errors.contains("no-such.wav"), "{errors}");
}

#[test]
fn analyse_points_shared_channels_to_the_chord_command() {
    let folder = tempfile::tempdir().unwrap();
    let take = take(&folder);
    let ensemble = folder.path().join("band.ron");
    let file = |second: &str| {
        format!(
            "(version: 1, title: \"Two\", pitch: (a4_hz: 415.0), temperament: \"sixth-comma\", \
             trumpets: (key: \"D\"), channels: [(name: \"Violin\", instrument: \"{second}\", \
             input: 1), (name: \"Room\", instrument: \"room\", input: 2)])"
        )
    };
    let analyse = ["analyse", &take, "--ensemble", ensemble.to_str().unwrap()];
    std::fs::write(&ensemble, file("violin")).unwrap();
    let (code, _, errors) = run(&analyse);
    assert_eq!(code, 0);
    assert!(
        errors.contains("Room is shared") && errors.contains("--channel 2"),
        "{errors}"
    );
    std::fs::write(&ensemble, file("section")).unwrap();
    assert_eq!(run(&analyse).0, 2);
}
