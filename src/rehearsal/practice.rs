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
use crate::analysis::cancel::{HeardThrough, Leak};
use crate::analysis::{NoPitch, Pitch, Reading};
use crate::drone::{Drone, Pitches, Tone, Tones, Wanted};
use crate::units::{Cents, Hertz, Seconds};

/// Nearer than this nobody can be told from the drone, mostly: 2 cents, or a quarter of a hertz on
/// low notes.
const ON_DRONE: Cents = Cents::new(2.0);
/// A player is not so far below the drone at the microphone.
const LEAST_BELOW_DRONE_DB: f64 = 25.0;

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
        let reading = &self.placed(reading, pitches);
        self.keep_accompanying(pitches, |course| course.hear(reading, time, pitches))
    }

    /// A note that has come to lie on the drone is known to be there: where the target is a tone
    /// of the drone or a partial of one, that is a pitch, to within what can be told apart. What
    /// only stands on the drone and was no note before may be the drone itself.
    fn placed(&self, reading: &Reading, pitches: &Pitches<'_>) -> Reading {
        let mut placed = *reading;
        let Leak::Removed { level, .. } = self.heard.leak else {
            return placed;
        };
        let is_heard = reading.level.get() > level.get() - LEAST_BELOW_DRONE_DB;
        let is_held = self.course.hold().is_some();
        if reading.pitch != Err(NoPitch::Drone) || !is_heard || !is_held {
            return placed;
        }
        let Some(target) = self.course.target(pitches) else {
            return placed;
        };
        let soundings = self.drone.soundings(pitches);
        let partials = soundings.iter().map(|sounding| {
            let n = (target.hertz.get() / sounding.hertz.get()).round().max(1.0);
            sounding.hertz.times(n)
        });
        let on = |hertz: &Hertz| hertz.above(target.hertz).abs() <= ON_DRONE;
        if let Some(hertz) = partials.into_iter().find(on) {
            placed.pitch = Ok(Pitch {
                hertz,
                margin: ON_DRONE,
                confidence: 1.0,
                inharmonicity: 0.0,
            });
        }
        placed
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rehearsal::tests::{reading, sixth_comma, unpitched};
    use crate::units::Dbfs;

    #[test]
    fn a_note_that_comes_to_lie_on_the_drone_is_inside_and_the_drone_alone_is_none() {
        let tuning = sixth_comma();
        let pitches = Pitches {
            tuning: &tuning,
            agreed: &|_| None,
        };
        let exercise = Exercise {
            name: "hold".to_owned(),
            title: "Hold".to_owned(),
            steps: Steps::Any,
            places: vec![Place::Tempered],
            tolerance: Cents::new(5.0),
            hold: Seconds::new(0.0),
            is_blind: false,
            accompaniment: Accompaniment::Stays,
        };
        let practice = || {
            let drone = Drone::new("D3".parse().unwrap());
            let mut practice = Practice::new(drone, Course::new(vec![exercise.clone()]).unwrap());
            practice.hear_through(HeardThrough {
                leak: Leak::Removed {
                    latency: None,
                    level: Dbfs::new(-30.0),
                    depth_db: 50.0,
                },
                beats_hz: None,
            });
            practice
        };
        let d5 = tuning.scale().frequency("D5".parse().unwrap());
        let on_drone = Reading {
            level: Dbfs::new(-30.0),
            ..unpitched(NoPitch::Drone)
        };
        let at = |hop: u32| Seconds::new(0.01 * f64::from(hop));
        let play = |practice: &mut Practice, first: u32| {
            for hop in 1..=200 {
                let near = reading(d5.raised(Cents::new(3.5)).get());
                let heard = if hop < first { near } else { on_drone };
                let _ = practice.hear(&heard, at(hop), &pitches);
            }
            practice.finish(&pitches)
        };
        let trial = play(&mut practice(), 60).unwrap();
        assert!(trial.inside > Seconds::new(1.8), "{trial:?}");
        assert!(trial.off < Cents::new(2.0), "{trial:?}");
        assert_eq!(play(&mut practice(), 0), None);
    }
}
