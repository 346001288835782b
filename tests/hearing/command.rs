//! What the benches that take a folder have in common: arguments, errors and exit codes.

use std::io::{self, Write};
use std::process::ExitCode;

use clap::Parser;

/// A request that cannot be carried out as it was put: exit code 2.
#[derive(Debug, thiserror::Error)]
#[error("{0}")]
pub(crate) struct Usage(pub(crate) String);

/// Flags that cargo or a run of all tests hands to every bench; they mean nothing here.
const HARNESS: [&str; 7] = [
    "--bench",
    "--exact",
    "--ignored",
    "--include-ignored",
    "--nocapture",
    "--quiet",
    "--show-output",
];

/// Runs the bench called `name` with the arguments of the command line. Without any it says
/// that it needs `what`, and succeeds: a run of all benches has nothing to give it.
pub(crate) fn run_bench<A: Parser>(
    name: &str,
    what: &str,
    run: impl FnOnce(&A, &mut dyn Write) -> anyhow::Result<()>,
) -> ExitCode {
    let given: Vec<String> = std::env::args()
        .filter(|argument| !HARNESS.contains(&argument.as_str()))
        .collect();
    let mut out = io::stdout().lock();
    if given.len() <= 1 {
        let _ = writeln!(out, "{name}: nothing measured, as it needs {what}");
        return ExitCode::SUCCESS;
    }
    let arguments = match A::try_parse_from(given) {
        Ok(arguments) => arguments,
        Err(error) => {
            let _ = error.print();
            return ExitCode::from(u8::try_from(error.exit_code()).unwrap_or(2));
        }
    };
    match run(&arguments, &mut out) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            let closed = |cause: &(dyn std::error::Error + 'static)| {
                cause
                    .downcast_ref::<io::Error>()
                    .is_some_and(|e| e.kind() == io::ErrorKind::BrokenPipe)
            };
            if error.chain().any(closed) {
                return ExitCode::SUCCESS;
            }
            let _ = writeln!(io::stderr(), "{name}: {error:#}");
            ExitCode::from(if error.is::<Usage>() { 2 } else { 1 })
        }
    }
}
