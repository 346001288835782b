use std::ffi::OsStr;
use std::path::Path;

use clap::Parser;

use super::*;
use crate::cli::keeping::tests::{an_evening, plan, plan_file};
use crate::rehearsal::Place;
use crate::rehearsal::tests::{hear_for, reading};
use crate::units::{Cents, Hertz, Note};

#[derive(Debug, Parser)]
struct Line {
    #[command(flatten)]
    arguments: Arguments,
}

fn parsed(words: &[&OsStr]) -> Result<Arguments, clap::Error> {
    let words = [OsStr::new("practise")]
        .into_iter()
        .chain(words.iter().copied());
    Line::try_parse_from(words).map(|line| line.arguments)
}

#[test]
fn agreed_drones_stand_where_the_plan_says() {
    let folder = tempfile::tempdir().unwrap();
    let plan = plan_file(folder.path(), an_evening());
    let wave = folder.path().join("drone.wav");
    let words = [
        "--plan".as_ref(),
        plan.as_os_str(),
        "--drone=agreed:G#4,agreed:B4,agreed:F#4,agreed:A4".as_ref(),
        "--write".as_ref(),
        wave.as_os_str(),
        "--seconds=0.1".as_ref(),
    ];
    let mut out = Vec::new();
    run(&parsed(&words).unwrap(), &mut out).unwrap();
    let out = String::from_utf8(out).unwrap();
    let told: Vec<f64> = out
        .lines()
        .skip(1)
        .map(|line| {
            line.split(": ")
                .nth(1)
                .unwrap()
                .trim_end_matches(" Hz")
                .parse()
                .unwrap()
        })
        .collect();
    let tuning = tuning(folder.path());
    let tempered = |note: &str| tuning.scale().frequency(note.parse::<Note>().unwrap());
    let eleventh = tuning.series().frequency(11.try_into().unwrap()).times(0.5);
    let expected = [
        eleventh,
        tempered("B4").raised(Cents::new(20.0)),
        tempered("F#4"),
        tempered("A4"),
    ];
    assert_eq!(told.len(), expected.len());
    for (told, expected) in told.iter().zip(expected) {
        assert!((told - expected.get()).abs() < 1e-5, "{told} {expected:?}");
    }
}

fn tuning(folder: &Path) -> Tuning {
    let arguments = parsed(&[]).unwrap();
    let plan = plan(folder, an_evening());
    arguments.tuning(Some(&plan)).unwrap().0
}

#[test]
fn the_exercise_of_agreed_places_has_what_it_needs() {
    let folder = tempfile::tempdir().unwrap();
    let plan = plan(folder.path(), an_evening());
    let arguments = parsed(&["--exercise=agreed".as_ref()]).unwrap();
    let (tuning, temperaments) = arguments.tuning(Some(&plan)).unwrap();
    let exercises = session::exercises(None).unwrap();
    let practice = Practice::new(
        arguments.drone(tuning.series().key()),
        course(exercises, Some("agreed")).unwrap(),
    );
    let instrument = session::instrument("natural-trumpet").unwrap().clone();
    let ensemble = Ensemble {
        title: "Practice".to_owned(),
        tuning: tuning.clone(),
        channels: vec![Channel {
            name: instrument.title.clone(),
            instrument,
            input: 1,
            visible: true,
            chain: None,
            players: 1,
        }],
    };
    let rehearsal = Rehearsal::new(ensemble, temperaments).practising(practice);
    let (mut rehearsal, _, _) = Keeping::nowhere().with_plan(Some(plan)).begin(rehearsal);
    // A note is to be held where the plan settled it, in whatever octave it is played.
    let mut now = 0.0;
    let mut check = |played: Hertz, expected: Hertz| {
        now = hear_for(&mut rehearsal, now, 1.0, &[reading(played.get())]);
        let target = rehearsal.target().unwrap();
        assert_eq!(target.place, Place::Agreed, "{played:?}");
        assert!(
            target.hertz.above(expected).abs() < Cents::new(0.01),
            "{target:?}"
        );
    };
    let partial = |number: u8| tuning.series().frequency(number.try_into().unwrap());
    let tempered = |note: &str| tuning.scale().frequency(note.parse::<Note>().unwrap());
    check(tempered("G#5"), partial(11));
    check(tempered("B5"), tempered("B5").raised(Cents::new(20.0)));
    check(partial(5), tempered("F#4"));
}

#[test]
fn a_plan_leaves_nothing_to_be_given_by_hand() {
    for other in [
        "--temperament=vallotti",
        "--key=C",
        "--a4=440",
        "--chain=Eb-G#",
        "--kept-by=C",
    ] {
        let error = parsed(&["--plan=p.ron".as_ref(), other.as_ref()]).unwrap_err();
        assert_eq!(error.exit_code(), 2, "{other}");
        assert!(error.to_string().contains("--plan"), "{other}");
    }
}
