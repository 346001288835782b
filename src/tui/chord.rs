//! The chord view: the trumpets' voices on the ladder of their series, the tempered notes and
//! the held chord beside them, and everyone else beside the voice they belong to.
//!
//! ```text
//!  A 415.0 Hz  sixth-comma E♭–G♯  trumpets in D (8 = D5)
//!  held as 2: p8 p10 p12
//!  ◎ 2 held 0:42 ago: p8 ±0  p10 −3  p12 +4   widest 6/5 +7   kept 1 2
//!  sounding: 3 cents from pure in the mean; would help most: Viola 9 lower
//!  in D     −48      cents      +48                   ◇    □    ◎
//!  13 B♭5   □············◇···········                     +34
//!  12 A5    ··········□··◇·◎●·······  Trumpet I      +5   +1   +1 steady ±1
//!                        ┆ ◎━━○       Violin I       +9   +6   +4 1/2 ▅2.9 lower
//!  11 G♯5   ·············◇········□·
//!  space freeze   Enter hold   n next   0 release   c players   Tab large   ? help   q quit
//! ```

mod sentences;

use ratatui::buffer::Buffer;
use ratatui::layout::{Rect, Size};
use ratatui::widgets::Widget;

use super::far::{self, Far};
use super::frame::{self, Footer, Header, Hint, Status};
use super::keymap::{Action, Shown};
use super::ladder::{self, Ladder};
use super::layout::Layout;
use super::text::Precision;
use super::theme::Theme;
use crate::rehearsal::Rehearsal;

/// Hertz by which one key press moves the pitch standard.
const STANDARD_STEP_HZ: f64 = 0.5;

/// From this height on the intervals of the held chord have a sentence of their own.
const TALL: u16 = 30;

/// Below this height the rows are needed for the ladder.
const LOW: u16 = 16;

/// What the view remembers.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct ChordView {
    precision: Precision,
    is_far: bool,
    /// Entries of the far form, or rows of the ladder, scrolled away.
    scrolled: usize,
}

impl ChordView {
    /// The ladder in whole cents.
    pub(super) fn new() -> Self {
        Self {
            precision: Precision::Whole,
            is_far: false,
            scrolled: 0,
        }
    }

    /// Carries out what a key asked for. What is not of this view is passed over.
    pub(super) fn update(&mut self, action: Action, rehearsal: &mut Rehearsal, size: Size) {
        match action {
            Action::NextTemperament => rehearsal.step_temperament(1),
            Action::PreviousTemperament => rehearsal.step_temperament(-1),
            Action::RaiseStandard => rehearsal.shift_standard(STANDARD_STEP_HZ),
            Action::LowerStandard => rehearsal.shift_standard(-STANDARD_STEP_HZ),
            Action::Freeze => rehearsal.toggle_freeze(),
            Action::Decimals => self.precision = self.precision.toggled(),
            Action::Far => {
                self.is_far = !self.is_far;
                self.scrolled = 0;
            }
            Action::SelectPrevious => {
                let shown = self.scrolled.min(self.n_hidden(rehearsal, size));
                self.scrolled = shown.saturating_sub(1);
            }
            Action::SelectNext => {
                let last = self.n_hidden(rehearsal, size);
                self.scrolled = (self.scrolled + 1).min(last);
            }
            Action::PageUp
            | Action::PageDown
            | Action::Hide
            | Action::ShowAll
            | Action::Fold
            | Action::Colours
            | Action::Hold
            | Action::Recall(_)
            | Action::NextHeld
            | Action::Release
            | Action::Show(_)
            | Action::Stretch
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

    /// Rows of the ladder, or entries of the far form, for which a window of this size has no
    /// room.
    fn n_hidden(&self, rehearsal: &Rehearsal, size: Size) -> usize {
        let area = Rect::new(0, 0, size.width, size.height);
        let Some(layout) = Layout::new(area, 1) else {
            return 0;
        };
        let below = self.below(rehearsal, area, layout.body);
        if self.is_far {
            far::n_hidden(rehearsal, below)
        } else {
            ladder::n_hidden(rehearsal, below)
        }
    }

    /// What is left of `body` below the sentences.
    fn below(&self, rehearsal: &Rehearsal, area: Rect, body: Rect) -> Rect {
        let has_intervals = has_intervals(area) && rehearsal.held_purity().is_some();
        let n_sentences = 1 + u16::from(has_intervals) + u16::from(self.has_sounding(area));
        Rect {
            y: body.y + n_sentences,
            height: body.height - n_sentences,
            ..body
        }
    }

    /// Whether there is room for what sounds.
    fn has_sounding(&self, area: Rect) -> bool {
        area.height >= TALL || (!self.is_far && area.height >= LOW)
    }
}

/// Whether there is room for the held chord's intervals.
fn has_intervals(area: Rect) -> bool {
    area.height >= TALL
}

/// The view, ready to be drawn.
pub(super) struct Chord<'a> {
    pub(super) view: &'a ChordView,
    pub(super) rehearsal: &'a Rehearsal,
    pub(super) status: Status<'a>,
    pub(super) theme: &'a Theme,
}

impl Widget for Chord<'_> {
    fn render(self, area: Rect, buffer: &mut Buffer) {
        let Some(layout) = Layout::new(area, 1) else {
            frame::too_small(area, buffer);
            return;
        };
        let (rehearsal, theme) = (self.rehearsal, self.theme);
        Header {
            rehearsal,
            status: self.status,
            theme,
        }
        .render(layout.header, buffer);
        let body = layout.body;
        let mut sentences = vec![self.held(body.width)];
        if has_intervals(area) {
            sentences.extend(self.intervals());
        }
        if self.view.has_sounding(area) {
            sentences.push(self.sounding());
        }
        for (row, line) in sentences.into_iter().enumerate() {
            let area = Rect {
                y: body.y + row as u16,
                height: 1,
                ..body
            };
            line.render(area, buffer);
        }
        let below = self.view.below(rehearsal, area, body);
        if self.view.is_far {
            Far {
                rehearsal,
                first: self.view.scrolled,
                theme,
            }
            .render(below, buffer);
        } else {
            Ladder {
                rehearsal,
                precision: self.view.precision,
                scrolled: self.view.scrolled,
                theme,
            }
            .render(below, buffer);
        }
        Footer {
            table: self.status.keys,
            hints: self.hints(),
            theme,
        }
        .render(layout.footer, buffer);
    }
}

impl Chord<'_> {
    fn hints(&self) -> Vec<Hint> {
        let hint = |actions: &'static [Action], word: &str| Hint {
            actions,
            word: word.to_owned(),
        };
        let kept = self.rehearsal.shelf();
        let is_frozen = self.rehearsal.frozen_for().is_some();
        let mut hints = self.status.hints();
        hints.push(hint(&[Action::Hold], "hold chord"));
        hints.push(hint(&[Action::Show(Shown::Players)], "players"));
        if kept.chords().count() > 1 {
            hints.push(hint(&[Action::NextHeld], "next"));
        }
        if kept.current().is_some() {
            hints.push(hint(&[Action::Release], "release"));
        }
        let form = if self.view.is_far { "ladder" } else { "large" };
        hints.push(hint(&[Action::Far], form));
        hints.push(hint(
            &[Action::Freeze],
            if is_frozen { "go on" } else { "freeze" },
        ));
        hints.push(hint(&[Action::NextTemperament], "temperament"));
        hints.push(hint(&[Action::Help], "help"));
        hints.push(hint(&[Action::Quit], "quit"));
        hints
    }
}
