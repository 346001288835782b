//! `concento temperaments`.

use std::io::Write;

use clap::Args;

use super::examples::{Example, examples};
use super::tuning_arguments::{LevelArguments, named};
use super::{Form, Usage};
use crate::report::{FitReport, TemperamentListReport, TemperamentReport};
use crate::tuning::{HeardKey, Proposal};
use crate::units::{Cents, Hertz, Note, NoteName};

/// How far a frequency that was typed may lie off, as nobody says how it was measured.
const MARGIN: Cents = Cents::new(0.5);

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
    (
        "concento temperaments --fit A=415.3,C=248.4,E=310.2",
        "Which of them measured keys stand in",
    ),
];

#[derive(Debug, Args)]
#[command(after_help = examples(EXAMPLES))]
pub(super) struct Arguments {
    /// The temperament to show note by note; without one, all are listed
    #[arg(conflicts_with = "fit")]
    name: Option<String>,
    /// Which of them the keys of a keyboard stand in, by what they were measured at:
    /// A=415.3,C=248.4,E=310.2 (octaves do not matter; three keys or more)
    #[arg(long, value_name = "KEY=HZ,...", value_delimiter = ',', value_parser = parse_heard,
          conflicts_with_all = ["a4", "chain"])]
    fit: Vec<HeardKey>,
    #[command(flatten)]
    level: LevelArguments,
    /// How the table is written
    #[arg(long, value_enum, default_value_t = Form::Table)]
    format: Form,
}

pub(super) fn run(arguments: &Arguments, out: &mut dyn Write) -> anyhow::Result<()> {
    let all = arguments.level.temperaments()?;
    let chain = arguments.level.chain;
    let text = if !arguments.fit.is_empty() {
        let proposal = Proposal::new(&all, &arguments.fit).map_err(|e| Usage(e.to_string()))?;
        let report = FitReport::new(&proposal, arguments.level.standard().kept());
        match arguments.format {
            Form::Table => report.to_table(),
            Form::Json => report.to_json(),
            Form::Csv => report.to_csv(),
        }
    } else if let Some(name) = &arguments.name {
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

/// `A=415.3`, `G#4=391`.
fn parse_heard(text: &str) -> Result<HeardKey, String> {
    let wrong = || format!("'{text}' is no measured key: write it as A=415.3 or G#4=391.2");
    let (name, hz) = text.split_once('=').ok_or_else(wrong)?;
    let (name, hz) = (name.trim(), hz.trim());
    let key = name
        .parse::<NoteName>()
        .or_else(|_| name.parse::<Note>().map(Note::name))
        .map_err(|_| wrong())?;
    let hz: f64 = hz.parse().map_err(|_| wrong())?;
    // What the ears can hear of a keyboard, and beyond.
    if !(15.0..=10_000.0).contains(&hz) {
        return Err(format!(
            "'{hz}' Hz is the pitch of no key: give 15 to 10000"
        ));
    }
    let hertz = Hertz::new(hz).map_err(|_| wrong())?;
    Ok(HeardKey {
        key,
        hertz,
        margin: MARGIN,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn measured_keys_are_read_with_and_without_octave() {
        let read = |text: &str| parse_heard(text).map(|h| (h.key.ascii(), h.hertz.get()));
        assert_eq!(read("A=415.3"), Ok(("A".to_owned(), 415.3)));
        assert_eq!(read("G#4 = 391"), Ok(("G#".to_owned(), 391.0)));
        for text in ["A", "A=", "H=440", "A=-3", "A=NaN", "=440", "A=1e9"] {
            assert!(read(text).is_err(), "{text}");
        }
    }
}
