//! `concento rehearse`.

use std::io::Write;
use std::path::PathBuf;

use clap::Args;

use super::keeping::Keeping;
use super::stage;
use crate::listening::Inputs;
use crate::rehearsal::Rehearsal;
use crate::session;
use crate::sound::capture::{Capture, InputChoice};
use crate::sound::recording::Recording;
use crate::sound::{Pace, Source};

#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// Who plays, and what notes are measured against (see 'concento new'); without it there
    /// is one player for each input, in sixth-comma at A=415 with trumpets in D
    ensemble: Option<PathBuf>,
    /// The input to listen to, by its name in 'concento devices' or a part of it
    #[arg(long, value_name = "DEVICE", conflicts_with = "from")]
    input: Option<String>,
    /// How many channels the input has, where the sound system says too few
    #[arg(long, value_name = "N", conflicts_with = "from",
          value_parser = clap::value_parser!(u8).range(1..=32))]
    channels: Option<u8>,
    /// Listen to a recording instead, at its own speed (WAV, FLAC, MP3, OGG Vorbis)
    #[arg(long, value_name = "FILE")]
    from: Option<PathBuf>,
    /// The file the rehearsal is recorded into: gone on with if it exists. A new one in the
    /// data folder if left out
    #[arg(long, value_name = "FILE")]
    session: Option<PathBuf>,
    /// Take over what was agreed in an earlier session
    #[arg(long, value_name = "FILE")]
    agreed: Option<PathBuf>,
}

pub(super) fn run(arguments: &Arguments, _out: &mut dyn Write) -> anyhow::Result<()> {
    let loaded = arguments
        .ensemble
        .as_deref()
        .map(session::load_ensemble)
        .transpose()?;
    let highest = loaded
        .iter()
        .flat_map(|loaded| &loaded.ensemble.channels)
        .map(|channel| channel.input)
        .max();
    let keeping = match &arguments.session {
        Some(path) => Keeping::given(path)?,
        None => Keeping::by_date(),
    };
    let keeping = keeping.with_agreed(arguments.agreed.as_deref())?;
    stage::needs_terminal()?;
    let source: Box<dyn Source> = match &arguments.from {
        Some(path) => Box::new(Recording::open(path, Pace::RealTime)?),
        None => Box::new(Capture::open(InputChoice {
            name: arguments.input.clone(),
            channels: arguments.channels.map(usize::from).or(highest),
        })),
    };
    let (rehearsal, inputs) = if let Some(loaded) = loaded {
        let inputs = loaded
            .ensemble
            .channels
            .iter()
            .map(|c| c.input - 1)
            .collect();
        (
            Rehearsal::new(loaded.ensemble, loaded.temperaments),
            Inputs::Chosen(inputs),
        )
    } else {
        let rehearsal = Rehearsal::new(session::default_ensemble(1), session::temperaments(None)?);
        (rehearsal.following_inputs(), Inputs::Every)
    };
    stage::play(rehearsal, source, inputs, keeping)
}
