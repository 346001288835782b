//! Words for exercises and what came of them, the same in every report.

use super::layout::{Side, columns};
use crate::rehearsal::{Exercise, Place, Step, Steps, TallyRow};
use crate::tuning::Partial;

/// The exercises side by side, for reading on a terminal.
pub fn exercise_list(exercises: &[Exercise]) -> String {
    let headings = [
        ("name", Side::Left),
        ("notes", Side::Left),
        ("where", Side::Left),
        ("within", Side::Right),
        ("hold", Side::Right),
        ("title", Side::Left),
    ];
    let row = |exercise: &Exercise| {
        let places: Vec<&str> = exercise.places.iter().map(|place| word(*place)).collect();
        let hold = exercise.hold.get();
        vec![
            exercise.name.clone(),
            notes(&exercise.steps),
            places.join(", "),
            format!("\u{b1}{}", exercise.tolerance.get()),
            if hold > 0.0 {
                format!("{hold} s")
            } else {
                String::new()
            },
            exercise.title.clone(),
        ]
    };
    let rows: Vec<Vec<String>> = exercises.iter().map(row).collect();
    columns(&headings, &rows)
}

/// So many notes are named.
const MOST_NAMED: usize = 5;

fn notes(steps: &Steps) -> String {
    let Steps::Notes(notes) = steps else {
        return "any".to_owned();
    };
    let name = |step: &Step| match step {
        Step::Partial(partial) => format!("p{}", partial.number()),
        Step::Note(note) => note.to_string(),
    };
    let named: Vec<String> = notes.iter().take(MOST_NAMED).map(name).collect();
    let more = notes.len() - named.len();
    let named = named.join(" ");
    if more > 0 {
        format!("{named} and {more} more")
    } else {
        named
    }
}

/// A place in a word.
pub(super) fn word(place: Place) -> &'static str {
    match place {
        Place::Partial => "partial",
        Place::Tempered => "tempered",
        Place::Agreed => "agreed",
    }
}

/// A place as a shape.
pub(super) fn shape(place: Place) -> &'static str {
    match place {
        Place::Partial => "\u{25c7}",
        Place::Tempered => "\u{25a1}",
        Place::Agreed => "\u{25c6}",
    }
}

/// The note that was held, with its partial: `G\u{266f}5 (p11)`.
pub(super) fn pitch(row: &TallyRow) -> String {
    match row.partial {
        Some(partial) => format!("{} ({})", row.note, label(partial)),
        None => row.note.to_string(),
    }
}

fn label(partial: Partial) -> String {
    format!("p{}", partial.number())
}

/// The share of the time inside, in whole hundredths.
pub(super) fn share(row: &TallyRow) -> String {
    format!("{:.0} %", 100.0 * row.share_inside())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::session::exercises;

    #[test]
    fn exercises_are_listed() {
        insta::assert_snapshot!(exercise_list(&exercises(None).unwrap()));
    }
}
