//! What to be careful about with a drone: shown before the first one of a day, and in the help
//! of a practice. Any key closes it and still does its work: whoever has an instrument in one
//! hand is not asked twice.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::Line;
use ratatui::widgets::{Paragraph, Widget, Wrap};

use super::overlay;
use super::theme::Theme;

/// The cautions, a sentence or two each.
pub(super) const CAUTIONS: [&str; 5] = [
    "Start soft, with headphones off or low until it sounds.",
    "Trumpets near the ears are loud. Take breaks, and let your ears rest.",
    "Ringing in the ears that stays: see a doctor.",
    "dBFS is a level inside this program. It says nothing about how loud it is at your ear.",
    "Local rules come first.",
];

const COLUMNS: u16 = 74;

/// Rows that all cautions take within `columns`, each begun on a row of its own.
pub(super) fn rows(columns: u16) -> u16 {
    // Words are not broken, so a row is not quite filled.
    let width = usize::from(columns.saturating_sub(8)).max(1);
    let of = |text: &&str| text.chars().count().div_ceil(width);
    CAUTIONS.iter().map(of).sum::<usize>() as u16
}

/// Draws the cautions.
pub(super) fn draw(area: Rect, theme: &Theme, buffer: &mut Buffer) {
    let lines: Vec<Line<'_>> = CAUTIONS.iter().map(|text| Line::raw(*text)).collect();
    Paragraph::new(lines)
        .style(theme.text)
        .wrap(Wrap { trim: true })
        .render(area, buffer);
}

/// The cautions in a box.
pub(super) struct CautionBox<'a> {
    pub(super) theme: &'a Theme,
}

impl Widget for CautionBox<'_> {
    fn render(self, area: Rect, buffer: &mut Buffer) {
        let area = area.intersection(buffer.area);
        let theme = self.theme;
        let columns = COLUMNS.min(area.width.saturating_sub(4));
        let size = (columns + 2, rows(columns));
        let inner = overlay::boxed("before the drone begins", size, area, theme, buffer);
        if inner.width < 3 || inner.height < 1 {
            return;
        }
        let words = Rect {
            x: inner.x + 1,
            width: inner.width - 2,
            ..inner
        };
        draw(words, theme, buffer);
        // In the lower border.
        let close = " any key goes on, and does what it always does ";
        let room = usize::from(words.width);
        buffer.set_stringn(words.x, inner.bottom(), close, room, theme.faint);
    }
}
