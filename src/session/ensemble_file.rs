//! The ensemble file: who plays, through which input, and what everyone is measured against.
//!
//! `assets/ensemble.ron` is an example with every field explained.

mod channel;
mod writing;

use std::fmt;
use std::path::{Path, PathBuf};

use serde::Deserialize;
use serde::de::value::MapAccessDeserializer;
use serde::de::{
    self, DeserializeSeed, Deserializer, Error, IgnoredAny, MapAccess, SeqAccess, Visitor,
};

use super::fields::{Line, Version, checked};
use super::file_error::{Fault, FileError, parse, read_text};
use super::temperament_file::{Entry, find, not_shipped, temperaments};
use super::{instrument, suggestion::Unknown};
use crate::rehearsal::{Channel, Ensemble};
use crate::tuning::{Anchor, Chain, PitchStandard, Temperament, Tuning};
use crate::units::NoteName;
use channel::ChannelFields;

pub use writing::ensemble_text;

/// The highest input a channel can be heard through.
const HIGHEST_INPUT: usize = 32;

/// An ensemble and the temperaments it can be played in.
#[derive(Debug, Clone, PartialEq)]
pub struct LoadedEnsemble {
    /// The ensemble.
    pub ensemble: Ensemble,
    /// The shipped temperaments and those the file brings along.
    pub temperaments: Vec<Temperament>,
}

/// Reads the ensemble file at `path`, and the temperaments file it names.
///
/// # Errors
///
/// A file cannot be read, or something in it is wrong; nothing is replaced by defaults.
pub fn load_ensemble(path: &Path) -> Result<LoadedEnsemble, FileError> {
    read_ensemble(&read_text(path)?, path)
}

/// Reads an ensemble from `text`. `path` names it in errors, and a temperaments file is
/// looked for beside it.
///
/// # Errors
///
/// As for [`load_ensemble`].
pub fn read_ensemble(text: &str, path: &Path) -> Result<LoadedEnsemble, FileError> {
    let wrong = |fault| FileError::Content {
        path: path.to_owned(),
        fault,
    };
    let file: EnsembleFields = parse(text).map_err(wrong)?;
    let beside = |name: &Line| path.parent().unwrap_or(Path::new("")).join(&name.0);
    let temperaments_file: Option<PathBuf> = file.temperaments_file.as_ref().map(beside);
    let mut all = temperaments(temperaments_file.as_deref())?;
    let temperament = match file.temperament {
        Choice::Named(name) => find(&all, &name)
            .cloned()
            .map_err(|unknown: Unknown| wrong(at_temperament(text).saying(&unknown)))?,
        Choice::Own(own) => {
            if let Some(taken) = all.iter().find(|other| other.name == own.name) {
                return Err(wrong(at_temperament(text).saying(&format!(
                    "'{}' is already in the temperaments file: give one of them another name",
                    taken.name
                ))));
            }
            all.push((*own).clone());
            *own
        }
    };
    Ok(LoadedEnsemble {
        ensemble: Ensemble {
            title: file.title.0,
            tuning: Tuning::new(
                file.pitch,
                &temperament,
                file.chain,
                file.trumpets.key,
                file.trumpets.anchor,
            ),
            channels: file.channels.0,
        },
        temperaments: all,
    })
}

/// What is rehearsed without a file: one channel for each of the `inputs` of a device (at
/// least one), sixth-comma on E flat to G sharp, A=415 and trumpets in D.
///
/// # Panics
///
/// Only if the shipped files lacked these, which tests rule out.
pub fn default_ensemble(inputs: usize) -> Ensemble {
    let shipped = temperaments(None).unwrap_or_default();
    let temperament = find(&shipped, "sixth-comma").expect("sixth-comma is shipped");
    let standard = PitchStandard::new(415.0).expect("415 Hz lies within 350 to 500");
    let room = instrument("room").expect("the room is shipped");
    Ensemble {
        title: "Rehearsal".to_owned(),
        tuning: Tuning::new(
            standard,
            temperament,
            Chain::usual(),
            NoteName::D,
            Anchor::tonic(NoteName::D),
        ),
        channels: (1..=inputs.clamp(1, HIGHEST_INPUT))
            .map(|input| Channel {
                name: format!("Input {input}"),
                instrument: room.clone(),
                input,
                visible: true,
                chain: None,
                players: 1,
            })
            .collect(),
    }
}

pub(super) fn keyboard_chain<'de, D: Deserializer<'de>>(
    deserializer: D,
) -> Result<Chain, D::Error> {
    Chain::deserialize(deserializer)?
        .of_keyboard()
        .map_err(D::Error::custom)
}

/// Where the temperament's value ends in a text that was read without fault.
pub(super) fn at_temperament(text: &str) -> Fault {
    #[derive(Deserialize)]
    struct Locate {
        #[serde(rename = "temperament")]
        _temperament: Stop,
    }
    /// Reads any value and stops there.
    struct Stop;
    impl<'de> Deserialize<'de> for Stop {
        fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
            IgnoredAny::deserialize(deserializer)?;
            Err(D::Error::custom(""))
        }
    }
    match parse::<Locate>(text) {
        Err(fault) => fault,
        Ok(_) => Fault {
            line: 1,
            column: 1,
            message: String::new(),
        },
    }
}

#[derive(Deserialize)]
#[serde(rename = "ensemble", deny_unknown_fields)]
struct EnsembleFields {
    #[serde(rename = "version")]
    _version: Version,
    title: Line,
    pitch: PitchStandard,
    temperament: Choice,
    #[serde(default = "Chain::usual", deserialize_with = "keyboard_chain")]
    chain: Chain,
    #[serde(default)]
    temperaments_file: Option<Line>,
    trumpets: Trumpets,
    channels: Channels,
}

/// A temperament by name or by a definition of its own.
pub(super) enum Choice {
    Named(String),
    Own(Box<Temperament>),
}

impl<'de> Deserialize<'de> for Choice {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(ChoiceVisitor)
    }
}

struct ChoiceVisitor;

impl<'de> Visitor<'de> for ChoiceVisitor {
    type Value = Choice;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a name (\"sixth-comma\") or (name: ..., title: ..., fifths: ...)")
    }

    fn visit_str<E: de::Error>(self, name: &str) -> Result<Choice, E> {
        Ok(Choice::Named(name.to_owned()))
    }

    fn visit_map<A: MapAccess<'de>>(self, fields: A) -> Result<Choice, A::Error> {
        let Entry(own) = Entry::deserialize(MapAccessDeserializer::new(fields))?;
        not_shipped(&own.name).map_err(A::Error::custom)?;
        Ok(Choice::Own(Box::new(own)))
    }
}

/// The series of the trumpets, known to be possible.
pub(super) struct Trumpets {
    pub(super) key: NoteName,
    pub(super) anchor: Anchor,
}

impl<'de> Deserialize<'de> for Trumpets {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        #[derive(Deserialize)]
        #[serde(rename = "trumpets", deny_unknown_fields)]
        struct Fields {
            key: NoteName,
            #[serde(default)]
            anchor: Option<Anchor>,
        }
        checked(deserializer, |Fields { key, anchor }| {
            let anchor = anchor.unwrap_or(Anchor::tonic(key));
            anchor.check(key).map_err(|error| error.to_string())?;
            Ok(Self { key, anchor })
        })
    }
}

/// At least one channel, each through an input of its own.
struct Channels(Vec<Channel>);

impl<'de> Deserialize<'de> for Channels {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_seq(ChannelsVisitor)
    }
}

struct ChannelsVisitor;

impl<'de> Visitor<'de> for ChannelsVisitor {
    type Value = Channels;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a list of channels in [square brackets]")
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut entries: A) -> Result<Channels, A::Error> {
        let mut channels: Vec<Channel> = Vec::new();
        while let Some(channel) = entries.next_element_seed(Next(&channels))? {
            channels.push(channel);
        }
        if channels.is_empty() {
            return Err(A::Error::custom(
                "there are no channels: add one, such as (name: \"Violin\", instrument: \
                 \"violin\", input: 1)",
            ));
        }
        Ok(Channels(channels))
    }
}

/// Reads a channel whose input and name none of those before it has.
struct Next<'a>(&'a [Channel]);

impl<'de> DeserializeSeed<'de> for Next<'_> {
    type Value = Channel;

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<Channel, D::Error> {
        checked(deserializer, |fields: ChannelFields| {
            let channel = Channel::from(fields);
            if self.0.iter().any(|other| other.name == channel.name) {
                return Err(format!(
                    "two channels are called '{}': give one of them another name, such as '{} II'",
                    channel.name, channel.name
                ));
            }
            match self.0.iter().find(|other| other.input == channel.input) {
                None => Ok(channel),
                Some(other) => Err(format!(
                    "input {} already belongs to '{}': give '{}' another input",
                    channel.input, other.name, channel.name
                )),
            }
        })
    }
}

#[cfg(test)]
mod tests;
