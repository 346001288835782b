//! Colours: one hue for everything of nature, one for everything of temperament, the player
//! in the foreground. Word and shape say the same without them. Which colours they are is data;
//! what is bold or inverse is not.

mod colour;
#[cfg(test)]
mod sight;

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::{Color, Modifier, Style};

pub use colour::{Basic, Rgb};

/// How many colours the terminal has.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Palette {
    /// None: shapes and bold only.
    Plain,
    /// The sixteen that every terminal has.
    Sixteen,
    /// The 256 of most terminals.
    Rich,
    /// All that can be mixed of three times 256.
    Full,
}

impl Palette {
    /// The palette by the environment's `NO_COLOR` (no-color.org: any value but an empty
    /// one), `TERM` and `COLORTERM`.
    pub fn from_environment(variable: impl Fn(&str) -> Option<String>) -> Self {
        let set = |name: &str| variable(name).is_some_and(|value| !value.is_empty());
        let term = variable("TERM").unwrap_or_default();
        let colours = variable("COLORTERM").unwrap_or_default();
        if set("NO_COLOR") || term == "dumb" {
            Self::Plain
        } else if colours == "truecolor" || colours == "24bit" {
            Self::Full
        } else if term.contains("256") || !colours.is_empty() {
            Self::Rich
        } else {
            Self::Sixteen
        }
    }
}

/// What has a colour of its own.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Role {
    /// Behind everything.
    Ground,
    /// Ordinary text.
    Text,
    /// The player, and whatever is to be read first.
    Player,
    /// Headings, units and what stands still.
    Faint,
    /// Rails and rules, and the figures of axes.
    Rail,
    /// Where a player has been.
    Wake,
    /// The partial and all that belongs to it.
    Nature,
    /// The tempered note and all that belongs to it.
    Tempered,
    /// Something the leader has to see to, written inverse.
    Notice,
}

impl Role {
    /// All of them.
    pub const ALL: [Self; 9] = [
        Self::Ground,
        Self::Text,
        Self::Player,
        Self::Faint,
        Self::Rail,
        Self::Wake,
        Self::Nature,
        Self::Tempered,
        Self::Notice,
    ];
}

/// The colours of a theme: one for each role, by [`Role::ALL`], or none at all.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Colours {
    /// The terminal's own two, and no other.
    None,
    /// A colour for each role.
    Painted {
        /// Where the terminal can mix them.
        mixed: [Rgb; Role::ALL.len()],
        /// Where it has sixteen.
        basic: [Basic; Role::ALL.len()],
    },
}

impl Colours {
    fn of(&self, role: Role, palette: Palette) -> Option<Color> {
        let Self::Painted { mixed, basic } = self else {
            return None;
        };
        let index = role as usize;
        match palette {
            Palette::Plain => None,
            Palette::Sixteen => Some(basic[index].into()),
            Palette::Rich => Some(Color::Indexed(mixed[index].nearest_of_256())),
            Palette::Full => Some(mixed[index].into()),
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
    /// Rails and rules, and the figures of axes.
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
    /// What stands wherever nothing else is said: text and ground.
    ground: Option<(Color, Color)>,
}

impl Theme {
    /// A theme in the colours of a terminal.
    pub fn new(colours: &Colours, palette: Palette) -> Self {
        let ink = |role| match colours.of(role, palette) {
            Some(colour) => Style::new().fg(colour),
            None => Style::new(),
        };
        let player = ink(Role::Player).add_modifier(Modifier::BOLD);
        let ground = colours
            .of(Role::Text, palette)
            .zip(colours.of(Role::Ground, palette));
        Self {
            player,
            text: ink(Role::Text),
            faint: ink(Role::Faint),
            rail: ink(Role::Rail),
            wake: ink(Role::Wake),
            nature: ink(Role::Nature),
            tempered: ink(Role::Tempered),
            held: player,
            agreed: player,
            selected: player,
            notice: ink(Role::Notice).add_modifier(Modifier::REVERSED),
            ground,
        }
    }

    /// Lays the ground below a finished picture: whatever has no colour yet gets the theme's.
    pub(super) fn lay_ground(&self, area: Rect, buffer: &mut Buffer) {
        let Some((text, ground)) = self.ground else {
            return;
        };
        for position in area.intersection(buffer.area).positions() {
            let cell = &mut buffer[position];
            if cell.fg == Color::Reset {
                cell.fg = text;
            }
            if cell.bg == Color::Reset {
                cell.bg = ground;
            }
        }
    }
}

#[cfg(test)]
impl Theme {
    /// The theme for a dark stage.
    pub(super) fn dark(palette: Palette) -> Self {
        Self::new(&crate::settings::themes()[0].colours, palette)
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
            Palette::Full,
        );
        check(&[("TERM", "linux"), ("COLORTERM", "yes")], Palette::Rich);
        check(
            &[("TERM", "xterm-256color"), ("NO_COLOR", "1")],
            Palette::Plain,
        );
        check(
            &[("COLORTERM", "truecolor"), ("NO_COLOR", "1")],
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
        let shipped = crate::settings::themes();
        for theme in &shipped {
            let theme = Theme::new(&theme.colours, Palette::Plain);
            for style in [
                theme.nature,
                theme.tempered,
                theme.faint,
                theme.rail,
                theme.notice,
            ] {
                assert_eq!((style.fg, style.bg), (None, None));
            }
            let mut buffer = Buffer::empty(Rect::new(0, 0, 3, 1));
            theme.lay_ground(buffer.area, &mut buffer);
            assert_eq!(buffer, Buffer::empty(buffer.area));
        }
    }

    #[test]
    fn the_ground_lies_below_what_is_drawn() {
        let theme = Theme::dark(Palette::Full);
        let mut buffer = Buffer::empty(Rect::new(0, 0, 3, 1));
        buffer.set_string(1, 0, "x", theme.nature);
        theme.lay_ground(buffer.area, &mut buffer);
        let (text, ground) = theme.ground.unwrap();
        assert_eq!((buffer[(0, 0)].fg, buffer[(0, 0)].bg), (text, ground));
        assert_eq!(Some(buffer[(1, 0)].fg), theme.nature.fg);
        assert_eq!(buffer[(1, 0)].bg, ground);
    }
}
