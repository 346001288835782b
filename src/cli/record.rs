//! `concento record`, and what `concento demo --record` shares with it: a rehearsal heard
//! faster than real time and written into its session.

use std::io::Write;
use std::path::{Path, PathBuf};

use clap::Args;

use super::examples::{Example, examples};
use super::guarded::tell;
use super::keeping::Keeping;
use super::{Usage, progress};
use crate::listening::{Inputs, hear_out};
use crate::plain::as_argument;
use crate::rehearsal::Rehearsal;
use crate::session::{self, Status};
use crate::sound::recording::Recording;
use crate::sound::{Pace, Source};
use crate::units::Seconds;

const EXAMPLES: &[Example] = &[
    (
        "concento record take.wav --session take.session",
        "The session of a recording, to replay and report",
    ),
    (
        "concento record take.flac --session take.session --ensemble ensemble.ron",
        "With the names of the players on its channels",
    ),
];

#[derive(Debug, Args)]
#[command(after_help = examples(EXAMPLES))]
pub(super) struct Arguments {
    /// The recording (WAV, FLAC, MP3, OGG Vorbis), one channel for each player or section
    file: PathBuf,
    /// The session to write; one that exists is gone on with
    #[arg(long, value_name = "FILE")]
    session: PathBuf,
    /// Who plays on which channel, and what notes are measured against; without it there is
    /// one player for each channel, in sixth-comma at A=415 with trumpets in D
    #[arg(long, value_name = "FILE")]
    ensemble: Option<PathBuf>,
}

pub(super) fn run(arguments: &Arguments, out: &mut dyn Write) -> anyhow::Result<()> {
    let loaded = arguments
        .ensemble
        .as_deref()
        .map(session::load_ensemble)
        .transpose()?;
    let keeping = Keeping::given(&arguments.session)?;
    let recording = Recording::open(&arguments.file, Pace::Fast)?;
    let format = recording.format().clone();
    let length = recording.length().map(|frames| frames.at(format.rate));
    let (rehearsal, inputs) = if let Some(loaded) = loaded {
        let channels = &loaded.ensemble.channels;
        if let Some(channel) = channels.iter().find(|c| c.input > format.channels) {
            return Err(Usage(format!(
                "'{}' has {} channels, and {} is to be heard through input {}: give the \
                 recording that belongs to the ensemble",
                arguments.file.display(),
                format.channels,
                channel.name,
                channel.input
            ))
            .into());
        }
        let inputs = channels.iter().map(|c| c.input - 1).collect();
        (
            Rehearsal::new(loaded.ensemble, loaded.temperaments),
            Inputs::Chosen(inputs),
        )
    } else {
        let ensemble = session::default_ensemble(format.channels);
        let temperaments = session::temperaments(None)?;
        (Rehearsal::new(ensemble, temperaments), Inputs::Every)
    };
    let hearing = Hearing {
        rehearsal,
        source: Box::new(recording),
        inputs,
        length,
    };
    hearing.into_session(keeping, &arguments.session, |_, _| {}, out)
}

/// A rehearsal to be heard from its beginning to its end.
pub(super) struct Hearing {
    pub(super) rehearsal: Rehearsal,
    pub(super) source: Box<dyn Source>,
    pub(super) inputs: Inputs,
    /// How long it lasts, where that is known.
    pub(super) length: Option<Seconds>,
}

impl Hearing {
    /// Hears it and writes its session to `path`, which `keeping` was made for. `act` may do
    /// what a leader would do as time passes.
    pub(super) fn into_session(
        self,
        keeping: Keeping,
        path: &Path,
        mut act: impl FnMut(&mut Rehearsal, Seconds),
        out: &mut dyn Write,
    ) -> anyhow::Result<()> {
        let (rehearsal, mut recorder, told) = keeping.begin(self.rehearsal);
        if let Some(told) = told {
            tell(&told);
        }
        let bar = progress::bar(self.length.map(|length| length.get().ceil() as u64));
        let mut name = String::new();
        let heard = hear_out(
            rehearsal,
            self.source,
            self.inputs,
            |rehearsal, now| {
                bar.set_position(now.get() as u64);
                act(rehearsal, now);
            },
            |entries| {
                recorder.record(&entries);
                match recorder.status() {
                    Status::Failing(reason) => {
                        anyhow::bail!("cannot write '{}': {reason}", path.display())
                    }
                    Status::Into(file) => name = file,
                    Status::Nowhere => {}
                }
                Ok(())
            },
        );
        bar.finish_and_clear();
        let heard = heard?;
        let notice = recorder.take_notice();
        if let Some(lost) = recorder.finish() {
            anyhow::bail!("{lost}");
        }
        for told in [notice, heard.warning].into_iter().flatten() {
            tell(&told);
        }
        let chronicle = heard.rehearsal.chronicle();
        let file = path.with_file_name(name);
        // As long as a replay of it will be.
        let length = session::survey_session(&file)
            .map_or_else(|_| chronicle.ended(), |session| session.length());
        let seconds = length.get() as u64;
        let minutes = match (seconds / 3_600, seconds / 60) {
            (0, minutes) => minutes.to_string(),
            (hours, minutes) => format!("{hours}:{:02}", minutes % 60),
        };
        writeln!(
            out,
            "{}: {} notes in {minutes}:{:02}\n  concento replay {argument}    look at it\n  concento \
             report {argument} -o page.html    the page everyone takes home",
            file.display(),
            chronicle.notes().len(),
            seconds % 60,
            argument = as_argument(&file.display().to_string())
        )?;
        Ok(())
    }
}
