//! How the keys of a MIDI file are spelled, guessed from context and key signatures.
//!
//! After the first stage of David Meredith's ps13: each pitch class near a note is a possible
//! tonic, as likely as it is frequent there; each spells the note as its chromatic scale does
//! ("The ps13 pitch spelling algorithm", Journal of New Music Research 35 (2006) 121-159; window
//! of 10 notes before and 42 from the note on). Here the tonics themselves are spelled by the key
//! signature, where ps13 begins from a guess at the first note. Whether its second stage would
//! help was not tried.

use crate::score::Ticks;
use crate::units::NoteName;

/// Notes before the one in question that are its context.
const BEFORE: usize = 10;
/// Notes from the one in question on.
const AFTER: usize = 42;

/// Fifths from a tonic to each degree of its chromatic scale: minor second, augmented fourth and
/// minor sixth among them.
const DEGREES: [i32; 12] = [0, -5, 2, -3, 4, -1, 6, 1, -4, 3, -2, 5];

/// Fifths from the major tonic of a signature down to the lowest name a tonic has in it: E flat
/// and G sharp in C.
const LOWEST_TONIC: i32 = -3;

/// Names on the chain of fifths: those with up to two accidentals.
const NAMES: std::ops::RangeInclusive<i32> = -15..=19;

/// A signature of nothing is what some programs write when they were told nothing. It is doubted
/// where the scale of another holds so many more of the notes, as a share of all.
const DOUBT: f64 = 0.1;

/// The names of `keys`, which are in order of time.
pub(super) fn guess(keys: &[(Ticks, u8)], signatures: &[(Ticks, i8)]) -> Vec<NoteName> {
    let classes: Vec<usize> = keys.iter().map(|&(_, key)| usize::from(key) % 12).collect();
    let likely = likely_signature(&classes);
    let doubted = match signatures {
        [] => true,
        [(_, 0)] => fitting(&classes, likely) - fitting(&classes, 0) > DOUBT,
        _ => false,
    };
    let mut counts = [0_i32; 12];
    let (mut from, mut to) = (0, 0);
    let mut names = Vec::with_capacity(keys.len());
    for (index, &(at, _)) in keys.iter().enumerate() {
        while to < (index + AFTER).min(keys.len()) {
            counts[classes[to]] += 1;
            to += 1;
        }
        while from + BEFORE < index {
            counts[classes[from]] -= 1;
            from += 1;
        }
        let signature = if doubted {
            likely
        } else {
            let held = signatures.partition_point(|&(begin, _)| begin <= at);
            i32::from(signatures[held.saturating_sub(1)].1)
        };
        names.push(name(classes[index], &counts, signature));
    }
    names
}

/// The most likely name of a pitch class among `counts` of others.
fn name(class: usize, counts: &[i32; 12], signature: i32) -> NoteName {
    let mut strengths = [0_i32; 48];
    let place = |fifths: i32| (fifths + 24) as usize;
    for (tonic, &count) in counts.iter().enumerate() {
        let lowest = signature + LOWEST_TONIC;
        let tonic_fifths = lowest + (tonic as i32 * 7 - lowest).rem_euclid(12);
        let fifths = tonic_fifths + DEGREES[(class + 12 - tonic) % 12];
        if NAMES.contains(&fifths) {
            strengths[place(fifths)] += count;
        }
    }
    // Nearest to the middle of the scale among equals.
    let middle = signature + 2;
    let best = NAMES
        .filter(|fifths| (fifths * 7).rem_euclid(12) as usize == class)
        .max_by_key(|&fifths| (strengths[place(fifths)], -(fifths - middle).abs()));
    best.and_then(NoteName::from_fifths)
        .expect("every pitch class has a name of up to two accidentals")
}

/// How many of the notes lie in the scale of a signature, as a share.
fn fitting(classes: &[usize], signature: i32) -> f64 {
    let within = classes
        .iter()
        .filter(|&&class| (class as i32 * 7 - signature + 1).rem_euclid(12) < 7);
    within.count() as f64 / classes.len().max(1) as f64
}

/// The signature whose scale holds most of the notes, the one with fewer accidentals among equals.
fn likely_signature(classes: &[usize]) -> i32 {
    let mut signatures: Vec<i32> = (-6..=6).collect();
    signatures.sort_by_key(|signature| signature.abs());
    let mut best = (0, fitting(classes, 0));
    for signature in signatures {
        let share = fitting(classes, signature);
        if share > best.1 {
            best = (signature, share);
        }
    }
    best.0
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Notes as they ought to be spelled, given as keys.
    fn check(signature: Option<i8>, melody: &str) {
        let notes: Vec<crate::units::Note> = melody
            .split_whitespace()
            .map(|note| note.parse().unwrap())
            .collect();
        let keys: Vec<(Ticks, u8)> = notes
            .iter()
            .enumerate()
            .map(|(index, note)| (Ticks::new(index as u64), note.key_number() as u8))
            .collect();
        let signatures: Vec<_> = signature
            .map(|fifths| (Ticks::new(0), fifths))
            .into_iter()
            .collect();
        let guessed: Vec<String> = guess(&keys, &signatures)
            .into_iter()
            .map(NoteName::ascii)
            .collect();
        let written: Vec<String> = notes.iter().map(|note| note.name().ascii()).collect();
        assert_eq!(guessed, written, "{signature:?}");
    }

    #[test]
    fn scales_are_spelled_as_they_are_written() {
        check(Some(2), "D4 E4 F#4 G4 A4 B4 C#5 D5 A4 G#4 A4 F#4 D4");
        // Minor, with its raised sixth and seventh.
        check(
            Some(-3),
            "C4 D4 Eb4 F4 G4 A4 B4 C5 Bb4 Ab4 G4 F4 Eb4 D4 C4 B3 C4",
        );
        check(
            Some(1),
            "E4 F#4 G4 A4 B4 C#5 D#5 E5 D5 C5 B4 A4 G4 F#4 D#4 E4",
        );
        check(Some(-5), "Db4 Eb4 F4 Gb4 Ab4 Bb4 C5 Db5");
        // Without a signature, and with one that says nothing.
        check(None, "E4 F#4 G#4 A4 B4 C#5 D#5 E5 B4 G#4 E4");
        check(Some(0), "Ab4 Bb4 C5 Db5 Eb5 F5 G5 Ab5 Eb5 C5 Ab4");
    }
}
