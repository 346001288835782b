//! The examples at the end of every command's help: what is typed, and what it does.
//!
//! A test holds that every command has some and that every one of them is understood.

use std::fmt::Write as _;

use clap::builder::{StyledStr, Styles};

/// A line as it is typed, and what it does.
pub(super) type Example = (&'static str, &'static str);

/// The examples as the help ends with them.
pub(super) fn examples(list: &[Example]) -> StyledStr {
    let styles = Styles::styled();
    let (heading, typed) = (styles.get_header(), styles.get_literal());
    let mut text = StyledStr::new();
    // Writing to a string cannot fail.
    let _ = write!(text, "{heading}Examples:{heading:#}");
    for (line, deed) in list {
        let _ = write!(text, "\n  {typed}{line}{typed:#}\n      {deed}");
    }
    text
}

#[cfg(test)]
mod tests {
    use clap::{CommandFactory, Parser};

    use crate::cli::Arguments;

    /// The lines of the examples in the help of `command`.
    fn lines_of(command: &clap::Command) -> Vec<String> {
        let help = command.get_after_help().map(ToString::to_string);
        let help = help.unwrap_or_default();
        let lines = help.lines().filter(|line| line.starts_with("  concento"));
        lines.map(|line| line.trim().to_owned()).collect()
    }

    /// The words of a line as a shell would part them; what goes into a file is left out.
    fn words_of(line: &str) -> Vec<String> {
        let line = line.split(" > ").next().unwrap_or(line);
        let mut words = vec![String::new()];
        let mut quote = None;
        for c in line.chars() {
            match (quote, c) {
                (None, '\'' | '"') => quote = Some(c),
                (Some(open), c) if open == c => quote = None,
                (None, ' ') => words.push(String::new()),
                (_, c) => words.last_mut().unwrap().push(c),
            }
        }
        assert_eq!(quote, None, "a quote is left open in '{line}'");
        words.retain(|word| !word.is_empty());
        words
    }

    #[track_caller]
    fn check(command: &clap::Command, name: Option<&str>) {
        let lines = lines_of(command);
        let called = name.unwrap_or("concento");
        assert!(
            (2..=5).contains(&lines.len()),
            "'{called}' has {} examples in its help: give it two to five (see cli/examples.rs)",
            lines.len()
        );
        for line in lines {
            let words = words_of(&line);
            if let Some(name) = name {
                assert_eq!(words[1], name, "'{line}' is another command's");
            }
            if let Err(error) = Arguments::try_parse_from(&words) {
                panic!("'{line}' is not understood: {error}");
            }
            assert!(line.len() <= 76, "'{line}' does not fit 80 columns");
        }
    }

    #[test]
    fn every_command_has_examples_and_understands_them() {
        let mut program = Arguments::command();
        program.build();
        check(&program, None);
        for command in program.get_subcommands() {
            if command.get_name() != "help" {
                check(command, Some(command.get_name()));
            }
        }
    }

    #[test]
    fn words_are_parted_as_a_shell_does() {
        let words = words_of("concento report a.session --player \"Trumpet II\" > two.html");
        let expected = ["concento", "report", "a.session", "--player", "Trumpet II"];
        assert_eq!(words, expected);
    }
}
