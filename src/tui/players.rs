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

mod rows;

use ratatui::buffer::Buffer;
use ratatui::layout::{Position, Rect, Size};
use ratatui::widgets::Widget;

use super::frame::{self, Footer, Header, Hint, Status};
use super::keymap::{self, Action, Shown};
use super::layout::{Arrangement, Beside, Columns, Layout};
use super::portrait::{Portrait, Solo};
use super::strip::{Heading, Strip};
use super::text::Precision;
use super::theme::Theme;
use crate::rehearsal::{Agreed, Family, Part, Rehearsal};
use crate::tuning::Placement;
use rows::{GroupLine, Row, position, rows};

/// Hertz by which one key press moves the pitch standard.
const STANDARD_STEP_HZ: f64 = 0.5;

/// What the view remembers: the cursor, the precision, and which notes it showed last.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct PlayersView {
    /// The selected channel, by its place in the ensemble.
    selected: usize,
    precision: Precision,
    /// Whether the selected player alone fills the window.
    is_far: bool,
    /// Families that are shown in one line each.
    folded: Vec<Family>,
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
            is_far: false,
            folded: Vec::new(),
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
            Action::PageUp => self.select(-self.page(rehearsal, size), rehearsal),
            Action::PageDown => self.select(self.page(rehearsal, size), rehearsal),
            Action::Far => self.is_far = !self.is_far,
            Action::Fold => self.fold(rehearsal),
            Action::Hide => {
                let hidden: Vec<usize> = match self.row(rehearsal) {
                    Some(Row::Player(part)) => vec![part.index],
                    Some(Row::Group(_, parts)) => parts.iter().map(|part| part.index).collect(),
                    None => Vec::new(),
                };
                for index in hidden {
                    rehearsal.set_visible(index, false);
                }
                // Stays where it was, on whoever has moved up.
                self.selected = self.selected_index(rehearsal).unwrap_or(0);
            }
            Action::ShowAll => {
                self.folded.clear();
                rehearsal.show_all();
            }
            Action::Freeze => rehearsal.toggle_freeze(),
            Action::Decimals => self.precision = self.precision.toggled(),
            Action::Hold
            | Action::Recall(_)
            | Action::NextHeld
            | Action::Release
            | Action::Show(_)
            | Action::Colours
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

    fn select(&mut self, steps: isize, rehearsal: &Rehearsal) {
        let rows = rows(rehearsal, &self.folded);
        let position = position(&rows, self.selected) as isize;
        let last = rows.len().saturating_sub(1) as isize;
        let next = position.saturating_add(steps).clamp(0, last) as usize;
        self.selected = rows.get(next).map_or(0, Row::index);
    }

    /// The selected row.
    fn row<'a>(&self, rehearsal: &'a Rehearsal) -> Option<Row<'a>> {
        let mut rows = rows(rehearsal, &self.folded);
        let position = position(&rows, self.selected);
        (position < rows.len()).then(|| rows.swap_remove(position))
    }

    /// Folds the selected player's group, or unfolds it.
    fn fold(&mut self, rehearsal: &Rehearsal) {
        match self.row(rehearsal) {
            Some(Row::Player(part)) => self.folded.push(part.channel.instrument.family),
            Some(Row::Group(family, _)) => self.folded.retain(|folded| *folded != family),
            None => {}
        }
    }

    fn layout(&self, area: Rect, rows: &[Row<'_>]) -> Option<Layout> {
        let n_groups = rows
            .iter()
            .filter(|row| matches!(row, Row::Group(..)))
            .count();
        let n_lines = if self.is_far { 0 } else { n_groups };
        Layout::above(area, rows.len() - n_groups, n_lines)
    }

    fn page(&self, rehearsal: &Rehearsal, size: Size) -> isize {
        let area = Rect::new(0, 0, size.width, size.height);
        let rows = rows(rehearsal, &self.folded);
        self.layout(area, &rows)
            .map_or(1, |layout| layout.page() as isize)
    }

    /// Selects whoever is shown at a place of a window of `size`, if anybody is.
    pub(super) fn point(&mut self, at: Position, rehearsal: &Rehearsal, size: Size) {
        let rows = rows(rehearsal, &self.folded);
        let area = Rect::new(0, 0, size.width, size.height);
        let Some(layout) = self.layout(area, &rows).filter(|_| !self.is_far) else {
            return;
        };
        let n_players = rows
            .iter()
            .filter(|row| matches!(row, Row::Player(_)))
            .count();
        let pointed = if layout.lines.contains(at) {
            Some(n_players + usize::from(at.y - layout.lines.y))
        } else if layout.body.contains(at) {
            let selected = position(&rows, self.selected).min(n_players.saturating_sub(1));
            let below = layout.row_at(at.y - layout.body.y);
            let first = layout.first(selected, n_players);
            below
                .map(|row| first + row)
                .filter(|position| *position < n_players)
        } else {
            None
        };
        if let Some(row) = pointed.and_then(|position| rows.get(position)) {
            self.selected = row.index();
        }
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
        self.row(rehearsal).map(|row| row.index())
    }
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
        let rows = rows(self.rehearsal, &self.view.folded);
        let Some(layout) = self.view.layout(area, &rows) else {
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
        if rows.is_empty() {
            self.nobody(layout.body, buffer);
        } else {
            self.everyone(&rows, &layout, buffer);
        }
        Footer {
            table: self.status.keys,
            hints: self.hints(rows.len()),
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

    fn everyone(&self, rows: &[Row<'_>], layout: &Layout, buffer: &mut Buffer) {
        let selected_row = position(rows, self.view.selected);
        let parts: Vec<Part<'_>> = rows
            .iter()
            .filter_map(|row| match row {
                Row::Player(part) => Some(*part),
                Row::Group(..) => None,
            })
            .collect();
        if self.view.is_far {
            let part = match &rows[selected_row] {
                Row::Player(part) => *part,
                Row::Group(_, parts) => parts[0],
            };
            let portrait = Portrait {
                part,
                agreed: self.agreed(&part),
                scale: 1,
                precision: self.view.precision,
                is_selected: true,
                theme: self.theme,
            };
            return Solo(portrait).render(layout.body, buffer);
        }
        let groups = rows[parts.len()..].iter().zip(layout.lines.rows());
        for (place, (row, area)) in groups.enumerate() {
            if let Row::Group(family, group) = row {
                GroupLine {
                    family: *family,
                    parts: group,
                    precision: self.view.precision,
                    is_selected: parts.len() + place == selected_row,
                    theme: self.theme,
                }
                .render(area, buffer);
            }
        }
        if parts.is_empty() {
            return;
        }
        let parts = &parts[..];
        // While a group is selected no player is, and the last page is shown.
        let is_player = selected_row < parts.len();
        let selected = selected_row.min(parts.len() - 1);
        let first = layout.first(selected, parts.len());
        let portrait = |position: usize, scale: u16| Portrait {
            part: parts[position],
            agreed: self.agreed(&parts[position]),
            scale,
            precision: self.view.precision,
            is_selected: is_player && position == selected,
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
                    (first, is_player.then_some(selected)),
                    (layout, strip_rows),
                    below,
                    buffer,
                );
            }
            Arrangement::Strips { strip_rows } => {
                let selected = is_player.then_some(selected);
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
        (first, selected): (usize, Option<usize>),
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
                is_selected: Some(position) == selected,
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
        if self.rehearsal.frozen_for().is_some() {
            hints.push(hint(&[Action::Freeze], "go on"));
        }
        if self.view.is_far {
            hints.push(hint(&[Action::Far], "everyone"));
        }
        let n_hidden = self.rehearsal.n_hidden();
        if n_hidden > 0 {
            let word = format!("show all ({n_hidden} hidden)");
            hints.push(hint(&[Action::ShowAll], &word));
        }
        hints.push(hint(&[Action::Hold], "hold"));
        if self.rehearsal.shelf().current().is_some() {
            hints.push(hint(&[Action::Release], "release"));
        }
        hints.push(hint(&[Action::Show(Shown::Chord)], "chord"));
        hints.push(hint(&[Action::Show(Shown::Ledger)], "ledger"));
        hints.push(hint(&[Action::Agree], "agree"));
        hints.push(hint(&[Action::NextTemperament], "temperament"));
        if !self.view.is_far {
            hints.push(hint(&[Action::Far], "large"));
        }
        hints.push(hint(&[Action::Show(Shown::Drift)], "drift"));
        hints.push(hint(&[Action::Show(Shown::Plan)], "plan"));
        if self.rehearsal.frozen_for().is_none() {
            hints.push(hint(&[Action::Freeze], "freeze"));
        }
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
            let is_folded = self
                .view
                .row(self.rehearsal)
                .is_some_and(|row| matches!(row, Row::Group(..)));
            hints.push(hint(
                &[Action::Fold],
                if is_folded { "unfold" } else { "fold group" },
            ));
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
