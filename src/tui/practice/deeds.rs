//! What the keys of a practice do, and why something cannot be done.

use crate::drone::HIGHEST_CEILING;
use crate::drone::Pitches;
use crate::rehearsal::{Loudspeaker, Practice, Rehearsal};
use crate::tui::keymap::Practise;
use crate::tui::practice::words;

/// Carries out what a key asked for, and gives what must be told about it, if anything.
pub(in crate::tui) fn carry_out(deed: Practise, rehearsal: &mut Rehearsal) -> Option<String> {
    let told = rehearsal.practise(|practice, pitches| act(deed, practice, pitches));
    told.flatten()
}

fn act(deed: Practise, practice: &mut Practice, pitches: &Pitches<'_>) -> Option<String> {
    match deed {
        Practise::Next => step(1, practice, pitches),
        Practise::Previous => step(-1, practice, pitches),
        Practise::Drone => {
            practice.drone_mut().toggle();
            let waits = matches!(practice.loudspeaker(), Loudspeaker::Waiting(_));
            told_if(
                waits && practice.drone().is_sounding(),
                "there is no loudspeaker yet: the drone begins when there is one",
            )
        }
        Practise::Swing => {
            let place = |practice: &Practice| {
                let target = practice.course().target(pitches);
                (
                    target.map(|target| target.place),
                    practice.drone().tones().clone(),
                )
            };
            let before = place(practice);
            practice.swing(pitches);
            told_if(
                before == place(practice),
                "there is no other place: no partial sounds at this note",
            )
        }
        Practise::NextTone => step_drone(1, practice, pitches),
        Practise::PreviousTone => step_drone(-1, practice, pitches),
        Practise::Louder => {
            let drone = practice.drone_mut();
            if drone.louder(1) {
                return None;
            }
            let ceiling = words::decibels(drone.ceiling());
            Some(if drone.ceiling() < HIGHEST_CEILING {
                format!("the ceiling is {ceiling} dBFS: --ceiling raises it")
            } else {
                format!("the ceiling is {ceiling} dBFS, the highest there is")
            })
        }
        Practise::Softer => {
            let drone = practice.drone_mut();
            if drone.louder(-1) {
                return None;
            }
            let level = words::decibels(drone.level());
            Some(format!("{level} dBFS is the softest there is"))
        }
        Practise::OctaveUp => shift(1, practice),
        Practise::OctaveDown => shift(-1, practice),
        Practise::Timbre => {
            practice.drone_mut().next_timbre();
            None
        }
        Practise::Apart => {
            if practice.drone().tones().list().len() < 2 {
                return told_if(true, "one tone alone stays in the middle");
            }
            practice.drone_mut().toggle_apart();
            None
        }
        Practise::NextExercise => change_exercise(1, practice, pitches),
        Practise::PreviousExercise => change_exercise(-1, practice, pitches),
        Practise::Headphones => {
            practice.toggle_headphones();
            Some(if practice.has_headphones() {
                "headphones: nothing is taken out of what is heard".to_owned()
            } else {
                "no headphones: the drone is taken out of what is heard".to_owned()
            })
        }
    }
}

fn told_if(is_so: bool, words: &str) -> Option<String> {
    is_so.then(|| words.to_owned())
}

fn step(steps: isize, practice: &mut Practice, pitches: &Pitches<'_>) -> Option<String> {
    if !practice.course().has_steps() {
        return step_drone(steps, practice, pitches);
    }
    let before = practice.course().place_in_steps();
    practice.step(steps, pitches);
    told_if(
        before == practice.course().place_in_steps(),
        "this exercise has one step only",
    )
}

fn step_drone(steps: isize, practice: &mut Practice, pitches: &Pitches<'_>) -> Option<String> {
    let before = practice.drone().tones().clone();
    practice.drone_mut().step(steps, pitches);
    told_if(
        before == *practice.drone().tones(),
        "the drone's tones go no further",
    )
}

fn shift(octaves: i8, practice: &mut Practice) -> Option<String> {
    let before = practice.drone().octave();
    practice.drone_mut().shift_octave(octaves);
    let stays = before == practice.drone().octave();
    stays.then(|| {
        format!(
            "{} octaves from where it is written is the most",
            before.abs()
        )
    })
}

fn change_exercise(steps: isize, practice: &mut Practice, pitches: &Pitches<'_>) -> Option<String> {
    if practice.course().exercises().len() < 2 {
        return told_if(
            true,
            "there is one exercise only: --exercises adds your own",
        );
    }
    practice.change_exercise(steps, pitches);
    None
}
