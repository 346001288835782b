//! What frames every view: the header with tuning and input, and the footer with keys.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::{Line, Span};
use ratatui::widgets::{Paragraph, Widget, Wrap};

use super::keymap::{self, Action, Binding};
use super::layout::{LEAST_COLUMNS, LEAST_ROWS};
use super::text;
use super::theme::Theme;
use crate::rehearsal::Rehearsal;
use crate::sound::SourceState;
use crate::tuning::Anchor;
use crate::units::{Dbfs, Note, NoteName};

/// Two rows: what everything is measured against, and how the listening goes.
pub(super) struct Header<'a> {
    pub(super) rehearsal: &'a Rehearsal,
    /// What has just happened; shown in place of how the listening goes.
    pub(super) notice: Option<&'a str>,
    pub(super) theme: &'a Theme,
}

impl Widget for Header<'_> {
    fn render(self, area: Rect, buffer: &mut Buffer) {
        let [top, below] = [0, 1].map(|row| {
            Rect {
                y: area.y.saturating_add(row),
                height: 1,
                ..area
            }
            .intersection(area)
        });
        pair(self.tuning(), self.occasion(), top, buffer);
        pair(self.input(), self.level(), below, buffer);
    }
}

/// Draws `left` from the left, and `right` from the right where it leaves `left` whole.
fn pair(left: Line<'_>, right: Line<'_>, area: Rect, buffer: &mut Buffer) {
    let needed = left.width() + right.width() + 3;
    left.render(area, buffer);
    if needed <= usize::from(area.width) {
        let width = right.width() as u16 + 1;
        right.render(
            Rect {
                x: area.right() - width,
                width,
                ..area
            },
            buffer,
        );
    }
}

impl Header<'_> {
    fn tuning(&self) -> Line<'static> {
        let theme = self.theme;
        let tuning = self.rehearsal.tuning();
        let standard = tuning.standard();
        let mut spans = vec![Span::raw(" ")];
        // A frozen picture must not be taken for a live one, so this comes first.
        if let Some(frozen) = self.rehearsal.frozen_for() {
            let text = format!(" frozen {} ", text::clock(frozen));
            spans.extend([Span::styled(text, theme.notice), Span::raw("  ")]);
        }
        // The A that sounds; with another note kept it is not the level that was asked for.
        let scale = tuning.scale();
        let sounding_a = scale.frequency(Note::A4).get();
        spans.push(Span::styled(format!("A {sounding_a:.1} Hz"), theme.player));
        if standard.kept() != NoteName::A {
            let kept = format!(
                " ({} kept at A {:.1})",
                standard.kept(),
                standard.a4().get()
            );
            spans.push(Span::styled(kept, theme.text));
        }
        spans.push(Span::styled(
            format!("  {} {}", scale.temperament().name, scale.chain()),
            theme.tempered,
        ));
        let series = tuning.series();
        let anchor = match series.anchor() {
            Anchor::PartialSounds { partial, note } => {
                format!("{} = {note}", partial.number())
            }
            Anchor::Fundamental { hz } => format!("1 = {:.2} Hz", hz.get()),
        };
        spans.push(Span::styled(
            format!("  trumpets in {} ({anchor})", series.key()),
            theme.nature,
        ));
        Line::from(spans)
    }

    fn occasion(&self) -> Line<'static> {
        let title = self.rehearsal.ensemble().title.clone();
        Line::styled(title, self.theme.faint)
    }

    fn input(&self) -> Line<'static> {
        let theme = self.theme;
        if let Some(notice) = self.notice {
            let text = format!(" {notice} ");
            return Line::from(vec![Span::raw(" "), Span::styled(text, theme.notice)]);
        }
        match self.rehearsal.source() {
            SourceState::Opening => Line::styled(" opening the input \u{2026}", theme.text),
            SourceState::Waiting(fault) => Line::from(vec![
                Span::raw(" "),
                Span::styled(format!(" {fault} "), theme.notice),
            ]),
            SourceState::Ended => {
                Line::styled(" played to the end: 'q' leaves the screen", theme.text)
            }
            SourceState::Running => self.running(),
        }
    }

    fn running(&self) -> Line<'static> {
        let theme = self.theme;
        let mut clipped = self
            .rehearsal
            .live()
            .filter(|(_, state)| state.meter().is_clipped());
        if let Some((channel, _)) = clipped.next() {
            let text = format!(
                " {} overloads input {}: turn it down ",
                channel.name, channel.input
            );
            return Line::from(vec![Span::raw(" "), Span::styled(text, theme.notice)]);
        }
        let lost = self.rehearsal.blocks_lost();
        if lost > 0 {
            let plural = if lost == 1 { "" } else { "s" };
            let text = format!(" {lost} block{plural} of sound lost: close other programs");
            return Line::styled(text, theme.text);
        }
        let text = match self.rehearsal.format() {
            Some(format) => {
                let plural = if format.channels == 1 { "" } else { "s" };
                let kilohertz = format.rate.hz() / 1000.0;
                format!(
                    " listening to {}, {} channel{plural}, {kilohertz} kHz",
                    format.name, format.channels
                )
            }
            None => " listening".to_owned(),
        };
        Line::styled(text, theme.faint)
    }

    /// The loudest input.
    fn level(&self) -> Line<'static> {
        let loudest = self
            .rehearsal
            .live()
            .map(|(_, state)| state.meter().level())
            .fold(Dbfs::SILENCE, |a, b| if a < b { b } else { a });
        let is_running = matches!(self.rehearsal.source(), SourceState::Running);
        let text = if is_running && loudest.get() > -100.0 {
            let decibels = loudest.get().round();
            let sign = if decibels < 0.0 { "\u{2212}" } else { "+" };
            format!("{} {sign}{:>2} dB", bar(loudest), decibels.abs())
        } else if is_running {
            "no sound yet".to_owned()
        } else {
            String::new()
        };
        Line::styled(text, self.theme.faint)
    }
}

/// Ten columns from -60 to 0 dBFS.
fn bar(level: Dbfs) -> String {
    let sixths = ((level.get() + 60.0) / 6.0).clamp(0.0, 10.0);
    let full = sixths as usize;
    format!("{}{}", "\u{25ac}".repeat(full), "\u{b7}".repeat(10 - full))
}

/// One entry of the footer: keys that belong together, and a word for them.
pub(super) struct Hint {
    pub(super) actions: &'static [Action],
    pub(super) word: String,
}

/// A window that shows nothing useful says how large it must be.
pub(super) fn too_small(area: Rect, buffer: &mut Buffer) {
    let text =
        format!("the window is too small: {LEAST_COLUMNS} columns by {LEAST_ROWS} rows at least");
    Paragraph::new(text)
        .wrap(Wrap { trim: true })
        .render(area, buffer);
}

/// The keys that matter now, as many as there is room for. The last two are always shown.
pub(super) struct Footer<'a> {
    pub(super) table: &'static [Binding],
    pub(super) hints: Vec<Hint>,
    pub(super) theme: &'a Theme,
}

impl Widget for Footer<'_> {
    fn render(self, area: Rect, buffer: &mut Buffer) {
        let entries: Vec<(String, String)> = self
            .hints
            .into_iter()
            .map(|hint| {
                let keys: Vec<String> = hint
                    .actions
                    .iter()
                    .map(|action| keymap::label(self.table, *action))
                    .collect();
                (keys.join(" "), hint.word)
            })
            .collect();
        let width =
            |(keys, word): &(String, String)| keys.chars().count() + word.chars().count() + 4;
        let n_last = entries.len().min(2);
        let (first, last) = entries.split_at(entries.len() - n_last);
        let mut room = usize::from(area.width).saturating_sub(last.iter().map(width).sum());
        let fitting = first.iter().take_while(|entry| {
            let fits = width(entry) <= room;
            room = room.saturating_sub(width(entry));
            fits
        });
        let mut spans = Vec::new();
        for (keys, word) in fitting.chain(last) {
            let strong: Style = self.theme.player;
            spans.push(Span::styled(format!(" {keys}"), strong));
            spans.push(Span::styled(format!(" {word}  "), self.theme.faint));
        }
        Line::from(spans).render(area.intersection(buffer.area), buffer);
    }
}
