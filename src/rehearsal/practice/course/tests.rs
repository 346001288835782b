//! Notes made up of readings every 10 ms, of which everything is known.

use std::f64::consts::TAU;

use proptest::prelude::*;

use super::*;
use crate::analysis::{Motion, NoPitch, Vibrato};
use crate::rehearsal::Accompaniment;
use crate::rehearsal::tests::{reading, sixth_comma, unpitched};
use crate::tuning::Tuning;

/// What is heard at one moment: a pitch so many cents above the reference, or none.
type Sound = Result<f64, NoPitch>;
const QUIET: Sound = Err(NoPitch::Silence);

fn exercise(steps: Steps, places: &[Place]) -> Exercise {
    Exercise {
        name: "made-up".to_owned(),
        title: "Made up".to_owned(),
        steps,
        places: places.to_vec(),
        tolerance: Cents::new(5.0),
        hold: Seconds::new(1.0),
        is_blind: false,
        accompaniment: Accompaniment::Stays,
    }
}

fn partials(numbers: &[u8]) -> Steps {
    let step = |number: &u8| Step::Partial(Partial::new(*number).unwrap());
    Steps::Notes(numbers.iter().map(step).collect())
}

fn notes(names: &[&str]) -> Steps {
    let step = |name: &&str| Step::Note(name.parse().unwrap());
    Steps::Notes(names.iter().map(step).collect())
}

/// A course, its player and a clock.
struct Room {
    course: Course,
    tuning: Tuning,
    agreed: Option<f64>,
    /// Cents are counted from here.
    reference: Hertz,
    now_s: f64,
    told: Vec<Trial>,
}

impl Room {
    fn new(exercise: Exercise) -> Self {
        Self::of(vec![exercise])
    }

    fn of(exercises: Vec<Exercise>) -> Self {
        let course = Course::new(exercises).unwrap();
        let tuning = sixth_comma();
        let reference = tuning.scale().frequency("A4".parse().unwrap());
        let mut room = Self {
            course,
            tuning,
            agreed: None,
            reference,
            now_s: 0.0,
            told: Vec::new(),
        };
        if let Some(target) = room.target() {
            room.reference = target.hertz;
        }
        room
    }

    fn with<T>(&mut self, act: impl FnOnce(&mut Course, &Pitches<'_>) -> T) -> T {
        let agreed = self.agreed;
        let agreed = |places: &Placement| {
            agreed.map(|cents| places.tempered.place.raised(Cents::new(cents)))
        };
        let pitches = Pitches {
            tuning: &self.tuning,
            agreed: &agreed,
        };
        act(&mut self.course, &pitches)
    }

    fn target(&mut self) -> Option<Target> {
        self.with(|course, pitches| course.target(pitches))
    }

    fn hear(&mut self, reading: &Reading) {
        let time = Seconds::new(self.now_s);
        let trial = self.with(|course, pitches| course.hear(reading, time, pitches));
        self.told.extend(trial);
        let trial = self.with(|course, pitches| course.tick(time, pitches));
        self.told.extend(trial);
        self.now_s += 0.01;
    }

    /// Plays for so long; `sound` is given the time since its beginning.
    fn play(&mut self, seconds: f64, sound: impl Fn(f64) -> Sound) -> &mut Self {
        for hop in 0..(seconds * 100.0).round() as u32 {
            let heard = match sound(f64::from(hop) * 0.01) {
                Ok(cents) => reading(self.reference.raised(Cents::new(cents)).get()),
                Err(why) => unpitched(why),
            };
            self.hear(&heard);
        }
        self
    }

    /// Rests until the note is told; gives it.
    fn rest(&mut self) -> Trial {
        self.play(0.4, |_| QUIET);
        self.told.pop().unwrap()
    }

    fn finish(&mut self) -> Vec<Trial> {
        while let Some(trial) = self.with(Course::finish) {
            self.told.push(trial);
        }
        std::mem::take(&mut self.told)
    }
}

/// Off, inside and drift, to half a cent, 30 ms and 0.3 cents a second.
fn check(trial: &Trial, off: f64, inside_s: f64, drift: f64) {
    assert!((trial.off.get() - off).abs() <= 0.5, "{trial:?}");
    assert!((trial.inside.get() - inside_s).abs() <= 0.0301, "{trial:?}");
    assert!(
        (trial.drift_per_second.get() - drift).abs() <= 0.3,
        "{trial:?}"
    );
}

#[test]
fn a_steady_note_is_told_where_it_stood() {
    let mut room = Room::new(exercise(Steps::Any, &[Place::Tempered]));
    let trial = room.play(2.0, |_| Ok(3.2)).rest();
    check(&trial, 3.2, 2.0, 0.0);
    assert_eq!(trial.approach, Approach::Direct);
    assert_eq!(
        (trial.note.ascii().as_str(), trial.place),
        ("A4", Place::Tempered)
    );
    assert!((trial.sounding().get() - 2.0).abs() < 0.02);
    assert!(trial.spread.get() < 0.1);
    let trial = room.play(2.0, |_| Ok(-7.0)).rest();
    check(&trial, -7.0, 0.0, 0.0);
    assert_eq!(room.course.trials().len(), 2);
}

#[test]
fn a_drifting_note_is_told_with_its_trend() {
    for slope in [3.0, -2.0, 0.5] {
        let mut room = Room::new(exercise(notes(&["A4"]), &[Place::Tempered]));
        let trial = room.play(3.0, |t| Ok(slope * (t - 1.5))).rest();
        check(&trial, 0.0, 3.0, slope);
    }
    // Inside between 2 and 7 seconds.
    let mut room = Room::new(exercise(notes(&["A4"]), &[Place::Tempered]));
    let trial = room.play(5.0, |t| Ok(2.0 * (t - 4.5))).rest();
    assert!((trial.inside.get() - 3.0).abs() < 0.03, "{trial:?}");
}

/// A reading of a vibrato as the ear makes it: its motion is known after 0.4 s.
fn swinging(room: &Room, time: f64, extent: f64, centre: f64) -> Reading {
    let swing = centre + extent * (TAU * 5.6 * time).sin();
    let mut heard = reading(room.reference.raised(Cents::new(swing)).get());
    heard.motion = (time >= 0.4).then(|| Motion {
        centre: room.reference.raised(Cents::new(centre)),
        spread: Cents::new(extent / 2.0_f64.sqrt()),
        drift_per_second: Cents::UNISON,
        vibrato: Some(Vibrato {
            rate_hz: 5.6,
            extent: Cents::new(extent),
        }),
        span: Seconds::new(time.min(1.0)),
    });
    heard
}

#[test]
fn a_vibrato_counts_by_its_centre() {
    for extent in [8.0, 20.0, 35.0] {
        let mut room = Room::new(exercise(notes(&["A4"]), &[Place::Tempered]));
        for hop in 0..300 {
            let heard = swinging(&room, f64::from(hop) * 0.01, extent, 2.0);
            room.hear(&heard);
        }
        let trial = room.rest();
        check(&trial, 2.0, 3.0, 0.0);
        assert_eq!(trial.approach, Approach::Direct, "{extent}");
        assert!((trial.spread.get() - extent / 2.0_f64.sqrt()).abs() < 0.1 * extent);
    }
}

#[test]
fn how_a_note_came_to_its_place_is_told() {
    let slide = |from: f64, lasting: f64| {
        move |t: f64| {
            Ok(if t < lasting {
                from * (1.0 - t / lasting)
            } else {
                0.0
            } + 1.0)
        }
    };
    for (from, lasting, expected) in [
        (-45.0, 0.25, Approach::Below),
        (60.0, 0.3, Approach::Above),
        (-100.0, 0.2, Approach::Below),
        (90.0, 0.35, Approach::Above),
        (-6.0, 0.3, Approach::Direct),
        // Over before the ear is sure.
        (-80.0, 0.05, Approach::Direct),
    ] {
        for steps in [Steps::Any, notes(&["A4"])] {
            let mut room = Room::new(exercise(steps, &[Place::Tempered]));
            let trial = room.play(2.0, slide(from, lasting)).rest();
            assert_eq!(trial.approach, expected, "{from} in {lasting}: {trial:?}");
            assert_eq!(trial.note.ascii(), "A4");
            assert!((trial.off.get() - 1.0).abs() < 0.5, "{trial:?}");
        }
    }
}

#[test]
fn what_the_ear_guesses_at_first_is_no_approach() {
    let mut room = Room::new(exercise(Steps::Any, &[Place::Tempered]));
    let guess = |t: f64| Ok(if t < 0.05 { 1200.0 } else { 0.0 });
    let trial = room.play(2.0, guess).rest();
    assert_eq!(trial.approach, Approach::Direct);
    check(&trial, 0.0, 1.95, 0.0);
}

#[test]
fn an_octave_only_the_ear_heard_and_a_short_pause_end_nothing() {
    for blip in [
        Ok(1200.0),
        Ok(-1200.0),
        Ok(1902.0),
        Err(NoPitch::TwoNotes),
        QUIET,
    ] {
        let mut room = Room::new(exercise(notes(&["A4"]), &[Place::Tempered]));
        let trial = room
            .play(2.0, |t| {
                if (0.9..1.02).contains(&t) {
                    blip
                } else {
                    Ok(2.0)
                }
            })
            .rest();
        let lost = if blip == QUIET { 0.13 } else { 0.0 };
        check(&trial, 2.0, 2.0 - lost, 0.0);
        assert!((trial.sounding().get() - 2.0).abs() < 0.02);
    }
    let mut room = Room::new(exercise(Steps::Any, &[Place::Tempered]));
    room.play(1.0, |_| Ok(0.0))
        .play(0.35, |_| QUIET)
        .play(1.0, |_| Ok(0.0))
        .rest();
    assert_eq!(room.course.trials().len(), 2);
}

#[test]
fn too_short_a_note_is_none() {
    let mut room = Room::new(exercise(Steps::Any, &[Place::Tempered]));
    room.play(0.25, |_| Ok(0.0)).play(1.0, |_| QUIET);
    assert_eq!(room.finish(), []);
}

#[test]
fn notes_that_follow_at_once_are_told_one_by_one() {
    let mut room = Room::new(exercise(Steps::Any, &[Place::Tempered]));
    let step = room.tuning.scale().frequency("B4".parse().unwrap());
    let step = step.above(room.reference).get();
    let trial = room
        .play(3.0, |t| Ok(if t < 1.5 { 2.0 } else { step - 4.0 }))
        .rest();
    let told = room.finish();
    assert_eq!(told.len(), 1);
    check(&told[0], 2.0, 1.5, 0.0);
    check(&trial, -4.0, 1.5, 0.0);
    let names = [told[0].note, trial.note].map(Note::ascii);
    assert_eq!(names, ["A4", "B4"]);
    assert!((trial.begun.get() - 1.5).abs() < 0.02, "{trial:?}");
}

#[test]
fn a_note_that_goes_on_into_the_drone_goes_on() {
    let mut room = Room::new(exercise(notes(&["A4"]), &[Place::Tempered]));
    let drone = Err(NoPitch::Drone);
    let trial = room
        .play(3.5, |t| {
            if (1.0..2.5).contains(&t) {
                drone
            } else {
                Ok(3.0)
            }
        })
        .rest();
    check(&trial, 3.0, 2.0, 0.0);
    assert!((trial.sounding().get() - 3.5).abs() < 0.03, "{trial:?}");
    // What ends there has sounded there; longer than two seconds is nobody's.
    let trial = room.play(1.0, |_| Ok(0.0)).play(1.0, |_| drone).rest();
    assert!((trial.sounding().get() - 2.0).abs() < 0.03, "{trial:?}");
    room.play(1.0, |_| Ok(0.0)).play(3.0, |_| drone);
    let trial = room.told.pop().unwrap();
    assert!((trial.sounding().get() - 1.0).abs() < 0.03, "{trial:?}");
}

#[test]
fn a_note_out_of_reach_is_none_of_the_exercise() {
    let mut room = Room::new(exercise(notes(&["A4"]), &[Place::Tempered]));
    room.play(1.5, |_| Ok(300.0)).play(0.5, |_| QUIET);
    assert!(room.course.hold().is_none() && room.finish().is_empty());
    // Sliding into reach it is, from there on.
    let slide = |t: f64| {
        Ok(if t < 0.4 {
            -400.0 * (1.0 - t / 0.4)
        } else {
            0.0
        })
    };
    let trial = room.play(2.0, slide).rest();
    assert_eq!(trial.approach, Approach::Below);
    assert!(trial.sounding().get() < 1.95, "{trial:?}");
}

#[test]
fn what_sounds_is_told_while_it_sounds() {
    let mut room = Room::new(exercise(notes(&["A4"]), &[Place::Tempered]));
    room.play(0.15, |_| Ok(2.0));
    let hold = room.course.hold().unwrap();
    assert_eq!(
        (hold.off, hold.drift_per_second, hold.approach),
        (None, None, None)
    );
    room.play(1.85, |_| Ok(2.0));
    let hold = room.course.hold().unwrap().clone();
    assert!((hold.off.unwrap().get() - 2.0).abs() < 1e-6);
    assert!((hold.inside.get() - 1.95).abs() < 0.1, "{hold:?}");
    assert!((hold.lasting.get() - 1.95).abs() < 0.1);
    assert_eq!(hold.approach, Some(Approach::Direct));
    room.rest();
    assert!(room.course.hold().is_none());
}

#[test]
fn steps_go_round_and_a_held_note_calls_the_next() {
    let mut room = Room::new(exercise(partials(&[8, 9, 10]), &[Place::Partial]));
    assert_eq!(room.course.place_in_steps(), (0, 3));
    room.course.step(-1);
    assert_eq!(room.course.place_in_steps(), (2, 3));
    room.course.step(1);
    // Half a second is no second.
    room.play(0.5, |_| Ok(0.0)).rest();
    assert_eq!(room.course.place_in_steps(), (0, 3));
    let trial = room.play(1.3, |_| Ok(0.0)).rest();
    assert_eq!(trial.partial, Partial::new(8).ok());
    assert_eq!(room.course.place_in_steps(), (1, 3));
    // Without a rest between them, too.
    let ninth = Cents::of_ratio(9.0, 8.0).get();
    let tenth = Cents::of_ratio(10.0, 8.0).get();
    room.play(3.0, |t| Ok(if t < 1.5 { ninth } else { tenth + 3.0 }));
    let trial = room.rest();
    check(&trial, 3.0, 1.5, 0.0);
    assert_eq!(trial.partial, Partial::new(10).ok());
    assert_eq!(room.course.place_in_steps(), (0, 3));
    let told: Vec<u8> = room
        .told
        .iter()
        .filter_map(|t| Some(t.partial?.number()))
        .collect();
    assert_eq!(told, [9]);
}

#[test]
fn switch_goes_through_the_places_of_each_note() {
    let both = [Place::Partial, Place::Tempered];
    let mut room = Room::new(exercise(partials(&[11, 13]), &both));
    let mut seen = Vec::new();
    for _ in 0..4 {
        let target = room.target().unwrap();
        seen.push((target.partial().unwrap().number(), target.place));
        room.course.step(1);
    }
    let [partial, tempered] = both;
    assert_eq!(
        seen,
        [(11, partial), (11, tempered), (13, partial), (13, tempered)]
    );
    assert_eq!(room.course.place_in_steps(), (0, 4));
    room.with(Course::swing);
    assert_eq!(room.course.place_in_steps(), (1, 4));
    room.with(Course::swing);
    assert_eq!(room.course.place_in_steps(), (0, 4));
    // The eleventh stands 39 cents below the G sharp of its two places.
    let target = room.target().unwrap();
    assert_eq!(target.note().ascii(), "G#5");
    let gap = target.places.gap().unwrap();
    assert!((gap.get() + 38.9).abs() < 0.1, "{gap}");
}

#[test]
fn places_are_swung_through_as_far_as_a_note_has_them() {
    let mut room = Room::new(exercise(Steps::Any, &[Place::Partial]));
    assert_eq!(room.target(), None);
    room.play(1.0, |_| Ok(1.0));
    let places = |room: &mut Room| {
        let mut places = Vec::new();
        for _ in 0..3 {
            places.push(room.target().unwrap().place);
            room.with(Course::swing);
        }
        places
    };
    let (partial, tempered) = (Place::Partial, Place::Tempered);
    assert_eq!(places(&mut room), [partial, tempered, partial]);
    room.agreed = Some(-6.0);
    assert_eq!(places(&mut room), [tempered, Place::Agreed, partial]);
    // No partial is near E flat.
    let mut room = Room::new(exercise(notes(&["Eb4"]), &[Place::Partial]));
    assert_eq!(room.target().unwrap().place, Place::Tempered);
    room.with(Course::swing);
    assert_eq!(room.target().unwrap().place, Place::Tempered);
}

#[test]
fn a_target_that_moves_begins_another_note() {
    let mut room = Room::new(exercise(Steps::Any, &[Place::Tempered]));
    room.play(1.0, |_| Ok(0.0));
    room.with(Course::swing);
    room.play(1.0, |_| Ok(0.0));
    room.tuning = room.tuning.at_standard(room.tuning.standard().shifted(1.0));
    room.play(1.0, |_| Ok(0.0));
    let told = room.finish();
    let seen: Vec<(Place, f64)> = told
        .iter()
        .map(|t| (t.place, t.off.get().round()))
        .collect();
    // The partial of A is pure; a hertz more at A 415 is 4.2 cents.
    let fifth = told[0].target.above(told[1].target).get().round();
    assert_eq!(seen[0], (Place::Tempered, 0.0));
    assert_eq!(seen[1], (Place::Partial, fifth));
    assert_eq!(seen[2].0, Place::Partial);
    assert!((told[2].off - told[1].off).get() < -4.0);
    assert!(told.iter().all(|trial| trial.sounding().get() < 1.01));
}

#[test]
fn the_note_of_no_exercise_stays_while_it_lasts() {
    let mut room = Room::new(exercise(Steps::Any, &[Place::Tempered]));
    // Where it ends it is nearer to B flat, and stays A all the same.
    room.play(1.0, |_| Ok(30.0))
        .play(2.0, |t| Ok(30.0 + 14.0 * t));
    assert_eq!(room.target().unwrap().note().ascii(), "A4");
    let trial = room.rest();
    assert_eq!(trial.note.ascii(), "A4");
    // The note that sounded last stays, too.
    room.play(5.0, |_| QUIET);
    assert_eq!(room.target().unwrap().note().ascii(), "A4");
}

#[test]
fn a_blind_axis_shows_after_the_note() {
    let blind = Exercise {
        is_blind: true,
        ..exercise(notes(&["A4"]), &[Place::Tempered])
    };
    let mut room = Room::new(blind);
    assert!(room.course.is_hidden());
    room.play(2.0, |_| Ok(3.0));
    assert!(room.course.is_hidden());
    assert!(room.rest().was_blind);
    assert!(!room.course.is_hidden());
    room.play(2.0, |_| QUIET);
    assert!(!room.course.is_hidden());
    room.play(1.2, |_| QUIET);
    assert!(room.course.is_hidden());
    room.play(1.0, |_| Ok(0.0)).rest();
    room.play(0.1, |_| Ok(0.0));
    assert!(room.course.is_hidden(), "the next note has begun");
    room.play(4.0, |_| QUIET);
    room.play(1.0, |_| Ok(0.0)).rest();
    room.course.step(1);
    assert!(room.course.is_hidden(), "another step has begun");
    room.play(0.5, |_| QUIET);
    room.course.change_exercise(1);
    assert!(room.course.is_hidden());
}

#[test]
fn another_exercise_begins_from_its_beginning() {
    let ladder = exercise(partials(&[8, 9]), &[Place::Partial]);
    let any = Exercise {
        name: "any".to_owned(),
        ..exercise(Steps::Any, &[Place::Tempered])
    };
    let mut room = Room::of(vec![ladder, any]);
    room.course.step(1);
    room.course.change_exercise(-1);
    assert_eq!(room.course.exercise().name, "any");
    assert_eq!(room.course.place_in_steps(), (0, 1));
    // What sounds meanwhile belongs to the exercise in which it began.
    room.play(1.0, |_| Ok(0.0));
    room.course.change_exercise(1);
    assert_eq!(room.course.place_in_steps(), (0, 2));
    room.play(1.0, |_| Ok(0.0));
    let names: Vec<String> = room.finish().into_iter().map(|t| t.exercise).collect();
    assert_eq!(names, ["any", "made-up"]);
    let course = Course::new(room.course.exercises().to_vec()).unwrap();
    assert_eq!(
        course
            .clone()
            .beginning_with("any")
            .unwrap()
            .exercise()
            .name,
        "any"
    );
    assert!(course.beginning_with("none").is_none());
}

#[test]
fn two_minutes_are_told_as_one_note() {
    let mut room = Room::new(exercise(notes(&["A4"]), &[Place::Tempered]));
    let trial = room.play(125.0, |t| Ok(3.0 * (0.2 * t).sin())).rest();
    assert!((trial.inside.get() - 125.0).abs() < 0.03, "{trial:?}");
    assert_eq!(room.course.trials().len(), 1);
}

#[test]
fn the_screen_keeps_a_hundred_notes() {
    let mut room = Room::new(exercise(Steps::Any, &[Place::Tempered]));
    for _ in 0..103 {
        room.play(0.4, |_| Ok(0.0)).play(0.35, |_| QUIET);
    }
    assert_eq!(room.course.trials().len(), 100);
    assert_eq!(room.finish().len(), 103);
}

#[test]
fn an_unsure_pitch_is_no_note() {
    let mut room = Room::new(exercise(Steps::Any, &[Place::Tempered]));
    let mut unsure = reading(415.0);
    if let Ok(pitch) = &mut unsure.pitch {
        pitch.margin = Cents::new(40.0);
    }
    for _ in 0..200 {
        room.hear(&unsure);
    }
    assert!(room.course.hold().is_none() && room.finish().is_empty());
}

/// What a player, or the ear, may do next, and how long.
fn deed() -> impl Strategy<Value = (u8, f64, f64)> {
    (0..10_u8, -250.0..250.0_f64, 0.02..1.2_f64)
}

proptest! {
    #![proptest_config(ProptestConfig {
        failure_persistence: None, cases: 64, ..ProptestConfig::default()
    })]
    #[test]
    fn whatever_is_played_notes_are_told_one_after_the_other(
        deeds in prop::collection::vec(deed(), 1..25),
        has_steps in any::<bool>(),
    ) {
        let steps = if has_steps { partials(&[6, 7, 8]) } else { Steps::Any };
        let mut room = Room::new(exercise(steps, &[Place::Partial, Place::Tempered]));
        for (kind, cents, seconds) in deeds {
            match kind {
                0 => drop(room.play(seconds, |_| QUIET)),
                1 => drop(room.play(seconds, |_| Err(NoPitch::Drone))),
                2 => drop(room.play(seconds, |_| Err(NoPitch::TwoNotes))),
                3 => room.course.step(1),
                4 => room.with(Course::swing),
                5 => drop(room.play(seconds, |t| Ok(cents * t))),
                _ => drop(room.play(seconds, |_| Ok(0.1 * cents))),
            }
            if let Some(hold) = room.course.hold() {
                prop_assert!(hold.inside.get() <= hold.lasting.get() + 1e-9);
            }
        }
        let mut ended = Seconds::new(f64::NEG_INFINITY);
        for trial in room.finish() {
            prop_assert!(ended <= trial.begun && trial.begun < trial.ended, "{trial:?}");
            prop_assert!(trial.inside.get() <= trial.sounding().get() + 1e-9, "{trial:?}");
            prop_assert!(trial.off.abs() <= REACH);
            ended = trial.ended;
        }
    }
}
