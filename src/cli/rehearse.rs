//! `concento rehearse`.

use std::io::Write;
use std::path::PathBuf;

use clap::Args;

use super::examples::{Example, examples};
use super::keeping::{Keeping, Plan};
use super::planning::{Outlook, outlook};
use super::screen_arguments::ScreenArguments;
use super::stage;
use crate::listening::Inputs;
use crate::rehearsal::Rehearsal;
use crate::session::{self, LoadedEnsemble};
use crate::settings;
use crate::sound::capture::{Capture, InputChoice};
use crate::sound::recording::Recording;
use crate::sound::{Pace, Source};
use crate::stand::What;

const EXAMPLES: &[Example] = &[
    (
        "concento rehearse",
        "Listen to the default microphone, one strip for each of its channels",
    ),
    (
        "concento rehearse ensemble.ron",
        "The players of an ensemble file, by name",
    ),
    (
        "concento rehearse ensemble.ron --session friday.session",
        "The same, kept in a file of your choice",
    ),
    (
        "concento rehearse --input box --channels 8",
        "An interface with eight inputs, by a part of its name",
    ),
    (
        "concento rehearse ensemble.ron --agreed friday.session",
        "Begin with what was agreed on Friday",
    ),
];

#[derive(Debug, Args)]
#[command(after_help = examples(EXAMPLES))]
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
    /// Take over what was agreed in an earlier session; it goes before what a plan says
    #[arg(long, value_name = "FILE")]
    agreed: Option<PathBuf>,
    /// Begin with what a plan settled (see 'concento plan'): its pitch, temperament, keys and
    /// trumpets in the place of the ensemble's, and who yields on which note
    #[arg(long, value_name = "FILE")]
    plan: Option<PathBuf>,
    #[command(flatten)]
    screen: ScreenArguments,
}

pub(super) fn run(arguments: &Arguments, _out: &mut dyn Write) -> anyhow::Result<()> {
    let settings = settings::load()?;
    let options = arguments.screen.with(&settings)?;
    let ensemble = arguments.ensemble.as_ref().or(settings.ensemble.as_ref());
    let loaded = ensemble
        .map(|path| session::load_ensemble(path))
        .transpose()?;
    let highest = loaded
        .iter()
        .flat_map(|loaded| &loaded.ensemble.channels)
        .map(|channel| channel.input)
        .max();
    let keeping = match &arguments.session {
        Some(path) => Keeping::given(path)?,
        None => Keeping::by_date()?,
    };
    let keeping = keeping.with_agreed(arguments.agreed.as_deref())?;
    let plan = arguments.plan.as_deref().map(Plan::load).transpose()?;
    stage::needs_terminal()?;
    let source: Box<dyn Source> = match &arguments.from {
        Some(path) => Box::new(Recording::open(path, Pace::RealTime)?),
        None => Box::new(Capture::open(InputChoice {
            name: arguments.input.clone(),
            channels: arguments.channels.map(usize::from).or(highest),
        })),
    };
    let outlook = match &plan {
        Some(plan) => {
            let temperaments = match &loaded {
                Some(loaded) => loaded.temperaments.clone(),
                None => session::temperaments(None)?,
            };
            Outlook {
                beside: Some(plan.path.clone()),
                ..outlook(&plan.settled, &plan.among(temperaments))
            }
        }
        None => Outlook::default(),
    };
    let (mut rehearsal, inputs) = seated(loaded, plan.as_ref())?;
    if arguments.from.is_none() {
        rehearsal = rehearsal.through_microphone();
    }
    let keeping = keeping.with_plan(plan);
    let performance = stage::Performance {
        what: What::Rehearsal,
        rehearsal,
        source,
        inputs,
        keeping,
        outlook,
    };
    stage::play(performance, &options)
}

/// Rehearses an ensemble that was just set up, through that input.
pub(super) fn begin(
    ensemble: PathBuf,
    input: Option<String>,
    channels: Option<usize>,
    from: Option<PathBuf>,
    screen: ScreenArguments,
    out: &mut dyn Write,
) -> anyhow::Result<()> {
    let arguments = Arguments {
        ensemble: Some(ensemble),
        input,
        channels: channels.and_then(|count| u8::try_from(count).ok()),
        from,
        session: None,
        agreed: None,
        plan: None,
        screen,
    };
    run(&arguments, out)
}

/// The ensemble, or whoever comes, in the plan's tuning where there is one; and the inputs they
/// are heard through.
fn seated(
    loaded: Option<LoadedEnsemble>,
    plan: Option<&Plan>,
) -> anyhow::Result<(Rehearsal, Inputs)> {
    let follows = loaded.is_none();
    let LoadedEnsemble {
        mut ensemble,
        mut temperaments,
    } = match loaded {
        Some(loaded) => loaded,
        None => LoadedEnsemble {
            ensemble: session::default_ensemble(1),
            temperaments: session::temperaments(None)?,
        },
    };
    if let Some(plan) = plan {
        ensemble.tuning = plan.settled.tuning(&ensemble.tuning);
        temperaments = plan.among(temperaments);
    }
    let inputs = ensemble.channels.iter().map(|c| c.input - 1).collect();
    let rehearsal = Rehearsal::new(ensemble, temperaments);
    Ok(if follows {
        (rehearsal.following_inputs(), Inputs::Every)
    } else {
        (rehearsal, Inputs::Chosen(inputs))
    })
}

#[cfg(test)]
mod tests;
