//! Tubes whose fundamental is known are found again.

use super::*;
use crate::rehearsal::record::tests::MadeUp;

/// Habits of a player, in cents, that are none on the whole.
fn habit(partial: u8) -> f64 {
    match partial {
        4 => -2.0,
        5 => 1.5,
        6 => 2.0,
        8 => -1.0,
        9 => 1.0,
        10 => -1.5,
        // Lipped towards the tempered note.
        11 => -28.0,
        13 => 25.0,
        14 => 18.0,
        _ => 0.0,
    }
}

const PARTIALS: [u8; 11] = [8, 9, 10, 11, 12, 8, 13, 6, 5, 10, 14];

fn evening(minutes: u32, cents: impl Fn(f64) -> f64) -> MadeUp {
    let mut made_up = MadeUp::new(&["Trumpet I", "Violin I"]);
    for step in 0..12 * minutes {
        let at = 5.0 * f64::from(step);
        let partial = PARTIALS[step as usize % PARTIALS.len()];
        let chance = 2.5 * made_up.chance();
        // Every seventh note is lipped by 20 cents.
        let lipped = if step % 7 == 0 { -20.0 } else { 0.0 };
        let off = cents((at + 2.0) / 60.0) + habit(partial) + lipped + chance;
        made_up.play(0, &format!("p{partial}"), at, 4.0, off);
    }
    made_up
}

#[test]
fn lipped_partials_and_notes_do_not_pull_the_fundamental() {
    let made_up = evening(10, |_| 6.0);
    let series = TrueSeries::of(&made_up.chronicle, 0).unwrap();
    let off = series.from_planned.get() - 6.0;
    assert!(off.abs() < 1.0, "{series:?}");
    assert!(
        off.abs() <= series.margin.get() && series.margin.get() < 3.0,
        "{series:?}"
    );
    let planned = made_up.tuning().series().fundamental();
    assert!(
        (series.fundamental.above(planned) - series.from_planned)
            .abs()
            .get()
            < 1e-9
    );
    for found in &series.habits {
        let truth = habit(found.partial.number());
        assert!(
            (found.cents.get() - truth).abs() < 2.0,
            "{found:?}, {truth}"
        );
        assert_eq!(found.counts, !BENT.contains(&found.partial.number()));
    }
}

#[test]
fn a_partial_that_is_always_lipped_does_not_pull_either() {
    let mut made_up = MadeUp::new(&["Trumpet I"]);
    for (index, partial) in [8, 9, 10, 12, 6].iter().cycle().take(60).enumerate() {
        // The third is always brought down by 14 cents.
        let off = if *partial == 10 { -14.0 } else { 0.0 };
        made_up.play(0, &format!("p{partial}"), 5.0 * index as f64, 3.0, off);
    }
    let series = TrueSeries::of(&made_up.chronicle, 0).unwrap();
    assert!(series.from_planned.abs().get() < 0.5, "{series:?}");
}

#[test]
fn a_tube_that_warms_is_told_as_it_is_now() {
    let made_up = evening(10, |t| 0.8 * t);
    let series = TrueSeries::of(&made_up.chronicle, 0).unwrap();
    assert!((series.from_planned.get() - 8.0).abs() < 1.2, "{series:?}");
    assert!((series.from_planned.get() - 8.0).abs() <= series.margin.get());
}

#[test]
fn few_notes_and_other_players_tell_nothing() {
    let mut made_up = MadeUp::new(&["Trumpet I", "Violin I"]);
    for (index, partial) in [8, 9, 8, 9, 8, 9, 8].iter().enumerate() {
        made_up.play(0, &format!("p{partial}"), 5.0 * index as f64, 3.0, 0.0);
        made_up.play(1, "D5", 5.0 * index as f64, 3.0, 0.0);
    }
    assert_eq!(
        TrueSeries::of(&made_up.chronicle, 0),
        None,
        "two partials only"
    );
    assert_eq!(TrueSeries::of(&made_up.chronicle, 1), None);
    assert_eq!(TrueSeries::of(&Chronicle::default(), 0), None);
}

#[test]
fn fewer_partials_make_a_wider_margin() {
    let wide = |partials: &[u8]| {
        let mut made_up = MadeUp::new(&["Trumpet I"]);
        for (index, partial) in partials.iter().cycle().take(24).enumerate() {
            let off = habit(*partial) + made_up.chance();
            made_up.play(0, &format!("p{partial}"), 5.0 * index as f64, 3.0, off);
        }
        TrueSeries::of(&made_up.chronicle, 0).unwrap().margin.get()
    };
    assert!(wide(&[8, 9, 10]) > 1.5 * wide(&[4, 5, 6, 8, 9, 10, 12, 16]));
}

#[test]
fn an_evening_on_few_partials_is_no_square_of_work() {
    // Two partials only in the last ten minutes: all there is counts, eight thousand notes.
    let mut made_up = MadeUp::new(&["Trumpet I"]);
    for number in 0..8_000 {
        let label = ["p8", "p12"][number % 2];
        let label = if number < 200 && number % 3 == 0 {
            "p6"
        } else {
            label
        };
        made_up.play(0, label, 4.0 * number as f64, 3.0, 5.0);
    }
    let series = TrueSeries::of(&made_up.chronicle, 0).unwrap();
    assert!((series.from_planned.get() - 5.0).abs() < 0.1);
    // All pairs of the notes of one partial would be eight million.
    assert!(series.count == 8_000 && series.is_sure(), "{series:?}");
}
