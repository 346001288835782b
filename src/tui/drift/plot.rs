//! The chart of the drift view.

use ratatui::buffer::Buffer;
use ratatui::layout::{Alignment, Rect};
use ratatui::style::Style;
use ratatui::symbols::Marker;
use ratatui::text::{Line, Span};
use ratatui::widgets::{Axis, Chart, Dataset, GraphType, Widget};

use super::{DriftPane, LAST, Stretch, words};
use crate::rehearsal::DriftLine;
use crate::tui::axis::{NATURE, PLAYER, TEMPERED};
use crate::tui::text;
use crate::units::Cents;

/// Steps between labels, in seconds and in cents.
const TIMES: [f64; 12] = [
    10.0, 30.0, 60.0, 120.0, 300.0, 600.0, 900.0, 1800.0, 3600.0, 7200.0, 14_400.0, 43_200.0,
];
const STEPS: [f64; 12] = [
    1.0, 2.0, 3.0, 5.0, 10.0, 15.0, 20.0, 30.0, 50.0, 100.0, 200.0, 500.0,
];

/// Columns that a label of the time needs at least.
const TIME_COLUMNS: u16 = 12;

/// Columns left of the chart: labels of cents and the axis.
const CENTS_COLUMNS: u16 = 5;

/// Dots that a column is wide.
const DOTS: f64 = 2.0;

/// Columns between two marks on a line.
const MARK_EVERY: f64 = 14.0;

/// Columns between two dots of what is expected.
const DOT_EVERY: f64 = 3.0;

type Points = Vec<(f64, f64)>;

/// The lines of a stretch of time.
pub(super) struct Plot<'a> {
    pane: &'a DriftPane<'a>,
    from: f64,
    ensemble: Points,
    series: Points,
    players: Vec<Points>,
    selected: Points,
    expected: Points,
}

/// An axis: where it begins and ends, and its labels.
struct Graduation {
    low: f64,
    high: f64,
    step: f64,
}

impl Graduation {
    /// The finest of `steps` that needs no more than `most` labels.
    fn round(low: f64, high: f64, steps: &[f64], most: usize) -> Self {
        let at = |step: f64| Self {
            low: (low / step).floor() * step,
            high: ((high / step).ceil() * step).max((low / step).floor() * step + step),
            step,
        };
        let fitting = steps
            .iter()
            .map(|step| at(*step))
            .find(|span| span.count() <= most);
        fitting.unwrap_or_else(|| at(steps.last().copied().unwrap_or(1.0)))
    }

    fn count(&self) -> usize {
        ((self.high - self.low) / self.step).round() as usize + 1
    }

    fn labels(&self) -> impl Iterator<Item = f64> + '_ {
        (0..self.count().min(200)).map(|n| self.low + n as f64 * self.step)
    }

    fn bounds(&self) -> [f64; 2] {
        [self.low, self.high]
    }
}

impl<'a> Plot<'a> {
    /// The lines of what `pane` shows.
    pub(super) fn new(pane: &'a DriftPane<'a>) -> Self {
        let from = match pane.view.stretch {
            Stretch::Whole => 0.0,
            Stretch::Last => (pane.ended - LAST).get().max(0.0),
        };
        let points = |line: &DriftLine| -> Points {
            let points = line.points.iter().map(|p| (p.at.get(), p.cents.get()));
            points.filter(|(at, _)| *at >= from).collect()
        };
        let drift = pane.drift;
        let of_selected = |player: &usize| *player == pane.view.selected;
        let others = drift.players.iter().filter(|(p, _)| !of_selected(p));
        let selected = drift.players.iter().find(|(p, _)| of_selected(p));
        Self {
            from,
            ensemble: points(&drift.ensemble),
            series: points(&drift.series),
            players: others.map(|(_, line)| points(line)).collect(),
            selected: selected.map_or_else(Vec::new, |(_, line)| points(line)),
            expected: drift
                .expected
                .iter()
                .map(|(at, cents)| (at.get(), cents.get()))
                .collect(),
            pane,
        }
    }

    fn times(&self, columns: u16) -> Graduation {
        let most = usize::from(columns / TIME_COLUMNS).max(2);
        let end = self.pane.ended.get();
        match self.pane.view.stretch {
            Stretch::Whole => Graduation::round(0.0, end.max(60.0), &TIMES, most),
            // Ten minutes are ten minutes, wherever the labels fall.
            Stretch::Last => {
                let high = ((end / 60.0).ceil() * 60.0).max(LAST.get());
                Graduation {
                    low: high - LAST.get(),
                    high,
                    step: if most >= 6 { 120.0 } else { 300.0 },
                }
            }
        }
    }

    fn cents(&self, rows: u16) -> Graduation {
        let lines = [&self.ensemble, &self.series, &self.selected];
        let all = lines.into_iter().chain(&self.players);
        let within = |(at, _): &&(f64, f64)| *at >= self.from;
        let shown = all.flatten().chain(self.expected.iter().filter(within));
        let (low, high) = shown.fold((f64::MAX, f64::MIN), |(low, high), (_, cents)| {
            (low.min(*cents), high.max(*cents))
        });
        // A line that stands still would fill the chart with its own small noise.
        let (low, high) = if low > high {
            (-5.0, 5.0)
        } else {
            let missing = (8.0 - (high - low)).max(0.0) / 2.0;
            (low - missing.max(0.5), high + missing.max(0.5))
        };
        // A label every other row at the most.
        let most = usize::from(rows / 2 + 1).clamp(3, 9);
        Graduation::round(low, high, &STEPS, most)
    }

    fn legend(&self, width: u16) -> Line<'static> {
        let pane = self.pane;
        let theme = pane.theme;
        let mut entries: Vec<(String, Style)> = Vec::new();
        if !self.ensemble.is_empty() {
            entries.push((format!("{TEMPERED} tempered together"), theme.tempered));
        }
        if !self.series.is_empty() {
            entries.push((format!("{NATURE} trumpets' series"), theme.nature));
        }
        if let Some(player) = pane.selected() {
            let name = text::shortened(&player.name, 18);
            let text = if self.selected.is_empty() {
                format!("{PLAYER} {name}: no line yet")
            } else {
                format!("{PLAYER} {name}")
            };
            entries.push((text, theme.player));
        }
        if !self.expected.is_empty() {
            entries.push(("\u{2022} winds by warmth".to_owned(), theme.text));
        }
        if self.players.iter().any(|line| !line.is_empty()) {
            entries.push(("thin: single players".to_owned(), theme.faint));
        }
        let mut room = usize::from(width).saturating_sub(8);
        let mut spans = vec![Span::styled(" cents ", theme.faint)];
        for (text, style) in entries {
            let needed = text.chars().count() + 2;
            if needed > room {
                break;
            }
            room -= needed;
            spans.push(Span::raw("  "));
            spans.push(Span::styled(text, style));
        }
        Line::from(spans)
    }
}

/// The points that fall on the same dot across in one, the mean of them: a line of many hours
/// costs no more to draw than one of minutes, and is no thicker.
fn merged(points: &Points, per_dot: f64) -> Points {
    let dot = |point: &(f64, f64)| (point.0 / per_dot).floor() as i64;
    let dots = points.chunk_by(|a, b| dot(a) == dot(b));
    let mean = |dot: &[(f64, f64)]| {
        let sum = dot
            .iter()
            .fold((0.0, 0.0), |sum, p| (sum.0 + p.0, sum.1 + p.1));
        (sum.0 / dot.len() as f64, sum.1 / dot.len() as f64)
    };
    dots.map(mean).collect()
}

/// Every so often a point of a line, the last one always, to carry a mark.
fn marked(points: &Points, every: f64) -> Points {
    let mut marked: Points = Vec::new();
    for point in points.iter().rev() {
        if marked.last().is_none_or(|last| last.0 - point.0 >= every) {
            marked.push(*point);
        }
    }
    marked
}

/// Dots along straight lines between points.
fn dotted(points: &Points, every: f64) -> Points {
    let mut dots = points.clone();
    for pair in points.windows(2) {
        let ((from, low), (to, high)) = (pair[0], pair[1]);
        let count = ((to - from) / every).floor().clamp(0.0, 500.0) as usize;
        dots.extend((1..count).map(|n| {
            let part = n as f64 / count as f64;
            (from + part * (to - from), low + part * (high - low))
        }));
    }
    dots
}

impl Widget for Plot<'_> {
    fn render(mut self, area: Rect, buffer: &mut Buffer) {
        if area.height < 3 || area.width < 2 * CENTS_COLUMNS {
            return;
        }
        let theme = self.pane.theme;
        let (legend, area) = if area.height >= 7 {
            let legend = Rect { height: 1, ..area };
            let chart = Rect {
                y: area.y + 1,
                height: area.height - 1,
                ..area
            };
            (Some(legend), chart)
        } else {
            (None, area)
        };
        if let Some(area) = legend {
            self.legend(area.width).render(area, buffer);
        }
        let columns = area.width - CENTS_COLUMNS;
        let rows = area.height.saturating_sub(2).max(1);
        let (times, cents) = (self.times(columns), self.cents(rows));
        let per_column = (times.high - times.low) / f64::from(columns);
        let per_dot = (cents.high - cents.low) / (4.0 * f64::from(rows));

        let lines = [&mut self.ensemble, &mut self.series, &mut self.selected];
        for line in lines.into_iter().chain(&mut self.players) {
            *line = merged(line, per_column / DOTS);
        }

        // There and back a dot higher: a line of two dots, stronger than the others without
        // colour too. Two lines would not do, as the later one takes the whole cell.
        let back = self.ensemble.iter().rev().map(|(x, y)| (*x, y + per_dot));
        let strong: Points = self.ensemble.iter().copied().chain(back).collect();
        let start = [(times.low, 0.0), (times.high, 0.0)];
        let zero: Points = if cents.low < 0.0 && cents.high > 0.0 {
            dotted(&start.to_vec(), 2.0 * per_column)
        } else {
            Vec::new()
        };
        let expected = dotted(&self.expected, DOT_EVERY * per_column);
        let marks = |points: &Points| marked(points, MARK_EVERY * per_column);
        let (on_ensemble, on_series) = (marks(&self.ensemble), marks(&self.series));
        let on_selected = marks(&self.selected);

        let scatter = |points, symbol, style| {
            Dataset::default()
                .data(points)
                .marker(Marker::Custom(symbol))
                .graph_type(GraphType::Scatter)
                .style(style)
        };
        let line = |points, style| {
            Dataset::default()
                .data(points)
                .marker(Marker::Braille)
                .graph_type(GraphType::Line)
                .style(style)
        };
        let symbol = |mark: &str| mark.chars().next().unwrap_or(' ');
        let mut datasets = vec![scatter(&zero, '\u{b7}', theme.rail)];
        datasets.extend(self.players.iter().map(|points| line(points, theme.wake)));
        datasets.push(scatter(&expected, '\u{2022}', theme.text));
        datasets.push(line(&self.selected, theme.player));
        datasets.push(line(&self.series, theme.nature));
        datasets.push(line(&strong, theme.tempered));
        datasets.push(scatter(&on_selected, symbol(PLAYER), theme.player));
        datasets.push(scatter(&on_series, symbol(NATURE), theme.nature));
        datasets.push(scatter(&on_ensemble, symbol(TEMPERED), theme.tempered));

        let clocks = times.labels().map(words::moment);
        let x_axis = Axis::default()
            .bounds(times.bounds())
            .labels(
                clocks
                    .map(|label| Span::styled(label, theme.faint))
                    .collect::<Vec<_>>(),
            )
            .style(theme.rail);
        let heights = cents.labels().map(|label| Cents::new(label).to_string());
        let y_axis = Axis::default()
            .bounds(cents.bounds())
            .labels(
                heights
                    .map(|label| Span::styled(format!("{label:>4}"), theme.faint))
                    .collect::<Vec<_>>(),
            )
            .labels_alignment(Alignment::Right)
            .style(theme.rail);
        Chart::new(datasets)
            .x_axis(x_axis)
            .y_axis(y_axis)
            .legend_position(None)
            .render(area, buffer);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_has_no_more_points_than_there_are_dots() {
        let line: Points = (0..960)
            .map(|n| (30.0 * f64::from(n), f64::from(n % 2)))
            .collect();
        let merged = merged(&line, 240.0);
        assert_eq!(merged.len(), 120);
        // Eight points a dot, which go up and down: what is left is their middle.
        let is_middle = |point: &(f64, f64)| (point.1 - 0.5).abs() < 1e-9;
        assert!(merged.iter().all(is_middle), "{merged:?}");
        assert_eq!(merged[0], (105.0, 0.5));
        assert_eq!(super::merged(&line, 30.0), line, "a dot for each");
    }
}
