//! What lies on top of a view, and the boxes it is drawn in.

use ratatui::buffer::Buffer;
use ratatui::crossterm::event::KeyEvent;
use ratatui::layout::Rect;
use ratatui::text::Span;
use ratatui::widgets::{Block, BorderType, Clear, Widget};

use super::decide::Deciding;
use super::keymap::{self, Action, Binding};
use super::marking::Marking;
use super::theme::Theme;
use super::warmth::Warmth;
use crate::rehearsal::Resolution;
use crate::units::Celsius;

/// What lies on top of the view.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Overlay {
    /// Keys and marks; in a practice it leads to the cautions.
    Help {
        /// Whether this is a practice.
        is_practice: bool,
    },
    /// What to be careful about with a drone.
    Caution,
    /// What is agreed on a note.
    Deciding(Deciding),
    /// The room's temperature.
    Warmth(Warmth),
    /// The words of a mark.
    Marking(Marking),
}

/// What comes of a key.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Reply {
    /// It is none of the overlay's: whatever lies below may have it.
    Pass,
    /// The overlay goes on.
    Stay,
    /// The overlay closes.
    Close,
    /// It closes, and whatever lies below has the key.
    ClosePassing,
    /// The cautions come in its place.
    Caution,
    /// It closes, and this is agreed; none takes back what was.
    Agree(Option<Resolution>),
    /// It closes, and it is this warm.
    Warm(Celsius),
    /// It closes, and the moment is marked with what was typed.
    Mark,
    /// The program is to end.
    Quit,
    /// The terminal is to be given back for a while.
    Suspend,
}

impl Overlay {
    /// The keys it takes for itself now.
    pub(super) fn keys(&self) -> &'static [Binding] {
        match self {
            Self::Help { is_practice: false } => keymap::HELP,
            Self::Help { is_practice: true } => keymap::HELP_IN_PRACTICE,
            // Any key closes them and is meant for what lies below.
            Self::Caution => &[],
            Self::Deciding(deciding) => deciding.keys(),
            Self::Warmth(_) | Self::Marking(_) => keymap::TYPING,
        }
    }

    /// Whether characters are text now.
    pub(super) fn is_typing(&self) -> bool {
        match self {
            Self::Help { .. } | Self::Caution => false,
            Self::Deciding(deciding) => deciding.is_typing(),
            Self::Warmth(_) | Self::Marking(_) => true,
        }
    }

    /// Takes a key in.
    pub(super) fn press(&mut self, key: KeyEvent) -> Reply {
        match self {
            Self::Help { .. } => match keymap::action(self.keys(), key) {
                Some(Action::Caution) => Reply::Caution,
                Some(_) => Reply::Close,
                None => Reply::Pass,
            },
            Self::Caution => Reply::ClosePassing,
            Self::Deciding(deciding) => deciding.press(key),
            Self::Warmth(warmth) => warmth.press(key),
            Self::Marking(marking) => marking.press(key),
        }
    }
}

/// A box in the middle of `area`, with room for so many columns and rows inside; returns what
/// is inside.
pub(super) fn boxed(
    title: &str,
    (columns, rows): (u16, u16),
    area: Rect,
    theme: &Theme,
    buffer: &mut Buffer,
) -> Rect {
    let width = (columns + 2).min(area.width);
    let height = (rows + 2).min(area.height);
    let outer = Rect {
        x: area.x + (area.width - width) / 2,
        y: area.y + (area.height - height) / 2,
        width,
        height,
    };
    Clear.render(outer, buffer);
    let block = Block::bordered()
        .border_type(BorderType::Rounded)
        .border_style(theme.rail)
        .title(Span::styled(format!(" {title} "), theme.player));
    let inner = block.inner(outer);
    block.render(outer, buffer);
    inner
}
