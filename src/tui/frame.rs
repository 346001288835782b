//! What frames every view: the header with tuning and input, and the footer with keys.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::{Line, Span};
use ratatui::widgets::{Paragraph, Widget, Wrap};

use super::event::{Playback, Recording, Watching};
use super::inputs;
use super::keymap::{self, Action, Binding, Replay};
use super::layout::{LEAST_COLUMNS, LEAST_ROWS, Layout};
use super::text;
use super::theme::Theme;
use crate::analysis::{Effort, HOP};
use crate::rehearsal::Rehearsal;
use crate::sound::SourceState;
use crate::tuning::Anchor;
use crate::units::{Dbfs, Note, NoteName};

/// What is told about the program itself, whatever the view.
#[derive(Debug, Clone, Copy)]
pub(super) struct Status<'a> {
    /// What has just happened; shown in place of how the listening goes.
    pub(super) notice: Option<&'a str>,
    /// Whether the session is being recorded.
    pub(super) recording: &'a Recording,
    /// Where the replay stands, if this is one.
    pub(super) playback: Option<Playback>,
    /// How it stands with the rehearsal that is watched, if this is a stand.
    pub(super) watching: Option<&'a Watching>,
    /// The keys that mean something.
    pub(super) keys: &'a [Binding],
}

impl Status<'_> {
    /// What comes first in the footer of every view.
    pub(super) fn hints(&self) -> Vec<Hint> {
        self.playback.map_or_else(Vec::new, replay_hints)
    }
}

/// Two rows: what everything is measured against, and how the listening goes.
pub(super) struct Header<'a> {
    pub(super) rehearsal: &'a Rehearsal,
    pub(super) status: Status<'a>,
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
        let failing = self.failing();
        if failing.is_some() && self.has_trouble() {
            // Both must be seen: what the input says is cut, so that the short form of the
            // other has its place.
            let failing = Line::from(vec![
                Span::styled(" not being recorded ", self.theme.notice),
                Span::raw(" "),
            ]);
            let width = (failing.width() as u16).min(below.width);
            let room = Rect {
                width: below.width - width,
                ..below
            };
            cut(self.input(usize::from(room.width)), room, buffer);
            let at_the_end = Rect {
                x: room.right(),
                width,
                ..below
            };
            failing.render(at_the_end, buffer);
        } else if let Some(failing) = failing {
            cut(failing, below, buffer);
        } else {
            let level = self.right();
            let room = usize::from(below.width).saturating_sub(level.width() + 3);
            pair(self.input(room), level, below, buffer);
        }
    }
}

/// Draws a line; one that is too long ends in an ellipsis.
fn cut(line: Line<'_>, area: Rect, buffer: &mut Buffer) {
    let is_cut = line.width() > usize::from(area.width);
    line.render(area, buffer);
    if is_cut && area.width > 1 {
        buffer[(area.right() - 2, area.y)].set_symbol("\u{2026}");
        buffer[(area.right() - 1, area.y)].reset();
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

    /// That nothing is being recorded, though it should be.
    fn failing(&self) -> Option<Line<'static>> {
        let Recording::Failing(reason) = self.status.recording else {
            return None;
        };
        let text = format!(" not being recorded: {reason} ");
        Some(Line::from(vec![
            Span::raw(" "),
            Span::styled(text, self.theme.notice),
        ]))
    }

    /// Whether there is something else that must be told.
    fn has_trouble(&self) -> bool {
        let is_clipped = || {
            let mut live = self.rehearsal.live();
            live.any(|(_, state)| state.meter().is_clipped())
        };
        self.status.notice.is_some()
            || matches!(self.rehearsal.source(), SourceState::Waiting(_))
            || self.rehearsal.blocks_lost() > 0
            || self.rehearsal.effort() != Effort::Full
            || is_clipped()
    }

    /// What a replay says of itself.
    fn replay(&self) -> Option<String> {
        let playback = self.status.playback?;
        let pace = if playback.is_paused {
            "paused".to_owned()
        } else {
            format!("\u{d7}{}", playback.speed)
        };
        Some(format!(
            "replay {} of {}  {pace}",
            text::clock(playback.at),
            text::clock(playback.length)
        ))
    }

    /// Right of how the listening goes: the level, or where a replay stands while something
    /// else is told in its place.
    fn right(&self) -> Line<'static> {
        match self.replay().filter(|_| self.status.notice.is_some()) {
            Some(replay) => Line::styled(replay, self.theme.player),
            None => self.level(),
        }
    }

    /// How the listening goes, in `room` columns if possible.
    fn input(&self, room: usize) -> Line<'static> {
        let theme = self.theme;
        if let Some(notice) = self.status.notice {
            let text = format!(" {notice} ");
            return Line::from(vec![Span::raw(" "), Span::styled(text, theme.notice)]);
        }
        if let Some(replay) = self.replay() {
            return Line::styled(format!(" {replay}"), theme.player);
        }
        if let Some(Watching::Over(why)) = self.status.watching {
            return Line::from(vec![
                Span::raw(" "),
                Span::styled(format!(" {why} "), theme.notice),
            ]);
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
            SourceState::Running => self.running(room),
        }
    }

    fn running(&self, room: usize) -> Line<'static> {
        let theme = self.theme;
        let warning = inputs::warning(self.rehearsal);
        if let Some(warning) = warning {
            let warning = format!(" {warning} ");
            return Line::from(vec![Span::raw(" "), Span::styled(warning, theme.notice)]);
        }
        if let Some(text) = busy(self.rehearsal.effort()) {
            return Line::from(vec![Span::raw(" "), Span::styled(text, theme.notice)]);
        }
        let lost = self.rehearsal.blocks_lost();
        if lost > 0 {
            let plural = if lost == 1 { "" } else { "s" };
            let text = format!(" {lost} block{plural} of sound lost: close other programs");
            return Line::styled(text, theme.text);
        }
        if let Some(Watching::Live(whose)) = self.status.watching {
            return Line::styled(format!(" watched only: {whose}"), theme.text);
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
        let kept = match self.status.recording {
            Recording::Into(name) => {
                let fits = |kept: &String| (text.chars().count() + kept.chars().count()) <= room;
                let kept = [format!(", kept in {name}"), ", kept".to_owned()];
                kept.into_iter().find(fits).unwrap_or_default()
            }
            Recording::Nowhere | Recording::Failing(_) => String::new(),
        };
        Line::styled(text + &kept, theme.faint)
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

/// A view between header and footer.
pub(super) struct Framed<'a> {
    pub(super) rehearsal: &'a Rehearsal,
    pub(super) status: Status<'a>,
    pub(super) hints: Vec<Hint>,
    pub(super) theme: &'a Theme,
}

impl Framed<'_> {
    /// Draws header and footer, and lets `body` draw what is between; only that there is too
    /// little room where that is so.
    pub(super) fn render(
        self,
        area: Rect,
        buffer: &mut Buffer,
        body: impl FnOnce(Rect, &mut Buffer),
    ) {
        let Some(layout) = Layout::new(area, 1) else {
            too_small(area, buffer);
            return;
        };
        let (status, theme) = (self.status, self.theme);
        Header {
            rehearsal: self.rehearsal,
            status,
            theme,
        }
        .render(layout.header, buffer);
        body(layout.body, buffer);
        Footer {
            table: status.keys,
            hints: self.hints,
            theme,
        }
        .render(layout.footer, buffer);
    }
}

/// A window that shows nothing useful says how large it must be.
pub(super) fn too_small(area: Rect, buffer: &mut Buffer) {
    let text =
        format!("the window is too small: {LEAST_COLUMNS} columns by {LEAST_ROWS} rows at least");
    Paragraph::new(text)
        .wrap(Wrap { trim: true })
        .render(area, buffer);
}

/// What a replay adds in front of the keys that matter.
fn replay_hints(playback: Playback) -> Vec<Hint> {
    let hint = |actions: &'static [Action], word: &str| Hint {
        actions,
        word: word.to_owned(),
    };
    let pause = if playback.is_paused { "go on" } else { "pause" };
    vec![
        hint(&[Action::Replay(Replay::Pause)], pause),
        hint(
            &[Action::Replay(Replay::Back), Action::Replay(Replay::On)],
            "10 s",
        ),
        hint(
            &[
                Action::Replay(Replay::PreviousMark),
                Action::Replay(Replay::NextMark),
            ],
            "marks",
        ),
        hint(
            &[
                Action::Replay(Replay::Slower),
                Action::Replay(Replay::Faster),
            ],
            "speed",
        ),
    ]
}

/// The keys that matter now, as many as there is room for. The last two are always shown, and
/// those that the table has no key for never.
pub(super) struct Footer<'a> {
    pub(super) table: &'a [Binding],
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
            .filter(|(keys, _)| !keys.trim().is_empty())
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
/// What is said while less is done than could be, as the machine cannot keep up.
fn busy(effort: Effort) -> Option<String> {
    let milliseconds = HOP.get() * 1000.0 * f64::from(effort.stride());
    let voices = match effort {
        Effort::Full => return None,
        Effort::Half | Effort::Quarter => String::new(),
        Effort::FourVoices | Effort::TwoVoices => {
            format!(", {} voices at most", effort.voices())
        }
    };
    Some(format!(
        " busy: a reading every {milliseconds:.0} ms{voices}; close other programs "
    ))
}
