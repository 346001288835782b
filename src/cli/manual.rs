//! `concento manual`: the manual pages, made of the same words as the help.

use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use anyhow::Context;
use clap::{Args, CommandFactory};
use clap_mangen::Man;
use clap_mangen::roff::Roff;

use super::Usage;
use super::examples::{Example, examples};
use crate::session::write_for_all;

const EXAMPLES: &[Example] = &[
    ("concento manual > concento.1", "The page of the program"),
    (
        "concento manual rehearse > rehearse.1",
        "The page of one command; 'man -l rehearse.1' shows it",
    ),
    (
        "concento manual --output ~/.local/share/man/man1",
        "All pages where 'man' finds them",
    ),
];

#[derive(Debug, Args)]
#[command(after_help = examples(EXAMPLES))]
pub(super) struct Arguments {
    /// The command whose page is meant; the program's own if left out
    command: Option<String>,
    /// Write all pages into this folder, one for each command, over no other file
    #[arg(short, long, value_name = "FOLDER", conflicts_with = "command")]
    output: Option<PathBuf>,
}

/// A page by the name of its file.
struct Page {
    name: String,
    text: Vec<u8>,
}

pub(super) fn run(arguments: &Arguments, out: &mut dyn Write) -> anyhow::Result<()> {
    let pages = pages(super::Arguments::command())?;
    if let Some(folder) = &arguments.output {
        return write_into(folder, &pages, out);
    }
    let wanted = match &arguments.command {
        Some(command) => format!("concento-{command}.1"),
        None => "concento.1".to_owned(),
    };
    match pages.iter().find(|page| page.name == wanted) {
        Some(page) => Ok(out.write_all(&page.text)?),
        None => Err(Usage(format!(
            "there is no command '{}': 'concento --help' lists them",
            arguments.command.as_deref().unwrap_or_default()
        ))
        .into()),
    }
}

/// Every page: of the program, then of its commands.
fn pages(mut program: clap::Command) -> io::Result<Vec<Page>> {
    program = program.disable_help_subcommand(true);
    program.build();
    let names: Vec<String> = program
        .get_subcommands()
        .filter(|command| !command.is_hide_set())
        .map(|command| format!("concento-{}", command.get_name()))
        .collect();
    let mut pages = vec![page(&program, "concento", &names)?];
    for (command, name) in program
        .get_subcommands()
        .filter(|command| !command.is_hide_set())
        .zip(&names)
    {
        pages.push(page(command, name, &["concento".to_owned()])?);
    }
    Ok(pages)
}

/// The page of `command` under `name`, which points to the pages of `others`.
fn page(command: &clap::Command, name: &str, others: &[String]) -> io::Result<Page> {
    // Examples are a section of their own, to be read as they are typed.
    let shown = command
        .clone()
        .version(env!("CARGO_PKG_VERSION"))
        .after_help("");
    let man = Man::new(shown);
    let mut text = Vec::new();
    // The date is left empty, so that the same program always writes the same pages.
    writeln!(
        text,
        ".TH {} 1 \"\" \"concento {}\" \"Manual of concento\"",
        name.to_uppercase().replace('-', "\\-"),
        env!("CARGO_PKG_VERSION")
    )?;
    man.render_name_section(&mut text)?;
    man.render_synopsis_section(&mut text)?;
    man.render_description_section(&mut text)?;
    man.render_options_section(&mut text)?;
    if command.has_subcommands() {
        man.render_subcommands_section(&mut text)?;
    }
    let examples = command.get_after_help().map(ToString::to_string);
    if let Some(examples) = examples {
        write_examples(&examples, &mut text)?;
    }
    let mut end = Roff::new();
    end.control("SH", ["EXIT STATUS"]);
    end.text([roman("0 done, 1 failed, 2 a question of usage.")]);
    end.control("SH", ["SEE ALSO"]);
    let others: Vec<String> = others.iter().map(|other| format!("{other}(1)")).collect();
    end.text([roman(others.join(", "))]);
    end.to_writer(&mut text)?;
    Ok(Page {
        name: format!("{name}.1"),
        text,
    })
}

fn write_examples(help: &str, text: &mut Vec<u8>) -> io::Result<()> {
    let mut section = Roff::new();
    section.control("SH", ["EXAMPLES"]);
    // What is typed stands to the left, what it does is indented below it.
    for line in help.lines().skip(1) {
        if line.starts_with("   ") {
            section.text([roman(line.trim())]);
        } else {
            section.control("TP", []);
            section.text([clap_mangen::roff::bold(line.trim())]);
        }
    }
    section.to_writer(text)
}

fn roman(text: impl Into<String>) -> clap_mangen::roff::Inline {
    clap_mangen::roff::roman(text)
}

/// Writes all pages; nothing is written if one of them would replace another file.
fn write_into(folder: &Path, pages: &[Page], out: &mut dyn Write) -> anyhow::Result<()> {
    let mut missing = Vec::new();
    let mut others = Vec::new();
    for page in pages {
        let path = folder.join(&page.name);
        match is_the_same(&path, &page.text) {
            None => missing.push((path, page)),
            Some(true) => {}
            Some(false) => others.push(page.name.as_str()),
        }
    }
    if !others.is_empty() {
        anyhow::bail!(
            "other files are called so in '{}': {}; move them away first, or name another folder",
            folder.display(),
            others.join(", ")
        );
    }
    fs::create_dir_all(folder).with_context(|| {
        format!(
            "cannot make the folder '{}': choose another",
            folder.display()
        )
    })?;
    for (path, page) in &missing {
        // They are for whoever uses this machine, and hold nothing of anybody's.
        write_for_all(path, &page.text)?;
    }
    let there = pages.len() - missing.len();
    let there = match there {
        0 => String::new(),
        count => format!(", {count} were there already"),
    };
    writeln!(
        out,
        "{} pages written to '{}'{there}",
        missing.len(),
        folder.display()
    )?;
    Ok(())
}

/// Whether a file holds exactly `text`; none if nothing is called so.
fn is_the_same(path: &Path, text: &[u8]) -> Option<bool> {
    let there = path.symlink_metadata().ok()?;
    // Only a regular file is opened, and none longer than a page can be.
    let is_alike = there.is_file() && there.len() == text.len() as u64;
    Some(is_alike && fs::read(path).is_ok_and(|bytes| bytes == text))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn all() -> Vec<(String, String)> {
        let pages = pages(crate::cli::Arguments::command()).unwrap();
        let text = |page: Page| (page.name, String::from_utf8(page.text).unwrap());
        pages.into_iter().map(text).collect()
    }

    #[test]
    fn every_command_has_a_page_with_its_options_and_examples() {
        let pages = all();
        let mut program = crate::cli::Arguments::command();
        program.build();
        for command in program.get_subcommands() {
            let name = command.get_name();
            if name == "help" {
                continue;
            }
            let file = format!("concento-{name}.1");
            let page = pages.iter().find(|(page, _)| *page == file);
            let (_, text) = page.unwrap_or_else(|| panic!("'{name}' has no page"));
            assert!(text.contains(&format!("concento\\-{name}")), "{name}");
            for section in ["NAME", "SYNOPSIS", "DESCRIPTION", "OPTIONS"] {
                assert!(text.contains(&format!(".SH {section}\n")), "{name}");
            }
            assert!(text.contains(".SH EXAMPLES\n"), "{name}");
            assert!(text.contains(".SH \"SEE ALSO\"\n"), "{name}");
            assert!(!text.contains('\u{1b}'), "{name}: a page has no colours");
            for option in command.get_opts().filter_map(clap::Arg::get_long) {
                let dashed = format!("\\-\\-{}", option.replace('-', "\\-"));
                assert!(text.contains(&dashed), "{name} lacks --{option}");
            }
        }
        let (first, text) = &pages[0];
        assert_eq!(first, "concento.1");
        assert!(text.contains("concento\\-rehearse(1)"), "{text}");
    }

    #[test]
    fn pages_are_written_once_and_over_nothing_else() {
        let folder = tempfile::tempdir().unwrap();
        let inside = folder.path().join("man/man1");
        let pages = pages(crate::cli::Arguments::command()).unwrap();
        let write = |out: &mut Vec<u8>| write_into(&inside, &pages, out);
        let mut out = Vec::new();
        write(&mut out).unwrap();
        let said = String::from_utf8(out).unwrap();
        assert!(
            said.starts_with(&format!("{} pages", pages.len())),
            "{said}"
        );

        let mut out = Vec::new();
        write(&mut out).unwrap();
        let said = String::from_utf8(out).unwrap();
        assert!(said.starts_with("0 pages written"), "{said}");

        let (one, two) = (inside.join("concento.1"), inside.join("concento-new.1"));
        fs::write(&one, "mine").unwrap();
        fs::remove_file(&two).unwrap();
        let error = write(&mut Vec::new()).unwrap_err().to_string();
        assert!(error.contains("concento.1;"), "{error}");
        assert_eq!(fs::read_to_string(&one).unwrap(), "mine");
        assert!(!two.exists(), "nothing is written then");
    }
}
