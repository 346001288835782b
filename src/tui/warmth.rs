//! The prompt for the room's temperature.
//!
//! ```text
//! ╭ how warm is the room? ──────────────────────╮
//! │ 18.5▏                                    °C │
//! │ 'warm' is no temperature: type 18.5, say    │
//! ╰─────────────────────────────────────────────╯
//! ```

use ratatui::buffer::Buffer;
use ratatui::crossterm::event::KeyEvent;
use ratatui::layout::Rect;
use ratatui::widgets::{Paragraph, Widget, Wrap};

use super::field::Field;
use super::keymap::{self, Action};
use super::overlay::{self, Reply};
use super::theme::Theme;
use crate::units::Celsius;

/// Characters of a temperature, with room for its unit.
const MOST: usize = 12;

/// What is being typed.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Warmth {
    field: Field,
    fault: Option<String>,
}

impl Warmth {
    /// An empty prompt.
    pub(super) fn new() -> Self {
        Self {
            field: Field::new("", MOST),
            fault: None,
        }
    }

    /// Takes a key in.
    pub(super) fn press(&mut self, key: KeyEvent) -> Reply {
        match keymap::action(keymap::TYPING, key) {
            Some(Action::Close) => Reply::Close,
            Some(Action::Suspend) => Reply::Suspend,
            Some(Action::Quit) => Reply::Quit,
            Some(_) => match parse(self.field.text()) {
                Ok(celsius) => Reply::Warm(celsius),
                Err(fault) => {
                    self.fault = Some(fault);
                    Reply::Stay
                }
            },
            None => {
                self.fault = None;
                self.field.press(key);
                Reply::Stay
            }
        }
    }
}

/// Degrees as people write them: a comma is a point, the unit may stand behind.
fn parse(text: &str) -> Result<Celsius, String> {
    if text.is_empty() {
        return Err("type the degrees, such as 18.5, or Esc to leave it".to_owned());
    }
    let number = text
        .trim_end_matches(['C', 'c', '\u{b0}', ' '])
        .replace(',', ".")
        .replace('\u{2212}', "-");
    let degrees: f64 = number
        .parse()
        .map_err(|_| format!("'{text}' is no temperature: type the degrees, such as 18.5"))?;
    Celsius::new(degrees).map_err(|error| error.to_string())
}

/// The prompt, ready to be drawn.
pub(super) struct WarmthBox<'a> {
    pub(super) warmth: &'a Warmth,
    pub(super) theme: &'a Theme,
}

impl Widget for WarmthBox<'_> {
    fn render(self, area: Rect, buffer: &mut Buffer) {
        let area = area.intersection(buffer.area);
        let title = "how warm is the room?";
        let inner = overlay::boxed(title, (46, 3), area, self.theme, buffer);
        if inner.width < 8 || inner.height == 0 {
            return;
        }
        let shown = self.warmth.field.shown(MOST + 1);
        buffer.set_stringn(
            inner.x + 1,
            inner.y,
            shown,
            usize::from(inner.width) - 1,
            self.theme.player,
        );
        let unit = "\u{b0}C";
        buffer.set_string(inner.right() - 3, inner.y, unit, self.theme.faint);
        let below = Rect {
            x: inner.x + 1,
            y: inner.y + 1,
            width: inner.width - 2,
            height: inner.height - 1,
        };
        let (text, style) = match &self.warmth.fault {
            Some(fault) => (fault.as_str(), self.theme.text),
            None => (
                "the drift view shows what it does to the winds",
                self.theme.faint,
            ),
        };
        Paragraph::new(text)
            .wrap(Wrap { trim: true })
            .style(style)
            .render(below, buffer);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn degrees_are_read_as_people_write_them() {
        for text in [
            "18.5",
            "18,5",
            "18.5C",
            "18,5 \u{b0}C",
            "18.5\u{b0}",
            "18.50",
        ] {
            assert_eq!(parse(text).map(Celsius::get), Ok(18.5), "{text}");
        }
        assert_eq!(parse("\u{2212}2").map(Celsius::get), Ok(-2.0));
    }

    #[test]
    fn nonsense_is_told_with_what_to_do() {
        let fault = parse("warm").unwrap_err();
        assert_eq!(
            fault,
            "'warm' is no temperature: type the degrees, such as 18.5"
        );
        for text in ["", "99", "nan", "inf", "-273", "1.2.3"] {
            assert!(parse(text).is_err(), "{text}");
        }
    }
}
