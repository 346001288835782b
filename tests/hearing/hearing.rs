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
mod command;
mod cost;
mod ear;
mod groups;
mod growth;
mod margins;
mod moving;
mod pack;
mod plucks;
mod score;
#[path = "../signals/sound_file.rs"]
mod sound_file;
mod statistics;
#[path = "../signals/tones.rs"]
mod tones;

use std::io::Write;
use std::path::PathBuf;
use std::process::ExitCode;

use clap::Parser;

use command::{Usage, run_bench};
use pack::Pack;

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
    run_bench(
        "hearing",
        "a folder of recordings with manifest.json: cargo bench --bench hearing -- PACK_FOLDER",
        run,
    )
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
