//! `concento retune`: a temperament for synthesisers.

use std::fs::{self, File};
use std::io::{Read, Write};
use std::path::{Path, PathBuf};

use anyhow::Context;
use clap::Args;

use super::Usage;
use super::examples::{Example, examples};
use super::tuning_arguments::{LevelArguments, named};
use crate::midi_tuning::{Fineness, KeyTuning, exclusive_messages, tuned_file, tuning_file};
use crate::session::write_new_bytes;
use crate::tuning::Scale;

/// The longest score that is read, in bytes.
const LARGEST: u64 = 64_000_000;

const EXAMPLES: &[Example] = &[
    (
        "concento retune --temperament quarter-comma -o tuning.mid",
        "The temperament as a MIDI file",
    ),
    (
        "concento retune --temperament vallotti --a4 430 -o tuning.syx",
        "The messages alone",
    ),
    (
        "concento retune --temperament quarter-comma --into score.mid -o tuned.mid",
        "A score that sounds in it",
    ),
];

#[derive(Debug, Args)]
#[command(after_help = examples(EXAMPLES))]
pub(super) struct Arguments {
    /// The temperament of the keyboard
    #[arg(long, value_name = "NAME", default_value = "sixth-comma")]
    temperament: String,
    #[command(flatten)]
    level: LevelArguments,
    /// Where it is written, which must not exist yet: a MIDI file (.mid), or the messages alone
    /// (.syx)
    #[arg(short, long, value_name = "FILE.mid|.syx", value_parser = parse_target)]
    output: Target,
    /// Put it in front of this MIDI file, which stays as it is; the output is a MIDI file with
    /// both
    #[arg(long, value_name = "SCORE.mid")]
    into: Option<PathBuf>,
    /// Round to whole cents, for synthesisers that cut off what is less than one
    #[arg(long)]
    whole_cents: bool,
}

/// Where the tuning is written, and so what.
#[derive(Debug, Clone, PartialEq, Eq)]
enum Target {
    /// A standard MIDI file.
    File(PathBuf),
    /// The messages alone.
    Messages(PathBuf),
}

impl Target {
    fn path(&self) -> &Path {
        match self {
            Self::File(path) | Self::Messages(path) => path,
        }
    }
}

fn parse_target(text: &str) -> Result<Target, String> {
    let path = PathBuf::from(text);
    let ending = path.extension().and_then(|ending| ending.to_str());
    match ending.map(str::to_ascii_lowercase).as_deref() {
        Some("mid" | "midi") => Ok(Target::File(path)),
        Some("syx") => Ok(Target::Messages(path)),
        _ => Err(
            "give a name that ends in .mid for a MIDI file, or in .syx for the messages alone"
                .to_owned(),
        ),
    }
}

pub(super) fn run(arguments: &Arguments, out: &mut dyn Write) -> anyhow::Result<()> {
    let temperaments = arguments.level.temperaments()?;
    let temperament = named(&temperaments, &arguments.temperament)?;
    let standard = arguments.level.standard();
    let scale = Scale::new(temperament, arguments.level.chain, standard);
    let fineness = if arguments.whole_cents {
        Fineness::WholeCents
    } else {
        Fineness::Full
    };
    let keys = KeyTuning::of(&scale, fineness);
    let bytes = match (&arguments.output, &arguments.into) {
        (Target::Messages(_), Some(_)) => {
            let message = "--into makes a MIDI file: give an output that ends in .mid";
            return Err(Usage(message.to_owned()).into());
        }
        (Target::Messages(_), None) => exclusive_messages(&keys).concat(),
        (Target::File(_), None) => tuning_file(&keys),
        (Target::File(_), Some(score)) => {
            let failed = || format!("cannot use '{}'", score.display());
            let file = read(score).with_context(failed)?;
            tuned_file(&file, &keys).with_context(failed)?
        }
    };
    let path = arguments.output.path();
    write_new_bytes(path, &bytes)?;
    writeln!(
        out,
        "wrote '{}': {} at A4 = {} Hz, {} keys",
        path.display(),
        temperament.name,
        standard.a4().get(),
        keys.codes().len()
    )?;
    if keys.left() > 0 {
        writeln!(
            out,
            "  {} at the ends cannot be told by the standard and stay as they are",
            keys.left()
        )?;
    }
    Ok(())
}

/// The bytes of a regular file.
fn read(path: &Path) -> anyhow::Result<Vec<u8>> {
    let advice = "check the name and whether you may read it";
    let found = fs::metadata(path).context(advice)?;
    anyhow::ensure!(found.is_file(), "it is no regular file: give a MIDI file");
    let mut bytes = Vec::new();
    let file = File::open(path).context(advice)?;
    let length = file
        .take(LARGEST + 1)
        .read_to_end(&mut bytes)
        .context(advice)?;
    anyhow::ensure!(
        length as u64 <= LARGEST,
        "it is larger than 64 MB and no score: give a MIDI file"
    );
    Ok(bytes)
}
