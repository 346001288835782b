//! Colours: one hue for everything of nature, one for everything of temperament, the player
//! in the plain foreground. Word and shape say the same without them.

use ratatui::style::{Color, Modifier, Style};

/// How many colours the terminal has.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Palette {
    /// None: shapes, bold and faint only.
    Plain,
    /// The sixteen that every terminal has.
    Sixteen,
    /// The 256 of most terminals.
    Rich,
}

impl Palette {
    /// The palette by the environment's `NO_COLOR` (no-color.org: any value but an empty
    /// one), `TERM` and `COLORTERM`.
    pub fn from_environment(variable: impl Fn(&str) -> Option<String>) -> Self {
        let set = |name: &str| variable(name).is_some_and(|value| !value.is_empty());
        let term = variable("TERM").unwrap_or_default();
        if set("NO_COLOR") || term == "dumb" {
            Self::Plain
        } else if term.contains("256") || set("COLORTERM") {
            Self::Rich
        } else {
            Self::Sixteen
        }
    }
}

/// The styles of everything on the screen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Theme {
    /// The player, and whatever is to be read first.
    pub player: Style,
    /// Ordinary text.
    pub text: Style,
    /// Headings, units and what stands still.
    pub faint: Style,
    /// Rails and rules, fainter still.
    pub rail: Style,
    /// Where a player has been.
    pub wake: Style,
    /// The partial and all that belongs to it.
    pub nature: Style,
    /// The tempered note and all that belongs to it.
    pub tempered: Style,
    /// The held chord and all that belongs to it: no hue, as it is both or neither.
    pub held: Style,
    /// What is agreed: no hue either.
    pub agreed: Style,
    /// The name of the selected player.
    pub selected: Style,
    /// Something the leader has to see to.
    pub notice: Style,
}

impl Theme {
    /// The theme in a palette. Amber and blue differ for every common form of colour
    /// blindness, and in brightness besides.
    pub fn new(palette: Palette) -> Self {
        let plain = Style::new();
        let (faint, rail, wake, nature, tempered) = match palette {
            Palette::Plain => (
                plain.add_modifier(Modifier::DIM),
                plain.add_modifier(Modifier::DIM),
                plain.add_modifier(Modifier::DIM),
                plain,
                plain,
            ),
            Palette::Sixteen => (
                plain.add_modifier(Modifier::DIM),
                plain.fg(Color::DarkGray),
                plain.add_modifier(Modifier::DIM),
                plain.fg(Color::Yellow),
                plain.fg(Color::Cyan),
            ),
            Palette::Rich => (
                plain.fg(Color::Indexed(245)),
                plain.fg(Color::Indexed(243)),
                plain.fg(Color::Indexed(240)),
                plain.fg(Color::Indexed(215)),
                plain.fg(Color::Indexed(75)),
            ),
        };
        Self {
            player: plain.add_modifier(Modifier::BOLD),
            text: plain,
            faint,
            rail,
            wake,
            nature,
            tempered,
            held: plain.add_modifier(Modifier::BOLD),
            agreed: plain.add_modifier(Modifier::BOLD),
            selected: plain.add_modifier(Modifier::BOLD),
            notice: plain.add_modifier(Modifier::REVERSED),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(variables: &[(&str, &str)], palette: Palette) {
        let value = |name: &str| {
            variables
                .iter()
                .find(|(n, _)| *n == name)
                .map(|(_, v)| (*v).to_owned())
        };
        assert_eq!(Palette::from_environment(value), palette, "{variables:?}");
    }

    #[test]
    fn the_environment_decides() {
        check(&[], Palette::Sixteen);
        check(&[("TERM", "linux")], Palette::Sixteen);
        check(&[("TERM", "xterm-256color")], Palette::Rich);
        check(
            &[("TERM", "linux"), ("COLORTERM", "truecolor")],
            Palette::Rich,
        );
        check(
            &[("TERM", "xterm-256color"), ("NO_COLOR", "1")],
            Palette::Plain,
        );
        check(
            &[("TERM", "xterm-256color"), ("NO_COLOR", "")],
            Palette::Rich,
        );
        check(&[("TERM", "dumb")], Palette::Plain);
    }

    #[test]
    fn without_colour_there_is_none() {
        let theme = Theme::new(Palette::Plain);
        for style in [
            theme.nature,
            theme.tempered,
            theme.faint,
            theme.rail,
            theme.notice,
        ] {
            assert_eq!((style.fg, style.bg), (None, None));
        }
    }
}
