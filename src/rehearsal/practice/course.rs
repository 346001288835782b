//! The way through an exercise: which note is next, and how each was held.

use super::{Exercise, Hold, Place, Steps, Trial};
use crate::analysis::Reading;
use crate::drone::Pitches;
use crate::tuning::{Partial, Placement};
use crate::units::{Hertz, Note, Seconds};

/// Where a note is to be held.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Target {
    /// Both places of the note.
    pub places: Placement,
    /// Which place is meant.
    pub place: Place,
    /// The frequency of that place.
    pub hertz: Hertz,
    /// Where the note stands by agreement, whichever place is meant.
    pub agreed: Option<Hertz>,
}

impl Target {
    /// The tempered note.
    pub fn note(&self) -> Note {
        self.places.tempered.note
    }

    /// The partial that sounds there, in its own octave.
    pub fn partial(&self) -> Option<Partial> {
        let place = self.places.partial.filter(|place| place.octaves == 0);
        place.map(|place| place.partial)
    }
}

/// Exercises, where one stands in the present one, and the notes held so far.
#[derive(Debug, Clone)]
pub struct Course {
    exercises: Vec<Exercise>,
    current: usize,
    /// Along the steps and their places.
    step: usize,
    hold: Option<Hold>,
    trials: Vec<Trial>,
}

impl Course {
    /// The first of `exercises`, from its beginning; there must be one at least.
    pub fn new(exercises: Vec<Exercise>) -> Option<Self> {
        (!exercises.is_empty()).then(|| Self {
            exercises,
            current: 0,
            step: 0,
            hold: None,
            trials: Vec::new(),
        })
    }

    /// The same, beginning with the exercise of this name; none where it is not there.
    pub fn beginning_with(self, name: &str) -> Option<Self> {
        let current = self.exercises.iter().position(|e| e.name == name)?;
        Some(Self { current, ..self })
    }

    /// The present exercise.
    pub fn exercise(&self) -> &Exercise {
        &self.exercises[self.current]
    }

    /// All exercises.
    pub fn exercises(&self) -> &[Exercise] {
        &self.exercises
    }

    /// Whether the present one has steps, rather than taking whatever is played.
    pub fn has_steps(&self) -> bool {
        matches!(self.exercise().steps, Steps::Notes(_))
    }

    /// Which step of how many, from 0; the places of a note count one by one.
    pub fn place_in_steps(&self) -> (usize, usize) {
        (self.step, 1)
    }

    /// Goes along the steps, round and round.
    pub fn step(&mut self, _steps: isize) {}

    /// Means the other place: partial, tempered, agreed in turn, as far as the exercise leaves
    /// it open.
    pub fn swing(&mut self) {}

    /// Takes the next exercise, or the one before, from its beginning.
    pub fn change_exercise(&mut self, _steps: isize) {}

    /// Where to hold the present step; without steps, where the note that sounds or has sounded
    /// last belongs.
    pub fn target(&self, _pitches: &Pitches<'_>) -> Option<Target> {
        None
    }

    /// The note that is being held.
    pub fn hold(&self) -> Option<&Hold> {
        self.hold.as_ref()
    }

    /// The notes held so far, the last one at the end.
    pub fn trials(&self) -> &[Trial] {
        &self.trials
    }

    /// Whether the axis is hidden now: in a blind exercise until the note has ended.
    pub fn is_hidden(&self) -> bool {
        false
    }

    pub(super) fn hear(
        &mut self,
        _reading: &Reading,
        _time: Seconds,
        _pitches: &Pitches<'_>,
    ) -> Option<Trial> {
        None
    }

    pub(super) fn tick(&mut self, _now: Seconds, _pitches: &Pitches<'_>) -> Option<Trial> {
        None
    }

    pub(super) fn finish(&mut self, _pitches: &Pitches<'_>) -> Option<Trial> {
        None
    }
}
