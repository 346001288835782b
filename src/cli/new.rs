//! `concento new`.

use std::io::Write;
use std::path::PathBuf;

use clap::Args;

use crate::session;

#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// Where to write it, such as ensemble.ron; an existing file is never replaced
    file: PathBuf,
}

pub(super) fn run(arguments: &Arguments, out: &mut dyn Write) -> anyhow::Result<()> {
    session::write_example(&arguments.file)?;
    let name = arguments.file.display();
    writeln!(
        out,
        "wrote '{name}': edit it, then run 'concento rehearse {name}'"
    )?;
    Ok(())
}
