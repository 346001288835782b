//! Notes from made-up readings.

use std::f64::consts::TAU;

use super::*;
use crate::analysis::NoPitch;
use crate::rehearsal::tests::{reading, unpitched};

const BASE_HZ: f64 = 500.0;

/// Takes down `seconds` of readings, `spacing_s` apart; `cents` above 500 Hz, none in silence.
fn take(seconds: f64, spacing_s: f64, cents: impl Fn(f64) -> Option<f64>) -> Vec<Taken> {
    let mut scribe = NoteTaker::default();
    let mut taken = Vec::new();
    for index in 0..(seconds / spacing_s).round() as u32 {
        let time = spacing_s * f64::from(index);
        let heard = match cents(time) {
            Some(cents) => reading(BASE_HZ * (cents / 1200.0).exp2()),
            None => unpitched(NoPitch::Silence),
        };
        taken.extend(scribe.hear(&heard, Seconds::new(time)));
    }
    taken.extend(scribe.finish());
    taken
}

fn above(note: &Taken) -> f64 {
    note.hertz.above(Hertz::new(BASE_HZ).unwrap()).get()
}

/// The notes' places to a tenth of a cent.
fn places(notes: &[Taken]) -> Vec<f64> {
    notes
        .iter()
        .map(|note| (10.0 * above(note)).round() / 10.0)
        .collect()
}

#[test]
fn a_note_has_a_beginning_and_an_end() {
    let notes = take(4.0, 0.01, |t| (1.0..3.0).contains(&t).then_some(7.0));
    assert_eq!(places(&notes), [7.0]);
    assert!((notes[0].begun.get() - 1.0).abs() < 0.011);
    assert!((notes[0].ended.get() - 2.99).abs() < 0.011);
    assert!(notes[0].spread.get() < 1e-6 && !notes[0].goes_on);
    assert!((notes[0].level.get() + 20.0).abs() < 1e-6);
}

#[test]
fn a_change_of_bow_parts_nothing_and_a_breath_does() {
    let bowed = take(3.0, 0.01, |t| (!(1.0..1.1).contains(&t)).then_some(0.0));
    assert_eq!(places(&bowed), [0.0]);
    let breathed = take(3.0, 0.01, |t| (!(1.0..1.4).contains(&t)).then_some(0.0));
    assert_eq!(places(&breathed), [0.0, 0.0]);
}

#[test]
fn an_octave_that_only_the_ear_heard_is_passed_over() {
    for blip in [1200.0, -1200.0, 1901.955] {
        let notes = take(3.0, 0.01, |t| {
            Some(if (1.0..1.12).contains(&t) { blip } else { 2.0 })
        });
        assert_eq!(places(&notes), [2.0], "{blip}");
        assert!((notes[0].sounding_s() - 2.99).abs() < 0.02);
    }
    // An octave that is played stays.
    let notes = take(3.0, 0.01, |t| {
        Some(if (1.0..2.0).contains(&t) { 1200.0 } else { 2.0 })
    });
    assert_eq!(places(&notes), [2.0, 1200.0, 2.0]);
}

#[test]
fn semitones_that_follow_at_once_are_notes_of_their_own() {
    for step in [63.0, 76.0, 88.6, 112.0, -70.0] {
        let notes = take(3.0, 0.01, |t| Some(if t < 1.5 { 0.0 } else { step }));
        assert_eq!(places(&notes), [0.0, step], "{step}");
    }
}

#[test]
fn a_vibrato_is_one_note_at_its_centre() {
    for (extent, rate, seconds) in [(12.0, 5.1, 0.9), (25.0, 5.7, 1.63), (45.0, 6.3, 2.21)] {
        let notes = take(seconds, 0.01, |t| {
            Some(4.0 + extent * (TAU * rate * t + 0.7).sin())
        });
        assert_eq!(notes.len(), 1, "{extent}: {:?}", places(&notes));
        let allowed = if seconds < 1.0 { 1.5 } else { 0.6 };
        assert!(
            (above(&notes[0]) - 4.0).abs() < allowed,
            "{extent}: {}",
            above(&notes[0])
        );
        if extent < 40.0 {
            let spread = notes[0].spread.get();
            assert!(
                (spread - extent / 2_f64.sqrt()).abs() < 0.15 * extent,
                "{extent}: {spread}"
            );
        }
    }
}

#[test]
fn a_scoop_and_a_fall_do_not_count() {
    let notes = take(2.0, 0.01, |t| {
        Some(-35.0 * (-t / 0.12).exp() - 30.0 * ((t - 1.8) / 0.2).max(0.0))
    });
    assert_eq!(notes.len(), 1);
    assert!(above(&notes[0]).abs() < 1.0, "{}", above(&notes[0]));
}

#[test]
fn a_bent_note_stands_where_it_was_held() {
    let notes = take(4.0, 0.01, |t| Some((-60.0 * (t - 0.6)).clamp(-24.0, 0.0)));
    assert_eq!(notes.len(), 1);
    assert!(
        (above(&notes[0]) + 24.0).abs() < 1.0,
        "{}",
        above(&notes[0])
    );
}

#[test]
fn what_never_keeps_still_is_no_note() {
    assert_eq!(take(1.0, 0.01, |t| Some(180.0 * t)), []);
    assert_eq!(take(0.2, 0.01, |_| Some(0.0)), []);
}

#[test]
fn a_long_note_is_told_in_parts_that_go_on() {
    let notes = take(50.0, 0.01, |t| Some(0.1 * t));
    let goes_on: Vec<bool> = notes.iter().map(|note| note.goes_on).collect();
    assert_eq!(goes_on, [false, true, true]);
    let total: f64 = notes.iter().map(Taken::sounding_s).sum();
    assert!((total - 50.0).abs() < 0.1, "{total}");
    // The middle of each part.
    assert!(
        (above(&notes[1]) - 3.0).abs() < 0.05,
        "{:?}",
        places(&notes)
    );
}

#[test]
fn samples_of_a_journal_make_the_same_notes() {
    let melody = |t: f64| {
        let step = (t / 1.2) as u32 % 4;
        let rests = t % 1.2 > 1.0;
        (!rests).then(|| [0.0, 204.0, 386.0, 498.0][step as usize] + 6.0 * (TAU * 5.3 * t).sin())
    };
    let (fine, coarse) = (take(9.6, 0.01, melody), take(9.6, 0.1, melody));
    assert_eq!(fine.len(), coarse.len());
    for (fine, coarse) in fine.iter().zip(&coarse) {
        assert!((above(fine) - above(coarse)).abs() < 4.0);
        assert!((fine.begun.get() - coarse.begun.get()).abs() < 0.11);
    }
}

impl Taken {
    fn sounding_s(&self) -> f64 {
        self.ended.get() - self.begun.get()
    }
}
