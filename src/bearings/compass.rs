//! Where on the keyboard the bearings are laid: from F3 a little over an octave up.

use std::ops::RangeInclusive;

use crate::units::{Note, NoteName};

/// The keys notes are tuned on, F3 to F sharp 4, by number (60 is middle C). Common practice:
/// beats there are slow enough to be counted and strings long enough to be clear.
pub(super) const BEARINGS: RangeInclusive<i32> = 53..=66;
/// The lowest octave of them: one key for each name.
const LOWEST: RangeInclusive<i32> = 53..=64;

/// The note of this name on this key, if it can be called that.
pub(super) fn on_key(name: NoteName, key: i32) -> Option<Note> {
    (-1..=9)
        .map(|octave| name.in_octave(octave))
        .find(|note| note.key_number() == key)
}

/// The lowest note of this name within the bearings.
pub(super) fn lowest(name: NoteName) -> Note {
    let mut keys = LOWEST;
    keys.find_map(|key| on_key(name, key))
        .expect("twelve keys in a row hold every name")
}

/// The tuned note a new one is taken from, and the new one: a fifth away if the bearings allow
/// it, as fifths beat slower than fourths, else a fourth.
pub(super) fn fifth_or_fourth(
    tuned: &[Note],
    from: NoteName,
    to: NoteName,
) -> Option<(Note, Note)> {
    // Of the two directions only one leads to the name.
    let steps = [7, -7, 5, -5];
    steps.into_iter().find_map(|step| {
        tuned
            .iter()
            .filter(|note| note.name() == from && BEARINGS.contains(&note.key_number()))
            .find_map(|source| {
                let key = source.key_number() + step;
                let target = BEARINGS.contains(&key).then(|| on_key(to, key))?;
                Some((*source, target?))
            })
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(tuned: &[&str], to: &str, expected: Option<(&str, &str)>) {
        let tuned: Vec<Note> = tuned.iter().map(|note| note.parse().unwrap()).collect();
        let found = fifth_or_fourth(&tuned, tuned[0].name(), to.parse().unwrap());
        let found = found.map(|(source, target)| (source.ascii(), target.ascii()));
        let expected = expected.map(|(source, target)| (source.to_owned(), target.to_owned()));
        assert_eq!(found, expected, "{to}");
    }

    #[test]
    fn a_fifth_is_taken_where_there_is_room_for_it() {
        check(&["A3", "A4"], "D", Some(("A3", "D4")));
        check(&["A3"], "E", Some(("A3", "E4")));
        check(&["F3", "F4"], "Bb", Some(("F4", "Bb3")));
        check(&["F3"], "Bb", Some(("F3", "Bb3")));
        check(&["B3"], "F#", Some(("B3", "F#4")));
        check(&["A3"], "C", None);
    }

    #[test]
    fn names_stand_on_their_keys() {
        let lowest = |name: &str| lowest(name.parse().unwrap()).ascii();
        assert_eq!(lowest("F"), "F3");
        assert_eq!(lowest("E"), "E4");
        assert_eq!(lowest("Cb"), "Cb4");
        assert_eq!(lowest("B#"), "B#3");
    }
}
