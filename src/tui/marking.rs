//! The prompt for the words of a mark.
//!
//! ```text
//! ╭ marked 12:41 ────────────────────────────────╮
//! │ the reed of the dulcian▏                     │
//! │ a few words, or none: Enter takes them       │
//! ╰──────────────────────────────────────────────╯
//! ```

use ratatui::buffer::Buffer;
use ratatui::crossterm::event::KeyEvent;
use ratatui::layout::Rect;
use ratatui::widgets::Widget;

use super::field::Field;
use super::keymap::{self, Action};
use super::overlay::{self, Reply};
use super::text;
use super::theme::Theme;
use crate::units::Seconds;

/// Characters of a mark.
const MOST: usize = 60;

/// What is being typed about a moment that has gone by meanwhile.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Marking {
    at: Seconds,
    field: Field,
}

impl Marking {
    /// An empty prompt for the moment `at`.
    pub(super) fn new(at: Seconds) -> Self {
        Self {
            at,
            field: Field::new("", MOST),
        }
    }

    /// The moment.
    pub(super) fn at(&self) -> Seconds {
        self.at
    }

    /// The words.
    pub(super) fn text(&self) -> &str {
        self.field.text()
    }

    /// Takes a key in.
    pub(super) fn press(&mut self, key: KeyEvent) -> Reply {
        match keymap::action(keymap::TYPING, key) {
            Some(Action::Close) => Reply::Close,
            Some(Action::Suspend) => Reply::Suspend,
            Some(Action::Quit) => Reply::Quit,
            Some(_) => Reply::Mark,
            None => {
                self.field.press(key);
                Reply::Stay
            }
        }
    }
}

/// The prompt, ready to be drawn.
pub(super) struct MarkingBox<'a> {
    pub(super) marking: &'a Marking,
    pub(super) theme: &'a Theme,
}

impl Widget for MarkingBox<'_> {
    fn render(self, area: Rect, buffer: &mut Buffer) {
        let area = area.intersection(buffer.area);
        let title = format!("mark {}", text::clock(self.marking.at));
        let inner = overlay::boxed(&title, (56, 2), area, self.theme, buffer);
        if inner.width < 8 || inner.height < 2 {
            return;
        }
        let width = usize::from(inner.width) - 2;
        let shown = self.marking.field.shown(width);
        buffer.set_stringn(inner.x + 1, inner.y, shown, width, self.theme.player);
        let told = "a few words, or none";
        buffer.set_stringn(inner.x + 1, inner.y + 1, told, width, self.theme.faint);
    }
}
