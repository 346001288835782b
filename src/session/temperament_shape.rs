//! How a file writes the fifths of a temperament: all alike, runs of a circle, or places.

use std::fmt;

use serde::de::{Deserialize, Deserializer, Error, MapAccess, Visitor};
use serde::{Serialize, Serializer};

use super::fields::checked;
use crate::tuning::{Fifths, Temperament, Tempering};
use crate::units::{Cents, NoteName};

/// A definition that is known to work out, so that one that does not is reported where it
/// ends and not where its temperament ends.
pub(super) struct Checked(pub(super) Fifths);

impl<'de> Deserialize<'de> for Checked {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        checked(deserializer, |shape: Shape| {
            let fifths = match shape {
                Shape::Regular(each) => Fifths::Regular { each },
                Shape::Circle(runs) => Fifths::Circle {
                    first: NoteName::C,
                    temperings: runs.0.into(),
                },
                Shape::Places(places) => Fifths::Places {
                    cents_from_c: places.0,
                },
            };
            Temperament::new("", "", fifths.clone()).map_err(|error| error.to_string())?;
            Ok(Self(fifths))
        })
    }
}

/// A map whose order is kept.
struct InOrder<T>(Vec<(String, T)>);

impl<T: Serialize> Serialize for InOrder<T> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_map(self.0.iter().map(|(key, value)| (key, value)))
    }
}

impl Serialize for Checked {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        /// The shape as it is written.
        #[derive(Serialize)]
        enum Written {
            Regular(Tempering),
            Circle(InOrder<Tempering>),
            Places(InOrder<f64>),
        }
        match &self.0 {
            Fifths::Regular { each } => Written::Regular(*each),
            Fifths::Circle { first, temperings } => {
                let run = |(index, tempering): (usize, &Tempering)| {
                    let lower = first.fifths() as isize + index as isize;
                    let key = |above: isize| usual_name((lower + above).rem_euclid(12) as usize);
                    (format!("{:#}-{:#}", key(0), key(1)), *tempering)
                };
                let tempered = temperings.iter().enumerate();
                // What is not named is pure.
                let tempered = tempered.filter(|(_, t)| **t != Tempering::Pure);
                Written::Circle(InOrder(tempered.map(run).collect()))
            }
            Fifths::Places { cents_from_c } => {
                let places = cents_from_c.iter();
                let places = places.map(|(key, cents)| (key.ascii(), *cents));
                Written::Places(InOrder(places.collect()))
            }
        }
        .serialize(serializer)
    }
}

/// How a file writes the fifths.
#[derive(serde::Deserialize)]
enum Shape {
    Regular(Tempering),
    Circle(Runs),
    Places(Places),
}

/// Runs of fifths with the tempering of each of their fifths: the twelve fifths from C.
struct Runs([Tempering; 12]);

impl<'de> Deserialize<'de> for Runs {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_map(RunsVisitor)
    }
}

struct RunsVisitor;

impl<'de> Visitor<'de> for RunsVisitor {
    type Value = Runs;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("runs of fifths in {curly brackets}, such as {\"C-G-D-A\": \"-1/4 PC\"}")
    }

    fn visit_map<A: MapAccess<'de>>(self, mut runs: A) -> Result<Runs, A::Error> {
        let mut named = [None; 12];
        while let Some(Run(lower_keys)) = runs.next_key()? {
            if let Some(&again) = lower_keys.iter().find(|&&fifth| named[fifth].is_some()) {
                return Err(A::Error::custom(format!(
                    "the fifth on {:#} was tempered before: name each fifth once",
                    usual_name(again)
                )));
            }
            let tempering: Tempering = runs.next_value()?;
            for fifth in lower_keys {
                named[fifth] = Some(tempering);
            }
        }
        Ok(Runs(named.map(|t| t.unwrap_or(Tempering::Pure))))
    }
}

/// The usual spelling of a key counted in fifths up from C.
fn usual_name(fifths: usize) -> NoteName {
    NoteName::from_fifths((fifths as i32 + 3).rem_euclid(12) - 3).unwrap_or(NoteName::C)
}

/// A run such as `F-C-G`: the lower keys of its fifths, counted in fifths up from C.
struct Run(Vec<usize>);

impl<'de> Deserialize<'de> for Run {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        checked(deserializer, |text: String| {
            let names = text
                .split(['-', '\u{2013}'])
                .map(|name| name.parse::<NoteName>().map_err(|e| e.to_string()))
                .collect::<Result<Vec<_>, _>>()?;
            if !(2..=13).contains(&names.len()) {
                return Err(format!(
                    "'{text}' is no run of fifths: write 2 to 13 notes with hyphens (C-G-D)"
                ));
            }
            let key = |name: NoteName| name.fifths().rem_euclid(12) as usize;
            for pair in names.windows(2) {
                if key(pair[1]) != (key(pair[0]) + 1) % 12 {
                    return Err(format!(
                        "{:#}-{:#} in '{text}' is no fifth: name the notes in rising fifths",
                        pair[0], pair[1]
                    ));
                }
            }
            Ok(Self(
                names.iter().rev().skip(1).rev().map(|&n| key(n)).collect(),
            ))
        })
    }
}

/// Keys with their places above C in cents.
struct Places(Vec<(NoteName, f64)>);

impl<'de> Deserialize<'de> for Places {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_map(PlacesVisitor)
    }
}

struct PlacesVisitor;

impl<'de> Visitor<'de> for PlacesVisitor {
    type Value = Places;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("twelve keys in {curly brackets}, such as {\"C\": 0, \"C#\": 76.0, ...}")
    }

    fn visit_map<A: MapAccess<'de>>(self, mut keys: A) -> Result<Places, A::Error> {
        let mut places: Vec<(NoteName, f64)> = Vec::new();
        while let Some(name) = keys.next_key::<NoteName>()? {
            if places.iter().any(|(other, _)| other.key() == name.key()) {
                return Err(A::Error::custom(format!(
                    "the key of {name:#} was placed before: place each key once"
                )));
            }
            places.push((name, keys.next_value::<Place>()?.0));
        }
        Ok(Places(places))
    }
}

/// Cents above C, given as such or as a ratio.
struct Place(f64);

impl<'de> Deserialize<'de> for Place {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(PlaceVisitor)
    }
}

struct PlaceVisitor;

impl Visitor<'_> for PlaceVisitor {
    type Value = Place;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("cents above C (386.3) or a ratio (\"5/4\")")
    }

    fn visit_f64<E: Error>(self, cents: f64) -> Result<Place, E> {
        if (0.0..1200.0).contains(&cents) {
            Ok(Place(cents))
        } else {
            Err(E::custom(format!(
                "{cents} cents are not within the octave above C: give 0 to 1200"
            )))
        }
    }

    fn visit_u64<E: Error>(self, cents: u64) -> Result<Place, E> {
        self.visit_f64(cents as f64)
    }

    fn visit_i64<E: Error>(self, cents: i64) -> Result<Place, E> {
        self.visit_f64(cents as f64)
    }

    fn visit_str<E: Error>(self, text: &str) -> Result<Place, E> {
        let ratio = text.split_once('/').and_then(|(upper, lower)| {
            let upper = f64::from(upper.trim().parse::<u32>().ok()?);
            let lower = f64::from(lower.trim().parse::<u32>().ok()?);
            (lower > 0.0 && (1.0..2.0).contains(&(upper / lower)))
                .then(|| Cents::of_ratio(upper, lower))
        });
        ratio.map(|cents| Place(cents.get())).ok_or_else(|| {
            E::custom(format!(
                "'{}' is no ratio within an octave: write it from 1/1 to below 2/1 (5/4)",
                text.escape_debug()
            ))
        })
    }
}
