//! The whole plan on small pieces whose figures can be worked out by hand.

use super::*;
use crate::rehearsal::{Family, Resolution};
use crate::score::{Bar, Bars, Part, Score, ScoreNote, Spelling, Ticks};
use crate::tuning::{Chain, Fifths, Partial, PitchStandard, Temperament};
use crate::units::{Cents, NoteName};

/// Parts of notes written as `F#5 2` (two quarters), one after the other; `- 1` is a rest.
fn score(parts: &[(&str, &[&str])]) -> Score {
    let part = |(name, notes): &(&str, &[&str])| {
        let mut now = 0;
        let mut read = Vec::new();
        for text in *notes {
            let (note, quarters) = text.split_once(' ').unwrap();
            let end = now + 4 * quarters.parse::<u64>().unwrap();
            if note != "-" {
                read.push(ScoreNote {
                    note: note.parse().unwrap(),
                    onset: Ticks::new(now),
                    end: Ticks::new(end),
                });
            }
            now = end;
        }
        Part {
            name: (*name).to_owned(),
            notes: read,
        }
    };
    let bar = |number: u64| Bar {
        number: (number + 1).to_string(),
        start: Ticks::new(16 * number),
        beat: Ticks::new(4),
    };
    Score {
        title: "Invented".to_owned(),
        parts: parts.iter().map(part).collect(),
        bars: Bars::new(4, (0..8).map(bar).collect()),
        signatures: Vec::new(),
        spelling: Spelling::Written,
        remarks: Vec::new(),
    }
}

fn casting() -> Casting {
    let known = |word: &str, family, is_trumpet| KnownName {
        words: vec![word.to_owned()],
        family,
        is_trumpet,
    };
    Casting {
        known: vec![
            known("trumpet", Family::Trumpets, true),
            known("violin", Family::Strings, false),
            known("organ", Family::Keyboard, false),
        ],
        ..Casting::default()
    }
}

fn programme(parts: &[(&str, &[&str])], key: &str) -> Programme {
    Programme::new(vec![score(parts)], &casting(), Some(key.parse().unwrap())).unwrap()
}

fn regular(each: &str) -> Temperament {
    let each = each.parse().unwrap();
    Temperament::new("regular", "Regular", Fifths::Regular { each }).unwrap()
}

fn choice(each: &str) -> Choice {
    Choice {
        temperament: regular(each),
        chain: Chain::usual(),
        standard: PitchStandard::new(415.0).unwrap(),
        anchor: Partial::new(8).unwrap(),
    }
}

fn close(found: Option<Cents>, expected: f64) {
    let found = found.map(Cents::get);
    assert!(
        found.is_some_and(|found| (found - expected).abs() < 1e-3),
        "{found:?} is not {expected}"
    );
}

#[test]
fn errors_are_weighed_by_how_long_they_last() {
    // A quarter-comma third is pure and a fifth 5.377 narrow (a quarter of 81/80).
    let found = programme(
        &[("Violin I", &["E5 1", "G5 3"]), ("Violin II", &["C5 4"])],
        "C",
    )
    .measure(&choice("-1/4 SC"), &Weights::default());
    close(found.other_other, 5.3766 * (3.0_f64 / 4.0).sqrt());
    close(found.all, 5.3766 * (3.0_f64 / 4.0).sqrt());
    assert_eq!((found.trumpet_other, found.trumpet_trumpet), (None, None));
}

#[test]
fn trumpets_stand_on_partials_wherever_the_others_stand() {
    // Partials 8, 10 and 12 are pure among themselves. In quarter-comma the fifth above the tonic
    // lies 5.3766 below the twelfth partial, the third on the tenth.
    let piece = programme(
        &[
            ("Trumpet I", &["G5 2"]),
            ("Trumpet II", &["C5 2"]),
            ("Violin", &["G4 1", "E4 1"]),
        ],
        "C",
    );
    let found = piece.measure(&choice("-1/4 SC"), &Weights::default());
    close(found.trumpet_trumpet, 0.0);
    // G4 to C5 and G5, then E4 to C5 and G5 (all of one quarter).
    close(found.trumpet_other, (2.0 * 5.3766_f64.powi(2) / 4.0).sqrt());
    // The eleventh partial (551.318) against a fourth of quarter-comma (503.422) in the octave.
    let eleventh = programme(&[("Trumpet", &["F5 1"]), ("Violin", &["F4 1"])], "C");
    let found = eleventh.measure(&choice("-1/4 SC"), &Weights::default());
    close(found.trumpet_other, 551.318 - 503.4216);
}

#[test]
fn a_keyboard_strikes_the_key_it_has() {
    // D sharp is struck on E flat, 41.059 higher in quarter-comma; a pure third becomes a wolf.
    let parts: [(&str, &[&str]); 2] = [("Violin", &["D#5 1"]), ("Organ", &["B4 1"])];
    let close_third = programme(&parts, "C").measure(&choice("-1/4 SC"), &Weights::default());
    close(close_third.all, 0.0);
    let parts: [(&str, &[&str]); 2] = [("Violin", &["B4 1"]), ("Organ", &["D#5 1"])];
    let piece = programme(&parts, "C");
    let wolf = piece.measure(&choice("-1/4 SC"), &Weights::default());
    close(wolf.all, 41.0589);
    let missing = piece.pieces()[0].missing_keys(Chain::usual());
    assert_eq!(missing.len(), 1);
    assert_eq!(
        (missing[0].note.ascii(), missing[0].struck.ascii()),
        ("D#5".into(), "Eb5".into())
    );
    let chains = piece.chains(&choice("-1/4 SC"), &Weights::default());
    assert!(
        chains[0].chain.contains("D#".parse().unwrap()),
        "{chains:?}"
    );
    close(chains[0].measures.all, 0.0);
}

#[test]
fn weights_leave_a_side_out() {
    let parts: [(&str, &[&str]); 3] = [
        ("Trumpet", &["F5 1"]),
        ("Violin I", &["F4 1"]),
        ("Violin II", &["C5 1"]),
    ];
    let piece = programme(&parts, "C");
    let without = Weights {
        trumpets: 0.0,
        ..Weights::default()
    };
    let found = piece.measure(&choice("-1/4 SC"), &without);
    close(found.weighted, 5.3766);
    close(piece.distance(&choice("-1/4 SC"), &without), 5.3766);
    assert!(found.all.unwrap() > Cents::new(20.0));
}

#[test]
fn the_best_fifth_is_found_where_it_can_be_worked_out() {
    // Thirds alone want a quarter of the comma, fifths alone none of it.
    let thirds = programme(&[("Violin I", &["E5 1"]), ("Violin II", &["C5 1"])], "C");
    let best = thirds
        .best_fraction(&choice("0"), &Weights::default())
        .unwrap();
    assert!((best.fraction - 0.25).abs() < 1e-5, "{}", best.fraction);
    let fifths = programme(&[("Violin I", &["G5 1"]), ("Violin II", &["C5 1"])], "C");
    let best = fifths
        .best_fraction(&choice("0"), &Weights::default())
        .unwrap();
    assert!(best.fraction < 1e-5, "{}", best.fraction);
    // One of each: 4t of the comma against t: squares (1 - 4t)^2 + t^2 are least at t = 4/17.
    let both = programme(
        &[("Violin I", &["E5 1", "G5 1"]), ("Violin II", &["C5 2"])],
        "C",
    );
    let best = both
        .best_fraction(&choice("0"), &Weights::default())
        .unwrap();
    assert!(
        (best.fraction - 4.0 / 17.0).abs() < 1e-5,
        "{}",
        best.fraction
    );
}

#[test]
fn the_best_anchor_is_the_partial_that_meets_the_others() {
    // A trumpet that plays nothing but the fifth, against the violins' fifth.
    let piece = programme(&[("Trumpet", &["G5 1"]), ("Violin", &["G4 1"])], "C");
    let anchors = piece.anchors(&choice("-1/4 SC"), &Weights::default());
    assert_eq!(anchors[0].partial.number(), 12);
    close(anchors[0].measures.all, 0.0);
    let (shift, left) = piece.best_shift(&choice("-1/4 SC")).unwrap();
    close(Some(shift), -5.3766);
    close(Some(left), 0.0);
}

#[test]
fn usage_counts_notes_and_flags_them() {
    let piece = programme(
        &[
            ("Trumpet", &["F5 1", "Eb5 2", "F5 2", "E6 1", "G5 4"]),
            ("Violin", &["C4 10"]),
        ],
        "C",
    );
    let usage = piece.pieces()[0].usage(&choice("-1/6 SC"));
    assert_eq!(usage.len(), 1);
    let row = |note: &str| {
        let notes = &usage[0].notes;
        notes.iter().find(|used| used.note.ascii() == note).unwrap()
    };
    let eleventh = row("F5");
    assert_eq!(eleventh.partial, Partial::new(11).ok());
    assert_eq!(eleventh.count, 2);
    assert!((eleventh.quarters - 3.0).abs() < 1e-9 && eleventh.is_between());
    assert_eq!(eleventh.bars, ["1"]);
    // A fourth of sixth-comma has 501.629 cents.
    close(eleventh.from_tempered, 551.318 - 501.629);
    assert!(row("E6").is_high());
    let bent = row("Eb5");
    assert_eq!((bent.partial, bent.from_tempered), (None, None));
    assert!(!row("G5").is_between());
    assert_eq!(row("G5").bars, ["2"]);
}

#[test]
fn the_farthest_meeting_comes_first_with_its_place() {
    let piece = programme(
        &[
            ("Trumpet", &["C5 4", "F5 2", "C5 2", "F5 1"]),
            ("Violin", &["G4 4", "F4 4", "F4 1"]),
        ],
        "C",
    );
    let worst = piece.worst(&choice("-1/4 SC"), 10);
    let first = &worst[0];
    assert_eq!(first.lower.note.ascii(), "F4");
    assert_eq!(first.upper.part, "Trumpet");
    assert_eq!(first.upper.partial, Partial::new(11).ok());
    close(Some(first.error), 551.318 - 503.4216);
    assert_eq!(first.count, 2);
    let places: Vec<(&str, f64)> = first
        .places
        .iter()
        .map(|place| (place.bar.as_str(), place.beat))
        .collect();
    assert_eq!(places, [("2", 1.0), ("3", 1.0)]);
    assert_eq!(piece.worst(&choice("-1/4 SC"), 1).len(), 1);
}

fn proposal(parts: &[(&str, &[&str])], each: &str, note: &str) -> Option<Proposal> {
    let note: NoteName = note.parse().unwrap();
    programme(parts, "C")
        .proposals(&choice(each), &Weights::default())
        .into_iter()
        .find(|proposal| proposal.note == note)
}

#[test]
fn strings_go_to_the_partial_they_can_reach() {
    // The eleventh stands 48 above the fourth: the strings reach it, the lips do not reach them.
    let parts: [(&str, &[&str]); 2] = [("Trumpet", &["F5 4"]), ("Violin", &["F4 4"])];
    let found = proposal(&parts, "-1/4 SC", "F").unwrap();
    close(Some(found.gap), 551.318 - 503.4216);
    close(Some(found.exposed), 551.318 - 503.4216);
    assert!(found.settled < Cents::new(20.0), "{found:?}");
    let moves = !matches!(
        found.resolution,
        Resolution::LeaveExposed | Resolution::TrumpetLips
    );
    assert!(moves, "{found:?}");
}

#[test]
fn a_keyboard_does_not_move() {
    // The tenth partial lies 13.686 below an equal third, and the organ holds it: lips can go.
    let parts: [(&str, &[&str]); 2] = [("Trumpet", &["E5 4"]), ("Organ", &["E4 4"])];
    let found = proposal(&parts, "-1/11 SC", "E").unwrap();
    assert!(found.gap < Cents::new(-13.0), "{found:?}");
    let lips = matches!(
        found.resolution,
        Resolution::TrumpetLips | Resolution::MeetBetween(_)
    );
    assert!(lips && found.settled < found.exposed, "{found:?}");
    // 48 cents are beyond any lip, and worse than silence.
    let parts: [(&str, &[&str]); 2] = [("Trumpet", &["F5 4"]), ("Organ", &["F4 4"])];
    let found = proposal(&parts, "-1/4 SC", "F").unwrap();
    assert_eq!(found.resolution, Resolution::KeyboardLeavesOut, "{found:?}");
}

#[test]
fn who_cannot_move_keeps_nobody_from_moving() {
    let casting = Casting {
        reaches: vec![(
            "Violin II".parse().unwrap(),
            crate::rehearsal::Reach {
                up: Cents::new(0.0),
                down: Cents::new(0.0),
            },
        )],
        ..casting()
    };
    let parts: [(&str, &[&str]); 4] = [
        ("Trumpet", &["F5 4"]),
        ("Violin I", &["F4 4"]),
        ("Violin III", &["A4 4"]),
        ("Violin II", &["F3 4"]),
    ];
    let piece = Programme::new(vec![score(&parts)], &casting, Some(NoteName::C)).unwrap();
    let found = piece.proposals(&choice("-1/4 SC"), &Weights::default());
    let found = found.iter().find(|proposal| proposal.note.ascii() == "F");
    let found = found.unwrap();
    assert_ne!(found.resolution, Resolution::LeaveExposed, "{found:?}");
    assert!(found.settled < found.exposed);
}

#[test]
fn two_partials_under_one_name_are_not_mixed() {
    // In D the seventh partial is 79 above a B and the thirteenth 49 below one.
    let parts: [(&str, &[&str]); 2] = [
        ("Trumpet", &["B5 4", "B4 1"]),
        ("Violin", &["B4 4", "B4 1"]),
    ];
    let piece = programme(&parts, "D");
    let found = piece.proposals(&choice("-1/4 SC"), &Weights::default());
    let thirteenth = &found[0];
    assert_eq!(thirteenth.partial.number(), 13);
    assert!((thirteenth.quarters - 4.0).abs() < 1e-9, "{thirteenth:?}");
    assert!(thirteenth.settled < thirteenth.exposed, "{thirteenth:?}");
}

#[test]
fn what_lies_together_needs_no_proposal() {
    let parts: [(&str, &[&str]); 2] = [("Trumpet", &["E5 4"]), ("Violin", &["E4 4"])];
    assert_eq!(proposal(&parts, "-1/4 SC", "E"), None);
}

#[test]
fn several_pieces_are_one_long_piece() {
    let of = |notes: &[&str]| score(&[("Violin I", notes), ("Violin II", &["C5 8"])]);
    let both = Programme::new(vec![of(&["G5 1"]), of(&["E5 7"])], &casting(), None).unwrap();
    let found = both.measure(&choice("-1/4 SC"), &Weights::default());
    close(found.all, 5.3766 / 8.0_f64.sqrt());
    close(
        both.pieces()[0]
            .measure(&choice("-1/4 SC"), &Weights::default())
            .all,
        5.3766,
    );
    assert_eq!(both.pieces()[0].key(), None);
}

#[test]
fn patterns_that_fit_nothing_are_told_with_the_names_there_are() {
    let casting = Casting {
        trumpets: Some("Clarino*".parse().unwrap()),
        ..casting()
    };
    let error = Programme::new(vec![score(&[("Trumpet", &["C5 1"])])], &casting, None);
    let text = error.unwrap_err().to_string();
    assert_eq!(text, "no part is called 'clarino*': there are 'Trumpet'");
    assert_eq!(
        Programme::new(Vec::new(), &casting, None),
        Err(PlanError::NoScore)
    );
    let silent = Programme::new(
        vec![score(&[("Trumpet", &["- 4"])])],
        &self::casting(),
        None,
    );
    assert!(matches!(silent, Err(PlanError::Silent(_))));
}
