//! Where two notes sound together at an interval that has a pure size.
//!
//! A meeting lasts as long as both notes sound. Cutting time into slices in which nothing changes
//! gives the same lengths, as a pair's error does not depend on what else sounds.

use std::collections::HashMap;
use std::collections::hash_map::Entry;

use super::body::Body;
use crate::score::Ticks;
use crate::tuning::Ratio;
use crate::units::Note;

/// How many places of one kind of meeting are remembered.
pub(super) const PLACES: usize = 16;

/// The most pairs of notes that are looked at in one piece. An act of an opera for fourteen parts
/// has about a million.
const MOST_PAIRS: u64 = 20_000_000;

/// One place where two notes meet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Occurrence {
    /// When it begins.
    pub at: Ticks,
    /// How long both sound.
    pub lasts: Ticks,
    /// The part with the lower note, counted from 0.
    pub lower_part: usize,
    /// The part with the upper note.
    pub upper_part: usize,
}

/// All meetings of the same two bodies.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Meeting {
    pub(super) lower: usize,
    pub(super) upper: usize,
    /// The pure size of the written interval.
    pub(super) pure: Ratio,
    /// How long in all.
    pub(super) lasts: Ticks,
    /// How often.
    pub(super) count: u32,
    /// The first of them.
    pub(super) places: Vec<Occurrence>,
}

/// A note of a part, and the body it is.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sounding {
    pub(super) part: usize,
    pub(super) body: usize,
    pub(super) onset: Ticks,
    pub(super) end: Ticks,
}

/// There are more pairs of notes than any music has.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct TooDense;

/// All meetings of `notes`, in the order in which they first occur.
pub(super) fn meetings(bodies: &[Body], notes: &mut [Sounding]) -> Result<Vec<Meeting>, TooDense> {
    notes.sort_by_key(|note| (note.onset, note.part, note.body));
    let mut meetings: Vec<Meeting> = Vec::new();
    let mut known: HashMap<(usize, usize), Option<usize>> = HashMap::new();
    let mut active: Vec<Sounding> = Vec::new();
    let mut pairs = 0_u64;
    for note in notes.iter() {
        active.retain(|other| other.end > note.onset);
        pairs += active.len() as u64;
        if pairs > MOST_PAIRS {
            return Err(TooDense);
        }
        for other in &active {
            let (lower, upper) = in_order(bodies, *other, *note);
            let index = match known.entry((lower.body, upper.body)) {
                Entry::Occupied(known) => *known.get(),
                Entry::Vacant(new) => {
                    let notes = (bodies[lower.body].note, bodies[upper.body].note);
                    let pure = pure_interval(notes.0, notes.1);
                    *new.insert(pure.map(|pure| {
                        meetings.push(Meeting {
                            lower: lower.body,
                            upper: upper.body,
                            pure,
                            lasts: Ticks::default(),
                            count: 0,
                            places: Vec::new(),
                        });
                        meetings.len() - 1
                    }))
                }
            };
            let Some(meeting) = index.map(|index| &mut meetings[index]) else {
                continue;
            };
            let lasts = note.end.min(other.end) - note.onset;
            meeting.lasts = meeting.lasts + lasts;
            meeting.count = meeting.count.saturating_add(1);
            if meeting.places.len() < PLACES {
                meeting.places.push(Occurrence {
                    at: note.onset,
                    lasts,
                    lower_part: lower.part,
                    upper_part: upper.part,
                });
            }
        }
        active.push(*note);
    }
    Ok(meetings)
}

/// The lower note first; of two on one key always the same body.
fn in_order(bodies: &[Body], one: Sounding, other: Sounding) -> (Sounding, Sounding) {
    let rank = |note: Sounding| (bodies[note.body].note.key_number(), note.body, note.part);
    if rank(one) <= rank(other) {
        (one, other)
    } else {
        (other, one)
    }
}

/// The pure size of a written interval, octaves added: unison 1:1, fifth 3:2, fourth 4:3, thirds
/// 5:4 and 6:5, sixths 5:3 and 8:5. None for any other, an augmented second included.
pub(super) fn pure_interval(lower: Note, upper: Note) -> Option<Ratio> {
    let (over, under, semitones) = match upper.name().fifths() - lower.name().fifths() {
        0 => (1, 1, 0),
        1 => (3, 2, 7),
        -1 => (4, 3, 5),
        4 => (5, 4, 4),
        -3 => (6, 5, 3),
        3 => (5, 3, 9),
        -4 => (8, 5, 8),
        _ => return None,
    };
    let octaves = (upper.key_number() - lower.key_number() - semitones) / 12;
    let octaves = u32::try_from(octaves)
        .ok()
        .filter(|octaves| *octaves < 16)?;
    Some(Ratio::new(over << octaves, under))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::casting::{Player, Side};
    use crate::rehearsal::Family;

    #[test]
    fn spelled_intervals_have_their_pure_sizes() {
        let check = |lower: &str, upper: &str, expected: Option<&str>| {
            let found = pure_interval(lower.parse().unwrap(), upper.parse().unwrap());
            let found = found.map(|ratio| ratio.to_string());
            assert_eq!(found.as_deref(), expected, "{lower} {upper}");
        };
        check("C4", "C4", Some("1/1"));
        check("C4", "C6", Some("4/1"));
        check("A3", "E4", Some("3/2"));
        check("E3", "A4", Some("8/3"));
        check("Eb4", "G4", Some("5/4"));
        check("D#4", "G4", None);
        check("B3", "D4", Some("6/5"));
        check("C4", "D#4", None);
        check("F#2", "D5", Some("32/5"));
        check("G4", "E5", Some("5/3"));
        check("C4", "D4", None);
        check("B#3", "C4", None);
    }

    fn sounding(part: usize, onset: u64, end: u64) -> Sounding {
        Sounding {
            part,
            body: part,
            onset: Ticks::new(onset),
            end: Ticks::new(end),
        }
    }

    #[test]
    fn a_meeting_lasts_as_long_as_both_notes() {
        let player = Player {
            name: String::new(),
            side: Side::Others,
            family: Family::Strings,
            reach: Family::Strings.reach(),
        };
        let bodies: Vec<Body> = ["G4", "C4", "D4"]
            .map(|note| Body::new(note.parse().unwrap(), &player, None))
            .to_vec();
        let mut notes = [
            sounding(0, 2, 6),
            sounding(1, 0, 4),
            sounding(2, 5, 9),
            sounding(1, 4, 5),
        ];
        let found = meetings(&bodies, &mut notes).unwrap();
        // C and D form no meeting; D and G a fourth from 5 to 6.
        assert_eq!(found.len(), 2);
        let fifth = &found[0];
        assert_eq!((fifth.lower, fifth.upper, fifth.count), (1, 0, 2));
        assert_eq!(fifth.lasts, Ticks::new(3));
        let places: Vec<(u64, u64)> = fifth
            .places
            .iter()
            .map(|place| (place.at.get(), place.lasts.get()))
            .collect();
        assert_eq!(places, [(2, 2), (4, 1)]);
        assert_eq!(found[1].lasts, Ticks::new(1));
    }
}
