//! The drift view: how the pitch of everyone moves over the rehearsal.
//!
//! ```text
//!  A 415.0 Hz  sixth-comma E♭–G♯  trumpets in D (8 = D5)
//!  listening to stage box, 8 channels, 48 kHz
//!    ▄   █▀▀   everyone +6 since 19:40
//!   ▀█▀  █▀█   Dulcian −4 against the others since 24:10
//!        ▀▀▀
//!  □ tempered: A 416.4 Hz  +6 since the start  +6 from A 415.0
//!  ◇ trumpets' series: A 415.7 Hz  +3 since the start  +3 from A 415.0
//!  cents                 □ tempered together  ◇ trumpets' series  ● Dulcian
//!  +10│            •   □⠒⠒⠒⠒⠒⠒□⠒⠒⠒⠒⠒⠒
//!     │       □⠒⠒⠒⠒⠒⠒
//!   ±0│□⠒⠒⠒⠒⠒⠒   ◇⠒⠒⠒⠒◇⠒⠒⠒⠒◇
//!     └─────────────────────────────────
//!      0:00       10:00      20:00
//! ```

mod plot;
mod words;

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::Line;
use ratatui::widgets::{Paragraph, Widget, Wrap};

use super::digits;
use super::frame::{Framed, Hint, Status};
use super::keymap::{self, Action, Shown};
use super::layout;
use super::text::Precision;
use super::theme::Theme;
use crate::rehearsal::{Channel, Drift, Family, Finding, Rehearsal, TrueSeries};
use crate::tuning::Tuning;
use crate::units::{Celsius, Seconds};
use plot::Plot;

/// The shorter stretch.
const LAST: Seconds = Seconds::new(600.0);

/// Fewer rows than these leave room for one sentence and one row of numbers only.
const FEW_ROWS: u16 = 12;

/// From so many rows on the first sentence has its number in block figures.
const FIGURE_ROWS: u16 = 17;

/// What of the rehearsal is shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Stretch {
    Whole,
    Last,
}

/// What the view remembers.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct DriftView {
    /// The selected player, by the place among the chronicle's players.
    selected: usize,
    stretch: Stretch,
    precision: Precision,
}

impl DriftView {
    /// The whole rehearsal, with the first player selected.
    pub(super) fn new() -> Self {
        Self {
            selected: 0,
            stretch: Stretch::Whole,
            precision: Precision::Whole,
        }
    }

    /// Carries out what a key asked for. What is not of this view is passed over.
    pub(super) fn update(&mut self, action: Action, rehearsal: &Rehearsal) {
        match action {
            Action::SelectPrevious => self.select(-1, rehearsal),
            Action::SelectNext => self.select(1, rehearsal),
            Action::Stretch => {
                self.stretch = match self.stretch {
                    Stretch::Whole => Stretch::Last,
                    Stretch::Last => Stretch::Whole,
                };
            }
            Action::Decimals => self.precision = self.precision.toggled(),
            Action::NextTemperament
            | Action::PreviousTemperament
            | Action::RaiseStandard
            | Action::LowerStandard
            | Action::PageUp
            | Action::PageDown
            | Action::Hide
            | Action::ShowAll
            | Action::Fold
            | Action::Colours
            | Action::Freeze
            | Action::Hold
            | Action::Recall(_)
            | Action::NextHeld
            | Action::Release
            | Action::Show(_)
            | Action::Far
            | Action::Sort
            | Action::Open
            | Action::Page
            | Action::Agree
            | Action::Choose(_)
            | Action::MeetLower
            | Action::MeetHigher
            | Action::TakeBack
            | Action::Remark
            | Action::Accept
            | Action::Mark
            | Action::MarkInWords
            | Action::Warmth
            | Action::Adopt
            | Action::Replay(_)
            | Action::Practise(_)
            | Action::Planned(_)
            | Action::Go(_)
            | Action::Caution
            | Action::Help
            | Action::Close
            | Action::Suspend
            | Action::Quit => {}
        }
    }

    fn select(&mut self, steps: isize, rehearsal: &Rehearsal) {
        let last = rehearsal.chronicle().players().len().saturating_sub(1);
        let at = self.selected.min(last) as isize + steps;
        self.selected = at.clamp(0, last as isize) as usize;
    }

    /// The channel the selected player is heard on now, if there is one.
    pub(super) fn selected_channel(&self, rehearsal: &Rehearsal) -> Option<usize> {
        let player = rehearsal.chronicle().players().get(self.selected)?;
        let channels = &rehearsal.ensemble().channels;
        channels.iter().position(|other| other.name == player.name)
    }
}

/// The view in its window.
pub(super) struct DriftScreen<'a> {
    pub(super) view: &'a DriftView,
    pub(super) rehearsal: &'a Rehearsal,
    pub(super) status: Status<'a>,
    pub(super) theme: &'a Theme,
}

impl Widget for DriftScreen<'_> {
    fn render(self, area: Rect, buffer: &mut Buffer) {
        let Self {
            view,
            rehearsal,
            status,
            theme,
        } = self;
        let framed = Framed {
            rehearsal,
            status,
            hints: hints(view, &status),
            theme,
        };
        framed.render(area, buffer, |body, buffer| {
            let chronicle = rehearsal.chronicle();
            let nothing = Drift::default();
            let adopt_key = if !rehearsal.is_replay()
                && rehearsal
                    .true_series(view.selected)
                    .is_some_and(TrueSeries::is_sure)
            {
                keymap::label(self.status.keys, Action::Adopt)
            } else {
                String::new()
            };
            DriftPane {
                view,
                drift: rehearsal.drift().unwrap_or(&nothing),
                players: chronicle.players(),
                series: rehearsal.true_series(view.selected),
                adopt_key: &adopt_key,
                temperatures: chronicle.temperatures(),
                first_tuning: chronicle
                    .tunings()
                    .first()
                    .map_or(rehearsal.tuning(), |(_, tuning)| tuning),
                tuning: rehearsal.tuning(),
                ended: chronicle.ended(),
                theme,
            }
            .render(body, buffer);
        });
    }
}

fn hints(view: &DriftView, status: &Status<'_>) -> Vec<Hint> {
    let hint = |actions: &'static [Action], word: &str| Hint {
        actions,
        word: word.to_owned(),
    };
    let mut hints = status.hints();
    let other = match view.stretch {
        Stretch::Whole => "last 10 minutes",
        Stretch::Last => "all",
    };
    hints.push(hint(&[Action::Stretch], other));
    hints.push(hint(&[Action::Show(Shown::Players)], "players"));
    hints.push(hint(&[Action::Show(Shown::Practice)], "practise"));
    let select = &[Action::SelectPrevious, Action::SelectNext];
    hints.push(hint(select, "player"));
    hints.push(hint(&[Action::Adopt], "use its series"));
    hints.push(hint(&[Action::Warmth], "temperature"));
    hints.push(hint(&[Action::Show(Shown::Ledger)], "ledger"));
    hints.push(hint(&[Action::Mark], "mark"));
    hints.push(hint(&[Action::Help], "help"));
    hints.push(hint(&[Action::Quit], "quit"));
    hints
}

/// What the view shows between header and footer.
pub(super) struct DriftPane<'a> {
    pub(super) view: &'a DriftView,
    pub(super) drift: &'a Drift,
    pub(super) players: &'a [Channel],
    /// The true series of the selected player.
    pub(super) series: Option<&'a TrueSeries>,
    /// The key that adopts it; empty where it cannot be.
    pub(super) adopt_key: &'a str,
    pub(super) temperatures: &'a [(Seconds, Celsius)],
    /// What was measured against at the beginning: where cents are counted from.
    pub(super) first_tuning: &'a Tuning,
    /// What is measured against now.
    pub(super) tuning: &'a Tuning,
    /// The last moment of the rehearsal.
    pub(super) ended: Seconds,
    pub(super) theme: &'a Theme,
}

impl Widget for DriftPane<'_> {
    fn render(self, area: Rect, buffer: &mut Buffer) {
        let area = area.intersection(buffer.area);
        if area.width < 20 || area.height < 5 {
            return;
        }
        if self.is_empty() {
            self.nothing(area, buffer);
            return;
        }
        let below = self.say(area, buffer);
        let below = lines(
            self.numbers(area.width, rows_of_numbers(area)),
            below,
            buffer,
        );
        let below = lines(self.selected_series(area), below, buffer);
        Plot::new(&self).render(below, buffer);
    }
}

/// Rows for the numbers, at the most.
fn rows_of_numbers(area: Rect) -> usize {
    if area.height < FEW_ROWS { 1 } else { 3 }
}

/// Draws lines from the top, and returns what is left below them.
fn lines(lines: Vec<Line<'_>>, area: Rect, buffer: &mut Buffer) -> Rect {
    let mut left = area;
    for line in lines {
        if left.height == 0 {
            break;
        }
        line.render(Rect { height: 1, ..left }, buffer);
        left.y += 1;
        left.height -= 1;
    }
    left
}

impl DriftPane<'_> {
    fn is_empty(&self) -> bool {
        let drift = self.drift;
        let players = drift.players.iter().map(|(_, line)| line);
        let mut all = players.chain([&drift.ensemble, &drift.series]);
        all.all(|line| line.points.is_empty())
    }

    fn nothing(&self, area: Rect, buffer: &mut Buffer) {
        let middle = Rect {
            x: area.x + 1,
            y: area.y + area.height / 2 - 1,
            width: area.width - 2,
            height: 3,
        };
        Paragraph::new(words::NOTHING)
            .wrap(Wrap { trim: true })
            .style(self.theme.text)
            .render(middle.intersection(area), buffer);
    }

    /// The sentences, the first number in block figures where there is room; returns what is
    /// left below.
    fn say(&self, area: Rect, buffer: &mut Buffer) -> Rect {
        let said = words::findings(self);
        let figure = match self.drift.findings.first() {
            Some(
                Finding::Everyone { cents, .. }
                | Finding::One { cents, .. }
                | Finding::Series { cents, .. },
            ) if area.height >= FIGURE_ROWS => Some(cents.to_string()),
            _ => None,
        };
        let Some(figure) = figure else {
            let most = if area.height < FEW_ROWS { 1 } else { 3 };
            return lines(said.into_iter().take(most).collect(), area, buffer);
        };
        let scale = layout::wanted_scale(area.height + 3);
        let style = match self.drift.findings.first() {
            Some(Finding::Series { .. }) => self.theme.nature,
            Some(Finding::Everyone { .. }) => self.theme.tempered,
            _ => self.theme.player,
        };
        let at = (area.x + 1, area.y);
        digits::draw(&figure, at, scale, style, area, buffer);
        let left = 1 + digits::width(&figure, scale) + 2;
        let rows = digits::height(scale);
        let beside = Rect {
            x: area.x + left,
            y: area.y + (rows - 3) / 2,
            width: area.width.saturating_sub(left),
            height: 3,
        };
        lines(said.into_iter().take(3).collect(), beside, buffer);
        Rect {
            y: area.y + rows,
            height: area.height - rows,
            ..area
        }
    }

    /// The selected player, if the chronicle knows one.
    fn selected(&self) -> Option<&Channel> {
        self.players.get(self.view.selected)
    }

    fn selected_series(&self, area: Rect) -> Vec<Line<'static>> {
        let is_trumpet = self
            .selected()
            .is_some_and(|player| player.instrument.family == Family::Trumpets);
        if !is_trumpet {
            return Vec::new();
        }
        let most = if area.height < FEW_ROWS { 1 } else { 2 };
        let mut lines = words::series(self, area.width);
        lines.truncate(most);
        lines
    }

    fn numbers(&self, width: u16, rows: usize) -> Vec<Line<'static>> {
        words::numbers(self, width, rows)
    }
}
