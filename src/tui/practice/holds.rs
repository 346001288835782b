//! The last notes that were held: how far each stood from its place, and how it wandered.
//!
//! ```text
//!    +25    ▆▆
//!    −25 ▀▀    ▔▔
//!        ◆−9 ◇+11 ▸◆−3    the newest is pointed at
//! spread ±2   ±3    ±1
//! ```

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::{Modifier, Style};
use ratatui::widgets::Widget;

use super::glance;
use crate::rehearsal::Trial;
use crate::tui::theme::Theme;
use crate::units::Cents;

/// Notes shown.
const SHOWN: usize = 10;

/// Columns left of the bars, for the scale.
const LABELS: u16 = 8;

/// Half-ranges a reader can count with.
const REACHES: [f64; 8] = [10.0, 15.0, 20.0, 25.0, 30.0, 40.0, 50.0, 100.0];

/// Eighths of a cell, from its lower edge.
const EIGHTHS: [&str; 8] = [
    "\u{2581}", "\u{2582}", "\u{2583}", "\u{2584}", "\u{2585}", "\u{2586}", "\u{2587}", "\u{2588}",
];

/// The bars.
pub(super) struct Holds<'a> {
    pub(super) trials: &'a [Trial],
    pub(super) theme: &'a Theme,
}

/// Where the bars stand: as many rows above the line as below it.
#[derive(Debug, Clone, Copy)]
struct Bars {
    /// The row above the line.
    above: u16,
    /// Rows on either side.
    side: u16,
    /// Cents at the end of either side.
    reach: f64,
}

impl Widget for Holds<'_> {
    fn render(self, area: Rect, buffer: &mut Buffer) {
        let area = area.intersection(buffer.area);
        if area.height < 3 || area.width < LABELS + 2 {
            return;
        }
        if self.trials.is_empty() {
            let text = "the last ten notes that were held come here";
            let middle = area.y + area.height / 2;
            let room = usize::from(area.width - 1);
            buffer.set_stringn(area.x + 1, middle, text, room, self.theme.faint);
            return;
        }
        let shown = &self.trials[self.trials.len().saturating_sub(SHOWN)..];
        let side = (area.height - 1) / 2;
        let has_words = area.height > 2 * side + 1 || side > 1;
        // The words below the numbers take a row of the bars where there is one too few.
        let side = if has_words {
            (area.height - 2) / 2
        } else {
            side
        };
        let bars = Bars {
            above: area.y + side - 1,
            side,
            reach: reach(shown),
        };
        self.scale(bars, has_words, area, buffer);
        let width = (area.width - LABELS - 1) / SHOWN as u16;
        for (place, trial) in shown.iter().enumerate() {
            let column = Rect {
                x: area.x + LABELS + place as u16 * width,
                width,
                ..area
            };
            let is_newest = place + 1 == shown.len();
            self.bar(trial, bars, is_newest, column, buffer);
            let y = area.y + 2 * side;
            self.number(trial, is_newest, Rect { y, ..column }, buffer);
            if has_words {
                let y = y + 1;
                self.wandering(trial, is_newest, Rect { y, ..column }, buffer);
            }
        }
    }
}

/// The smallest half-range that holds all bars.
fn reach(shown: &[Trial]) -> f64 {
    let farthest = shown.iter().map(|trial| trial.off.abs().get());
    let needed = farthest.fold(0.0, f64::max);
    let largest = REACHES[REACHES.len() - 1];
    let found = REACHES.into_iter().find(|reach| *reach >= needed);
    found.unwrap_or(largest)
}

impl Holds<'_> {
    fn style(&self, is_newest: bool) -> Style {
        if is_newest {
            self.theme.player
        } else {
            self.theme.faint
        }
    }

    /// The line of the target, how far the bars reach, and what the words are.
    fn scale(&self, bars: Bars, has_words: bool, area: Rect, buffer: &mut Buffer) {
        let theme = self.theme;
        for x in area.x + LABELS..area.right().saturating_sub(1) {
            buffer[(x, bars.above)]
                .set_symbol(EIGHTHS[0])
                .set_style(theme.rail);
        }
        let mut label = |y: u16, text: &str| {
            let text = format!("{text:>7}");
            buffer.set_stringn(area.x, y, text, usize::from(LABELS), theme.faint);
        };
        label(area.y, &Cents::new(bars.reach).to_string());
        let last = area.y + 2 * bars.side - 1;
        label(last, &Cents::new(-bars.reach).to_string());
        if has_words {
            label(last + 2, "spread");
        }
    }

    /// A bar from the line up or down. A cell lit from its upper edge is one lit from its lower
    /// edge with its colours exchanged.
    fn bar(&self, trial: &Trial, bars: Bars, is_newest: bool, column: Rect, buffer: &mut Buffer) {
        let off = trial.off.get();
        let most = f64::from(8 * bars.side);
        let eighths = (off.abs() / bars.reach * most).round().clamp(1.0, most) as u16;
        let width = (column.width / 2).clamp(1, 7);
        let x = column.x + (column.width - width) / 2;
        let style = self.style(is_newest);
        for row in 0..eighths.div_ceil(8) {
            let lit = (eighths - 8 * row).min(8);
            let (y, symbol, style) = if off >= 0.0 {
                (bars.above - row, EIGHTHS[usize::from(lit - 1)], style)
            } else if lit == 8 {
                (bars.above + 1 + row, EIGHTHS[7], style)
            } else {
                let inverse = style.add_modifier(Modifier::REVERSED);
                (bars.above + 1 + row, EIGHTHS[usize::from(7 - lit)], inverse)
            };
            for x in x..(x + width).min(buffer.area.right()) {
                buffer[(x, y)].set_symbol(symbol).set_style(style);
            }
        }
    }

    /// Cents from the place it was meant for, below the bar.
    fn number(&self, trial: &Trial, is_newest: bool, column: Rect, buffer: &mut Buffer) {
        let newest = if is_newest { "\u{25b8}" } else { " " };
        let cents = trial.off.to_string();
        let count = 2 + cents.chars().count() as u16;
        let x = column.x + (column.width + 1).saturating_sub(count) / 2;
        let x = x.saturating_sub(1).max(column.x.saturating_sub(1));
        let hue = glance::hue(trial.place, self.theme);
        let style = self.style(is_newest);
        let (x, _) = buffer.set_stringn(x, column.y, newest, 1, style);
        let (x, _) = buffer.set_stringn(x, column.y, glance::mark(trial.place), 1, hue);
        let room = usize::from((column.right()).saturating_sub(x));
        buffer.set_stringn(x, column.y, cents, room, style);
    }

    /// How far it wandered.
    fn wandering(&self, trial: &Trial, is_newest: bool, column: Rect, buffer: &mut Buffer) {
        let text = format!("\u{b1}{:.0}", trial.spread.get());
        let count = text.chars().count() as u16;
        let x = column.x + column.width.saturating_sub(count) / 2;
        let room = usize::from(column.width);
        buffer.set_stringn(x, column.y, text, room, self.style(is_newest));
    }
}
