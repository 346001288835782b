//! `concento compare`: what changed from one rehearsal to the next.

use std::io::Write;
use std::path::PathBuf;

use clap::Args;

use super::examples::{Example, examples};
use super::report::{digests, load, occasion};
use super::{PlainForm, Usage};
use crate::report::{Comparison, Occasion};

const EXAMPLES: &[Example] = &[
    (
        "concento compare friday.session sunday.session",
        "The same players and notes, then and now",
    ),
    (
        "concento compare friday.session sunday.session --format json",
        "The same for a script",
    ),
];

#[derive(Debug, Args)]
#[command(after_help = examples(EXAMPLES))]
pub(super) struct Arguments {
    /// The files that rehearsals were kept in, two or more
    #[arg(required = true, value_name = "SESSION")]
    sessions: Vec<PathBuf>,
    /// How the comparison is written
    #[arg(long, value_enum, default_value_t = PlainForm::Table)]
    format: PlainForm,
}

pub(super) fn run(arguments: &Arguments, out: &mut dyn Write) -> anyhow::Result<()> {
    let paths = &arguments.sessions;
    if paths.len() < 2 {
        let message = "one rehearsal has nothing to be compared with: give two sessions or more";
        return Err(Usage(message.to_owned()).into());
    }
    let twice = (1..paths.len()).find(|place| paths[..*place].contains(&paths[*place]));
    if let Some(place) = twice {
        return Err(Usage(format!(
            "'{}' is given twice: give each session once",
            paths[place].display()
        ))
        .into());
    }
    let sessions = load(paths)?;
    let occasions: Vec<Occasion<'_>> = sessions.iter().map(occasion).collect();
    let digests = digests(&occasions);
    let comparison = Comparison::of(&digests);
    let text = match arguments.format {
        PlainForm::Table => comparison.to_table(),
        PlainForm::Json => comparison.to_json(),
    };
    Ok(out.write_all(text.as_bytes())?)
}
