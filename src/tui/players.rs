//! The players view: everyone at once, the selected one large where there is room.
//!
//! ```text
//!  A 415.0 Hz  sixth-comma E♭–G♯  trumpets in D (8 = D5)
//!  listening to stage box, 8 channels, 48 kHz
//! ▸Trumpet I ▅     ◇ partial 11       □ tempered G♯        steady ±2    the selected one
//!  block figures, axis across the window, wake
//!             note  ◇ partial  □ tempered  −48      cents      +48      everyone
//! ▸Trumpet I ▅ G♯5  11  −2     G♯  −41     ·····◇●┄·····□·····  steady ±2
//!  Violin I  ▃ B5   13 +21     B   −34     ··◇···●┄┄···□······  rising
//!  space freeze   Enter hold chord   c chord   t temperament   + − pitch   ? help   q quit
//! ```

use ratatui::buffer::Buffer;
use ratatui::layout::{Rect, Size};
use ratatui::widgets::Widget;

use super::frame::{self, Footer, Header, Hint, Status};
use super::keymap::{self, Action, Shown};
use super::layout::{Arrangement, Beside, Columns, Layout};
use super::portrait::Portrait;
use super::strip::{Heading, Strip};
use super::text::Precision;
use super::theme::Theme;
use crate::rehearsal::{Agreed, Part, Rehearsal};
use crate::tuning::Placement;

/// Hertz by which one key press moves the pitch standard.
const STANDARD_STEP_HZ: f64 = 0.5;

/// What the view remembers: the cursor, the precision, and which notes it showed last.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct PlayersView {
    /// The selected channel, by its place in the ensemble.
    selected: usize,
    precision: Precision,
    /// For each channel the places of its last note, for decisions on a note that has just
    /// ended.
    heard: Vec<Option<Placement>>,
    /// The channel that sounded last of all.
    latest: Option<usize>,
    /// The tuning those places belong to, by its number.
    revision: u64,
}

impl PlayersView {
    /// A view on the first player in whole cents.
    pub(super) fn new() -> Self {
        Self {
            selected: 0,
            precision: Precision::Whole,
            heard: Vec::new(),
            latest: None,
            revision: 0,
        }
    }

    /// Carries out what a key asked for, in a window of `size`. What is not of this view is
    /// passed over.
    pub(super) fn update(&mut self, action: Action, rehearsal: &mut Rehearsal, size: Size) {
        match action {
            Action::NextTemperament => rehearsal.step_temperament(1),
            Action::PreviousTemperament => rehearsal.step_temperament(-1),
            Action::RaiseStandard => rehearsal.shift_standard(STANDARD_STEP_HZ),
            Action::LowerStandard => rehearsal.shift_standard(-STANDARD_STEP_HZ),
            Action::SelectPrevious => self.select(-1, rehearsal),
            Action::SelectNext => self.select(1, rehearsal),
            Action::PageUp => self.select(-page(rehearsal, size), rehearsal),
            Action::PageDown => self.select(page(rehearsal, size), rehearsal),
            Action::Hide => {
                if let Some(index) = self.selected_index(rehearsal) {
                    rehearsal.set_visible(index, false);
                    // Stays where it was, on whoever has moved up.
                    self.selected = self.selected_index(rehearsal).unwrap_or(0);
                }
            }
            Action::ShowAll => rehearsal.show_all(),
            Action::Freeze => rehearsal.toggle_freeze(),
            Action::Decimals => self.precision = self.precision.toggled(),
            Action::Hold
            | Action::Recall(_)
            | Action::NextHeld
            | Action::Release
            | Action::Show(_)
            | Action::Far
            | Action::Stretch
            | Action::Sort
            | Action::Open
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
            | Action::Caution
            | Action::Help
            | Action::Close
            | Action::Suspend
            | Action::Quit => {}
        }
    }

    fn select(&mut self, steps: isize, rehearsal: &Rehearsal) {
        let shown: Vec<usize> = rehearsal.parts().map(|part| part.index).collect();
        let position = position(&shown, self.selected) as isize;
        let last = shown.len().saturating_sub(1) as isize;
        let next = position.saturating_add(steps).clamp(0, last) as usize;
        self.selected = shown.get(next).copied().unwrap_or(0);
    }

    /// Keeps in mind which notes the picture shows.
    pub(super) fn observe(&mut self, rehearsal: &Rehearsal) {
        let revision = rehearsal.sought_revision();
        let count = rehearsal.ensemble().channels.len();
        if revision != self.revision || self.heard.len() != count {
            self.revision = revision;
            self.heard = vec![None; count];
            self.latest = None;
        }
        for part in rehearsal.parts() {
            if let (Some(sounding), Some(heard)) =
                (part.state.sounding(), self.heard.get_mut(part.index))
            {
                *heard = Some(sounding.places());
                self.latest = Some(part.index);
            }
        }
    }

    /// The places of the note at hand: what the selected player sounds or sounded last, or
    /// else what sounded last at all.
    pub(super) fn at_hand(&mut self, rehearsal: &Rehearsal) -> Option<Placement> {
        self.observe(rehearsal);
        let of = |index: usize| self.heard.get(index).copied().flatten();
        let selected = self.selected_index(rehearsal);
        selected.and_then(of).or_else(|| self.latest.and_then(of))
    }

    /// The selected channel, or whoever stands in its place while it is hidden.
    pub(super) fn selected_index(&self, rehearsal: &Rehearsal) -> Option<usize> {
        let shown: Vec<usize> = rehearsal.parts().map(|part| part.index).collect();
        shown.get(position(&shown, self.selected)).copied()
    }
}

fn page(rehearsal: &Rehearsal, size: Size) -> isize {
    let area = Rect::new(0, 0, size.width, size.height);
    Layout::new(area, rehearsal.parts().count()).map_or(1, |layout| layout.page() as isize)
}

/// Where `selected` stands among the channels shown, or whoever comes after it.
fn position(shown: &[usize], selected: usize) -> usize {
    shown
        .iter()
        .position(|index| *index >= selected)
        .unwrap_or(shown.len().saturating_sub(1))
}

/// The view, ready to be drawn.
pub(super) struct Players<'a> {
    pub(super) view: &'a PlayersView,
    pub(super) rehearsal: &'a Rehearsal,
    pub(super) status: Status<'a>,
    pub(super) theme: &'a Theme,
}

impl Widget for Players<'_> {
    fn render(self, area: Rect, buffer: &mut Buffer) {
        let parts: Vec<Part<'_>> = self.rehearsal.parts().collect();
        let Some(layout) = Layout::new(area, parts.len()) else {
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
        if parts.is_empty() {
            self.nobody(layout.body, buffer);
        } else {
            self.everyone(&parts, &layout, buffer);
        }
        Footer {
            table: self.status.keys,
            hints: self.hints(parts.len()),
            theme,
        }
        .render(layout.footer, buffer);
    }
}

impl Players<'_> {
    fn nobody(&self, body: Rect, buffer: &mut Buffer) {
        let text = if self.rehearsal.n_hidden() > 0 {
            format!(
                "every player is hidden: '{}' shows all",
                keymap::label(self.status.keys, Action::ShowAll)
            )
        } else {
            "nobody plays: give an ensemble file with channels".to_owned()
        };
        let middle = body.y + body.height / 2;
        buffer.set_stringn(body.x + 1, middle, text, body.width.into(), self.theme.text);
    }

    fn everyone(&self, parts: &[Part<'_>], layout: &Layout, buffer: &mut Buffer) {
        let selected = {
            let shown: Vec<usize> = parts.iter().map(|part| part.index).collect();
            position(&shown, self.view.selected)
        };
        let first = layout.first(selected, parts.len());
        let portrait = |position: usize, scale: u16| Portrait {
            part: parts[position],
            agreed: self.agreed(&parts[position]),
            scale,
            precision: self.view.precision,
            is_selected: position == selected,
            theme: self.theme,
        };
        let body = layout.body;
        match layout.arrangement {
            Arrangement::Portraits { rows, scale } => {
                for (row, position) in (first..parts.len()).take(layout.page()).enumerate() {
                    let y = body.y + row as u16 * rows;
                    let area = Rect {
                        y,
                        height: rows,
                        ..body
                    };
                    portrait(position, scale).render(area, buffer);
                }
            }
            Arrangement::Spotlight {
                rows,
                scale,
                strip_rows,
            } => {
                let (above, below) = split(body, rows);
                portrait(selected, scale).render(above, buffer);
                self.strips(
                    parts,
                    (first, selected),
                    (layout, strip_rows),
                    below,
                    buffer,
                );
            }
            Arrangement::Strips { strip_rows } => {
                self.strips(parts, (first, selected), (layout, strip_rows), body, buffer);
            }
        }
    }

    /// What is agreed on the note a part sounds.
    fn agreed(&self, part: &Part<'_>) -> Option<Agreed<'_>> {
        let places = part.state.sounding()?.places();
        self.rehearsal.agreed(part.channel, &places)
    }

    fn strips(
        &self,
        parts: &[Part<'_>],
        (first, selected): (usize, usize),
        (layout, strip_rows): (&Layout, u16),
        area: Rect,
        buffer: &mut Buffer,
    ) {
        let longest = parts.iter().map(|p| p.channel.name.chars().count()).max();
        let beside = Beside {
            agrees: !self.rehearsal.chronicle().agreements().is_empty(),
            holds: self.rehearsal.shelf().current().is_some(),
        };
        let columns = Columns::new(area.width, longest.unwrap_or(0).min(99) as u16, beside);
        let (heading, below) = split(area, 1);
        Heading {
            columns: &columns,
            theme: self.theme,
        }
        .render(heading, buffer);
        let last = (first + layout.page()).min(parts.len());
        if first > 0 || last < parts.len() {
            let text = format!(" {}\u{2013}{last} of {}", first + 1, parts.len());
            let width = columns.note.x.saturating_sub(1).into();
            buffer.set_stringn(heading.x, heading.y, text, width, self.theme.faint);
        }
        for (row, position) in (first..last).enumerate() {
            let strip = Rect {
                y: below.y + row as u16 * strip_rows,
                height: strip_rows,
                ..below
            };
            Strip {
                part: parts[position],
                agreed: self.agreed(&parts[position]),
                columns: &columns,
                precision: self.view.precision,
                is_selected: position == selected,
                theme: self.theme,
            }
            .render(strip, buffer);
        }
    }

    fn hints(&self, n_shown: usize) -> Vec<Hint> {
        let hint = |actions: &'static [Action], word: &str| Hint {
            actions,
            word: word.to_owned(),
        };
        let mut hints = self.status.hints();
        let is_frozen = self.rehearsal.frozen_for().is_some();
        hints.push(hint(
            &[Action::Freeze],
            if is_frozen { "go on" } else { "freeze" },
        ));
        let n_hidden = self.rehearsal.n_hidden();
        if n_hidden > 0 {
            let word = format!("show all ({n_hidden} hidden)");
            hints.push(hint(&[Action::ShowAll], &word));
        }
        hints.push(hint(&[Action::Hold], "hold chord"));
        if self.rehearsal.shelf().current().is_some() {
            hints.push(hint(&[Action::Release], "release"));
        }
        hints.push(hint(&[Action::Show(Shown::Chord)], "chord"));
        hints.push(hint(&[Action::Show(Shown::Drift)], "drift"));
        hints.push(hint(&[Action::Show(Shown::Ledger)], "ledger"));
        hints.push(hint(&[Action::Show(Shown::Plan)], "plan"));
        hints.push(hint(&[Action::Agree], "agree"));
        hints.push(hint(&[Action::NextTemperament], "temperament"));
        hints.push(hint(
            &[Action::RaiseStandard, Action::LowerStandard],
            "pitch",
        ));
        if n_shown > 1 {
            hints.push(hint(
                &[Action::SelectPrevious, Action::SelectNext],
                "player",
            ));
        }
        if n_shown > 0 {
            hints.push(hint(&[Action::Hide], "hide"));
        }
        let precision = match self.view.precision {
            Precision::Whole => "tenths",
            Precision::Tenths => "whole cents",
        };
        hints.push(hint(&[Action::Decimals], precision));
        hints.push(hint(&[Action::Help], "help"));
        hints.push(hint(&[Action::Quit], "quit"));
        hints
    }
}

fn split(area: Rect, rows: u16) -> (Rect, Rect) {
    let rows = rows.min(area.height);
    let above = Rect {
        height: rows,
        ..area
    };
    let below = Rect {
        y: area.y + rows,
        height: area.height - rows,
        ..area
    };
    (above, below)
}
