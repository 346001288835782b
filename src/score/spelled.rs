//! Spelled notes by staff steps and semitones.

use crate::units::{Note, NoteName};

/// Semitones of the steps above C.
const NATURAL: [i32; 7] = [0, 2, 4, 5, 7, 9, 11];
/// Fifths from C of the same.
const FIFTHS: [i32; 7] = [0, 2, 4, -1, 1, 3, 5];

/// The note `steps` of the staff and `semitones` higher. Where that would need three accidentals it
/// is the same key with fewer; none outside the octaves a note can have.
pub(super) fn moved(note: Note, steps: i32, semitones: i32) -> Option<Note> {
    let place = note.name().letter() as i32 + 7 * i32::from(note.octave()) + steps;
    let letter = place.rem_euclid(7) as usize;
    let key = note.key_number() + semitones;
    let sharps = key - (place.div_euclid(7) + 1) * 12 - NATURAL[letter];
    let fifths = FIFTHS[letter] + 7 * sharps;
    let name = NoteName::from_fifths(fifths)
        .or_else(|| NoteName::from_fifths(fifths - 12 * fifths.signum()))?;
    at_key(name, key)
}

/// That name at that key, which it must be a name of.
pub(super) fn at_key(name: NoteName, key: i32) -> Option<Note> {
    let natural = key - i32::from(name.sharps());
    let octave = natural.div_euclid(12) - 1;
    let octave = i8::try_from(octave)
        .ok()
        .filter(|octave| (-1..=9).contains(octave))?;
    let note = name.in_octave(octave);
    (note.key_number() == key).then_some(note)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn a_moved_note_sounds_that_many_semitones_off(
            fifths in -15_i32..=19,
            octave in 1_i8..=7,
            steps in -14_i32..=14,
            wide in -1_i32..=1,
        ) {
            let note = NoteName::from_fifths(fifths).unwrap().in_octave(octave);
            let semitones = (steps * 12).div_euclid(7) + wide;
            let moved = moved(note, steps, semitones);
            if let Some(moved) = moved {
                prop_assert_eq!(moved.key_number(), note.key_number() + semitones);
            }
            let plain = (-8..=12).contains(&fifths);
            prop_assert!(moved.is_some() || !plain);
        }
    }
}
