//! `concento new`.

use std::io::Write;
use std::path::PathBuf;

use clap::Args;

use super::examples::{Example, examples};
use crate::plain::as_argument;
use crate::session;

const EXAMPLES: &[Example] = &[
    (
        "concento new ensemble.ron",
        "An example with comments, to be changed to your players",
    ),
    (
        "concento new concerts/easter.ron",
        "The same in a folder of yours",
    ),
];

#[derive(Debug, Args)]
#[command(after_help = examples(EXAMPLES))]
pub(super) struct Arguments {
    /// Where to write it, such as ensemble.ron; an existing file is never replaced
    file: PathBuf,
}

pub(super) fn run(arguments: &Arguments, out: &mut dyn Write) -> anyhow::Result<()> {
    session::write_example(&arguments.file)?;
    let name = arguments.file.display();
    writeln!(
        out,
        "wrote '{name}': edit it, then type: concento rehearse {}",
        as_argument(&name.to_string())
    )?;
    Ok(())
}
