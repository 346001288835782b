//! A recording with samples that are no numbers: they are silence, which is said once, and what
//! comes before and after is heard as if they were not there.

use std::f64::consts::TAU;
use std::path::Path;

use hound::{SampleFormat, WavSpec, WavWriter};
use serde_json::Value;

use crate::program::run_in;

const HZ: f64 = 440.0;
/// In seconds: where the samples are no numbers.
const ODD: std::ops::Range<f64> = 2.0..3.0;
const LENGTH_S: f64 = 5.0;

/// Two channels with the same tone; in the second of them some samples are no numbers.
fn write(path: &Path) {
    let spec = WavSpec {
        channels: 2,
        sample_rate: 48_000,
        bits_per_sample: 32,
        sample_format: SampleFormat::Float,
    };
    let odd = [f32::NAN, f32::INFINITY, f32::NEG_INFINITY, -f32::NAN];
    let mut writer = WavWriter::create(path, spec).unwrap();
    for n in 0..(LENGTH_S * 48e3) as usize {
        let time = n as f64 / 48e3;
        let partials = (1..5).map(|k| (TAU * HZ * f64::from(k) * time).sin() / f64::from(k));
        let tone = 0.2 * partials.sum::<f64>() as f32;
        writer.write_sample(tone).unwrap();
        let is_odd = ODD.contains(&time);
        writer
            .write_sample(if is_odd { odd[n % odd.len()] } else { tone })
            .unwrap();
    }
    writer.finalize().unwrap();
}

const TOLD: &str = "concento: 'take.wav' has samples that are no numbers, the first at 0:02.0: \
                    they count as silence\n";

#[test]
fn samples_that_are_no_numbers_are_silence_and_said_once() {
    let folder = tempfile::tempdir().unwrap();
    write(&folder.path().join("take.wav"));
    let (code, out, errors) = run_in(folder.path(), &["analyse", "take.wav", "--format", "json"]);
    assert_eq!((code, errors.as_str()), (0, TOLD));
    let (mut n_pitches, mut n_silent) = (0, 0);
    for line in out.lines() {
        let reading: Value = serde_json::from_str(line).unwrap();
        let at = reading["available_s"].as_f64().unwrap();
        let level = reading["level_dbfs"].as_f64().unwrap();
        assert!((-140.0..0.0).contains(&level), "{line}");
        // The longest window is 0.17 s.
        let is_odd = reading["channel"] == 2 && (2.1..3.0).contains(&at);
        let is_sure = reading["channel"] == 1 || !(2.0..=3.3).contains(&at);
        if is_odd {
            n_silent += 1;
            assert_eq!(reading["why"], "silence", "{line}");
        } else if is_sure && at > 0.3 {
            n_pitches += 1;
            let hz = reading["hz"].as_f64().expect(line);
            let cents = 1200.0 * (hz / HZ).log2();
            assert!(cents.abs() < 0.5, "{cents} cents: {line}");
        }
    }
    assert!(n_silent >= 89 && n_pitches >= 800, "{n_silent} {n_pitches}");
}

#[test]
fn a_session_of_such_a_recording_has_the_notes_before_and_after() {
    let folder = tempfile::tempdir().unwrap();
    write(&folder.path().join("take.wav"));
    let recorded = ["record", "take.wav", "--session", "take.session"];
    let (code, _, errors) = run_in(folder.path(), &recorded);
    assert_eq!(code, 0);
    assert_eq!(errors.matches("no numbers").count(), 1, "{errors}");
    // Whoever looks at it later should know, too.
    let session = std::fs::read_to_string(folder.path().join("take.session")).unwrap();
    let faults: Vec<&str> = session
        .lines()
        .filter(|l| l.starts_with("Fault("))
        .collect();
    let [fault] = faults[..] else {
        panic!("kept once: {faults:?}")
    };
    assert!(fault.contains("no numbers, the first at 0:02.0"), "{fault}");
    let reported = ["report", "take.session", "--format", "csv"];
    let (code, out, errors) = run_in(folder.path(), &reported);
    assert_eq!((code, errors.as_str()), (0, ""));
    let mut notes = csv::Reader::from_reader(out.as_bytes());
    let notes: Vec<(String, f64, f64, f64)> = notes
        .deserialize::<std::collections::HashMap<String, String>>()
        .map(|row| {
            let row = row.unwrap();
            let number = |name: &str| row[name].parse().unwrap();
            let span = (number("begun_s"), number("ended_s"));
            (row["player"].clone(), span.0, span.1, number("hz"))
        })
        .collect();
    for (_, _, _, hz) in &notes {
        assert!((1200.0 * (hz / HZ).log2()).abs() < 0.5, "{notes:?}");
    }
    let second: Vec<_> = notes.iter().filter(|note| note.0 == "Input 2").collect();
    let [before, after] = second[..] else {
        panic!("two notes are left of the second channel's: {notes:?}")
    };
    assert!((before.2 - ODD.start).abs() < 0.2, "{notes:?}");
    assert!((after.1 - ODD.end).abs() < 0.3, "{notes:?}");
}
