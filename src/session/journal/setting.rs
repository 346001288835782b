//! Who plays and in what tuning, complete: a session opens without any other file.

use serde::{Deserialize, Deserializer, Serialize, de::Error};

use crate::rehearsal::{Channel, Ensemble, Family, Instrument, MOST_PLAYERS};
use crate::session::fields::{CommandName, Line, checked};
use crate::session::temperament_file;
use crate::tuning::{Anchor, Chain, PitchStandard, Tuning};
use crate::units::{Note, NoteName};

/// The most channels of a session.
pub(in crate::session) const MOST_CHANNELS: usize = 64;

/// What is measured against.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::session) struct KeptTuning(pub(super) Tuning);

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct TuningFields {
    pitch: PitchStandard,
    temperament: temperament_file::Entry,
    chain: Chain,
    key: NoteName,
    anchor: Anchor,
}

impl Serialize for KeptTuning {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let Self(tuning) = self;
        TuningFields {
            pitch: tuning.standard(),
            temperament: temperament_file::Entry(tuning.scale().temperament().clone()),
            chain: tuning.scale().chain(),
            key: tuning.series().key(),
            anchor: tuning.series().anchor(),
        }
        .serialize(serializer)
    }
}

impl<'de> Deserialize<'de> for KeptTuning {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        checked(deserializer, |fields: TuningFields| {
            let TuningFields { key, anchor, .. } = fields;
            anchor.check(key).map_err(|error| error.to_string())?;
            let temperament = &fields.temperament.0;
            Ok(Self(Tuning::new(
                fields.pitch,
                temperament,
                fields.chain,
                key,
                anchor,
            )))
        })
    }
}

/// The players; not none, and not too many.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::session) struct KeptChannels(pub(super) Vec<Channel>);

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct ChannelFields {
    name: Line,
    instrument: InstrumentFields,
    input: usize,
    visible: bool,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    chain: Option<Chain>,
    players: usize,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct InstrumentFields {
    name: CommandName,
    title: Line,
    family: Family,
    lowest: Note,
    highest: Note,
    inharmonic: bool,
}

impl From<&Channel> for ChannelFields {
    fn from(channel: &Channel) -> Self {
        let instrument = &channel.instrument;
        Self {
            name: Line::tidied(&channel.name),
            instrument: InstrumentFields {
                name: CommandName(instrument.name.clone()),
                title: Line::tidied(&instrument.title),
                family: instrument.family,
                lowest: instrument.lowest,
                highest: instrument.highest,
                inharmonic: instrument.inharmonic,
            },
            input: channel.input,
            visible: channel.visible,
            chain: channel.chain,
            players: channel.players,
        }
    }
}

impl From<ChannelFields> for Channel {
    fn from(fields: ChannelFields) -> Self {
        let instrument = fields.instrument;
        Self {
            name: fields.name.0,
            instrument: Instrument {
                name: instrument.name.0,
                title: instrument.title.0,
                family: instrument.family,
                lowest: instrument.lowest,
                highest: instrument.highest,
                inharmonic: instrument.inharmonic,
            },
            input: fields.input,
            visible: fields.visible,
            chain: fields.chain,
            players: fields.players,
        }
    }
}

impl Serialize for KeptChannels {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let channels = self.0.iter().take(MOST_CHANNELS);
        serializer.collect_seq(channels.map(ChannelFields::from))
    }
}

impl<'de> Deserialize<'de> for KeptChannels {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let fields = Vec::<ChannelFields>::deserialize(deserializer)?;
        let fits = |channel: &ChannelFields| {
            (1..=MOST_CHANNELS).contains(&channel.input)
                && (1..=MOST_PLAYERS).contains(&channel.players)
        };
        if fields.len() > MOST_CHANNELS || !fields.iter().all(fits) {
            return Err(D::Error::custom("no ensemble has channels like these"));
        }
        Ok(Self(fields.into_iter().map(Channel::from).collect()))
    }
}

/// An ensemble from its parts.
pub(in crate::session) fn ensemble(
    title: Line,
    tuning: KeptTuning,
    channels: KeptChannels,
) -> Ensemble {
    Ensemble {
        title: title.0,
        tuning: tuning.0,
        channels: channels.0,
    }
}
