//! What the notes of exercises add up to.

use super::{Approach, Place, Trial};
use crate::rehearsal::record::robust;
use crate::tuning::Partial;
use crate::units::{Cents, Note, Seconds};

/// The notes of exercises, counted for each exercise, note and place.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Tally {
    /// By exercise in the order they were begun, then from low to high.
    pub rows: Vec<TallyRow>,
}

/// One note of one exercise in one of its places.
#[derive(Debug, Clone, PartialEq)]
pub struct TallyRow {
    /// The exercise's name.
    pub exercise: String,
    /// The tempered note.
    pub note: Note,
    /// The partial that sounds there, in its own octave.
    pub partial: Option<Partial>,
    /// Where it was to be held.
    pub place: Place,
    /// How many notes.
    pub count: usize,
    /// How far they lay above the place: the median.
    pub off: Cents,
    /// How far they lay from it on either side: the median.
    pub distance: Cents,
    /// The median of their own spreads.
    pub spread: Cents,
    /// How long they sounded together.
    pub sounding: Seconds,
    /// How long of that they were inside the tolerance.
    pub inside: Seconds,
    /// How many came from below.
    pub from_below: usize,
    /// How many came from above.
    pub from_above: usize,
    /// How many began there.
    pub direct: usize,
}

impl Tally {
    /// Counts these notes.
    pub fn of(trials: &[Trial]) -> Self {
        let mut exercises: Vec<&str> = Vec::new();
        let mut groups: Vec<Vec<&Trial>> = Vec::new();
        for trial in trials {
            if !exercises.contains(&&*trial.exercise) {
                exercises.push(&trial.exercise);
            }
            let group = groups.iter_mut().find(|group| is_alike(group[0], trial));
            match group {
                Some(group) => group.push(trial),
                None => groups.push(vec![trial]),
            }
        }
        groups.sort_by_key(|group| {
            let first = group[0];
            let exercise = exercises.iter().position(|name| *name == first.exercise);
            let pitch = (first.note.key_number(), first.note.name().fifths());
            (exercise, pitch, first.partial, first.place as u8)
        });
        Self {
            rows: groups.iter().filter_map(|group| row(group)).collect(),
        }
    }
}

impl TallyRow {
    /// The share of the time they were inside, 0 to 1.
    pub fn share_inside(&self) -> f64 {
        if self.sounding.get() <= 0.0 {
            return 0.0;
        }
        (self.inside.get() / self.sounding.get()).clamp(0.0, 1.0)
    }

    /// Whether both are about the same note of the same exercise in the same place.
    pub fn is_of(&self, other: &Self) -> bool {
        (&self.exercise, self.note, self.partial, self.place)
            == (&other.exercise, other.note, other.partial, other.place)
    }
}

fn is_alike(a: &Trial, b: &Trial) -> bool {
    (&a.exercise, a.note, a.partial, a.place) == (&b.exercise, b.note, b.partial, b.place)
}

fn row(group: &[&Trial]) -> Option<TallyRow> {
    let first = group.first()?;
    let median = |of: &dyn Fn(&Trial) -> Cents| {
        let mut values: Vec<robust::Weighted> =
            group.iter().map(|trial| (of(trial).get(), 1.0)).collect();
        robust::median(&mut values).map(Cents::new)
    };
    let sum = |of: &dyn Fn(&Trial) -> Seconds| {
        Seconds::new(group.iter().map(|trial| of(trial).get()).sum())
    };
    let came = |approach| group.iter().filter(|t| t.approach == approach).count();
    Some(TallyRow {
        exercise: first.exercise.clone(),
        note: first.note,
        partial: first.partial,
        place: first.place,
        count: group.len(),
        off: median(&|trial| trial.off)?,
        distance: median(&|trial| trial.off.abs())?,
        spread: median(&|trial| trial.spread)?,
        sounding: sum(&Trial::sounding),
        inside: sum(&|trial| trial.inside),
        from_below: came(Approach::Below),
        from_above: came(Approach::Above),
        direct: came(Approach::Direct),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Hertz;

    fn trial(exercise: &str, note: &str, place: Place, off: f64) -> Trial {
        Trial {
            exercise: exercise.to_owned(),
            note: note.parse().unwrap(),
            partial: None,
            place,
            target: Hertz::new(440.0).unwrap(),
            tolerance: Cents::new(5.0),
            begun: Seconds::new(1.0),
            ended: Seconds::new(5.0),
            inside: Seconds::new(1.0),
            off: Cents::new(off),
            spread: Cents::new(2.0),
            drift_per_second: Cents::UNISON,
            approach: if off < 0.0 {
                Approach::Below
            } else {
                Approach::Direct
            },
            was_blind: false,
        }
    }

    #[test]
    fn notes_are_counted_by_exercise_note_and_place() {
        let trials = [
            trial("b", "A4", Place::Tempered, 4.0),
            trial("a", "A4", Place::Tempered, 1.0),
            trial("b", "G4", Place::Partial, -6.0),
            trial("b", "A4", Place::Tempered, -2.0),
            trial("b", "A4", Place::Partial, 3.0),
            trial("b", "A4", Place::Tempered, -1.0),
        ];
        let tally = Tally::of(&trials);
        let seen: Vec<(&str, String, usize)> = tally
            .rows
            .iter()
            .map(|row| (&*row.exercise, row.note.ascii(), row.count))
            .collect();
        let expected = [
            ("b", "G4", 1),
            ("b", "A4", 1),
            ("b", "A4", 3),
            ("a", "A4", 1),
        ];
        assert_eq!(seen, expected.map(|(e, n, c)| (e, n.to_owned(), c)));
        let row = &tally.rows[2];
        assert_eq!((row.off, row.distance), (Cents::new(-1.0), Cents::new(2.0)));
        assert_eq!((row.from_below, row.from_above, row.direct), (2, 0, 1));
        assert!((row.share_inside() - 0.25).abs() < 1e-9);
        assert_eq!(Tally::of(&[]), Tally::default());
    }
}
