//! `concento completions`: what a shell needs to complete commands and options.

use std::io::Write;

use clap::{Args, CommandFactory};
use clap_complete::Shell;

use super::examples::{Example, examples};

const EXAMPLES: &[Example] = &[
    (
        "concento completions bash > ~/.concento.bash",
        "For bash, with 'source ~/.concento.bash' at the end of ~/.bashrc",
    ),
    (
        "concento completions fish > ~/.config/fish/completions/concento.fish",
        "For fish",
    ),
    (
        "concento completions zsh > ~/.zfunc/_concento",
        "For zsh, where ~/.zfunc is in fpath",
    ),
];

#[derive(Debug, Args)]
#[command(after_help = examples(EXAMPLES))]
pub(super) struct Arguments {
    /// The shell you type into
    #[arg(value_enum)]
    shell: Shell,
}

pub(super) fn run(arguments: &Arguments, out: &mut dyn Write) -> anyhow::Result<()> {
    // Generated whole first: a pipe that closes early must not be a panic of the generator.
    let mut text = Vec::new();
    let mut program = super::Arguments::command();
    clap_complete::generate(arguments.shell, &mut program, "concento", &mut text);
    Ok(out.write_all(&text)?)
}

#[cfg(test)]
mod tests {
    use clap::ValueEnum;

    use super::*;

    #[test]
    fn every_shell_is_told_of_every_command() {
        for shell in Shell::value_variants() {
            let mut out = Vec::new();
            run(&Arguments { shell: *shell }, &mut out).unwrap();
            let text = String::from_utf8(out).unwrap();
            for command in super::super::Arguments::command().get_subcommands() {
                assert!(text.contains(command.get_name()), "{shell}");
            }
            assert!(text.contains("temperament"), "{shell}");
        }
    }
}
