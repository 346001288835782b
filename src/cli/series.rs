//! `concento series`.

use std::io::Write;

use clap::Args;

use super::examples::{Example, examples};
use super::tuning_arguments::{LevelArguments, named};
use super::{Form, Usage};
use crate::report::SeriesReport;
use crate::tuning::{Anchor, Partial, Tuning};
use crate::units::{Hertz, NoteName};

const EXAMPLES: &[Example] = &[
    (
        "concento series --key D --temperament quarter-comma",
        "Partials 1 to 24 between the tempered notes",
    ),
    (
        "concento series --key C --anchor 12=G5",
        "Where the trumpets tune their partial 12 instead of the tonic",
    ),
    (
        "concento series --fundamental 69.3",
        "Of a tube whose partial 1 was measured",
    ),
];

#[derive(Debug, Args)]
#[command(after_help = examples(EXAMPLES))]
pub(super) struct Arguments {
    /// The key of the trumpets
    #[arg(long, value_name = "NOTE", default_value = "D")]
    key: NoteName,
    /// The temperament of the keyboard
    #[arg(long, value_name = "NAME", default_value = "sixth-comma")]
    temperament: String,
    #[command(flatten)]
    level: LevelArguments,
    /// Which partial sounds which tempered note; partial 8 sounds the tonic unless said
    /// otherwise
    #[arg(long, value_name = "N=NOTE", value_parser = parse_anchor)]
    anchor: Option<Anchor>,
    /// The measured fundamental (partial 1) instead of an anchor
    #[arg(long, value_name = "HZ", value_parser = parse_fundamental, conflicts_with = "anchor")]
    fundamental: Option<Anchor>,
    /// How the table is written
    #[arg(long, value_enum, default_value_t = Form::Table)]
    format: Form,
}

pub(super) fn run(arguments: &Arguments, out: &mut dyn Write) -> anyhow::Result<()> {
    let all = arguments.level.temperaments()?;
    let temperament = named(&all, &arguments.temperament)?;
    let key = arguments.key;
    let anchor = arguments
        .anchor
        .or(arguments.fundamental)
        .unwrap_or(Anchor::tonic(key));
    anchor
        .check(key)
        .map_err(|error| Usage(error.to_string()))?;
    let tuning = Tuning::new(
        arguments.level.standard(),
        temperament,
        arguments.level.chain,
        key,
        anchor,
    );
    let report = SeriesReport::new(&tuning);
    let text = match arguments.format {
        Form::Table => report.to_table(),
        Form::Json => report.to_json(),
        Form::Csv => report.to_csv(),
    };
    Ok(out.write_all(text.as_bytes())?)
}

fn parse_anchor(text: &str) -> Result<Anchor, String> {
    let (number, note) = text
        .split_once('=')
        .ok_or_else(|| format!("'{text}' is no anchor: write partial and note, such as 8=D5"))?;
    let number: u8 = number
        .trim()
        .parse()
        .map_err(|_| format!("'{number}' is no partial: they run from 1 to 24"))?;
    Ok(Anchor::PartialSounds {
        partial: Partial::new(number).map_err(|error| error.to_string())?,
        note: note.parse().map_err(|error| format!("{error}"))?,
    })
}

fn parse_fundamental(text: &str) -> Result<Anchor, String> {
    let hz: f64 = text
        .parse()
        .map_err(|_| format!("'{text}' is no number: give Hz, such as 69.3"))?;
    Ok(Anchor::Fundamental {
        hz: Hertz::new(hz).map_err(|error| error.to_string())?,
    })
}
