//! Beats against published tables.

use concento::tuning::{Beat, beat_between};

use crate::figures::{check, printed, rows, scale};

fn beat(system: &str, a4_hz: &str, low: &str, high: &str) -> Beat {
    let scale = scale(system, a4_hz.parse().unwrap());
    let hertz = |note: &str| scale.frequency(note.parse().unwrap());
    beat_between(hertz(low), hertz(high)).unwrap()
}

#[test]
fn published_rates_are_met_to_their_printed_digits() {
    let table = rows(
        include_str!("../data/published_beats.csv"),
        [
            "temperament",
            "a4_hz",
            "low",
            "high",
            "of_lower",
            "of_upper",
            "sense",
            "published_hz",
        ],
    );
    assert_eq!(table.len(), 57);
    for [system, a4_hz, low, high, of_lower, of_upper, sense, hz] in table {
        let beat = beat(&system, &a4_hz, &low, &high);
        let of = format!("{system} {low}-{high} at {a4_hz}");
        assert_eq!(beat.of_lower.to_string(), of_lower, "{of}");
        assert_eq!(beat.of_upper.to_string(), of_upper, "{of}");
        assert_eq!(beat.signed_hz > 0.0, sense == "wide", "{of}");
        check(beat.rate_hz(), &hz, &of);
    }
}

#[test]
fn rates_agree_with_an_independent_computation() {
    let table = rows(
        include_str!("../data/computed_beats.csv"),
        [
            "temperament",
            "a4_hz",
            "low",
            "high",
            "of_lower",
            "signed_hz",
        ],
    );
    assert_eq!(table.len(), 324);
    for [system, a4_hz, low, high, of_lower, hz] in table {
        let beat = beat(&system, &a4_hz, &low, &high);
        let of = format!("{system} {low}-{high} at {a4_hz}");
        assert_eq!(beat.of_lower.to_string(), of_lower, "{of}");
        // The table's frequencies were not rounded before the beats were taken.
        let (expected, tolerance) = printed(&hz);
        assert!(
            (beat.signed_hz - expected).abs() <= tolerance,
            "{of}: {beat:?}, {hz}"
        );
    }
}

#[test]
fn a_temperament_s_pure_intervals_do_not_beat() {
    for (system, low, high) in [
        ("quarter-comma", "C4", "E4"),
        ("third-comma", "C4", "A4"),
        ("kirnberger-3", "C4", "E4"),
        ("werckmeister-3", "E4", "B4"),
    ] {
        let beat = beat(system, "440", low, high);
        assert!(beat.rate_hz() < 1e-9, "{system}: {beat:?}");
    }
}
