//! `concento series`.

use std::io::Write;

use clap::Args;

#[derive(Debug, Args)]
pub(super) struct Arguments {}

pub(super) fn run(_arguments: &Arguments, _out: &mut dyn Write) -> anyhow::Result<()> {
    anyhow::bail!("not built yet")
}
