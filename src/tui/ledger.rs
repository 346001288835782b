//! The ledger view: note by note, where each family stood.
//!
//! ```text
//!  A 415.0 Hz  sixth-comma E♭–G♯  trumpets in D (8 = D5)
//!  listening to stage box, 8 channels, 48 kHz
//!  farthest apart first      cents from the tempered place □, median ±spread
//!  note  ◇ ◇−□   trumpets   strings     winds  apart  together  notes  agreed
//! ▸G♯   11 −39    −38 ±3     −2 ±4     +1 ±3     39      3:40     41  ◆ □ tempered
//!    Trumpet I    p11   ◇ +1 ±3    □ −38 ±3   12 notes  1:10  −0.4 a minute
//!  B    13 +55    +52 ±4     +3 ±5               49      1:02     17
//! ```

mod columns;
mod rows;

use ratatui::buffer::Buffer;
use ratatui::layout::{Rect, Size};
use ratatui::widgets::{Paragraph, Widget, Wrap};

use super::frame::{Framed, Hint, Status};
use super::keymap::{Action, Shown};
use super::layout::Layout;
use super::text::Precision;
use super::theme::Theme;
use crate::rehearsal::{Channel, Decision, Ledger, LedgerRow, Meeting, Rehearsal};
use crate::units::{Cents, NoteName};
use columns::Columns;

/// Rows above the table: what it is, and what its columns are.
const HEADING_ROWS: u16 = 2;

/// While there is nothing to show.
const NOTHING: &str = "nothing held yet: a note stands here once somebody has held it";

/// The order of the rows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Sort {
    Apart,
    Fifths,
    Together,
    Decided,
}

impl Sort {
    fn next(self) -> Self {
        match self {
            Self::Apart => Self::Fifths,
            Self::Fifths => Self::Together,
            Self::Together => Self::Decided,
            Self::Decided => Self::Apart,
        }
    }

    fn words(self) -> &'static str {
        match self {
            Self::Apart => "farthest apart first",
            Self::Fifths => "by the chain of fifths",
            Self::Together => "longest together first",
            Self::Decided => "those agreed on first",
        }
    }

    /// The meetings in this order. The ledger has those farthest apart first, and so has each
    /// order among equals.
    fn sorted(self, ledger: &Ledger) -> Vec<&Meeting> {
        let mut meetings: Vec<&Meeting> = ledger.meetings.iter().collect();
        match self {
            Self::Apart => {}
            Self::Fifths => meetings.sort_by_key(|meeting| meeting.note.fifths()),
            Self::Together => {
                meetings.sort_by(|a, b| b.together.get().total_cmp(&a.together.get()));
            }
            Self::Decided => meetings.sort_by_key(|meeting| !is_decided(meeting)),
        }
        meetings
    }
}

fn is_decided(meeting: &Meeting) -> bool {
    let decision = meeting.decision.as_ref();
    decision.is_some_and(|decision| decision.resolution.is_some())
}

/// What the view remembers.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct LedgerView {
    /// The selected note: rows change places as the rehearsal goes on.
    selected: Option<NoteName>,
    sort: Sort,
    is_open: bool,
    precision: Precision,
}

impl LedgerView {
    /// Those farthest apart first.
    pub(super) fn new() -> Self {
        Self {
            selected: None,
            sort: Sort::Apart,
            is_open: false,
            precision: Precision::Whole,
        }
    }

    /// Carries out what a key asked for, in a window of `size`. What is not of this view is
    /// passed over.
    pub(super) fn update(&mut self, action: Action, ledger: &Ledger, size: Size) {
        let page = isize::try_from(page(size)).unwrap_or(1);
        match action {
            Action::SelectPrevious => self.select(-1, ledger),
            Action::SelectNext => self.select(1, ledger),
            Action::PageUp => self.select(-page, ledger),
            Action::PageDown => self.select(page, ledger),
            Action::Open => self.is_open = !self.is_open,
            Action::Sort => self.sort = self.sort.next(),
            Action::Decimals => self.precision = self.precision.toggled(),
            Action::NextTemperament
            | Action::PreviousTemperament
            | Action::RaiseStandard
            | Action::LowerStandard
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
            | Action::Stretch
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

    fn select(&mut self, steps: isize, ledger: &Ledger) {
        let meetings = self.sort.sorted(ledger);
        let last = meetings.len().saturating_sub(1) as isize;
        let at = self.position(&meetings) as isize;
        let next = at.saturating_add(steps).clamp(0, last) as usize;
        self.selected = meetings.get(next).map(|meeting| meeting.note);
    }

    /// Where the selected note stands; the first row while it is not there.
    fn position(&self, meetings: &[&Meeting]) -> usize {
        let selected = meetings.iter().position(|m| Some(m.note) == self.selected);
        selected.unwrap_or(0)
    }

    /// The selected meeting.
    pub(super) fn selected<'a>(&self, ledger: &'a Ledger) -> Option<&'a Meeting> {
        let meetings = self.sort.sorted(ledger);
        meetings.get(self.position(&meetings)).copied()
    }
}

/// Rows of the table in a window.
fn page(size: Size) -> usize {
    let area = Rect::new(0, 0, size.width, size.height);
    Layout::new(area, 1).map_or(1, |layout| {
        usize::from(layout.body.height.saturating_sub(HEADING_ROWS)).max(1)
    })
}

/// The view in its window.
pub(super) struct LedgerScreen<'a> {
    pub(super) view: &'a LedgerView,
    pub(super) rehearsal: &'a Rehearsal,
    pub(super) status: Status<'a>,
    pub(super) theme: &'a Theme,
}

impl Widget for LedgerScreen<'_> {
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
            let players = rehearsal.chronicle().players();
            LedgerPane {
                view,
                ledger: rehearsal.ledger(),
                players,
                everyone: rehearsal.drift().and_then(|drift| drift.everyone(players)),
                theme,
            }
            .render(body, buffer);
        });
    }
}

fn hints(view: &LedgerView, status: &Status<'_>) -> Vec<Hint> {
    let hint = |actions: &'static [Action], word: &str| Hint {
        actions,
        word: word.to_owned(),
    };
    let mut hints = status.hints();
    hints.push(hint(&[Action::Agree], "agree"));
    hints.push(hint(&[Action::Show(Shown::Players)], "players"));
    hints.push(hint(&[Action::Show(Shown::Practice)], "practise"));
    let open = if view.is_open {
        "close"
    } else {
        "player by player"
    };
    hints.push(hint(&[Action::Open], open));
    hints.push(hint(&[Action::Page], "page to take home"));
    hints.push(hint(&[Action::Sort], "sort"));
    let select = &[Action::SelectPrevious, Action::SelectNext];
    hints.push(hint(select, "note"));
    hints.push(hint(&[Action::Show(Shown::Drift)], "drift"));
    hints.push(hint(&[Action::Mark], "mark"));
    hints.push(hint(&[Action::Help], "help"));
    hints.push(hint(&[Action::Quit], "quit"));
    hints
}

/// What the view shows between header and footer.
pub(super) struct LedgerPane<'a> {
    pub(super) view: &'a LedgerView,
    pub(super) ledger: &'a Ledger,
    pub(super) players: &'a [Channel],
    /// Where all tempered players stood in the middle: it is in every number.
    pub(super) everyone: Option<Cents>,
    pub(super) theme: &'a Theme,
}

impl Widget for LedgerPane<'_> {
    fn render(self, area: Rect, buffer: &mut Buffer) {
        let area = area.intersection(buffer.area);
        if area.width < 20 || area.height <= HEADING_ROWS {
            return;
        }
        if self.ledger.meetings.is_empty() {
            let middle = Rect {
                x: area.x + 1,
                y: area.y + area.height / 2,
                width: area.width - 2,
                height: 2,
            };
            Paragraph::new(NOTHING)
                .wrap(Wrap { trim: true })
                .style(self.theme.text)
                .render(middle.intersection(area), buffer);
            return;
        }
        let columns = Columns::new(area.width, self.ledger, self.view.precision);
        let meetings = self.view.sort.sorted(self.ledger);
        let selected = self.view.position(&meetings);
        let heading = Rect {
            height: HEADING_ROWS,
            ..area
        };
        let below = Rect {
            y: area.y + HEADING_ROWS,
            height: area.height - HEADING_ROWS,
            ..area
        };
        let open = meetings.get(selected).filter(|_| self.view.is_open);
        let details = open.map_or_else(Vec::new, |meeting| self.details(meeting));
        let rows = usize::from(below.height);
        let first = first(selected, details.len(), rows, meetings.len());
        self.headings(&columns, (first, meetings.len()), heading, buffer);

        let mut y = below.y;
        for (position, meeting) in meetings.iter().enumerate().skip(first) {
            if y >= below.bottom() {
                break;
            }
            let row = Rect {
                y,
                height: 1,
                ..below
            };
            self.meeting(meeting, position == selected, &columns, row, buffer);
            y += 1;
            if position != selected {
                continue;
            }
            for (shown, detail) in details.iter().enumerate() {
                let left = usize::from(below.bottom().saturating_sub(y));
                if left == 0 {
                    break;
                }
                let row = Rect {
                    y,
                    height: 1,
                    ..below
                };
                let missing = details.len() - shown;
                if left == 1 && missing > 1 {
                    self.missing(missing, row, buffer);
                } else {
                    match detail {
                        Detail::Decision(decision) => self.decision(decision, row, buffer),
                        Detail::Player(player) => self.detail(player, row, buffer),
                    }
                }
                y += 1;
            }
        }
    }
}

/// What stands below an open row.
enum Detail<'a> {
    Decision(&'a Decision),
    Player(&'a LedgerRow),
}

impl LedgerPane<'_> {
    fn details<'a>(&'a self, meeting: &'a Meeting) -> Vec<Detail<'a>> {
        let decision = meeting.decision.iter().filter(|_| is_decided(meeting));
        let players = meeting
            .rows
            .iter()
            .filter_map(|row| self.ledger.rows.get(*row));
        let decision = decision.map(Detail::Decision);
        decision.chain(players.map(Detail::Player)).collect()
    }
}

/// The first row shown: whole pages, so that rows stand still while the selection moves within
/// one; and farther down where the selected row's details need it.
fn first(selected: usize, details: usize, rows: usize, count: usize) -> usize {
    let page = (selected / rows * rows).min((count + details).saturating_sub(rows));
    // The selected row stays in sight, with as many of its details as find room below it.
    (selected + 1 + details)
        .saturating_sub(rows)
        .max(page.min(selected))
        .min(selected)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn the_selected_row_is_always_in_sight(
            pick in 0.0..1.0, count in 1_usize..40, details in 0_usize..20, rows in 1_usize..50,
        ) {
            let selected = (pick * count as f64) as usize;
            let first = first(selected, details, rows, count);
            prop_assert!(first <= selected && selected < first + rows);
            let end = selected + 1 + details;
            prop_assert!(end <= first + rows || first == selected, "all of it, or from the top");
        }
    }
}
