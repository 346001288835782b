//! Plans against an independent reading and measuring of the same score, and the command's manners.
//!
//! `tests/data/plan_by_music21.json` is written by `tests/plan/reference.py` (music21 10.5.1 and
//! numpy) for `tests/data/scores/sonata.musicxml` with `--key D --trumpets 'Tromba*' --keyboard
//! Organo`.

use std::collections::BTreeMap;

use serde_json::Value;

use crate::program::run;

const SONATA: &str = "tests/data/scores/sonata.musicxml";

fn plan(arguments: &[&str]) -> Value {
    let all = [&["plan", "--format", "json"], arguments].concat();
    let (code, out, errors) = run(&all);
    assert_eq!(code, 0, "{errors}");
    serde_json::from_str(&out).unwrap()
}

fn reference() -> Value {
    serde_json::from_str(include_str!("../data/plan_by_music21.json")).unwrap()
}

fn same(found: &Value, expected: &Value, by: f64, what: &str) {
    match (found.as_f64(), expected.as_f64()) {
        (Some(found), Some(expected)) => {
            assert!(
                (found - expected).abs() <= by,
                "{what}: {found}, {expected}"
            );
        }
        _ => assert_eq!(found, expected, "{what}"),
    }
}

#[test]
fn every_figure_agrees_with_an_independent_computation() {
    let (found, expected) = (plan(&[SONATA]), reference());
    let temperaments = expected["temperaments"].as_object().unwrap();
    assert!(temperaments.len() >= 9);
    for (name, groups) in temperaments {
        for (group, cents) in groups.as_object().unwrap() {
            let ours = &found["temperaments"][name][group];
            same(ours, cents, 0.005, &format!("{name} {group}"));
        }
    }
    same(
        &found["best_fraction"],
        &expected["best_fraction"],
        1e-5,
        "best fraction",
    );
    let sixth = plan(&["--temperament", "sixth-comma", SONATA]);
    let far = expected["farthest_in_sixth_comma"].as_array().unwrap();
    let worst = sixth["worst"].as_array().unwrap();
    assert_eq!((worst.len(), far.len()), (10, 10));
    for (ours, cents) in worst.iter().zip(far) {
        let ours = ours["cents"].as_f64().unwrap().abs();
        same(&ours.into(), cents, 0.005, "worst");
    }
}

#[test]
fn every_trumpet_note_is_counted_as_another_reader_counts_it() {
    let (found, expected) = (plan(&[SONATA]), reference());
    let cells = |usage: &Value| -> BTreeMap<(String, String), (Value, f64, f64)> {
        let parts = usage.as_object().unwrap().iter();
        parts
            .flat_map(|(part, notes)| {
                let notes = notes.as_object().unwrap().iter();
                notes.map(move |(note, cell)| {
                    let number = |name: &str| cell[name].as_f64().unwrap();
                    let key = (part.clone(), note.clone());
                    (
                        key,
                        (cell["partial"].clone(), number("count"), number("quarters")),
                    )
                })
            })
            .collect()
    };
    let ours = cells(&found["usage"]);
    assert!(ours.len() > 10);
    assert_eq!(ours, cells(&expected["usage"]));
}

#[test]
fn a_packed_score_is_the_same_score_and_midi_says_that_it_is_spelled_by_guess() {
    let temperaments = |file: &str| plan(&[file])["temperaments"].clone();
    assert_eq!(
        temperaments(SONATA),
        temperaments("tests/data/scores/sonata.mxl")
    );
    let midi = plan(&["tests/data/scores/sonata.mid"]);
    assert_eq!(midi["pieces"][0]["spelling"], "guessed");
    let (_, table, _) = run(&["plan", "tests/data/scores/sonata.mid"]);
    let one_line = table.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(one_line.contains("spelling guessed"), "{table}");
}

#[test]
fn a_programme_of_several_pieces_is_told_piece_by_piece() {
    let found = plan(&[SONATA, "tests/data/scores/sonata.mxl"]);
    assert_eq!(found["pieces"].as_array().unwrap().len(), 2);
    let alone = plan(&[SONATA]);
    let of = |value: &Value| value["temperaments"]["equal"]["all"].as_f64().unwrap();
    assert!((of(&found) - of(&alone)).abs() < 1e-6);
    let count = |value: &Value| value["usage"]["Tromba I"]["G5"]["count"].as_u64().unwrap();
    assert_eq!(count(&found), 2 * count(&alone));
}

#[test]
fn the_page_says_what_to_decide_and_keeps_to_the_line() {
    let (code, table, _) = run(&["plan", SONATA, "--temperament", "sixth-comma"]);
    assert_eq!(code, 0);
    for words in [
        "trumpets in D (guessed from their notes): Tromba I, Tromba II, Tromba III",
        "keyboard: Organo",
        "Farthest from pure in sixth-comma",
        "Who yields",
    ] {
        let one_line = table.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(one_line.contains(words), "{words}: {table}");
    }
    let section = |from: &str| table.split(from).nth(1).unwrap();
    let short = section("In short").split("\n\n").next().unwrap();
    assert!(
        short.lines().all(|line| line.chars().count() <= 80),
        "{short}"
    );
}

#[test]
fn requests_that_cannot_be_met_say_what_to_do() {
    let check = |arguments: &[&str], code: i32, words: &str| {
        let (found, out, errors) = run(&[&["plan"], arguments].concat());
        assert_eq!((found, out.as_str()), (code, ""), "{errors}");
        assert!(errors.contains(words), "{errors}");
    };
    check(
        &[SONATA, "--temperament", "sixth"],
        2,
        "no temperament is called 'sixth'",
    );
    check(&[SONATA, "--trumpets", "Clarino*"], 2, "'Tromba I'");
    check(&[SONATA, "--trumpets", "a,,b"], 2, "is no pattern");
    check(&[SONATA, "--weights", "organ=1"], 2, "is no weight");
    check(&[SONATA, "--reach", "Tromba*=20"], 2, "is no reach");
    check(&[SONATA, "--anchor", "11"], 2, "to tune by");
    check(&["no-such-score.xml"], 1, "no-such-score.xml");
    check(&["tests/data/scores"], 1, "is no file");
    check(&["Cargo.toml"], 1, "neither MusicXML nor a MIDI file");
    check(&[], 2, "SCORE");
}

#[test]
fn what_is_given_goes_before_what_is_guessed() {
    let given = plan(&[SONATA, "--key", "D", "--keyboard", "none"]);
    assert_eq!(given["pieces"][0]["series_key_guessed"], false);
    assert_eq!(given["pieces"][0]["keyboard"], serde_json::json!([]));
    assert_eq!(given["chains"], serde_json::json!([]));
    let none = plan(&[SONATA, "--trumpets", "none"]);
    assert_eq!(none["usage"], serde_json::json!({}));
    assert_eq!(none["pieces"][0]["series_key"], Value::Null);
    assert_eq!(none["temperaments"]["equal"]["trumpet_other"], Value::Null);
}
