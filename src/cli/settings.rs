//! `concento settings`: where they are, and what is so.

use std::io::Write;

use anyhow::Context;
use clap::Args;

use super::examples::{Example, examples};
use crate::settings::{self, Settings};
use crate::tui::Colours;

const EXAMPLES: &[Example] = &[
    (
        "concento settings",
        "Where the settings file is, and what is so",
    ),
    (
        "concento settings --write",
        "Write one to start from, in which everything is explained",
    ),
    (
        "concento settings --keys",
        "Every key of every view, by the names that settings use",
    ),
];

#[derive(Debug, Args)]
#[command(after_help = examples(EXAMPLES))]
pub(super) struct Arguments {
    /// Write a commented settings file in its place, if there is none yet
    #[arg(long, conflicts_with_all = ["keys", "themes"])]
    write: bool,
    /// List every view, what its keys do by the name that settings use, and which they are
    #[arg(long, conflicts_with = "themes")]
    keys: bool,
    /// List the themes, and which of their colours cannot be read well
    #[arg(long)]
    themes: bool,
}

pub(super) fn run(arguments: &Arguments, out: &mut dyn Write) -> anyhow::Result<()> {
    let path = settings::path();
    if arguments.write {
        let path = path.context("this system has no folder for settings")?;
        settings::write_example(&path)?;
        writeln!(
            out,
            "wrote '{}': edit it, everything is explained in it",
            path.display()
        )?;
        return Ok(());
    }
    let settings = settings::load()?;
    if arguments.keys {
        return list_keys(&settings, out);
    }
    if arguments.themes {
        return list_themes(&settings, out);
    }
    match path {
        Some(path) if path.is_file() => writeln!(out, "from '{}':", path.display())?,
        Some(path) => writeln!(
            out,
            "no settings file; 'concento settings --write' makes '{}'. What is so without one:",
            path.display()
        )?,
        None => writeln!(
            out,
            "this system has no folder for settings. What is so without:"
        )?,
    }
    let theme = &settings.theme;
    writeln!(out, "  theme              {} ({})", theme.name, theme.about)?;
    writeln!(out, "  frames_per_second  {}", settings.frames_per_second)?;
    let mouse = if settings.mouse { "true" } else { "false" };
    writeln!(out, "  mouse              {mouse}")?;
    let ensemble = match &settings.ensemble {
        Some(path) if path.is_file() => path.display().to_string(),
        Some(path) => format!("{} (is not there)", path.display()),
        None => "none: one player for each input".to_owned(),
    };
    writeln!(out, "  ensemble           {ensemble}")?;
    let changed = changed_keys(&settings);
    writeln!(
        out,
        "  keys               {changed} changed ('--keys' lists all)"
    )?;
    writeln!(
        out,
        "  themes             {} ('--themes' lists them)",
        settings.themes.len()
    )?;
    Ok(())
}

fn changed_keys(settings: &Settings) -> usize {
    let usual = Settings::default().keymap.list();
    let now = settings.keymap.list();
    usual
        .iter()
        .zip(&now)
        .filter(|(usual, now)| usual != now)
        .count()
}

fn list_keys(settings: &Settings, out: &mut dyn Write) -> anyhow::Result<()> {
    for (view, action, keys, help) in settings.keymap.list() {
        let keys = keys.join(" ");
        writeln!(out, "{view:9} {action:21} {keys:22} {help}")?;
    }
    Ok(())
}

fn list_themes(settings: &Settings, out: &mut dyn Write) -> anyhow::Result<()> {
    for theme in &settings.themes {
        let used = if theme.name == settings.theme.name {
            "*"
        } else {
            " "
        };
        writeln!(out, "{used} {:15} {}", theme.name, theme.about)?;
        if let Colours::Painted { .. } = theme.colours {
            for (role, contrast) in theme.faint_roles() {
                let role = format!("{role:?}").to_lowercase();
                writeln!(
                    out,
                    "    '{role}' has a contrast of {contrast:.1} : 1 with the ground: 4.5 and \
                     more can be read well"
                )?;
            }
        }
    }
    Ok(())
}
