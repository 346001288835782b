//! Exercises from RON text: the shipped ones and a user's own.
//!
//! The shape of a file is explained at the head of `assets/exercises.ron`.

use std::path::Path;
use std::sync::LazyLock;

use serde::de::{Deserialize, Deserializer};

use super::fields::{CommandName, Line, Version, checked};
use super::file_error::{Fault, FileError, parse, read_text};
use crate::rehearsal::{Accompaniment, Exercise, Place, Step, Steps};
use crate::tuning::Partial;
use crate::units::{Cents, Note, Seconds};

/// A file holds so many exercises, and an exercise so many steps, at the most.
const MOST: usize = 100;

static SHIPPED: LazyLock<Vec<Exercise>> = LazyLock::new(|| {
    read_exercises(include_str!("../../assets/exercises.ron"))
        .expect("a test reads the shipped exercises")
});

/// The shipped exercises, then those of the user's file; one of a name that exists already
/// takes the place of that one. "hold" comes first.
///
/// # Errors
///
/// The file cannot be read, or something in it is wrong.
pub fn exercises(own: Option<&Path>) -> Result<Vec<Exercise>, FileError> {
    let mut all = SHIPPED.clone();
    if let Some(path) = own {
        let own = read_exercises(&read_text(path)?).map_err(|fault| FileError::Content {
            path: path.to_owned(),
            fault,
        })?;
        for exercise in own {
            match all.iter_mut().find(|other| other.name == exercise.name) {
                Some(other) => *other = exercise,
                None => all.push(exercise),
            }
        }
    }
    Ok(all)
}

/// The exercises of a user's file, given as text.
///
/// # Errors
///
/// Something in it is wrong.
pub fn read_exercises(text: &str) -> Result<Vec<Exercise>, Fault> {
    Ok(parse::<File>(text)?.exercises.0)
}

#[derive(serde::Deserialize)]
#[serde(rename = "exercises", deny_unknown_fields)]
struct File {
    #[serde(rename = "version")]
    _version: Version,
    exercises: Distinct,
}

/// Exercises with different names.
struct Distinct(Vec<Exercise>);

impl<'de> Deserialize<'de> for Distinct {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        checked(deserializer, |Few(entries): Few<Entry>| {
            let exercises: Vec<Exercise> = entries.into_iter().map(|entry| entry.0).collect();
            for (place, exercise) in exercises.iter().enumerate() {
                if exercises[..place].iter().any(|e| e.name == exercise.name) {
                    return Err(format!(
                        "two exercises are called '{}': give each its own name",
                        exercise.name
                    ));
                }
            }
            Ok(Self(exercises))
        })
    }
}

/// A list that is neither empty nor endless.
struct Few<T>(Vec<T>);

impl<'de, T: Deserialize<'de>> Deserialize<'de> for Few<T> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        checked(deserializer, |list: Vec<T>| match list.len() {
            0 => Err("this list is empty: write one at least".to_owned()),
            1..=MOST => Ok(Self(list)),
            _ => Err(format!("this list is too long: {MOST} are allowed")),
        })
    }
}

struct Entry(Exercise);

impl<'de> Deserialize<'de> for Entry {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let fields = Fields::deserialize(deserializer)?;
        Ok(Self(Exercise {
            name: fields.name.0,
            title: fields.title.0,
            steps: fields.steps.0,
            places: fields.places.0,
            tolerance: Cents::new(fields.tolerance_cents.0),
            hold: Seconds::new(fields.hold_s.0),
            is_blind: fields.blind,
            accompaniment: match fields.drone {
                DroneField::Stays => Accompaniment::Stays,
                DroneField::Follows => Accompaniment::Follows,
            },
        }))
    }
}

#[derive(serde::Deserialize)]
#[serde(rename = "exercise", deny_unknown_fields)]
struct Fields {
    name: CommandName,
    title: Line,
    steps: CheckedSteps,
    places: DistinctPlaces,
    tolerance_cents: Tolerance,
    #[serde(default)]
    hold_s: Hold,
    #[serde(default)]
    blind: bool,
    #[serde(default)]
    drone: DroneField,
}

/// What the drone does.
#[derive(Default, serde::Deserialize)]
#[serde(rename = "drone")]
enum DroneField {
    #[default]
    Stays,
    Follows,
}

/// Each place once.
struct DistinctPlaces(Vec<Place>);

impl<'de> Deserialize<'de> for DistinctPlaces {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        checked(deserializer, |Few(places): Few<Place>| {
            let twice = (1..places.len()).find(|at| places[..*at].contains(&places[*at]));
            match twice {
                Some(at) => Err(format!("'{:?}' stands twice: keep one of them", places[at])),
                None => Ok(Self(places)),
            }
        })
    }
}

/// Half a cent to fifty.
struct Tolerance(f64);

impl<'de> Deserialize<'de> for Tolerance {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        checked(deserializer, |cents: f64| {
            if (0.5..=50.0).contains(&cents) {
                Ok(Self(cents))
            } else {
                Err(format!(
                    "'{cents}' is no tolerance: it lies within 0.5 to 50 cents"
                ))
            }
        })
    }
}

/// Nothing to two minutes.
#[derive(Default)]
struct Hold(f64);

impl<'de> Deserialize<'de> for Hold {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        checked(deserializer, |seconds: f64| {
            if (0.0..=120.0).contains(&seconds) {
                Ok(Self(seconds))
            } else {
                Err(format!(
                    "'{seconds}' cannot be held: a note is held for 0 to 120 seconds"
                ))
            }
        })
    }
}

/// Steps as a file has them.
#[derive(serde::Deserialize)]
#[serde(rename = "steps", deny_unknown_fields)]
enum StepsField {
    Any,
    Notes(Few<StepField>),
    Ladder { from: Partial, to: Partial },
}

#[derive(serde::Deserialize)]
#[serde(rename = "step")]
enum StepField {
    Partial(Partial),
    Note(Note),
}

struct CheckedSteps(Steps);

impl<'de> Deserialize<'de> for CheckedSteps {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        checked(deserializer, |steps: StepsField| {
            Ok(Self(match steps {
                StepsField::Any => Steps::Any,
                StepsField::Notes(Few(notes)) => Steps::Notes(
                    notes
                        .into_iter()
                        .map(|step| match step {
                            StepField::Partial(partial) => Step::Partial(partial),
                            StepField::Note(note) => Step::Note(note),
                        })
                        .collect(),
                ),
                StepsField::Ladder { from, to } => Steps::Notes(ladder(from, to)),
            }))
        })
    }
}

/// From one partial to the other and back, so that round and round each end comes once.
fn ladder(from: Partial, to: Partial) -> Vec<Step> {
    let (low, high) = if from <= to { (from, to) } else { (to, from) };
    let between = Partial::all().filter(|partial| low <= *partial && *partial <= high);
    let mut up: Vec<Partial> = between.collect();
    if to < from {
        up.reverse();
    }
    let inner = up.len().saturating_sub(1).max(1);
    let down: Vec<Partial> = up[1..inner.max(1)].iter().rev().copied().collect();
    up.into_iter().chain(down).map(Step::Partial).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn file(entries: &str) -> String {
        format!("(version: 1, exercises: [\n{entries}\n])")
    }

    fn exercise(steps: &str, more: &str) -> String {
        format!(
            "(name: \"a\", title: \"T\", steps: {steps},\nplaces: [Tempered], \
             tolerance_cents: 5{more})"
        )
    }

    fn check(entries: &str, place: (usize, usize), part: &str) {
        let fault = read_exercises(&file(entries)).err().unwrap();
        assert_eq!((fault.line, fault.column), place, "{entries}: {fault}");
        assert!(fault.message.contains(part), "{entries}: {fault}");
    }

    fn numbers(steps: &Steps) -> Vec<u8> {
        let Steps::Notes(notes) = steps else {
            return Vec::new();
        };
        notes
            .iter()
            .map(|step| match step {
                Step::Partial(partial) => partial.number(),
                Step::Note(_) => 0,
            })
            .collect()
    }

    #[test]
    fn the_shipped_exercises_are_there_and_hold_is_first() {
        let all = exercises(None).unwrap();
        let names: Vec<&str> = all.iter().map(|e| e.name.as_str()).collect();
        assert_eq!(names, ["hold", "ladder", "switch", "blind", "agreed"]);
        assert_eq!(all[0].steps, Steps::Any);
        assert!(all.iter().all(|e| !e.places.is_empty()));
        assert_eq!(all[2].places, [Place::Partial, Place::Tempered]);
        assert!(all[3].is_blind);
    }

    #[test]
    fn a_ladder_goes_up_and_down_and_has_each_end_once() {
        let read = |steps: &str| {
            read_exercises(&file(&exercise(steps, "")))
                .unwrap()
                .remove(0)
                .steps
        };
        assert_eq!(numbers(&read("Ladder(from: 4, to: 7)")), [4, 5, 6, 7, 6, 5]);
        assert_eq!(numbers(&read("Ladder(from: 6, to: 4)")), [6, 5, 4, 5]);
        assert_eq!(numbers(&read("Ladder(from: 8, to: 8)")), [8]);
        assert_eq!(numbers(&read("Ladder(from: 8, to: 9)")), [8, 9]);
        assert_eq!(
            numbers(&read("Notes([Partial(11), Note(\"F#5\")])")),
            [11, 0]
        );
        let all = exercises(None).unwrap();
        assert_eq!(numbers(&all[1].steps).len(), 16);
    }

    #[test]
    fn a_file_of_one_s_own_adds_and_replaces() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("mine.ron");
        let own = r#"(name: "hold", title: "Mine", steps: Any, places: [Partial], tolerance_cents: 3),
            (name: "fifths", title: "Fifths", steps: Notes([Note("D4"), Note("A4")]),
             places: [Agreed], tolerance_cents: 0.5, hold_s: 120, drone: Follows)"#;
        std::fs::write(&path, file(own)).unwrap();
        let all = exercises(Some(&path)).unwrap();
        assert_eq!(all.len(), 6);
        assert_eq!(
            (all[0].name.as_str(), all[0].title.as_str()),
            ("hold", "Mine")
        );
        assert_eq!(all[5].accompaniment, Accompaniment::Follows);
        let missing = exercises(Some(&folder.path().join("none.ron")));
        assert!(matches!(missing, Err(FileError::Read { .. })));
    }

    #[test]
    fn faults_are_found_where_they_stand() {
        check(&exercise("Notes([])", ""), (2, 40), "write one at least");
        check(
            &exercise("Notes([Partial(25)])", ""),
            (2, 49),
            "run from 1 to 24",
        );
        check(
            &exercise("Notes([Note(\"H4\")])", ""),
            (2, 48),
            "is no note",
        );
        check(
            &exercise("Ladder(from: 0, to: 3)", ""),
            (2, 46),
            "is no partial",
        );
        check(&exercise("All", ""), (2, 35), "'Any', 'Notes' or 'Ladder'");
        check(
            &exercise("Any", ", hold_s: 121"),
            (3, 52),
            "0 to 120 seconds",
        );
        check(
            &exercise("Any", ", hold_s: NaN"),
            (3, 52),
            "0 to 120 seconds",
        );
        check(
            &exercise("Any", ", tolerance: 3"),
            (3, 50),
            "'tolerance' is not known",
        );
        let places = |places: &str, tolerance: &str| {
            format!(
                "(name: \"a\", title: \"T\", steps: Any, places: {places}, \
                 tolerance_cents: {tolerance})"
            )
        };
        check(
            &places("[Pure]", "5"),
            (2, 50),
            "'Partial', 'Tempered' or 'Agreed'",
        );
        check(&places("[]", "5"), (2, 47), "write one at least");
        check(&places("[Agreed, Agreed]", "5"), (2, 61), "stands twice");
        check(&places("[Agreed]", "0.4"), (2, 75), "0.5 to 50 cents");
        let both = format!("{},\n{}", exercise("Any", ""), exercise("Any", ""));
        check(&both, (6, 2), "two exercises are called 'a'");
        let many = vec![exercise("Any", ""); 101].join(",");
        let fault = read_exercises(&file(&many)).err().unwrap();
        assert!(fault.message.contains("too long"), "{fault}");
        check("(name: \"A b\"", (2, 13), "cannot be typed");
        let fault = read_exercises("(version: 2, exercises: [])").err().unwrap();
        assert!(fault.message.contains("version '2' is not known"));
    }
}
