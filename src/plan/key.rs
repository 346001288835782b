//! The key of the trumpets: given, or guessed from what they play; and the partial of a note.

use std::collections::HashMap;

use crate::score::{Score, ScoreNote};
use crate::tuning::{Anchor, Partial};
use crate::units::{Cents, Note, NoteName};

/// A note farther than this from every partial has none: it must be bent.
const REACH: Cents = Cents::new(70.0);

/// The key of a piece's trumpets.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SeriesKey {
    /// Its tonic, which partial 8 sounds.
    pub name: NoteName,
    /// Whether it was guessed from the notes.
    pub is_guessed: bool,
}

/// The partial a trumpet in `key` plays `note` with: the nearest of 1 to 24 in equal
/// temperament with partial 8 on the tonic, so that it does not depend on the tuning under test.
/// None over 70 cents away.
pub(super) fn partial_of(note: Note, key: NoteName) -> Option<Partial> {
    let eighth = eighth(key).key_number();
    let above_eighth = Cents::new(100.0 * f64::from(note.key_number() - eighth));
    Partial::all()
        .map(|partial| {
            let place = Cents::of_ratio(f64::from(partial.number()), 8.0);
            (partial, (above_eighth - place).abs())
        })
        .min_by(|a, b| a.1.get().total_cmp(&b.1.get()))
        .filter(|(_, distance)| *distance <= REACH)
        .map(|(partial, _)| partial)
}

/// The note partial 8 sounds.
fn eighth(key: NoteName) -> Note {
    match Anchor::tonic(key) {
        Anchor::PartialSounds { note, .. } => note,
        Anchor::Fundamental { .. } => key.in_octave(5),
    }
}

/// The note of the series that `partial` is written as: the nearest in equal temperament, spelled
/// as the intervals above the tonic are (the fifth partial is a third). None for the partials
/// that stand between notes (7, 11, 13, 14 and those from 17) or that would need three accidentals.
pub(super) fn written(partial: Partial, key: NoteName) -> Option<Note> {
    let number = partial.number();
    let fifths = match number >> number.trailing_zeros() {
        1 => 0,
        3 => 1,
        5 => 4,
        9 => 2,
        15 => 5,
        _ => return None,
    };
    let name = NoteName::from_fifths(key.fifths() + fifths)?;
    let place = Cents::of_ratio(f64::from(number), 8.0);
    let semitones = (place.get() / 100.0).round() as i32;
    let key_number = eighth(key).key_number() + semitones;
    (-1..=9)
        .map(|octave| name.in_octave(octave))
        .find(|note| note.key_number() == key_number)
}

/// The key in which the trumpets' notes are served best: as few notes as possible without a
/// partial, then few on the partials that stand between notes, then the simplest partials (by the
/// odd parts of their numbers), each weighed by its length. None without notes.
///
/// The weights are a choice of this program. The tonic is spelled as the score spells it most.
pub fn guess_key<'a>(
    score: &Score,
    trumpets: impl Iterator<Item = &'a ScoreNote>,
) -> Option<NoteName> {
    let mut lengths: HashMap<Note, f64> = HashMap::new();
    for note in trumpets {
        *lengths.entry(note.note).or_default() += score.bars.quarters(note.end - note.onset);
    }
    if lengths.is_empty() {
        return None;
    }
    let mut used: HashMap<NoteName, usize> = HashMap::new();
    for note in score.parts.iter().flat_map(|part| &part.notes) {
        *used.entry(note.note.name()).or_default() += 1;
    }
    // The plainest spelling of each key where the score has none, and the order of ties: from
    // the middle of the chain outwards.
    let plain = [0, 1, -1, 2, -2, 3, -3, 4, -4, 5, -5, 6].map(NoteName::from_fifths);
    let keys = plain.into_iter().flatten().map(|plain| {
        (-8..=12)
            .filter_map(NoteName::from_fifths)
            .filter(|name| name.key() == plain.key())
            .max_by_key(|name| (used.get(name).copied().unwrap_or(0), *name == plain))
            .unwrap_or(plain)
    });
    let mut notes: Vec<(Note, f64)> = lengths.into_iter().collect();
    notes.sort_by_key(|(note, _)| (note.key_number(), note.name().fifths()));
    let burden = |key: NoteName| -> f64 {
        let costs = notes
            .iter()
            .map(|(note, quarters)| quarters * cost(partial_of(*note, key)));
        costs.sum()
    };
    keys.map(|key| (key, burden(key)))
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .map(|(key, _)| key)
}

/// How much speaks against playing a note with this partial.
fn cost(partial: Option<Partial>) -> f64 {
    let Some(number) = partial.map(Partial::number) else {
        return 30.0;
    };
    let odd = number >> number.trailing_zeros();
    let between = if is_between(number) { 8.0 } else { 0.0 };
    let extreme = if (3..=16).contains(&number) { 0.0 } else { 4.0 };
    f64::from(odd).log2() + between + extreme
}

/// Whether a partial stands between two notes: 7, 11, 13, 14.
pub(super) fn is_between(number: u8) -> bool {
    matches!(number, 7 | 11 | 13 | 14)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::score::{Bars, Part, Spelling, Ticks};

    fn score(notes: &[&str]) -> Score {
        let notes = notes.iter().enumerate().map(|(index, note)| ScoreNote {
            note: note.parse().unwrap(),
            onset: Ticks::new(index as u64),
            end: Ticks::new(index as u64 + 1),
        });
        Score {
            title: "Invented".to_owned(),
            parts: vec![Part {
                name: "Trumpet".to_owned(),
                notes: notes.collect(),
            }],
            bars: Bars::new(1, Vec::new()),
            signatures: Vec::new(),
            spelling: Spelling::Written,
            remarks: Vec::new(),
        }
    }

    #[test]
    fn the_key_is_the_one_whose_series_holds_the_notes() {
        let check = |notes: &[&str], expected: &str| {
            let score = score(notes);
            let key = guess_key(&score, score.parts[0].notes.iter());
            assert_eq!(key, Some(expected.parse().unwrap()), "{notes:?}");
        };
        check(&["D5", "E5", "F#5", "A5", "D4", "F#4"], "D");
        check(&["C5", "D5", "E5", "F5", "G5", "C5"], "C");
        check(&["Bb4", "C5", "D5", "F5"], "Bb");
        check(&["Eb5", "F5", "G5", "Bb5"], "Eb");
        let empty = score(&[]);
        assert_eq!(guess_key(&empty, empty.parts[0].notes.iter()), None);
    }

    #[test]
    fn partials_are_the_nearest_within_seventy_cents() {
        let check = |note: &str, key: &str, expected: Option<u8>| {
            let found = partial_of(note.parse().unwrap(), key.parse().unwrap());
            assert_eq!(found.map(Partial::number), expected, "{note}");
        };
        check("D5", "D", Some(8));
        check("F#5", "D", Some(10));
        check("G5", "D", Some(11));
        check("G#5", "D", Some(11));
        check("B5", "D", Some(13));
        check("C6", "D", Some(14));
        check("C#6", "D", Some(15));
        // A semitone above the tonic lies 95 and 104 cents from the neighbours.
        check("Eb5", "D", None);
        check("C2", "C", Some(1));
        check("B1", "C", None);
        check("A4", "C", Some(7));
    }

    #[test]
    fn partials_are_written_as_the_intervals_they_sound() {
        let check = |number: u8, key: &str, expected: Option<&str>| {
            let partial = Partial::new(number).unwrap();
            let expected = expected.map(|note| note.parse().unwrap());
            assert_eq!(written(partial, key.parse().unwrap()), expected, "{number}");
        };
        check(8, "D", Some("D5"));
        check(10, "D", Some("F#5"));
        check(12, "Bb", Some("F5"));
        check(15, "C", Some("B5"));
        check(3, "C", Some("G3"));
        check(11, "C", None);
    }
}
