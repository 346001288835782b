//! The trumpets' series against Ellis's table and the notes of four temperaments.

use concento::tuning::Partial;

use crate::figures::{check, rows, tuning};

const TABLE: &str = include_str!("../data/partials.csv");

#[test]
fn partials_have_ellis_s_whole_cents() {
    let table = rows(
        TABLE,
        ["partial", "cents_above_fundamental", "ellis_whole_cents"],
    );
    assert_eq!(table.len(), 48);
    for [number, cents, ellis] in table {
        let partial = Partial::new(number.parse().unwrap()).unwrap();
        let above = partial.above_fundamental();
        check(above.get(), &cents, &format!("partial {number}"));
        // Octaves left out, as in the table; 0 and 1200 are one place.
        check(
            above.within_octave().get(),
            &ellis,
            &format!("partial {number}"),
        );
    }
}

/// Checks the column of deviations `side` ("a" or "b") of one temperament.
fn deviations(system: &str, side: &str) {
    let column = format!("{side}_{system}");
    let note = format!("note_{side}");
    let table = rows(TABLE, ["trumpet_key", "partial", &note, &column]);
    let mut checked = 0;
    for [key, number, note, cents] in table {
        if note.is_empty() {
            continue;
        }
        // The deviations do not depend on the pitch standard.
        let tuning = tuning(system, 415.0, &key);
        let partial = Partial::new(number.parse().unwrap()).unwrap();
        let hertz = tuning.series().frequency(partial);
        // The note in whichever octave lies nearest.
        let place = tuning
            .scale()
            .frequency(format!("{note}4").parse().unwrap());
        let deviation = hertz.above(place).nearest_octave().get();
        check(
            deviation,
            &cents,
            &format!("{system}: {number} of {key} from {note}"),
        );
        checked += 1;
    }
    assert!(checked >= 16, "{system} {side}: {checked}");
}

#[test]
fn partials_lie_where_the_table_has_them_in_four_temperaments() {
    for system in ["equal", "sixth-comma", "quarter-comma", "vallotti"] {
        deviations(system, "a");
        deviations(system, "b");
    }
}

#[test]
fn the_nearest_notes_of_a_partial_are_the_table_s() {
    // The 11th and the 13th of a trumpet in C in sixth-comma: F and F#, A flat has no key.
    let tuning = tuning("sixth-comma", 440.0, "C");
    let neighbours = |number| {
        let partial = Partial::new(number).unwrap();
        tuning
            .scale()
            .neighbours(tuning.series().frequency(partial))
    };
    let (below, above) = neighbours(11);
    assert_eq!(
        (below.0.ascii(), above.0.ascii()),
        ("F5".into(), "F#5".into())
    );
    check(below.1.get(), "49.689", "F");
    check(above.1.get(), "-38.906", "F#");
    let (below, above) = neighbours(13);
    assert_eq!(
        (below.0.ascii(), above.0.ascii()),
        ("G#5".into(), "A5".into())
    );
    check(above.1.get(), "-54.584", "A");
}
