//! What a figure is made of: the meetings farthest from pure, or who yields.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::{Line, Span};
use ratatui::widgets::Widget;

use super::{Page, PlanView};
use crate::plan::{Clash, ClashNote, Measures, Proposal};
use crate::tui::axis::AGREED;
use crate::tui::digits;
use crate::tui::layout::wanted_scale;
use crate::tui::text;
use crate::tui::theme::Theme;
use crate::units::Cents;

/// So many meetings are ever shown.
pub(super) const MOST: usize = 64;

/// Fewer rows than these leave no room for block figures.
const FIGURE_ROWS: u16 = 7;

/// From so many rows on what else the cell holds stands below its figure.
const TALL_ROWS: u16 = 14;

/// The figures are drawn at the size of a window so many rows taller than their pane.
const FRAME_ROWS: u16 = 3;

/// The pane beside or below the table.
pub(super) struct Side<'a> {
    pub(super) view: &'a PlanView,
    pub(super) theme: &'a Theme,
}

impl Widget for Side<'_> {
    fn render(self, area: Rect, buffer: &mut Buffer) {
        let area = area.intersection(buffer.area);
        if area.height == 0 || area.width < 20 {
            return;
        }
        let rows = usize::from(area.height);
        if rows == 1 {
            // The one line is about what the cell does not say.
            let list = self.list(area.width);
            draw(list.into_iter().take(1).collect(), area, buffer);
            return;
        }
        let below = self.portrait(area, buffer);
        let mut lines = Vec::new();
        if below.height > 2 {
            lines.push(self.title());
        }
        lines.extend(self.list(below.width));
        draw(lines, below, buffer);
    }
}

/// Draws lines from the top, as many as there is room for.
fn draw(lines: Vec<Line<'_>>, area: Rect, buffer: &mut Buffer) {
    for (line, y) in lines.into_iter().zip(area.y..area.bottom()) {
        let row = Rect {
            y,
            height: 1,
            ..area
        };
        line.render(row, buffer);
    }
}

impl Side<'_> {
    /// The selected figure as large as there is room for, and what it is; returns what is left
    /// below.
    fn portrait(&self, area: Rect, buffer: &mut Buffer) -> Rect {
        let view = self.view;
        let measures = view.table.cell(view.row, view.column);
        let value = view.figure.of(&measures);
        let figure = value.map(|value| view.figure.written(value, view.precision));
        let (mut sentences, rest) = self.sentences(&measures, figure.is_some());
        let scale = wanted_scale(area.height + FRAME_ROWS);
        let fits = |scale: &u16| {
            let figure = figure.as_deref().unwrap_or_default();
            area.height >= FIGURE_ROWS
                && digits::width(figure, *scale) + 34 <= area.width
                && digits::height(*scale) * 2 < area.height
        };
        let scale = (1..=scale).rev().find(fits);
        let (Some(figure), Some(scale)) = (figure, scale) else {
            let most = if area.height >= 4 { 2 } else { 1 };
            let sentences = std::iter::once(in_one_line(sentences)).chain(rest);
            draw(sentences.into_iter().take(most).collect(), area, buffer);
            let rows = (most as u16).min(area.height);
            return Rect {
                y: area.y + rows,
                height: area.height - rows,
                ..area
            };
        };
        let at = (area.x + 1, area.y);
        digits::draw(&figure, at, scale, self.theme.player, area, buffer);
        let left = 1 + digits::width(&figure, scale) + 2;
        let mut rows = digits::height(scale);
        let beside = Rect {
            x: area.x + left,
            y: area.y + (rows - 3) / 2,
            width: area.width.saturating_sub(left),
            height: 3,
        };
        let under = Rect {
            y: area.y + rows + 1,
            height: area.height.saturating_sub(rows + 1),
            ..area
        };
        if area.height >= TALL_ROWS {
            rows += 2 + rest.len() as u16;
            draw(rest, under, buffer);
        } else {
            sentences = vec![in_one_line(sentences)];
            sentences.extend(rest);
        }
        draw(sentences, beside, buffer);
        Rect {
            y: area.y + rows,
            height: area.height.saturating_sub(rows),
            ..area
        }
    }

    /// Which cell it is in three lines, and what else it holds in two.
    fn sentences(
        &self,
        measures: &Measures,
        is_there: bool,
    ) -> (Vec<Line<'static>>, Vec<Line<'static>>) {
        let (view, theme) = (self.view, self.theme);
        let name = &view.temperament(view.row).name;
        let taken = if view.row == view.taken {
            format!("  {AGREED} of the plan")
        } else {
            String::new()
        };
        let nothing = if is_there { "" } else { ": no such meeting" };
        let place = format!(" {}{nothing}", view.place_in_words());
        let which = vec![
            Line::from(Span::styled(format!(" {name}"), theme.player)),
            Line::from(Span::styled(place, theme.text)),
            Line::from(Span::styled(taken, theme.agreed)),
        ];
        let cents = |cents: Option<Cents>| {
            cents.map_or_else(
                || "\u{2014}".to_owned(),
                |cents| format!("{:.1}", cents.get()),
            )
        };
        let number = |value: Option<f64>, decimals: usize| {
            value.map_or_else(|| "\u{2014}".to_owned(), |v| format!("{v:.decimals$}"))
        };
        let sides = if view.has_trumpets() {
            format!(
                " trumpets\u{2013}others {}  trumpets {}  others {}",
                cents(measures.trumpet_other),
                cents(measures.trumpet_trumpet),
                cents(measures.other_other)
            )
        } else {
            format!(" all meetings {}", cents(measures.all))
        };
        let beats = format!(
            " beats {}/s  roughness {}{}",
            number(measures.beats_hz, 1),
            number(measures.roughness, 2),
            self.missing()
        );
        let rest = vec![
            Line::styled(sides, theme.text),
            Line::styled(beats, theme.faint),
        ];
        (which, rest)
    }

    fn missing(&self) -> String {
        let missing = self.view.table.missing(self.view.column);
        if missing.is_empty() {
            return String::new();
        }
        let names: Vec<String> = missing.iter().map(ToString::to_string).collect();
        format!("  no key for {}", names.join(" "))
    }

    fn title(&self) -> Line<'static> {
        let words = match self.view.page {
            Page::Meetings if self.view.is_of_several() => {
                "   cents   beats  piece: bar beat     farthest from pure"
            }
            Page::Meetings => "   cents   beats  bar beat            farthest from pure",
            Page::Yielding => " who yields, in all pieces         cents from pure \u{2192} then",
        };
        Line::styled(words, self.theme.faint)
    }

    fn list(&self, width: u16) -> Vec<Line<'static>> {
        let nothing = |words: &'static str| vec![Line::styled(words, self.theme.text)];
        match self.view.page {
            Page::Meetings if self.view.clashes.is_empty() => nothing(" no such meeting"),
            Page::Meetings => {
                let clashes = self.view.clashes.iter();
                clashes.map(|clash| self.clash(clash, width)).collect()
            }
            Page::Yielding if self.view.proposals.is_empty() => {
                nothing(" nothing to agree on: trumpets and temperament stand alike")
            }
            Page::Yielding => {
                let proposals = self.view.proposals.iter();
                proposals
                    .map(|proposal| self.proposal(proposal, width))
                    .collect()
            }
        }
    }

    /// One meeting: how far, where, who.
    fn clash(&self, clash: &Clash, width: u16) -> Line<'static> {
        let theme = self.theme;
        let error = format!("{:.1}", clash.error);
        let place = clash.places.first().map_or_else(String::new, |place| {
            let beat = format!("{:.2}", place.beat);
            let beat = beat.trim_end_matches('0').trim_end_matches('.');
            let piece = self.view.number_of(clash.piece);
            format!("{piece}{} {beat}", place.bar)
        });
        // In a narrow pane the players are told rather than the interval.
        let is_roomy = width >= 72;
        let fixed = if is_roomy { 56 } else { 44 };
        let room = usize::from(width.saturating_sub(fixed)) / 2;
        let mut spans = vec![
            Span::styled(format!(" {error:>6}"), theme.player),
            Span::styled(beats(clash), theme.text),
            Span::styled(format!("  {place:<10}"), theme.text),
        ];
        for (at, note) in [&clash.lower, &clash.upper].into_iter().enumerate() {
            let style = if note.partial.is_some() {
                theme.nature
            } else {
                theme.tempered
            };
            let joint = if at == 0 { " " } else { "  " };
            let text = format!("{joint}{}", called(note, room));
            spans.push(Span::styled(text, style));
        }
        if is_roomy {
            let named = clash.pure.name();
            let named = named.map_or_else(|| clash.pure.to_string(), str::to_owned);
            let interval = format!("  {named} \u{d7}{}", clash.count);
            spans.push(Span::styled(interval, theme.faint));
        }
        Line::from(spans)
    }

    /// One proposal: the note, who yields, what there is to gain, and how often where that fits: a
    /// number that is cut would be another one.
    fn proposal(&self, proposal: &Proposal, width: u16) -> Line<'static> {
        let theme = self.theme;
        let key = if self.view.has_several_keys() {
            format!(" in {}", proposal.key)
        } else {
            String::new()
        };
        let note = proposal.note.to_string();
        let partial = format!("p{} {:.1}", proposal.partial.number(), proposal.gap);
        let gain = format!(
            "{:>5.1} \u{2192}{:>5.1}",
            proposal.exposed.get(),
            proposal.settled.get()
        );
        let mut spans = vec![
            Span::styled(format!(" {note:<3}"), theme.player),
            Span::styled(format!(" {partial:<10}"), theme.nature),
            Span::styled(key, theme.nature),
            Span::styled(format!("  {:<26}", proposal.resolution), theme.agreed),
            Span::styled(gain, theme.text),
        ];
        let used: usize = spans.iter().map(Span::width).sum();
        let count = Span::styled(format!("  \u{d7}{}", proposal.count), theme.text);
        if used + count.width() <= usize::from(width) {
            spans.push(count);
        }
        Line::from(spans)
    }
}

/// Which cell it is, where there is one line for it.
fn in_one_line(sentences: Vec<Line<'static>>) -> Line<'static> {
    let mut spans: Vec<Span<'static>> = sentences.into_iter().flat_map(|line| line.spans).collect();
    if spans.len() > 1 {
        spans.insert(1, Span::raw(","));
    }
    Line::from(spans)
}

/// A note with its partial and who plays it, in `room` columns for the player.
fn called(note: &ClashNote, room: usize) -> String {
    let partial = note
        .partial
        .map_or_else(String::new, |partial| format!(" p{}", partial.number()));
    let part = if room >= 4 {
        format!(" {}", text::shortened(&note.part, room))
    } else {
        String::new()
    };
    format!("{}{partial}{part}", note.note)
}

/// How a clash beats, seven columns wide.
fn beats(clash: &Clash) -> String {
    clash
        .countable_hz()
        .map_or_else(|| "    fast".to_owned(), |hz| format!(" {hz:>5.1}/s"))
}
