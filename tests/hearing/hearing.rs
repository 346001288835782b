//! How well the estimator hears, and what it costs.
//!
//! ```text
//! cargo bench --bench hearing -- PACK_FOLDER [--instrument NAME] [--csv FILE] [--short]
//! ```
//!
//! A pack is a folder of recordings of single notes with `manifest.json`, which says what each
//! holds (`pack`). Its notes are scored by register, kind and instrument (`score`, `groups`),
//! and the stated margins are held against the true errors (`margins`). Then come tones made on
//! the spot, whose truth is exact (`bound`, `moving`, `plucks`), and times (`cost`, `growth`),
//! which are printed and never fail anything. With `--instrument` only the pack is scored.

#[path = "../signals/bare_ffts.rs"]
mod bare_ffts;
mod bound;
mod columns;
mod cost;
mod ear;
mod groups;
mod growth;
mod margins;
mod moving;
mod pack;
mod plucks;
mod score;
mod statistics;
#[path = "../signals/tones.rs"]
mod tones;

use std::io::{self, Write};
use std::path::PathBuf;
use std::process::ExitCode;

use clap::Parser;

use pack::{Pack, Usage};

/// Flags that cargo or a run of all tests hands to every bench; they mean nothing here.
const HARNESS: [&str; 7] = [
    "--bench",
    "--exact",
    "--ignored",
    "--include-ignored",
    "--nocapture",
    "--quiet",
    "--show-output",
];

/// How well the estimator hears, and what it costs.
#[derive(Debug, Parser)]
#[command(name = "hearing", bin_name = "cargo bench --bench hearing --")]
struct Arguments {
    /// The pack: a folder of recordings with manifest.json
    #[arg(value_name = "PACK_FOLDER")]
    folder: Option<PathBuf>,
    /// Score the notes of one instrument only, and nothing else
    #[arg(long, value_name = "NAME")]
    instrument: Option<String>,
    /// Write one line for each note of the pack
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,
    /// Measure times over less sound
    #[arg(long)]
    short: bool,
}

fn main() -> ExitCode {
    let given: Vec<String> = std::env::args()
        .filter(|argument| !HARNESS.contains(&argument.as_str()))
        .collect();
    let mut out = io::stdout().lock();
    if given.len() <= 1 {
        let _ = writeln!(
            out,
            "hearing: nothing measured, as it needs a folder of recordings with manifest.json: \
             cargo bench --bench hearing -- PACK_FOLDER"
        );
        return ExitCode::SUCCESS;
    }
    let arguments = match Arguments::try_parse_from(given) {
        Ok(arguments) => arguments,
        Err(error) => {
            let _ = error.print();
            return ExitCode::from(u8::try_from(error.exit_code()).unwrap_or(2));
        }
    };
    match run(&arguments, &mut out) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            let closed = |cause: &(dyn std::error::Error + 'static)| {
                cause
                    .downcast_ref::<io::Error>()
                    .is_some_and(|e| e.kind() == io::ErrorKind::BrokenPipe)
            };
            if error.chain().any(closed) {
                return ExitCode::SUCCESS;
            }
            let _ = writeln!(io::stderr(), "hearing: {error:#}");
            ExitCode::from(if error.is::<Usage>() { 2 } else { 1 })
        }
    }
}

fn run(arguments: &Arguments, out: &mut dyn Write) -> anyhow::Result<()> {
    let Some(folder) = &arguments.folder else {
        return Err(Usage(
            "no folder given: name one with recordings and manifest.json, as in \
             'cargo bench --bench hearing -- PACK_FOLDER'"
                .to_owned(),
        )
        .into());
    };
    let pack = Pack::open(folder, arguments.instrument.as_deref())?;
    let notes = pack.load()?;
    let scores: Vec<score::Score> = notes.iter().map(score::Score::of).collect();
    if let Some(path) = &arguments.csv {
        groups::write_csv(&scores, path)?;
    }
    groups::print(&scores, out)?;
    margins::print(&scores, out)?;
    if arguments.instrument.is_some() {
        return Ok(());
    }
    bound::print(out)?;
    moving::print(out)?;
    plucks::print(out)?;
    let sound = cost::Sound::of(&notes)?;
    cost::print(&sound, arguments.short, out)?;
    growth::print(&sound, arguments.short, out)
}
