//! The help overlay: every key of the table below it, what the marks mean, and in a practice
//! what to be careful about.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::Span;
use ratatui::widgets::{Block, BorderType, Clear, Widget};

use super::axis::{AGREED, BELOW, BOTH, HELD, NATURE, PLAYER, TEMPERED, TRAIL};
use super::caution;
use super::keymap::{self, Binding};
use super::ladder::{BESIDE, THERE};
use super::theme::Theme;

/// Columns of one entry, and of the keys in it.
const ENTRY: u16 = 29;
const KEYS: u16 = 11;

/// Left of the first column.
const MARGIN: u16 = 1;

/// The keys of a view and the marks.
pub(super) struct Help<'a> {
    pub(super) table: &'a [Binding],
    /// Whether the cautions of a practice belong to it.
    pub(super) is_practice: bool,
    pub(super) theme: &'a Theme,
}

type Entry = (String, Style, &'static str);

impl Help<'_> {
    fn keys(&self) -> Vec<Entry> {
        // The help's own keys are told by the footer, where they are looked for.
        let lines = keymap::lines(self.table).into_iter();
        lines
            .map(|(keys, help)| (keys, self.theme.player, help))
            .collect()
    }

    /// Rows for the cautions and a blank one above them; none where keys would lose their place.
    fn rows_of_cautions(&self, area: Rect, n_keys: usize) -> u16 {
        let columns = area.width.saturating_sub(2 + MARGIN) / ENTRY;
        if !self.is_practice || columns == 0 {
            return 0;
        }
        let rows = 1 + caution::rows(2 * ENTRY);
        let of_keys = (n_keys as u16).div_ceil(columns);
        if of_keys + rows + 2 <= area.height {
            rows
        } else {
            0
        }
    }

    fn marks(&self) -> Vec<Entry> {
        let theme = self.theme;
        let mark = |symbol: &str, style, text| (symbol.to_owned(), style, text);
        vec![
            mark(NATURE, theme.nature, "partial's place"),
            mark(TEMPERED, theme.tempered, "tempered place"),
            mark(BOTH, theme.nature, "both in one place"),
            mark(HELD, theme.held, "in the held chord"),
            mark(AGREED, theme.agreed, "agreed place"),
            mark(&format!("{AGREED} out"), theme.agreed, "leaves it out"),
            mark(
                &format!("{AGREED} or {HELD}"),
                theme.agreed,
                "agreed goes first",
            ),
            mark(PLAYER, theme.player, "the player"),
            mark(
                &format!("{BESIDE} {THERE}"),
                theme.player,
                "beside it, there",
            ),
            mark(TRAIL, theme.text, "just been there"),
            mark("\u{2596}\u{2598}", theme.faint, "last 20 seconds"),
            mark(BELOW, theme.player, "beyond the axis"),
            mark("13\u{2193}2", theme.nature, "two octaves lower"),
            mark("!", theme.notice, "input overloaded"),
        ]
    }
}

impl Widget for Help<'_> {
    fn render(self, area: Rect, buffer: &mut Buffer) {
        let area = area.intersection(buffer.area);
        let (keys, marks) = (self.keys(), self.marks());
        // The cautions have rows of their own below, where every key still finds its place; else
        // the footer says where they are.
        let cautions = self.rows_of_cautions(area, keys.len());
        let columns_of = |n_entries: usize, rows: u16| (n_entries as u16).div_ceil(rows.max(1));
        let needed = keys.len();
        // A border only where every key has room inside it.
        let fits = |border: u16| {
            let rows = area.height.saturating_sub(2 * border + cautions);
            let columns = area.width.saturating_sub(2 * border + MARGIN) / ENTRY;
            columns_of(needed, rows) <= columns
        };
        let border = u16::from(fits(1));
        let most_columns = area.width.saturating_sub(2 * border + MARGIN) / ENTRY;
        let rows = (needed as u16).min(area.height.saturating_sub(2 * border + cautions));
        if rows == 0 || most_columns == 0 {
            return;
        }
        let of_keys = columns_of(needed, rows);
        let of_marks = columns_of(marks.len(), rows);
        let shows_marks = of_keys + of_marks <= most_columns;
        let columns = (of_keys + if shows_marks { of_marks } else { 0 }).min(most_columns);
        let rows = if cautions > 0 && !shows_marks {
            (needed as u16).div_ceil(of_keys.max(1))
        } else {
            rows
        };
        let width = columns * ENTRY + 2 * border + MARGIN;
        let height = rows + cautions + 2 * border;
        let outer = Rect {
            x: area.x + (area.width - width) / 2,
            y: area.y + (area.height - height) / 2,
            width,
            height,
        };
        Clear.render(outer, buffer);
        let block = if border == 1 {
            Block::bordered()
                .border_type(BorderType::Rounded)
                .border_style(self.theme.rail)
                .title(Span::styled(" keys and marks ", self.theme.faint))
        } else {
            Block::new()
        };
        let inner = block.inner(outer);
        block.render(outer, buffer);

        let mut write = |entries: &[Entry], first_column: u16| {
            for (index, (symbol, style, text)) in entries.iter().enumerate() {
                let (column, row) = (index as u16 / rows + first_column, index as u16 % rows);
                let x = inner.x + MARGIN + column * ENTRY;
                if column < columns {
                    buffer.set_stringn(x, inner.y + row, symbol, KEYS.into(), *style);
                    let room = (ENTRY - KEYS - 1).min(inner.right().saturating_sub(x + KEYS));
                    buffer.set_stringn(x + KEYS, inner.y + row, text, room.into(), self.theme.text);
                }
            }
        };
        write(&keys, 0);
        if shows_marks {
            write(&marks, of_keys);
        }
        if cautions > 0 {
            let below = Rect {
                x: inner.x + MARGIN,
                y: inner.y + rows + 1,
                width: inner.width - MARGIN,
                height: cautions - 1,
            };
            caution::draw(below, self.theme, buffer);
        }
    }
}
