//! How well the voices of a chord are heard, and what that costs.
//!
//! ```text
//! cargo bench --bench chords -- PACK_FOLDER... [--runs N]
//! ```
//!
//! A pack is a folder of chords with `manifest.json`, which says what sounds in each, and
//! `hints`, which say what may be known beforehand (`pack`). Every chord is heard twice: with its
//! voices expected, and free. The voices are held against the true ones (`score`), by kind of
//! chord and by how well they can be separated (`groups`), and the stated margins against the
//! true errors (`margins`). Then one voice that does not sound is expected beside those that do
//! (`intruders`). Times are printed (`cost`) and fail nothing.

#[allow(dead_code, reason = "the hearing bench uses the rest")]
#[path = "../signals/bare_ffts.rs"]
mod bare_ffts;
#[allow(dead_code, reason = "the hearing bench uses the rest")]
#[path = "../hearing/columns.rs"]
mod columns;
#[path = "../hearing/command.rs"]
mod command;
mod cost;
mod ear;
mod groups;
mod intruders;
mod margins;
mod matching;
mod pack;
mod score;
#[path = "../signals/sound_file.rs"]
mod sound_file;
#[allow(dead_code, reason = "the hearing bench uses the rest")]
#[path = "../hearing/statistics.rs"]
mod statistics;

use std::io::Write;
use std::path::PathBuf;
use std::process::ExitCode;

use clap::Parser;

use command::{Usage, run_bench};
use ear::{Mode, Update};
use score::Scored;

/// How well the voices of a chord are heard, and what that costs.
#[derive(Debug, Parser)]
#[command(name = "chords", bin_name = "cargo bench --bench chords --")]
struct Arguments {
    /// Packs: folders of chords with manifest.json and hints
    #[arg(value_name = "PACK_FOLDER")]
    folders: Vec<PathBuf>,
    /// Hear everything so many times; the least time of each update counts
    #[arg(long, value_name = "N", default_value_t = 1,
          value_parser = clap::value_parser!(u8).range(1..=20))]
    runs: u8,
}

fn main() -> ExitCode {
    run_bench(
        "chords",
        "a folder of chords with manifest.json: cargo bench --bench chords -- PACK_FOLDER",
        run,
    )
}

fn run(arguments: &Arguments, out: &mut dyn Write) -> anyhow::Result<()> {
    if arguments.folders.is_empty() {
        return Err(Usage(
            "no folder given: name one with chords, hints and manifest.json, as in \
             'cargo bench --bench chords -- PACK_FOLDER'"
                .to_owned(),
        )
        .into());
    }
    for folder in &arguments.folders {
        let chords = pack::load(folder)?;
        let mut costs = Vec::new();
        let mut by_mode = Vec::new();
        for mode in [Mode::Expected, Mode::Free] {
            let heard: Vec<Vec<Update>> = chords
                .iter()
                .map(|chord| ear::hear(chord, &mode.sought(chord), arguments.runs))
                .collect();
            let scores: Vec<Scored> = chords
                .iter()
                .zip(&heard)
                .flat_map(|(chord, updates)| score::of(chord, updates))
                .collect();
            groups::print(folder, mode, &chords, &scores, out)?;
            costs.push((mode, cost::of(&heard)));
            by_mode.push((mode, scores));
        }
        margins::print(&by_mode, out)?;
        intruders::print(&chords, out)?;
        cost::print(&costs, out)?;
    }
    Ok(())
}
