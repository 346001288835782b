//! The way through an exercise: which note is next, and how each was held.

use std::collections::VecDeque;

use super::listener::{Listener, REACH};
use super::{Approach, Exercise, Hold, Place, Step, Steps, Trial};
use crate::analysis::Reading;
use crate::drone::Pitches;
use crate::rehearsal::record::Taken;
use crate::tuning::{Partial, PartialPlace, Placement, TemperedPlace};
use crate::units::{Cents, Hertz, Note, Seconds};

/// So many notes are kept for the screen; the record keeps all of them.
const MOST_TRIALS: usize = 100;
/// How long the axis of a blind exercise shows after a note.
const SHOWN: Seconds = Seconds::new(3.0);
/// How long a note of no exercise may still turn out to be another one.
const SETTLING: Seconds = Seconds::new(0.3);
/// A slide so far from such a note's place is another note.
const ANOTHER_NOTE: Cents = Cents::new(80.0);
/// What can be said of a note is worked out so often, or more rarely the longer it lasts.
const EVERY: Seconds = Seconds::new(0.1);
/// A place that moved by so much is another one.
const MOVED: Cents = Cents::new(0.01);

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
    /// A place of a note between `places`; the tempered one where there is no such place.
    fn new(places: Placement, place: Place, pitches: &Pitches<'_>) -> Self {
        let agreed = (pitches.agreed)(&places);
        let (place, hertz) = match (place, places.partial, agreed) {
            (Place::Partial, Some(partial), _) => (Place::Partial, partial.place),
            (Place::Agreed, _, Some(agreed)) => (Place::Agreed, agreed),
            _ => (Place::Tempered, places.tempered.place),
        };
        Self {
            places,
            place,
            hertz,
            agreed,
        }
    }

    /// The places of this note there are, in the order they are swung through.
    fn all_places(&self) -> Vec<Place> {
        let partial = self.places.partial.map(|_| Place::Partial);
        let agreed = self.agreed.map(|_| Place::Agreed);
        let all = [partial, Some(Place::Tempered), agreed];
        all.into_iter().flatten().collect()
    }

    fn is_same(&self, other: &Self) -> bool {
        self.place == other.place
            && self.note() == other.note()
            && self.hertz.above(other.hertz).abs() < MOVED
    }

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

/// What a note that sounds is held towards.
#[derive(Debug, Clone)]
struct Aim {
    target: Target,
    /// The place of the exercise among all.
    exercise: usize,
    /// The onset of the note, where whatever is played has a target of its own.
    begun: Option<Seconds>,
}

/// Exercises, where one stands in the present one, and the notes held so far.
#[derive(Debug, Clone)]
pub struct Course {
    exercises: Vec<Exercise>,
    current: usize,
    /// Along the steps and their places.
    step: usize,
    /// The place that is meant instead of the exercise's own.
    swung: Option<Place>,
    /// The note whose turn it is without steps: the one that sounds or sounded last.
    note: Option<Note>,
    listener: Listener,
    aim: Option<Aim>,
    /// The aim before, of a note that is not told yet.
    aim_before: Option<Aim>,
    hold: Option<Hold>,
    hold_told: Seconds,
    trials: Vec<Trial>,
    /// Ended, and not handed out yet.
    ended: VecDeque<Trial>,
    /// When the last note ended; none before one did in this step.
    shown_since: Option<Seconds>,
    now: Seconds,
}

impl Course {
    /// The first of `exercises`, from its beginning; there must be one at least.
    pub fn new(exercises: Vec<Exercise>) -> Option<Self> {
        (!exercises.is_empty()).then(|| Self {
            exercises,
            current: 0,
            step: 0,
            swung: None,
            note: None,
            listener: Listener::new(),
            aim: None,
            aim_before: None,
            hold: None,
            hold_told: Seconds::new(f64::NEG_INFINITY),
            trials: Vec::new(),
            ended: VecDeque::new(),
            shown_since: None,
            now: Seconds::default(),
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
        match &self.exercise().steps {
            Steps::Any => (0, 1),
            Steps::Notes(notes) => (self.step, (notes.len() * self.n_places()).max(1)),
        }
    }

    /// Goes along the steps, round and round.
    pub fn step(&mut self, steps: isize) {
        let (step, count) = self.place_in_steps();
        self.step = (step as isize + steps).rem_euclid(count as isize) as usize;
        self.shown_since = None;
    }

    /// Means another place of the same note: the next one the exercise lists, or where it
    /// lists but one, partial, tempered and agreed in turn, as far as the note has them.
    pub fn swing(&mut self, pitches: &Pitches<'_>) {
        let n_places = self.n_places();
        if self.has_steps() && n_places > 1 {
            let note = self.step - self.step % n_places;
            self.step = note + (self.step + 1) % n_places;
        } else if let Some(target) = self.target(pitches) {
            let all = target.all_places();
            let present = all.iter().position(|place| *place == target.place);
            let next = present.map_or(0, |present| (present + 1) % all.len());
            self.swung = all.get(next).copied();
        }
        self.shown_since = None;
    }

    /// Takes the next exercise, or the one before, from its beginning.
    pub fn change_exercise(&mut self, steps: isize) {
        let count = self.exercises.len() as isize;
        self.current = (self.current as isize + steps).rem_euclid(count) as usize;
        self.step = 0;
        self.swung = None;
        self.shown_since = None;
    }

    /// Where to hold the present step; without steps, where the note that sounds or has sounded
    /// last belongs.
    pub fn target(&self, pitches: &Pitches<'_>) -> Option<Target> {
        let places = match &self.exercise().steps {
            Steps::Any => pitches.places(self.note?),
            Steps::Notes(notes) => match notes.get(self.step / self.n_places())? {
                Step::Note(note) => pitches.places(*note),
                Step::Partial(partial) => places_of_partial(*partial, pitches),
            },
        };
        Some(Target::new(places, self.place(), pitches))
    }

    /// The note that is being held.
    pub fn hold(&self) -> Option<&Hold> {
        self.hold.as_ref()
    }

    /// The last hundred notes that were held, the latest at the end.
    pub fn trials(&self) -> &[Trial] {
        &self.trials
    }

    /// Whether the axis is hidden now: in a blind exercise until the note has ended.
    pub fn is_hidden(&self) -> bool {
        let shows = |since: Seconds| self.hold.is_none() && self.now - since <= SHOWN;
        self.exercise().is_blind && !self.shown_since.is_some_and(shows)
    }

    /// Takes in a reading of the player; a note that has ended is told.
    pub(super) fn hear(
        &mut self,
        reading: &Reading,
        time: Seconds,
        pitches: &Pitches<'_>,
    ) -> Option<Trial> {
        self.retarget(time, pitches);
        let over = self.listener.hear(reading, time);
        self.tell(&over, pitches);
        self.follow(time, pitches);
        self.ended.pop_front()
    }

    /// Lets time pass; a note that has ended is told.
    pub(super) fn tick(&mut self, now: Seconds, pitches: &Pitches<'_>) -> Option<Trial> {
        self.now = now;
        self.retarget(now, pitches);
        let over = self.listener.pass(now);
        self.tell(&over, pitches);
        self.follow(now, pitches);
        self.ended.pop_front()
    }

    /// Ends what sounds; each call tells one note, until none is left.
    pub(super) fn finish(&mut self, pitches: &Pitches<'_>) -> Option<Trial> {
        let over = self.listener.cut();
        self.tell(&over, pitches);
        self.hold = None;
        self.ended.pop_front()
    }

    fn n_places(&self) -> usize {
        self.exercise().places.len().max(1)
    }

    /// The place that is meant.
    fn place(&self) -> Place {
        let places = &self.exercise().places;
        let index = if self.has_steps() {
            self.step % self.n_places()
        } else {
            0
        };
        let own = places.get(index).copied().unwrap_or(Place::Tempered);
        self.swung.unwrap_or(own)
    }

    /// Whatever moves the target in the middle of a note begins another one.
    fn retarget(&mut self, now: Seconds, pitches: &Pitches<'_>) {
        let Some(aim) = &self.aim else {
            return;
        };
        let target = self.target(pitches);
        let stays = target.is_some_and(|target| target.is_same(&aim.target));
        if stays && aim.exercise == self.current {
            return;
        }
        self.cut(now, pitches);
    }

    fn cut(&mut self, now: Seconds, pitches: &Pitches<'_>) {
        let over = self.listener.cut();
        // What is cut is no note the player has ended: it calls for no step.
        for taken in &over {
            self.take(taken, pitches);
        }
        self.listener.forget(now);
        (self.aim, self.aim_before, self.hold) = (None, None, None);
    }

    /// Finds the target of what sounds, and what can be said of it.
    fn follow(&mut self, now: Seconds, pitches: &Pitches<'_>) {
        let Some((begun, stands)) = self.listener.sounding() else {
            self.hold = None;
            if self.has_steps() {
                self.aim = self.aim_at(None, pitches);
            }
            return;
        };
        if !self.has_steps() {
            self.follow_any(begun, stands, now, pitches);
        } else if self.aim.is_none() {
            self.aim = self.aim_at(None, pitches);
        }
        let Some(aim) = &self.aim else {
            return;
        };
        let lasting = self.hold.as_ref().map_or(0.0, |hold| hold.lasting.get());
        let every = EVERY.get().max(0.01 * lasting);
        if self.hold.is_some() && (now - self.hold_told).get() < every {
            return;
        }
        self.hold_told = now;
        let tolerance = self.exercise().tolerance;
        self.hold = self.listener.hold(&aim.target, tolerance);
        if self.hold.is_some() {
            self.shown_since = None;
        }
    }

    fn aim_at(&self, begun: Option<Seconds>, pitches: &Pitches<'_>) -> Option<Aim> {
        Some(Aim {
            target: self.target(pitches)?,
            exercise: self.current,
            begun,
        })
    }

    /// Whatever is played is held towards its own note, which stays while it lasts.
    fn follow_any(&mut self, begun: Seconds, stands: Hertz, now: Seconds, pitches: &Pitches<'_>) {
        let known = self.aim.as_ref().filter(|aim| aim.begun == Some(begun));
        let is_settling = now - begun < SETTLING;
        if let Some(aim) = known
            && !is_settling
        {
            if ANOTHER_NOTE < stands.above(aim.target.places.tempered.place).abs() {
                self.cut(now, pitches);
            }
            return;
        }
        let is_new = known.is_none();
        self.note = Some(pitches.tuning.place(stands).tempered.note);
        if is_new {
            self.aim_before = self.aim.take();
            self.hold = None;
        }
        self.aim = self.aim_at(Some(begun), pitches);
    }

    /// Tells the notes that are over, and goes on by itself.
    fn tell(&mut self, over: &[Taken], pitches: &Pitches<'_>) {
        for taken in over {
            let trial = self.take(taken, pitches);
            self.listener.forget(taken.ended);
            self.hold = None;
            let Some(inside) = trial else {
                continue;
            };
            self.shown_since = Some(self.now);
            if self.has_steps() && self.exercise().hold <= inside {
                let (step, count) = self.place_in_steps();
                self.step = (step + 1) % count;
                self.aim = None;
            }
        }
    }

    /// Makes a trial of a note that is over; gives how long it was inside.
    fn take(&mut self, taken: &Taken, pitches: &Pitches<'_>) -> Option<Seconds> {
        let (target, exercise) = self.meant_by(taken, pitches)?;
        let tolerance = exercise.tolerance;
        let manner = self.listener.manner_of(taken, &target, tolerance)?;
        let trial = Trial {
            exercise: exercise.name.clone(),
            note: target.note(),
            partial: target.partial(),
            place: target.place,
            target: target.hertz,
            tolerance,
            begun: manner.begun,
            ended: manner.ended,
            inside: manner.inside,
            off: taken.hertz.above(target.hertz),
            spread: taken.spread,
            drift_per_second: taken.drift_per_second.unwrap_or_default(),
            approach: manner.approach.unwrap_or(Approach::Direct),
            was_blind: exercise.is_blind,
        };
        if self.trials.len() >= MOST_TRIALS {
            self.trials.remove(0);
        }
        self.trials.push(trial.clone());
        self.ended.push_back(trial);
        Some(manner.inside)
    }

    /// What a note that is over was held towards, and in which exercise.
    fn meant_by(&self, taken: &Taken, pitches: &Pitches<'_>) -> Option<(Target, &Exercise)> {
        let latest = self.aim.as_ref().or(self.aim_before.as_ref())?;
        let exercise = &self.exercises[latest.exercise];
        if exercise.steps != Steps::Any {
            return Some((latest.target, exercise));
        }
        let mut aims = [&self.aim, &self.aim_before].into_iter().flatten();
        let own = aims.find(|aim| aim.begun == Some(taken.begun));
        let near = own.filter(|aim| taken.hertz.above(aim.target.hertz).abs() <= REACH);
        let target = near.map_or_else(
            || {
                let note = pitches.tuning.place(taken.hertz).tempered.note;
                Target::new(pitches.places(note), self.place(), pitches)
            },
            |aim| aim.target,
        );
        Some((target, exercise))
    }
}

/// Both places of the note that lies nearest to a partial where it sounds.
fn places_of_partial(partial: Partial, pitches: &Pitches<'_>) -> Placement {
    let place = pitches.tuning.series().frequency(partial);
    let (note, cents) = pitches.tuning.scale().nearest(place);
    Placement {
        partial: Some(PartialPlace {
            partial,
            octaves: 0,
            place,
            cents: -cents,
        }),
        tempered: TemperedPlace {
            note,
            place: place.raised(-cents),
            cents: Cents::UNISON,
        },
    }
}

#[cfg(test)]
mod tests;
