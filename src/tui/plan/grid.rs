//! The table: temperaments down, pieces across, a figure and its ink in each cell.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::{Line, Span};
use ratatui::widgets::Widget;

use super::figure::Ink;
use super::{PlanView, Sort, table};
use crate::tui::axis::AGREED;
use crate::tui::text;
use crate::tui::theme::Theme;
use crate::units::NoteName;

/// Rows of words above the column heads.
const HEADING_ROWS: u16 = 2;

/// The marks in front of a name: what is selected, what is taken.
const MARKS: u16 = 2;

/// A cell is so wide at least and at the most, the gap before it included.
const NARROWEST: u16 = 9;
const WIDEST: u16 = 18;

/// The view's table.
pub(super) struct Grid<'a> {
    pub(super) view: &'a PlanView,
    pub(super) theme: &'a Theme,
}

/// Where everything stands.
struct Columns {
    name: u16,
    cell: u16,
    /// Those there is room for; the first is always shown.
    shown: Vec<usize>,
}

impl Columns {
    fn new(view: &PlanView, width: u16) -> Self {
        let names = view.planning.temperaments.iter();
        let longest = names.map(|t| t.name.chars().count()).max().unwrap_or(0) as u16;
        let count = table::n_columns(view.programme());
        // A long name gives way before a column does, and no further than it must.
        let taken = MARKS + 1 + NARROWEST * (count as u16).min(99);
        let most = width.saturating_sub(taken).clamp(16, 26);
        let name = MARKS + longest.clamp(8, most);
        let room = width.saturating_sub(name);
        let fitting = usize::from(room / NARROWEST).clamp(1, count);
        let cell = (room / fitting as u16).clamp(NARROWEST.min(room.max(1)), WIDEST);
        // Whole pages of pieces beside the first column.
        let page = fitting.saturating_sub(1).max(1);
        let first = match view.column {
            0 => 1,
            column => ((column - 1) / page * page + 1).min(count.saturating_sub(page).max(1)),
        };
        let pieces = first..(first + page).min(count);
        let shown = if fitting == 1 && view.column > 0 {
            vec![view.column]
        } else {
            std::iter::once(0).chain(pieces).take(fitting).collect()
        };
        Self { name, cell, shown }
    }
}

impl Grid<'_> {
    /// How many temperaments there is room for.
    pub(super) fn rows(view: &PlanView, area: Rect) -> usize {
        let above = HEADING_ROWS + 1 + u16::from(has_missing(view));
        usize::from(area.height.saturating_sub(above))
    }
}

fn has_missing(view: &PlanView) -> bool {
    !view.table.missing(0).is_empty()
}

impl Widget for Grid<'_> {
    fn render(self, area: Rect, buffer: &mut Buffer) {
        let view = self.view;
        let ink = Ink::new(view.table.values(view.figure), view.figure);
        let columns = Columns::new(view, area.width);
        let row = |offset: u16| {
            Rect {
                y: area.y + offset,
                height: 1,
                ..area
            }
            .intersection(area)
        };
        let rows = Self::rows(view, area);
        let selected = view.position();
        let first = first(selected, rows.max(1), view.order.len());
        self.settings().render(row(0), buffer);
        self.figures(ink, area.width).render(row(1), buffer);
        let mut at = HEADING_ROWS;
        self.heads(&columns, row(at), buffer);
        at += 1;
        if has_missing(view) {
            self.missing(&columns, row(at), buffer);
            at += 1;
        }
        for (position, index) in view.order.iter().enumerate().skip(first).take(rows) {
            let is_selected = position == selected;
            self.row(*index, is_selected, ink, &columns, row(at), buffer);
            at += 1;
        }
        self.beyond(first, rows, row(HEADING_ROWS), &columns, buffer);
    }
}

impl Grid<'_> {
    /// What holds for the whole table.
    fn settings(&self) -> Line<'static> {
        let (choice, theme) = (&self.view.choice, self.theme);
        let weights = &self.view.planning.weights;
        let standard = choice.standard;
        let kept = if standard.kept() == NoteName::A {
            String::new()
        } else {
            format!(" by {}", standard.kept())
        };
        let mut spans = vec![
            Span::styled(
                format!(" A {:.1} Hz{kept}", standard.a4().get()),
                theme.player,
            ),
            Span::styled(format!("  {}", choice.chain), theme.tempered),
        ];
        if self.view.has_trumpets() {
            let anchor = choice.anchor.number();
            let anchor = format!("  trumpets by {anchor}");
            spans.push(Span::styled(anchor, theme.nature));
        }
        let each = [
            ("trumpets", weights.trumpets),
            ("keyboard", weights.keyboard),
            ("others", weights.others),
        ];
        let other: Vec<String> = each
            .iter()
            .filter(|(_, weight)| (weight - 1.0).abs() > 1e-9)
            .map(|(side, weight)| format!("{side} \u{d7}{weight}"))
            .collect();
        if !other.is_empty() {
            let text = format!("  {}", other.join(", "));
            spans.push(Span::styled(text, theme.player));
        }
        Line::from(spans)
    }

    /// What the figures are, their order and their ink.
    fn figures(&self, ink: Option<Ink>, width: u16) -> Line<'static> {
        let view = self.view;
        let words = view.figure.words();
        let sort = match view.sort {
            Sort::Nearest => "nearest first",
            Sort::Listed => "as listed",
        };
        let scale = ink.map_or_else(String::new, |ink| {
            let (nearest, farthest) = ink.ends();
            let written = |value| view.figure.written(value, view.precision);
            format!(
                "   {} to {} {}",
                written(nearest),
                ink.shade(farthest),
                written(farthest)
            )
        });
        let whole = format!(" {words}, {sort}{scale}");
        let text = if whole.chars().count() <= usize::from(width) {
            whole
        } else {
            format!(" {words}, {sort}")
        };
        Line::styled(text, self.theme.faint)
    }

    fn heads(&self, columns: &Columns, area: Rect, buffer: &mut Buffer) {
        let room = usize::from(columns.cell.saturating_sub(1));
        for (at, column) in columns.shown.iter().enumerate() {
            let head = text::shortened(&self.view.column_name(*column), room);
            let style = self.style_of(*column);
            write_right(&head, columns, at, style, area, buffer);
        }
    }

    fn style_of(&self, column: usize) -> Style {
        if column == self.view.column {
            self.theme.selected
        } else {
            self.theme.faint
        }
    }

    /// How many notes the keyboard has no key for.
    fn missing(&self, columns: &Columns, area: Rect, buffer: &mut Buffer) {
        let room = usize::from(columns.name - MARKS);
        let words = if room >= 14 {
            "without a key"
        } else {
            "no key"
        };
        buffer.set_stringn(area.x + MARKS, area.y, words, room, self.theme.faint);
        for (at, column) in columns.shown.iter().enumerate() {
            let text = match self.view.table.missing(*column).len() {
                0 => "\u{2014}".to_owned(),
                count => count.to_string(),
            };
            write_right(&text, columns, at, self.theme.text, area, buffer);
        }
    }

    fn row(
        &self,
        index: usize,
        is_selected: bool,
        ink: Option<Ink>,
        columns: &Columns,
        area: Rect,
        buffer: &mut Buffer,
    ) {
        if area.height == 0 {
            return;
        }
        let (view, theme) = (self.view, self.theme);
        let style = if is_selected {
            theme.selected
        } else {
            theme.text
        };
        if is_selected {
            buffer.set_stringn(area.x, area.y, "\u{25b8}", 1, style);
        }
        if index == view.taken {
            buffer.set_stringn(area.x + 1, area.y, AGREED, 1, theme.agreed);
        }
        let room = usize::from(columns.name - MARKS);
        let name = text::shortened(&view.temperament(index).name, room);
        buffer.set_stringn(area.x + MARKS, area.y, name, room, style);
        for (at, column) in columns.shown.iter().enumerate() {
            let value = view.figure.of(&view.table.cell(index, *column));
            let (Some(value), Some(ink)) = (value, ink) else {
                write_right("\u{2014}", columns, at, theme.faint, area, buffer);
                continue;
            };
            let number = view.figure.written(value, view.precision);
            let style = match (is_selected, *column == view.column) {
                (true, true) => theme.notice,
                (true, false) => theme.selected,
                (false, _) => theme.text,
            };
            write_right(&number, columns, at, style, area, buffer);
            let shade = ink.shade(value).repeat(2);
            let width = columns.cell.saturating_sub(1);
            let ink_at = columns.left(at, area) + width.saturating_sub(8);
            if width >= 8 && ink_at + 2 <= area.right() {
                buffer.set_stringn(ink_at, area.y, shade, 2, theme.text);
            }
        }
    }

    /// That there are more rows than are shown.
    fn beyond(
        &self,
        first: usize,
        rows: usize,
        area: Rect,
        columns: &Columns,
        buffer: &mut Buffer,
    ) {
        let count = self.view.order.len();
        if rows == 0 || rows >= count {
            return;
        }
        let last = (first + rows).min(count);
        let text = format!("{}\u{2013}{last} of {count}", first + 1);
        let room = usize::from(columns.name - MARKS);
        buffer.set_stringn(area.x + MARKS, area.y, text, room, self.theme.faint);
    }
}

impl Columns {
    /// Where the cell at a place begins, after its gap.
    fn left(&self, at: usize, area: Rect) -> u16 {
        area.x + self.name + at as u16 * self.cell + 1
    }
}

/// Writes `text` to the right end of a cell.
fn write_right(
    text: &str,
    columns: &Columns,
    at: usize,
    style: Style,
    area: Rect,
    buffer: &mut Buffer,
) {
    let width = columns.cell.saturating_sub(1);
    let length = (text.chars().count() as u16).min(width);
    let x = columns.left(at, area) + width - length;
    if area.height > 0 && x < area.right() {
        let room = usize::from(length.min(area.right() - x));
        buffer.set_stringn(x, area.y, text, room, style);
    }
}

/// The first row shown: whole pages, so that rows stand still while the selection moves within
/// one.
fn first(selected: usize, rows: usize, count: usize) -> usize {
    (selected / rows * rows).min(count.saturating_sub(rows))
}
