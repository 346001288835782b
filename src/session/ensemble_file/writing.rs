//! An ensemble as text, with remarks for whoever edits it.

use std::fmt::Write;

use ron::extensions::Extensions;
use ron::ser::PrettyConfig;
use serde::Serialize;

use crate::rehearsal::{Channel, Ensemble};
use crate::session::fields::Line;
use crate::tuning::{Anchor, Chain};
use crate::units::NoteName;

/// The whole ensemble file of `ensemble`, which reads back as the same.
///
/// Its temperament is named, so it must be one of those shipped; titles and names that would not
/// be read again are tidied.
pub fn ensemble_text(ensemble: &Ensemble) -> String {
    let mut text = String::new();
    // Writing into a string cannot fail.
    let _ = fill(&mut text, ensemble);
    text
}

fn fill(text: &mut String, ensemble: &Ensemble) -> std::fmt::Result {
    let tuning = &ensemble.tuning;
    let scale = tuning.scale();
    writeln!(
        text,
        "// An ensemble for concento. Change what you like; lines that begin with // are remarks.\n\
         // \"concento new\" writes an example in which everything is explained.\n\
         (\n    \
             version: 1,\n\n    \
             // Shown at the head of the screen.\n    \
             title: {},\n\n    \
             // How high A4 stands, in hertz (350 to 500), and the note that keeps this level when \
             the\n    \
             // temperament changes.\n    \
             pitch: {},\n\n    \
             // \"concento temperaments\" lists the names.\n    \
             temperament: {},\n\n    \
             // The accidentals the keyboard owns, from its flattest note to its sharpest.\n    \
             chain: {},\n\n    \
             // The key of the trumpets; without an anchor, partial 8 sounds the tonic.\n    \
             trumpets: {},\n\n    \
             // One line for each player or section, in the order shown. Inputs are those of the \
             sound\n    \
             // card, counted from 1. Several players who share an input are heard as a chord.\n    \
             channels: [",
        ron(&Line::tidied(&ensemble.title)),
        ron(&tuning.standard()),
        ron(&scale.temperament().name),
        ron(&scale.chain()),
        ron(&TrumpetsWritten::of(
            tuning.series().key(),
            tuning.series().anchor()
        )),
    )?;
    for channel in &ensemble.channels {
        writeln!(text, "        {},", ron(&ChannelWritten::from(channel)))?;
    }
    writeln!(text, "    ],\n)")
}

fn ron(value: &impl Serialize) -> String {
    let spaced = PrettyConfig::new().depth_limit(0);
    ron::Options::default()
        .with_default_extension(Extensions::IMPLICIT_SOME)
        .to_string_pretty(value, spaced)
        .expect("these values have a form in this syntax")
}

#[derive(Serialize)]
struct TrumpetsWritten {
    key: NoteName,
    #[serde(skip_serializing_if = "Option::is_none")]
    anchor: Option<Anchor>,
}

impl TrumpetsWritten {
    fn of(key: NoteName, anchor: Anchor) -> Self {
        Self {
            key,
            anchor: (anchor != Anchor::tonic(key)).then_some(anchor),
        }
    }
}

#[derive(Serialize)]
struct ChannelWritten {
    name: Line,
    instrument: String,
    input: usize,
    #[serde(skip_serializing_if = "Option::is_none")]
    visible: Option<bool>,
    #[serde(skip_serializing_if = "Option::is_none")]
    chain: Option<Chain>,
    #[serde(skip_serializing_if = "Option::is_none")]
    players: Option<usize>,
}

impl From<&Channel> for ChannelWritten {
    fn from(channel: &Channel) -> Self {
        let usual = channel.instrument.family.usual_players();
        Self {
            name: Line::tidied(&channel.name),
            instrument: channel.instrument.name.clone(),
            input: channel.input,
            visible: (!channel.visible).then_some(false),
            chain: channel.chain,
            players: (channel.players != usual).then_some(channel.players),
        }
    }
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;
    use crate::session::{default_ensemble, read_ensemble};
    use crate::tuning::PitchStandard;

    #[test]
    fn an_ensemble_reads_back_as_it_was_written() {
        let mut ensemble = default_ensemble(4);
        ensemble.channels[1].name = "Trom\u{ed}pet \"I\" \\ {x}".to_owned();
        ensemble.channels[1].players = 3;
        ensemble.channels[2].visible = false;
        ensemble.channels[3].chain = Some("Ab-D#".parse().unwrap());
        let standard = PitchStandard::new(415.57).unwrap();
        ensemble.tuning = ensemble.tuning.at_standard(standard);
        let text = ensemble_text(&ensemble);
        let read = read_ensemble(&text, Path::new("own.ron")).unwrap();
        assert_eq!(read.ensemble, ensemble, "{text}");
    }

    #[test]
    fn what_would_not_be_read_again_is_tidied() {
        let mut ensemble = default_ensemble(1);
        ensemble.title = "\u{1b}[31m".to_owned();
        ensemble.channels[0].name = "x".repeat(200);
        let text = ensemble_text(&ensemble);
        assert!(read_ensemble(&text, Path::new("own.ron")).is_ok(), "{text}");
    }
}
