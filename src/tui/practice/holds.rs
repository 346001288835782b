//! The last notes that were held: where each stood from its target, and how far it wandered.
//!
//! ```text
//!  +20     ▄
//!   ±0 ────▀──▄──────
//!  −20     ▼
//!       ◇+12 ◇−1 ▸◇−3
//! ```

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::widgets::Widget;

use super::glance;
use crate::rehearsal::Trial;
use crate::tui::theme::Theme;
use crate::units::Cents;

/// Notes shown.
const SHOWN: usize = 10;

/// Columns left of the bars, for the scale.
const LABELS: u16 = 6;

/// Half-ranges a reader can count with.
const REACHES: [f64; 6] = [5.0, 10.0, 20.0, 30.0, 50.0, 100.0];

/// The bars.
pub(super) struct Holds<'a> {
    pub(super) trials: &'a [Trial],
    /// How far from a target counts as inside.
    pub(super) tolerance: Cents,
    pub(super) theme: &'a Theme,
}

impl Widget for Holds<'_> {
    fn render(self, area: Rect, buffer: &mut Buffer) {
        let area = area.intersection(buffer.area);
        if area.height < 2 || area.width < LABELS + 2 {
            return;
        }
        if self.trials.is_empty() {
            let text = "the last ten notes that were held come here";
            let middle = area.y + area.height / 2;
            let room = usize::from(area.width - 1);
            buffer.set_stringn(area.x + 1, middle, text, room, self.theme.faint);
            return;
        }
        let bars = Rect {
            height: area.height - 1,
            ..area
        };
        let shown = &self.trials[self.trials.len().saturating_sub(SHOWN)..];
        let reach = self.reach(shown);
        self.scale(reach, bars, buffer);
        let width = ((area.width - LABELS - 1) / SHOWN as u16).min(14);
        for (place, trial) in shown.iter().enumerate() {
            let column = Rect {
                x: area.x + LABELS + place as u16 * width,
                width,
                ..bars
            };
            let is_newest = place + 1 == shown.len();
            self.bar(trial, reach, is_newest, column, buffer);
            self.number(trial, is_newest, column, buffer);
        }
    }
}

impl Holds<'_> {
    /// The smallest half-range that holds all bars, and the tolerance at any rate.
    fn reach(&self, shown: &[Trial]) -> f64 {
        let farthest = shown.iter().map(|t| t.off.abs().get() + t.spread.get());
        let needed = farthest.fold(self.tolerance.get(), f64::max);
        let largest = REACHES[REACHES.len() - 1];
        REACHES
            .into_iter()
            .find(|reach| *reach >= needed)
            .unwrap_or(largest)
    }

    /// The line of the target, and how far the bars reach.
    fn scale(&self, reach: f64, bars: Rect, buffer: &mut Buffer) {
        let theme = self.theme;
        let is_odd = bars.height % 2 == 1;
        let middle = bars.y + (bars.height - 1) / 2;
        // Between two rows the line runs along the lower edge of the upper one.
        let line = if is_odd { "\u{2500}" } else { "\u{2581}" };
        for x in bars.x + LABELS..bars.right().saturating_sub(1) {
            buffer[(x, middle)].set_symbol(line).set_style(theme.rail);
        }
        let label = |y: u16, cents: f64, buffer: &mut Buffer| {
            let text = format!("{:>5}", Cents::new(cents));
            buffer.set_stringn(bars.x, y, text, usize::from(LABELS), theme.faint);
        };
        label(middle, 0.0, buffer);
        if bars.height > 2 {
            label(bars.y, reach, buffer);
            label(bars.bottom() - 1, -reach, buffer);
        }
    }

    /// From the lower to the upper end of where the note mostly was.
    fn bar(&self, trial: &Trial, reach: f64, is_newest: bool, column: Rect, buffer: &mut Buffer) {
        let halves = f64::from(2 * column.height);
        // Half rows from the top.
        let half = |cents: f64| {
            let share = (reach - cents.clamp(-reach, reach)) / (2.0 * reach);
            share * halves
        };
        let (off, spread) = (trial.off.get(), trial.spread.get());
        let middle = half(off).min(halves - 0.5).floor();
        let top = half(off + spread).round().min(middle).max(0.0) as u16;
        let bottom = half(off - spread).round().max(middle + 1.0).min(halves) as u16;
        let width = (column.width / 2).clamp(1, 5);
        let x = column.x + (column.width - width) / 2;
        let style = if is_newest {
            self.theme.player
        } else {
            self.theme.faint
        };
        for row in 0..column.height {
            let lit = |half: u16| (top..bottom).contains(&half);
            let symbol = match (lit(2 * row), lit(2 * row + 1)) {
                (true, true) => "\u{2588}",
                (true, false) => "\u{2580}",
                (false, true) => "\u{2584}",
                (false, false) => continue,
            };
            for x in x..(x + width).min(buffer.area.right()) {
                buffer[(x, column.y + row)]
                    .set_symbol(symbol)
                    .set_style(style);
            }
        }
    }

    /// Cents from the place it was meant for, below the bar.
    fn number(&self, trial: &Trial, is_newest: bool, column: Rect, buffer: &mut Buffer) {
        let newest = if is_newest { "\u{25b8}" } else { "" };
        let cents = trial.off.to_string();
        let count = newest.chars().count() + 1 + cents.chars().count();
        let y = column.bottom();
        // The mark stands left of the middle, whatever the number's length.
        let x = column.x + column.width.saturating_sub(count as u16) / 2;
        let room = usize::from((column.right() + 1).saturating_sub(x));
        let (style, of_mark) = if is_newest {
            (self.theme.player, glance::hue(trial.place, self.theme))
        } else {
            (self.theme.faint, glance::hue(trial.place, self.theme))
        };
        let (x, _) = buffer.set_stringn(x, y, newest, room, style);
        let (x, _) = buffer.set_stringn(x, y, glance::mark(trial.place), room, of_mark);
        let room = usize::from((column.right() + 1).saturating_sub(x));
        buffer.set_stringn(x, y, cents, room, style);
    }
}
