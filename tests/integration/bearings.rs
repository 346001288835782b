//! The tuner's sheet against plans made independently and against published beats.

use concento::bearings::{Deed, Method, Pair, Sense, Sheet};
use concento::tuning::{Chain, PitchStandard};
use concento::units::NoteName;

use crate::figures::{check, printed, rows, temperament};
use crate::program::{run, run_in};

fn sheet_of(system: &str, a4_hz: &str, from: Option<&str>, method: Method) -> Sheet {
    let standard = PitchStandard::new(a4_hz.parse().unwrap()).unwrap();
    let from = from.map(|name| name.parse().unwrap());
    Sheet::new(&temperament(system), Chain::usual(), standard, from, method).unwrap()
}

fn pairs(sheet: &Sheet) -> impl Iterator<Item = &Pair> {
    sheet.steps().iter().filter_map(|step| step.deed.pair())
}

#[test]
fn every_step_of_the_plans_is_there_in_order() {
    let table = rows(
        include_str!("../data/bearing_plans.csv"),
        [
            "temperament",
            "a4_hz",
            "action",
            "from",
            "to",
            "hz",
            "signed_beats_hz",
        ],
    );
    assert_eq!(table.len(), 207);
    let mut plan = (String::new(), String::new());
    let mut at = 0;
    let mut sheet = None;
    for [system, a4_hz, action, from, to, hz, beats] in table {
        if plan != (system.clone(), a4_hz.clone()) {
            plan = (system.clone(), a4_hz.clone());
            sheet = Some(sheet_of(&system, &a4_hz, None, Method::Fifths));
            at = 0;
        }
        let of = format!("{action} {from} {to} in {system} at {a4_hz}");
        let steps = sheet.as_ref().unwrap().steps();
        // The sheet has steps besides: octaves, and thirds across the ends of a circle.
        let found = steps[at..].iter().position(|step| match &step.deed {
            Deed::Take(note) => action == "set" && note.note.ascii() == to,
            Deed::Tune { .. } => {
                let tuned = step.deed.tuned().unwrap().note.ascii();
                let standing = step.deed.standing().unwrap().note.ascii();
                action == "tune" && (standing, tuned) == (from.clone(), to.clone())
            }
            Deed::Check { pair, .. } | Deed::Leave { pair, .. } => {
                let ends = (pair.lower.note.ascii(), pair.upper.note.ascii());
                action == "check" && ends == (from.clone(), to.clone())
            }
        });
        let place = at + found.unwrap_or_else(|| panic!("{of}: not there, or too late"));
        at = place + 1;
        let deed = &steps[place].deed;
        if let Some(tuned) = deed.tuned() {
            check(tuned.hertz.get(), &hz, &of);
        }
        if let Some(pair) = deed.pair() {
            let (expected, tolerance) = printed(&beats);
            let error = (pair.signed_hz - expected).abs();
            assert!(
                error <= tolerance + 1e-9,
                "{of}: {} {beats}",
                pair.signed_hz
            );
        }
    }
}

#[test]
fn published_beats_stand_on_the_sheets() {
    let table = rows(
        include_str!("../data/published_beats.csv"),
        [
            "temperament",
            "a4_hz",
            "low",
            "high",
            "sense",
            "published_hz",
        ],
    );
    let mut met = 0;
    for [system, a4_hz, low, high, sense, hz] in table {
        let from = ["A", "C", "F", "B"];
        let sheets = from.map(|from| sheet_of(&system, &a4_hz, Some(from), Method::Fifths));
        for pair in sheets.iter().flat_map(pairs) {
            if (pair.lower.note.ascii(), pair.upper.note.ascii()) == (low.clone(), high.clone()) {
                let of = format!("{system} {low}-{high} at {a4_hz}");
                check(pair.rate_hz(), &hz, &of);
                assert_eq!(pair.sense().map(Sense::word), Some(&*sense), "{of}");
                met += 1;
            }
        }
    }
    assert!(met >= 40, "{met}");
}

#[test]
fn every_sheet_tunes_all_twelve_notes_from_notes_that_stand() {
    let chains = ["Eb-G#", "Ab-C#", "Gb-B", "Bb-D#", "C-E#", "F#-A##", "Fb-A"];
    for temperament in concento::session::temperaments(None).unwrap() {
        for chain in chains {
            let chain: Chain = chain.parse().unwrap();
            for from in chain.notes() {
                for method in [Method::Fifths, Method::Thirds] {
                    let standard = PitchStandard::new(415.0).unwrap().kept_by(from);
                    let made = Sheet::new(&temperament, chain, standard, None, method);
                    let of = format!("{} {chain:#} from {from:#}", temperament.name);
                    let sheet = match (made, method) {
                        (Ok(sheet), _) => sheet,
                        (Err(_), Method::Thirds) => continue,
                        (Err(error), _) => panic!("{of}: {error}"),
                    };
                    let mut standing = Vec::new();
                    for step in sheet.steps() {
                        match &step.deed {
                            Deed::Take(_) => {}
                            Deed::Tune { .. } => {
                                let on = step.deed.standing().unwrap().note;
                                assert!(standing.contains(&on), "{of}: {on}");
                            }
                            Deed::Check { pair, .. } | Deed::Leave { pair, .. } => {
                                for note in [pair.lower.note, pair.upper.note] {
                                    assert!(standing.contains(&note), "{of}: {note}");
                                }
                            }
                        }
                        standing.extend(step.deed.tuned().map(|tuned| tuned.note));
                    }
                    let mut keys: Vec<usize> = standing.iter().map(|n| n.name().key()).collect();
                    keys.sort_unstable();
                    keys.dedup();
                    assert_eq!(keys.len(), 12, "{of}");
                    let fork = sheet.steps()[0].deed.tuned().unwrap().note.name();
                    assert_eq!(fork.key(), from.key(), "{of}");
                }
            }
        }
    }
}

#[test]
fn a_fifth_that_cannot_be_counted_gives_way_to_a_third() {
    // In just intonation D-A is a comma narrow: A comes from F, its third, once that stands.
    let sheet = sheet_of("just", "415", Some("C"), Method::Fifths);
    for step in sheet.steps() {
        if let Deed::Tune { pair, .. } = &step.deed {
            assert!(pair.from_pure.abs().get() < 12.0, "{:?}", step.deed);
        }
    }
}

#[test]
fn where_another_note_keeps_the_level_a4_is_told() {
    let (code, out, err) = run(&[
        "bearings",
        "--temperament",
        "quarter-comma",
        "--kept-by",
        "C",
    ]);
    assert_eq!((code, &*err), (0, ""));
    assert!(out.contains("take   C5"), "{out}");
    assert!(
        out.contains("A4 comes to stand at 412.55 Hz, not at 415 Hz: C keeps"),
        "{out}"
    );
}

#[test]
fn the_command_says_what_it_cannot_do() {
    for (arguments, told) in [
        (&["--temperament", "nothing"][..], "nothing"),
        (&["--from", "D#"], "no D#"),
        (&["--from", "H"], "'H' is no note name"),
        (&["--thirds"], "not pure"),
        (&["--hear"], "terminal"),
        (&["--recording", "x.wav"], "--hear"),
    ] {
        let (code, out, err) = run(&[&["bearings"], arguments].concat());
        assert_eq!((code, &*out), (2, ""), "{arguments:?}: {err}");
        assert!(err.contains(told), "{arguments:?}: {err}");
    }
}

#[test]
fn a_page_is_written_once() {
    let folder = tempfile::tempdir().unwrap();
    let arguments = ["bearings", "--format", "html", "-o", "sheet.html"];
    assert_eq!(run_in(folder.path(), &arguments).0, 0);
    let page = std::fs::read_to_string(folder.path().join("sheet.html")).unwrap();
    assert!(page.starts_with("<!DOCTYPE html>"));
    let (code, _, err) = run_in(folder.path(), &arguments);
    assert_eq!(code, 1);
    assert!(err.contains("exists already"), "{err}");
}

#[test]
fn notes_are_begun_with_by_any_name_where_the_circle_closes() {
    let sheet = sheet_of("vallotti", "415", Some("D#"), Method::Fifths);
    let first: NoteName = "Eb".parse().unwrap();
    assert_eq!(sheet.steps()[0].deed.tuned().unwrap().note.name(), first);
}
