//! A rehearsal of one player with a drone, from readings to what is kept.

use super::*;
use crate::drone::{Drone, Tone, Tones};
use crate::rehearsal::{
    Accompaniment, Approach, Course, Entry, Exercise, Note, Place, Practice, Step, Steps, Trial,
};
use crate::tuning::Partial;

/// A trumpeter who practises partials 8 and 11 with a drone that follows.
fn practising() -> Rehearsal {
    let steps = [8, 11].map(|number| Step::Partial(Partial::new(number).unwrap()));
    let exercise = Exercise {
        name: "two".to_owned(),
        title: "Two".to_owned(),
        steps: Steps::Notes(steps.into()),
        places: vec![Place::Partial],
        tolerance: Cents::new(6.0),
        hold: Seconds::new(1.0),
        is_blind: false,
        accompaniment: Accompaniment::Follows,
    };
    let course = Course::new(vec![exercise]).unwrap();
    let drone = Drone::new(Tones::new(vec![Tone::Tempered("A3".parse().unwrap())]).unwrap());
    rehearsal(&["Trumpet I"]).practising(Practice::new(drone, course))
}

fn kept(entries: &[Entry]) -> (Vec<&Trial>, Vec<&Note>) {
    let trials = entries.iter().filter_map(|entry| match entry {
        Entry::Tried(trial) => Some(&**trial),
        _ => None,
    });
    let notes = entries.iter().filter_map(|entry| match entry {
        Entry::Note(note) => Some(note),
        _ => None,
    });
    (trials.collect(), notes.collect())
}

#[test]
fn exercise_and_note_agree_and_the_drone_follows() {
    let mut rehearsal = practising();
    let silence = [unpitched(NoPitch::Silence)];
    let target = rehearsal.target().unwrap();
    let sound = reading(target.hertz.raised(Cents::new(3.5)).get());
    let t = hear_for(&mut rehearsal, 0.0, 2.0, &[sound]);
    let t = hear_for(&mut rehearsal, t, 1.0, &silence);
    // The next step has come, and the drone with it.
    let eleventh = Partial::new(11).unwrap();
    assert_eq!(rehearsal.target().unwrap().partial(), Some(eleventh));
    let practice = rehearsal.practice().unwrap();
    assert_eq!(practice.course().place_in_steps(), (1, 2));
    assert_eq!(practice.drone().tones().list(), [Tone::Partial(eleventh)]);
    // What sounds at the end is kept, too.
    let sound = reading(rehearsal.target().unwrap().hertz.get());
    hear_for(&mut rehearsal, t, 1.0, &[sound]);
    rehearsal.finish();
    let entries = rehearsal.take_entries();
    let (trials, notes) = kept(&entries);
    assert_eq!((trials.len(), notes.len()), (2, 2));
    for (trial, note) in trials.iter().zip(&notes) {
        let stood = trial.target.raised(trial.off);
        assert!(
            stood.above(note.hertz).abs() < Cents::new(0.01),
            "{trial:?}"
        );
        assert!((trial.begun - note.begun).get().abs() < 0.02);
        assert_eq!(trial.approach, Approach::Direct);
    }
    assert_eq!(rehearsal.chronicle().trials().len(), 2);
}
