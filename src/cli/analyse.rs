//! `concento analyse`.

use std::io::Write;
use std::num::NonZero;
use std::path::PathBuf;
use std::thread;
use std::time::Duration;

use clap::Args;

use super::examples::{Example, examples};
use super::guarded::tell;
use super::{Form, Usage, progress};
use crate::analysis::{Ears, Reading};
use crate::rehearsal::Ensemble;
use crate::report::{FRAME_HEADINGS, FrameReport, NoteGatherer, notes_table};
use crate::session;
use crate::sound::recording::Recording;
use crate::sound::{Delivery, Pace, Source, SourceState, StreamFormat};
use crate::tuning::Tuning;
use crate::units::{FramePosition, Frames};

/// Sound that is read before it is shared out among the processor's cores, in frames.
const PORTION: usize = 100_000;

const EXAMPLES: &[Example] = &[
    (
        "concento analyse take.wav",
        "The notes of a recording, with the cents from partial and tempered note",
    ),
    (
        "concento analyse take.flac --ensemble ensemble.ron",
        "With the players and the tuning of an ensemble file",
    ),
    (
        "concento analyse take.wav --format csv > take.csv",
        "Every reading, for a spreadsheet",
    ),
];

#[derive(Debug, Args)]
#[command(after_help = examples(EXAMPLES))]
pub(super) struct Arguments {
    /// The recording (WAV, FLAC, MP3, OGG Vorbis)
    file: PathBuf,
    /// Who plays on which channel, and what notes are measured against; without it every
    /// channel is heard, in sixth-comma at A=415 with trumpets in D
    #[arg(long, value_name = "FILE")]
    ensemble: Option<PathBuf>,
    /// A list of notes, or every reading as lines of JSON or CSV
    #[arg(long, value_enum, default_value_t = Form::Table)]
    format: Form,
}

pub(super) fn run(arguments: &Arguments, out: &mut dyn Write) -> anyhow::Result<()> {
    let loaded = arguments
        .ensemble
        .as_deref()
        .map(session::load_ensemble)
        .transpose()?;
    let mut recording = Recording::open(&arguments.file, Pace::Fast)?;
    let format = recording.format().clone();
    let mut ensemble = match loaded {
        Some(loaded) => loaded.ensemble,
        None => session::default_ensemble(format.channels),
    };
    leave_out_shared(&mut ensemble)?;
    if let Some(channel) = ensemble.channels.iter().find(|c| c.input > format.channels) {
        anyhow::bail!(
            "'{}' has {} channels, and {} is to be heard through input {}: give the recording \
             that belongs to the ensemble",
            arguments.file.display(),
            format.channels,
            channel.name,
            channel.input
        );
    }
    let mut writer = ReadingWriter::new(arguments.format, &ensemble, out)?;
    let bar = progress::bar(recording.length().map(Frames::get));
    let mut crew = Crew::new(&format, &ensemble);
    let mut portions = Portions::new(format.channels);
    while let Some((first, portion)) = portions.next(&mut recording) {
        for (channel, reading) in crew.hear(first, &portion)? {
            writer.take(channel, &reading)?;
        }
        bar.set_position(recording.position().get());
    }
    bar.finish_and_clear();
    writer.finish()?;
    if let Some(warning) = recording.warning() {
        tell(warning);
    }
    Ok(())
}

/// Channels that players share have no one pitch: another command hears them.
fn leave_out_shared(ensemble: &mut Ensemble) -> anyhow::Result<()> {
    let shared: Vec<String> = ensemble
        .channels
        .iter()
        .filter(|channel| channel.is_shared())
        .map(|channel| {
            format!(
                "{} is shared by several players: hear them with 'concento chord' and '--channel {}'",
                channel.name, channel.input
            )
        })
        .collect();
    ensemble.channels.retain(|channel| !channel.is_shared());
    if ensemble.channels.is_empty() {
        return Err(Usage(shared.join("; ")).into());
    }
    for line in shared {
        tell(&line);
    }
    Ok(())
}

/// Stretches of sound without a gap, long enough to be worth sharing out.
struct Portions {
    channels: usize,
    /// What came after a gap.
    kept: Option<(FramePosition, Vec<f32>)>,
}

impl Portions {
    fn new(channels: usize) -> Self {
        Self {
            channels,
            kept: None,
        }
    }

    /// The next stretch; none at the end.
    fn next(&mut self, recording: &mut Recording) -> Option<(FramePosition, Vec<f32>)> {
        let mut portion = self.kept.take();
        loop {
            match recording.next(Duration::ZERO) {
                Delivery::Block { first, samples } => {
                    let (start, gathered) = portion.get_or_insert((first, Vec::new()));
                    let frames = (gathered.len() / self.channels) as u64;
                    if *start + Frames::new(frames) != first {
                        self.kept = Some((first, samples.to_vec()));
                        return portion;
                    }
                    gathered.extend_from_slice(samples);
                    if gathered.len() >= PORTION * self.channels {
                        return portion;
                    }
                }
                Delivery::State(SourceState::Ended) | Delivery::Nothing => return portion,
                Delivery::Started(_) | Delivery::State(_) => {}
            }
        }
    }
}

/// Ears shared out among the cores.
struct Crew {
    members: Vec<Ears>,
    /// The channel of the ensemble heard through each input.
    channel_of_input: Vec<Option<usize>>,
}

impl Crew {
    fn new(format: &StreamFormat, ensemble: &Ensemble) -> Self {
        let inputs: Vec<usize> = ensemble.channels.iter().map(|c| c.input - 1).collect();
        let cores = thread::available_parallelism().map_or(1, NonZero::get);
        let each = inputs.len().div_ceil(cores).max(1);
        let mut channel_of_input = vec![None; format.channels];
        for (channel, input) in inputs.iter().enumerate() {
            channel_of_input[*input] = Some(channel);
        }
        Self {
            members: inputs
                .chunks(each)
                .map(|inputs| Ears::new(format.rate, format.channels, inputs))
                .collect(),
            channel_of_input,
        }
    }

    /// The readings of all channels in the order in which they could have been shown.
    fn hear(
        &mut self,
        first: FramePosition,
        samples: &[f32],
    ) -> anyhow::Result<Vec<(usize, Reading)>> {
        let channel_of_input = &self.channel_of_input;
        let mut readings = Vec::new();
        thread::scope(|scope| {
            let listen = |ears: &mut Ears| {
                let mut heard = Vec::new();
                ears.hear(first, samples, |input, reading| {
                    heard.extend(channel_of_input[input].map(|channel| (channel, *reading)));
                });
                heard
            };
            let members = self.members.iter_mut();
            let shares: Vec<_> = members
                .map(|ears| scope.spawn(move || listen(ears)))
                .collect();
            for share in shares {
                let heard = share
                    .join()
                    .map_err(|_| anyhow::anyhow!("a listening thread failed"))?;
                readings.extend(heard);
            }
            anyhow::Ok(())
        })?;
        readings.sort_by(|(a_channel, a), (b_channel, b)| {
            a.available
                .get()
                .total_cmp(&b.available.get())
                .then(a_channel.cmp(b_channel))
        });
        Ok(readings)
    }
}

/// Writes readings as they come, or gathers them into notes.
struct ReadingWriter<'a> {
    ensemble: &'a Ensemble,
    tunings: Vec<Tuning>,
    sink: Sink<'a>,
}

enum Sink<'a> {
    Notes(Vec<NoteGatherer>, &'a mut dyn Write),
    Json(&'a mut dyn Write),
    Csv(Box<csv::Writer<&'a mut dyn Write>>),
}

impl<'a> ReadingWriter<'a> {
    fn new(form: Form, ensemble: &'a Ensemble, out: &'a mut dyn Write) -> anyhow::Result<Self> {
        let sink = match form {
            Form::Table => Sink::Notes(
                (0..ensemble.channels.len())
                    .map(NoteGatherer::new)
                    .collect(),
                out,
            ),
            Form::Json => Sink::Json(out),
            Form::Csv => {
                let mut writer = csv::Writer::from_writer(out);
                writer.write_record(FRAME_HEADINGS)?;
                Sink::Csv(Box::new(writer))
            }
        };
        let own = |chain| ensemble.tuning.over_chain(chain);
        let tunings = ensemble
            .channels
            .iter()
            .map(|channel| channel.chain.map_or_else(|| ensemble.tuning.clone(), own))
            .collect();
        Ok(Self {
            ensemble,
            tunings,
            sink,
        })
    }

    /// Takes in a reading of the channel at this place of the ensemble.
    fn take(&mut self, channel: usize, reading: &Reading) -> anyhow::Result<()> {
        let tuning = &self.tunings[channel];
        let frame = || FrameReport::new(self.ensemble.channels[channel].input, reading, tuning);
        match &mut self.sink {
            Sink::Notes(gatherers, _) => gatherers[channel].take(reading, tuning),
            Sink::Json(out) => writeln!(out, "{}", frame().to_json_line())?,
            Sink::Csv(writer) => writer.write_record(frame().to_cells())?,
        }
        Ok(())
    }

    fn finish(self) -> anyhow::Result<()> {
        match self.sink {
            Sink::Notes(gatherers, out) => {
                let names: Vec<&str> = self
                    .ensemble
                    .channels
                    .iter()
                    .map(|c| c.name.as_str())
                    .collect();
                out.write_all(notes_table(gatherers, &names, &self.tunings).as_bytes())?;
            }
            Sink::Json(_) => {}
            Sink::Csv(mut writer) => writer.flush()?,
        }
        Ok(())
    }
}
