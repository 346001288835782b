//! Movements that are known are found again.

use super::*;
use crate::rehearsal::record::tests::MadeUp;
use crate::rehearsal::record::{Entry, Finding};

const NOTES: [&str; 5] = ["D4", "F#4", "A4", "E4", "B3"];

/// Twenty minutes in which every player's pitch is `cents(player, minutes)` from its place, with
/// habits of each note and chance of 3 cents either way.
fn evening(names: &[&str], cents: impl Fn(usize, f64) -> f64) -> MadeUp {
    let mut made_up = MadeUp::new(names);
    let habits = [0.0, 5.0, -4.0, 2.0, -6.0];
    for step in 0..240_u32 {
        let at = 5.0 * f64::from(step);
        for (player, name) in names.iter().enumerate() {
            // Rests of a minute, at another time for each.
            if (step / 12 + player as u32).is_multiple_of(5) {
                continue;
            }
            let index = (step as usize * 7 + 3 * player) % 5;
            let chance = 3.0 * made_up.chance();
            let label = if name.starts_with("Trumpet") {
                ["p8", "p9", "p10", "p12", "p11"][index]
            } else {
                NOTES[index]
            };
            let off = cents(player, (at + 2.0) / 60.0) + habits[index] + chance;
            made_up.play(player, label, at, 4.0, off);
        }
    }
    made_up
}

fn line(drift: &Drift, player: usize) -> &DriftLine {
    &drift
        .players
        .iter()
        .find(|(index, _)| *index == player)
        .unwrap()
        .1
}

/// The largest distance of a line from the truth, both counted from their means.
fn worst(line: &DriftLine, truth: impl Fn(f64) -> f64) -> f64 {
    let off = |p: &DriftPoint| p.cents.get() - truth(p.at.get() / 60.0);
    let mean = line.points.iter().map(off).sum::<f64>() / line.points.len() as f64;
    let farthest = line.points.iter().map(|p| (off(p) - mean).abs());
    farthest.fold(0.0, f64::max)
}

#[test]
fn everyone_who_rises_together_is_told_as_one() {
    let drift = Drift::of(
        &evening(&["Violin I", "Viola", "Dulcian", "Trumpet I"], |_, t| {
            0.4 * t
        })
        .chronicle,
    );
    assert!(drift.ensemble.points.len() > 30);
    let off = worst(&drift.ensemble, |t| 0.4 * t);
    assert!(off < 1.0, "{off}");
    assert!(worst(&drift.series, |t| 0.4 * t) < 1.5);
    let [Finding::Everyone { cents, since }] = drift.findings.as_slice() else {
        panic!("{:?}", drift.findings)
    };
    assert!((cents.get() - 8.0).abs() < 1.0, "{cents:?}");
    assert!(since.get() < 120.0, "{since:?}");
}

#[test]
fn one_who_sinks_is_told_apart_from_the_others() {
    // The dulcian goes down by 6 cents from the tenth minute to the fifteenth.
    let sinks = |player: usize, t: f64| match player {
        2 => -6.0 * ((t - 10.0) / 5.0).clamp(0.0, 1.0),
        _ => 0.0,
    };
    let drift = Drift::of(&evening(&["Violin I", "Viola", "Dulcian", "Organ"], sinks).chronicle);
    let [
        Finding::One {
            player: 2,
            cents,
            since,
        },
    ] = drift.findings.as_slice()
    else {
        panic!("{:?}", drift.findings)
    };
    assert!((cents.get() + 6.0).abs() < 1.2, "{cents:?}");
    assert!((since.get() - 600.0).abs() < 90.0, "{since:?}");
    assert!(worst(line(&drift, 2), |t| sinks(2, t)) < 1.6);
    assert!(worst(&drift.ensemble, |_| 0.0) < 1.0);
}

#[test]
fn trumpets_that_rise_alone_are_told_as_the_series() {
    let rises = |player: usize, t: f64| if player < 2 { 0.5 * t } else { 0.0 };
    let names = ["Trumpet I", "Trumpet II", "Violin I", "Viola", "Organ"];
    let drift = Drift::of(&evening(&names, rises).chronicle);
    let [Finding::Series { cents, .. }] = drift.findings.as_slice() else {
        panic!("{:?}", drift.findings)
    };
    assert!((cents.get() - 10.0).abs() < 1.2, "{cents:?}");
    assert!((drift.series.moved().unwrap().get() - 10.0).abs() < 1.2);
}

#[test]
fn nothing_is_made_up_where_nobody_moves() {
    let still = evening(&["Violin I", "Viola", "Dulcian", "Trumpet I"], |_, _| 0.0);
    assert_eq!(Drift::of(&still.chronicle).findings, [Finding::Still]);
    let mut brief = MadeUp::new(&["Violin I"]);
    brief.play(0, "D4", 0.0, 3.0, 4.0);
    assert_eq!(Drift::of(&brief.chronicle).findings, [Finding::TooEarly]);
    assert_eq!(
        Drift::of(&Chronicle::default()).findings,
        [Finding::TooEarly]
    );
}

#[test]
fn the_line_lies_where_the_player_lies() {
    // Seven cents above the standard all evening, the dulcian nine.
    let drift = Drift::of(
        &evening(&["Violin I", "Viola", "Dulcian"], |p, _| {
            if p == 2 { 9.0 } else { 7.0 }
        })
        .chronicle,
    );
    for point in &drift.ensemble.points {
        assert!((point.cents.get() - 7.0).abs() < 2.5, "{point:?}");
        assert!(point.margin.get() < 4.0, "{point:?}");
    }
}

#[test]
fn a_change_of_the_standard_is_no_drift() {
    let mut made_up = MadeUp::new(&["Violin I", "Viola", "Organ"]);
    let before = made_up.tuning().clone();
    for step in 0..200_u32 {
        let at = 5.0 * f64::from(step);
        if step == 100 {
            let higher = before.at_standard(before.standard().shifted(1.0));
            made_up.ensemble.tuning = higher.clone();
            made_up.take(&Entry::Tuned {
                at: Seconds::new(at),
                tuning: Box::new(higher),
            });
        }
        // The players stay where they were: 4.17 cents below the new standard.
        let off = if step < 100 { 0.0 } else { -4.167 };
        for player in 0..3 {
            made_up.play(player, NOTES[step as usize % 5], at, 4.0, off);
        }
    }
    let drift = Drift::of(&made_up.chronicle);
    assert_eq!(drift.findings, [Finding::Still]);
    assert!(worst(&drift.ensemble, |_| 0.0) < 0.1);
}

#[test]
fn winds_are_expected_to_rise_with_the_room() {
    let mut made_up = evening(&["Dulcian", "Violin I", "Organ"], |p, t| {
        if p == 0 { 0.3 * t } else { 0.0 }
    });
    for (minutes, degrees) in [(0.0, 17.0), (10.0, 19.5), (18.0, 22.0)] {
        made_up.take(&Entry::Warmth {
            at: Seconds::new(60.0 * minutes),
            celsius: Celsius::new(degrees).unwrap(),
        });
    }
    let expected = Drift::of(&made_up.chronicle).expected;
    assert_eq!(expected.len(), 4, "held to the end: {expected:?}");
    // From 17 to 22 degrees 14.79 cents: computed with the speed of sound of ISO 9613-1.
    assert!((expected[2].1 - expected[0].1).get() > 14.7);
    assert!(
        (expected[2].1 - expected[0].1 - Cents::new(14.79))
            .abs()
            .get()
            < 0.01
    );
    assert!(
        expected[0].1.abs().get() < 2.0,
        "from where the winds were: {expected:?}"
    );
}

#[test]
fn a_note_that_claims_to_be_late_makes_no_more_points_than_notes() {
    // The last of these is further than a moment can be told from the next.
    for (late, count) in [(1e9, 2), (1e15, 2), (1e300, 1)] {
        let mut made_up = MadeUp::new(&["Violin I"]);
        made_up.play(0, "A4", 10.0, 2.0, 3.0);
        made_up.play(0, "A4", late, 2.0, 3.0);
        let drift = Drift::of(&made_up.chronicle);
        let points = &line(&drift, 0).points;
        assert_eq!(points.len(), count, "{late}: {points:?}");
    }
}
