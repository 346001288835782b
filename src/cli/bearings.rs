//! `concento bearings`: the tuner's sheet, on paper or with its sound.

mod hear;

use std::io::Write;
use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::Usage;
use super::examples::{Example, examples};
use super::tuning_arguments::{LevelArguments, named};
use crate::bearings::{Method, Sheet};
use crate::report::BearingsReport;
use crate::session::write_new;
use crate::units::NoteName;

const EXAMPLES: &[Example] = &[
    (
        "concento bearings --temperament vallotti --a4 415",
        "The steps in order, with hertz and beats",
    ),
    (
        "concento bearings --temperament vallotti --format html -o sheet.html",
        "One page to print",
    ),
    (
        "concento bearings --temperament quarter-comma --from C --thirds",
        "From C, pure thirds first",
    ),
    (
        "concento bearings --temperament sixth-comma --hear",
        "With its sound, step by step",
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
    /// The note to begin with, from fork or pipe; the one that is kept if left out
    #[arg(long, value_name = "NOTE")]
    from: Option<NoteName>,
    /// Tune pure major thirds first and share out the fifths between them, where the temperament
    /// has pure thirds
    #[arg(long)]
    thirds: bool,
    /// How the sheet is written
    #[arg(long, value_enum, default_value_t = SheetForm::Table)]
    format: SheetForm,
    /// Where it is written, which must not exist yet; standard output if left out
    #[arg(short, long, value_name = "FILE", conflicts_with = "hear")]
    output: Option<PathBuf>,
    #[command(flatten)]
    hear: hear::HearArguments,
}

/// How a sheet is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum SheetForm {
    /// Columns for reading
    Table,
    /// JSON for scripts
    Json,
    /// One page to be printed, or read on a telephone
    Html,
}

pub(super) fn run(arguments: &Arguments, out: &mut dyn Write) -> anyhow::Result<()> {
    let sheet = arguments.sheet()?;
    if arguments.hear.hear {
        return hear::hear(sheet, &arguments.hear);
    }
    let report = BearingsReport::new(&sheet);
    let text = match arguments.format {
        SheetForm::Table => report.to_table(),
        SheetForm::Json => report.to_json(),
        SheetForm::Html => report.to_html(),
    };
    match &arguments.output {
        Some(path) => Ok(write_new(path, &text)?),
        None => Ok(out.write_all(text.as_bytes())?),
    }
}

impl Arguments {
    fn sheet(&self) -> anyhow::Result<Sheet> {
        let temperaments = self.level.temperaments()?;
        let temperament = named(&temperaments, &self.temperament)?;
        let method = if self.thirds {
            Method::Thirds
        } else {
            Method::Fifths
        };
        Sheet::new(
            temperament,
            self.level.chain,
            self.level.standard(),
            self.from,
            method,
        )
        .map_err(|error| Usage(error.to_string()).into())
    }
}
