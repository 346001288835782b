//! Practising alone: a drone, exercises, and how each note was held.

mod beating;
mod course;
mod exercise;
mod hold;
mod listener;
mod tally;
mod trial;

pub use beating::{Beating, Beats};
pub use course::{Course, Target};
pub use exercise::{Accompaniment, Exercise, Place, Step, Steps};
pub use hold::Hold;
pub use tally::{Tally, TallyRow};
pub use trial::{Approach, Trial};

use super::Sounding;
use crate::analysis::Reading;
use crate::analysis::cancel::{HeardThrough, Leak};
use crate::drone::{Drone, Pitches, Tone, Tones, Wanted};
use crate::units::Seconds;

/// What the loudspeaker is doing.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub enum Loudspeaker {
    /// Being opened.
    #[default]
    Opening,
    /// Sounding, under this name.
    Running(String),
    /// It cannot be used now, for this reason; it is tried again without being asked.
    Waiting(String),
}

/// One player, a drone and an exercise.
#[derive(Debug, Clone)]
pub struct Practice {
    drone: Drone,
    course: Course,
    heard: HeardThrough,
    loudspeaker: Loudspeaker,
    has_headphones: bool,
    beats: Beats,
    /// The tones as they were before an exercise led the drone.
    own: Option<Tones>,
}

impl Practice {
    /// A practice with `drone`, silent as yet, and `course`.
    pub fn new(drone: Drone, course: Course) -> Self {
        Self {
            drone,
            course,
            heard: HeardThrough::default(),
            loudspeaker: Loudspeaker::default(),
            has_headphones: false,
            beats: Beats::default(),
            own: None,
        }
    }

    /// The same with headphones, so that nothing has to be taken out of what is heard.
    pub fn with_headphones(self, has_headphones: bool) -> Self {
        Self {
            has_headphones,
            ..self
        }
    }

    /// The drone.
    pub fn drone(&self) -> &Drone {
        &self.drone
    }

    /// The drone, to be changed.
    pub fn drone_mut(&mut self) -> &mut Drone {
        &mut self.drone
    }

    /// The exercise and what has come of it.
    pub fn course(&self) -> &Course {
        &self.course
    }

    /// How the drone arrives at the microphone.
    pub fn leak(&self) -> Leak {
        self.heard.leak
    }

    /// How player and drone beat.
    pub fn beats(&self) -> &Beats {
        &self.beats
    }

    /// What the loudspeaker is doing.
    pub fn loudspeaker(&self) -> &Loudspeaker {
        &self.loudspeaker
    }

    /// Whether the player wears headphones.
    pub fn has_headphones(&self) -> bool {
        self.has_headphones
    }

    /// Puts headphones on or takes them off.
    pub fn toggle_headphones(&mut self) {
        self.has_headphones = !self.has_headphones;
    }

    /// What has to sound.
    pub fn wanted(&self, pitches: &Pitches<'_>) -> Wanted {
        self.drone.wanted(pitches)
    }

    /// The next step of the exercise, or the one before; without steps the next partial or note
    /// of the drone.
    pub fn step(&mut self, steps: isize, pitches: &Pitches<'_>) {
        if self.course.has_steps() {
            self.course.step(steps);
            self.accompany(pitches);
        } else {
            self.drone.step(steps, pitches);
        }
    }

    /// Swings target and drone between the two places of their notes.
    pub fn swing(&mut self, pitches: &Pitches<'_>) {
        self.course.swing(pitches);
        if self.course.exercise().accompaniment == Accompaniment::Follows {
            self.accompany(pitches);
        } else {
            self.drone.swing(pitches);
        }
    }

    /// Takes the next exercise, or the one before.
    pub fn change_exercise(&mut self, steps: isize, pitches: &Pitches<'_>) {
        self.course.change_exercise(steps);
        self.accompany(pitches);
    }

    /// Lets the drone sound the target, where the exercise says so.
    fn accompany(&mut self, pitches: &Pitches<'_>) {
        if self.course.exercise().accompaniment != Accompaniment::Follows {
            if let Some(own) = self.own.take() {
                self.drone.set_tones(own);
            }
            return;
        }
        let Some(target) = self.course.target(pitches) else {
            return;
        };
        let tone = match (target.place, target.partial()) {
            (Place::Partial, Some(partial)) => Tone::Partial(partial),
            (Place::Agreed, _) => Tone::Agreed(target.note()),
            (Place::Partial | Place::Tempered, _) => Tone::Tempered(target.note()),
        };
        if let Ok(tones) = Tones::new(vec![tone]) {
            if self.own.is_none() {
                self.own = Some(self.drone.tones().clone());
            }
            self.drone.set_tones(tones);
        }
    }

    /// Takes in a reading of the player; a note that has ended is told.
    pub(super) fn hear(
        &mut self,
        reading: &Reading,
        time: Seconds,
        pitches: &Pitches<'_>,
    ) -> Option<Trial> {
        self.keep_accompanying(pitches, |course| course.hear(reading, time, pitches))
    }

    /// Lets the course go on, and the drone with it where that goes to another step by itself.
    fn keep_accompanying(
        &mut self,
        pitches: &Pitches<'_>,
        go_on: impl FnOnce(&mut Course) -> Option<Trial>,
    ) -> Option<Trial> {
        let before = self.course.place_in_steps();
        let trial = go_on(&mut self.course);
        if before != self.course.place_in_steps() {
            self.accompany(pitches);
        }
        trial
    }

    /// Takes in how the drone arrives at the microphone.
    pub(super) fn hear_through(&mut self, heard: HeardThrough) {
        self.heard = heard;
    }

    /// Takes in what the loudspeaker is doing.
    pub(super) fn hear_of_loudspeaker(&mut self, loudspeaker: Loudspeaker) {
        self.loudspeaker = loudspeaker;
    }

    /// Lets time pass; a note that has ended is told.
    pub(super) fn tick(
        &mut self,
        now: Seconds,
        elapsed: Seconds,
        sounding: Option<&Sounding>,
        pitches: &Pitches<'_>,
    ) -> Option<Trial> {
        // Agreements, temperament and the step may have changed.
        self.accompany(pitches);
        let is_heard = !matches!(self.loudspeaker, Loudspeaker::Waiting(_));
        let tones = if self.drone.is_sounding() && is_heard {
            self.drone.soundings(pitches)
        } else {
            Vec::new()
        };
        let hertz = sounding.map(|sounding| sounding.needle().hertz());
        self.beats
            .go_on(hertz, &tones, self.heard.beats_hz, elapsed);
        self.keep_accompanying(pitches, |course| course.tick(now, pitches))
    }

    /// Ends the note that sounds.
    pub(super) fn finish(&mut self, pitches: &Pitches<'_>) -> Option<Trial> {
        self.course.finish(pitches)
    }
}
