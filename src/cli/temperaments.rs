//! `concento temperaments`.

use std::io::Write;

use clap::Args;

use super::Form;
use super::examples::{Example, examples};
use super::tuning_arguments::{LevelArguments, named};
use crate::report::{TemperamentListReport, TemperamentReport};

const EXAMPLES: &[Example] = &[
    ("concento temperaments", "What there is"),
    (
        "concento temperaments vallotti --a4 430",
        "One of them: cents, hertz, fifths and thirds",
    ),
    (
        "concento temperaments quarter-comma --chain Ab-C#",
        "With other accidentals on the keys",
    ),
    (
        "concento temperaments --file ours.ron",
        "With your own from a file",
    ),
];

#[derive(Debug, Args)]
#[command(after_help = examples(EXAMPLES))]
pub(super) struct Arguments {
    /// The temperament to show note by note; without one, all are listed
    name: Option<String>,
    #[command(flatten)]
    level: LevelArguments,
    /// How the table is written
    #[arg(long, value_enum, default_value_t = Form::Table)]
    format: Form,
}

pub(super) fn run(arguments: &Arguments, out: &mut dyn Write) -> anyhow::Result<()> {
    let all = arguments.level.temperaments()?;
    let chain = arguments.level.chain;
    let text = if let Some(name) = &arguments.name {
        let temperament = named(&all, name)?;
        let report = TemperamentReport::new(temperament, chain, arguments.level.standard());
        match arguments.format {
            Form::Table => report.to_table(),
            Form::Json => report.to_json(),
            Form::Csv => report.to_csv(),
        }
    } else {
        let report = TemperamentListReport::new(&all, chain);
        match arguments.format {
            Form::Table => report.to_table(),
            Form::Json => report.to_json(),
            Form::Csv => report.to_csv(),
        }
    };
    Ok(out.write_all(text.as_bytes())?)
}
