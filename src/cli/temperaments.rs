//! `concento temperaments`.

use std::io::Write;

use clap::Args;

use super::Form;
use super::tuning_arguments::{LevelArguments, named};
use crate::report::{TemperamentListReport, TemperamentReport};

#[derive(Debug, Args)]
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
