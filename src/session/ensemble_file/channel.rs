//! One line of the ensemble file: a player or a section.

use serde::{Deserialize, Deserializer};

use super::HIGHEST_INPUT;
use crate::rehearsal::{Channel, Instrument, MOST_PLAYERS};
use crate::session::fields::{Line, checked};
use crate::session::instrument;
use crate::tuning::Chain;

#[derive(Deserialize)]
#[serde(rename = "channel", deny_unknown_fields)]
pub(super) struct ChannelFields {
    name: Line,
    instrument: Known,
    input: Input,
    #[serde(default = "visible")]
    visible: bool,
    #[serde(default)]
    chain: Option<Chain>,
    #[serde(default)]
    players: Option<Players>,
}

fn visible() -> bool {
    true
}

impl From<ChannelFields> for Channel {
    fn from(fields: ChannelFields) -> Self {
        let instrument = fields.instrument.0.clone();
        let usual = instrument.family.usual_players();
        Self {
            name: fields.name.0,
            instrument,
            input: fields.input.0,
            visible: fields.visible,
            chain: fields.chain,
            players: fields.players.map_or(usual, |players| players.0),
        }
    }
}

/// An instrument the program knows.
struct Known(&'static Instrument);

impl<'de> Deserialize<'de> for Known {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        checked(deserializer, |name: String| {
            instrument(&name)
                .map(Self)
                .map_err(|error| error.to_string())
        })
    }
}

/// An input, counted from 1.
struct Input(usize);

impl<'de> Deserialize<'de> for Input {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        checked(deserializer, |number: i64| {
            usize::try_from(number)
                .ok()
                .filter(|input| (1..=HIGHEST_INPUT).contains(input))
                .map(Self)
                .ok_or_else(|| {
                    format!("'{number}' is no input: inputs are counted from 1 to {HIGHEST_INPUT}")
                })
        })
    }
}

/// How many share an input.
struct Players(usize);

impl<'de> Deserialize<'de> for Players {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        checked(deserializer, |number: i64| {
            usize::try_from(number)
                .ok()
                .filter(|players| (1..=MOST_PLAYERS).contains(players))
                .map(Self)
                .ok_or_else(|| {
                    format!(
                        "'{number}' players cannot share an input: 1 to {MOST_PLAYERS} can, each \
                         with a voice that can be told from the others"
                    )
                })
        })
    }
}
