//! How a screen is shown, for every command that has one: settings, and what goes before them
//! this once.

use clap::Args;

use super::Usage;
use crate::settings::{self, Settings};
use crate::tui::{Options, Palette, Theme};

#[derive(Debug, Clone, Default, Args)]
pub(super) struct ScreenArguments {
    /// The colours, this once: dark-stage, daylight, high-contrast, mono, or one of your settings
    #[arg(long, value_name = "NAME", help_heading = "Screen")]
    theme: Option<String>,
    /// Pictures a second at most, this once (1 to 60): fewer for a slow line
    #[arg(long, value_name = "N", help_heading = "Screen",
          value_parser = clap::value_parser!(u32).range(1..=60))]
    fps: Option<u32>,
}

impl ScreenArguments {
    /// The options of a screen, by the settings in their place.
    pub(super) fn options(&self) -> anyhow::Result<Options> {
        self.with(&settings::load()?)
    }

    /// The same by settings that were read already.
    pub(super) fn with(&self, settings: &Settings) -> anyhow::Result<Options> {
        let palette = Palette::from_environment(|name| std::env::var(name).ok());
        let chosen = match &self.theme {
            Some(name) => settings.theme_named(name).map_err(Usage)?,
            None => &settings.theme,
        };
        let in_palette = |theme: &settings::NamedTheme| Theme::new(&theme.colours, palette);
        let themes = settings.themes.iter();
        let rate = self.fps.unwrap_or(settings.frames_per_second);
        Ok(Options {
            themes: themes
                .map(|theme| (theme.name.clone(), in_palette(theme)))
                .collect(),
            mouse: settings.mouse,
            keymap: settings.keymap.clone(),
            ..Options::new(in_palette(chosen)).at_most(rate)
        })
    }
}
