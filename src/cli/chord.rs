//! `concento chord`.

use std::io::Write;
use std::path::PathBuf;
use std::time::Duration;

use clap::{Args, ValueEnum};

use super::examples::{Example, examples};
use super::guarded::tell;
use super::tuning_arguments::{LevelArguments, named};
use super::{PlainForm, Usage};
use crate::analysis::chord::{ChordEar, Company, HeardChord, MOST_VOICES};
use crate::rehearsal::{SoughtVoices, VoiceLabel};
use crate::report::{ChordGatherer, chord_json_lines};
use crate::sound::recording::Recording;
use crate::sound::{Delivery, Pace, Source, SourceState};
use crate::tuning::{Anchor, Tuning};
use crate::units::{FramePosition, Frames, Hertz, NoteName};

/// Who plays.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Section {
    /// Natural trumpets, on the partials of their series
    Trumpets,
    /// Strings, winds, voices or a keyboard, on the notes of the scale
    Strings,
}

impl Section {
    fn company(self) -> Company {
        match self {
            Self::Trumpets => Company::Trumpets,
            Self::Strings => Company::Others,
        }
    }
}

const EXAMPLES: &[Example] = &[
    (
        "concento chord take.wav",
        "The voices of the chords, whoever plays them",
    ),
    (
        "concento chord take.wav --sections trumpets",
        "Where trumpets alone play",
    ),
    (
        "concento chord take.wav --expect p8,p10,F#4",
        "Where you know which voices should sound",
    ),
];

#[derive(Debug, Args)]
#[command(after_help = examples(EXAMPLES))]
pub(super) struct Arguments {
    /// The recording (WAV, FLAC, MP3, OGG Vorbis)
    file: PathBuf,
    /// Who is heard on it
    #[arg(
        long,
        value_enum,
        value_delimiter = ',',
        value_name = "WHO,...",
        default_value = "trumpets,strings"
    )]
    sections: Vec<Section>,
    /// The key of the trumpets
    #[arg(long, value_name = "NOTE", default_value = "D")]
    key: NoteName,
    /// The trumpets' measured fundamental (partial 1) instead of their key
    #[arg(long, value_name = "HZ", value_parser = parse_fundamental)]
    fundamental: Option<Hertz>,
    /// The temperament of the keyboard
    #[arg(long, value_name = "NAME", default_value = "sixth-comma")]
    temperament: String,
    #[command(flatten)]
    level: LevelArguments,
    /// The voices of the chord where they are known: partials and notes, such as p8,p10,F#4
    #[arg(long, value_name = "VOICE,...", value_delimiter = ',')]
    expect: Vec<VoiceLabel>,
    /// The channel of the recording to listen to, counted from 1
    #[arg(long, value_name = "N", default_value_t = 1,
          value_parser = clap::value_parser!(u8).range(1..=32))]
    channel: u8,
    /// A list of chords, or the voices of every update as lines of JSON
    #[arg(long, value_enum, default_value_t = PlainForm::Table)]
    format: PlainForm,
}

fn parse_fundamental(text: &str) -> Result<Hertz, String> {
    let hz: f64 = text
        .parse()
        .map_err(|_| format!("'{text}' is no number: give Hz, such as 69.3"))?;
    Hertz::new(hz).map_err(|error| error.to_string())
}

pub(super) fn run(arguments: &Arguments, out: &mut dyn Write) -> anyhow::Result<()> {
    let tuning = arguments.tuning()?;
    let sought = arguments.sought(&tuning)?;
    let mut recording = Recording::open(&arguments.file, Pace::Fast)?;
    let format = recording.format().clone();
    let channel = usize::from(arguments.channel);
    if channel > format.channels {
        return Err(Usage(format!(
            "'{}' has no channel {channel}: give one from 1 to {}",
            arguments.file.display(),
            format.channels
        ))
        .into());
    }
    let mut ear = ChordEar::new(format.rate, sought.sought().clone());
    let mut gatherer = ChordGatherer::default();
    let mut position = FramePosition::START;
    let mut chords: Vec<HeardChord> = Vec::new();
    loop {
        match recording.next(Duration::ZERO) {
            Delivery::Block { first, samples } => {
                if first != position {
                    ear.restart(first);
                }
                let frames = samples.len() / format.channels;
                position = first + Frames::new(frames as u64);
                let own = samples.iter().skip(channel - 1).step_by(format.channels);
                ear.push(own.copied(), |chord| chords.push(chord.clone()));
            }
            Delivery::State(SourceState::Ended) | Delivery::Nothing => break,
            Delivery::Started(_) | Delivery::State(_) => {}
        }
        for chord in chords.drain(..) {
            match arguments.format {
                PlainForm::Table => gatherer.take(&chord),
                PlainForm::Json => {
                    out.write_all(chord_json_lines(&chord, &sought, &tuning).as_bytes())?;
                }
            }
        }
    }
    if arguments.format == PlainForm::Table {
        out.write_all(gatherer.to_table(&sought, &tuning).as_bytes())?;
    }
    if let Some(warning) = recording.warning() {
        tell(warning);
    }
    Ok(())
}

impl Arguments {
    fn tuning(&self) -> anyhow::Result<Tuning> {
        let all = self.level.temperaments()?;
        let temperament = named(&all, &self.temperament)?;
        let anchor = match self.fundamental {
            Some(hz) => Anchor::Fundamental { hz },
            None => Anchor::tonic(self.key),
        };
        let checked = anchor.check(self.key);
        checked.map_err(|error| Usage(error.to_string()))?;
        Ok(Tuning::new(
            self.level.standard(),
            temperament,
            self.level.chain,
            self.key,
            anchor,
        ))
    }

    fn sought(&self, tuning: &Tuning) -> anyhow::Result<SoughtVoices> {
        if self.expect.len() > MOST_VOICES {
            return Err(Usage(format!(
                "{} voices are too many to tell apart: give {MOST_VOICES} at the most",
                self.expect.len()
            ))
            .into());
        }
        if !self.expect.is_empty() {
            return Ok(SoughtVoices::expected(&self.expect, tuning));
        }
        let companies: Vec<Company> = self.sections.iter().map(|s| s.company()).collect();
        Ok(SoughtVoices::of_companies(&companies, tuning))
    }
}
