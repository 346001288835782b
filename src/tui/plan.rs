//! The plan view: what each temperament does to each piece, before a note has sounded.
//!
//! ```text
//!  A 415.0 Hz  E♭–G♯  trumpets by 8  each side counts alike
//!  cents from pure (RMS), all meetings   nearest first   8.1 to █ 21.0
//!                    all   1 Sonata  2 Chorus    █▀▀   █▀█  young-2, all pieces
//!    no key for        2         —         2     █▀█   █▄█  trumpets with others 11.0
//! ▸◆young-2       ░ 12.3  ░   11.0  ▒   14.2     farthest from pure
//!   vallotti      ░ 12.6  ░   11.2  ▒   14.9     −38.1  7.2/s  1: bar 12, 2.5  G♯5 p11 …
//! ```

mod alone;
mod figure;
mod grid;
mod planning;
mod side;
mod table;

use ratatui::buffer::Buffer;
use ratatui::layout::{Rect, Size};
use ratatui::widgets::Widget;

use super::frame::{self, Footer, Framed, Hint, Status};
use super::keymap::{Action, Planned, Shown};
use super::layout::Layout;
use super::text::Precision;
use super::theme::Theme;
use crate::plan::{Choice, Clash, Programme, Proposal, Settled, Weights};
use crate::rehearsal::Rehearsal;
use crate::tuning::{Chain, Partial, Temperament};
use crate::units::NoteName;
use figure::Figure;
use grid::Grid;
use side::Side;
use table::Table;

#[cfg(test)]
pub(super) use alone::nobody;
pub use alone::{PlanShell, show_plan};
pub use planning::Planning;

/// Hertz by which one key press moves the pitch standard.
const STANDARD_STEP_HZ: f64 = 0.5;

/// The partials the trumpets may tune by, in the order they are gone through.
const ANCHORS: [u8; 4] = [8, 12, 10, 9];

/// The flattest notes of the keyboards that are gone through, in fifths from C: G flat to G.
const FLATTEST: std::ops::RangeInclusive<i32> = -6..=1;

/// How much a side may count, in the order it is gone through.
const WEIGHTS: [f64; 4] = [1.0, 2.0, 4.0, 0.0];

/// From this width on the meetings stand beside the table.
const WIDE: u16 = 100;

/// The order of the rows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Sort {
    Nearest,
    Listed,
}

/// What stands beside the table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Page {
    Meetings,
    Yielding,
}

/// What the view remembers.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct PlanView {
    planning: Planning,
    /// Everything but the temperament, which is the row's.
    choice: Choice,
    /// The temperament of the plan, by its place in the list.
    taken: usize,
    /// The selected temperament, by its place in the list, and column.
    row: usize,
    column: usize,
    figure: Figure,
    sort: Sort,
    page: Page,
    precision: Precision,
    table: Table,
    /// The temperaments as they are shown.
    order: Vec<usize>,
    /// The meetings of the selected cell, farthest first.
    clashes: Vec<Clash>,
    /// Who yields in the selected row, if that is shown.
    proposals: Vec<Proposal>,
}

impl PlanView {
    /// The nearest first, with what is chosen selected.
    pub(super) fn new(mut planning: Planning) -> Self {
        let own = &planning.choice.temperament;
        let known = |all: &[Temperament]| all.iter().position(|other| other.name == own.name);
        let taken = known(&planning.temperaments).unwrap_or_else(|| {
            planning.temperaments.insert(0, own.clone());
            0
        });
        let choice = planning.choice.clone();
        let mut view = Self {
            planning,
            choice,
            taken,
            row: taken,
            column: 0,
            figure: Figure::All,
            sort: Sort::Nearest,
            page: Page::Meetings,
            precision: Precision::Tenths,
            table: Table::default(),
            order: Vec::new(),
            clashes: Vec::new(),
            proposals: Vec::new(),
        };
        view.measure();
        view
    }

    /// What is settled as it stands: with the temperament that was taken.
    pub(super) fn settled(&self) -> Settled {
        self.planning.settled(&self.in_row(self.taken))
    }

    /// Carries out what a key asked for, in a window of `size`. What is not of this view is
    /// passed over.
    pub(super) fn update(&mut self, action: Action, size: Size) {
        let page = isize::try_from(self.page_rows(size)).unwrap_or(1);
        match action {
            Action::SelectPrevious => self.select(-1),
            Action::SelectNext => self.select(1),
            Action::PageUp => self.select(-page),
            Action::PageDown => self.select(page),
            Action::Sort => {
                self.sort = match self.sort {
                    Sort::Nearest => Sort::Listed,
                    Sort::Listed => Sort::Nearest,
                };
                self.arrange();
            }
            Action::Decimals => self.precision = self.precision.toggled(),
            Action::RaiseStandard => self.shift_standard(STANDARD_STEP_HZ),
            Action::LowerStandard => self.shift_standard(-STANDARD_STEP_HZ),
            Action::Planned(planned) => self.change(planned),
            Action::NextTemperament
            | Action::PreviousTemperament
            | Action::Stretch
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
            | Action::Go(_)
            | Action::Caution
            | Action::Help
            | Action::Close
            | Action::Suspend
            | Action::Quit => {}
        }
    }

    fn change(&mut self, planned: Planned) {
        match planned {
            Planned::NextPiece => self.turn(1),
            Planned::PreviousPiece => self.turn(-1),
            Planned::NextFigure => self.figure_by(1),
            Planned::PreviousFigure => self.figure_by(-1),
            Planned::Anchor => {
                self.choice.anchor = next_anchor(self.choice.anchor);
                self.measure();
            }
            Planned::Flatter => self.shift_chain(-1),
            Planned::Sharper => self.shift_chain(1),
            Planned::WeighTrumpets => self.weigh(|weights| &mut weights.trumpets),
            Planned::WeighKeyboard => self.weigh(|weights| &mut weights.keyboard),
            Planned::WeighOthers => self.weigh(|weights| &mut weights.others),
            Planned::Page => {
                self.page = match self.page {
                    Page::Meetings => Page::Yielding,
                    Page::Yielding => Page::Meetings,
                };
                self.look_closer();
            }
            Planned::Take => self.taken = self.row,
            // The file is the shell's.
            Planned::Write => {}
        }
    }

    fn programme(&self) -> &Programme {
        &self.planning.programme
    }

    fn temperament(&self, row: usize) -> &Temperament {
        let all = &self.planning.temperaments;
        all.get(row).unwrap_or(&self.choice.temperament)
    }

    fn in_row(&self, row: usize) -> Choice {
        self.choice.in_temperament(self.temperament(row))
    }

    /// Where the selected row stands in the order shown.
    fn position(&self) -> usize {
        let position = self.order.iter().position(|row| *row == self.row);
        position.unwrap_or(0)
    }

    fn select(&mut self, steps: isize) {
        let last = self.order.len().saturating_sub(1) as isize;
        let next = (self.position() as isize).saturating_add(steps);
        if let Some(row) = self.order.get(next.clamp(0, last) as usize) {
            self.row = *row;
            self.look_closer();
        }
    }

    fn turn(&mut self, steps: isize) {
        let last = table::n_columns(self.programme()) as isize - 1;
        self.column = (self.column as isize + steps).clamp(0, last) as usize;
        self.look_closer();
    }

    fn figure_by(&mut self, steps: isize) {
        self.figure = self.figure.stepped(steps);
        self.arrange();
        self.look_closer();
    }

    fn shift_standard(&mut self, hz: f64) {
        self.choice.standard = self.choice.standard.shifted(hz);
        self.measure();
    }

    /// The keyboard one fifth up or down the chain, as far as keyboards go.
    fn shift_chain(&mut self, fifths: i32) {
        let first = self.choice.chain.first().fifths() + fifths;
        let ends = (
            NoteName::from_fifths(first),
            NoteName::from_fifths(first + 11),
        );
        if let ((Some(first), Some(last)), true) = (ends, FLATTEST.contains(&first))
            && let Ok(chain) = Chain::new(first, last)
        {
            self.choice.chain = chain;
            self.measure();
        }
    }

    fn weigh(&mut self, side: impl Fn(&mut Weights) -> &mut f64) {
        let weight = side(&mut self.planning.weights);
        let at = WEIGHTS
            .iter()
            .position(|known| (known - *weight).abs() < 1e-9);
        *weight = WEIGHTS[at.map_or(0, |at| (at + 1) % WEIGHTS.len())];
        self.measure();
    }

    /// Measures everything anew.
    fn measure(&mut self) {
        let Planning {
            programme,
            temperaments,
            weights,
            ..
        } = &self.planning;
        self.table = Table::new(programme, temperaments, &self.choice, weights);
        self.arrange();
        self.look_closer();
    }

    fn arrange(&mut self) {
        self.order = match self.sort {
            Sort::Nearest => self.table.nearest_first(self.figure),
            Sort::Listed => (0..self.planning.temperaments.len()).collect(),
        };
    }

    /// Finds out about the selected cell what its figures do not say.
    fn look_closer(&mut self) {
        let choice = self.in_row(self.row);
        match self.page {
            Page::Meetings => {
                let programme = self.programme();
                let clashes = match table::piece_of(programme, self.column) {
                    Some(piece) => piece.worst(&choice, usize::MAX),
                    None => programme.worst(&choice, usize::MAX),
                };
                let weights = &self.planning.weights;
                let counted = clashes.into_iter();
                let counted = counted.filter(|clash| self.figure.counts(clash, weights));
                self.clashes = counted.take(side::MOST).collect();
                self.proposals.clear();
            }
            Page::Yielding => {
                self.proposals = self.programme().proposals(&choice, &self.planning.weights);
                self.clashes.clear();
            }
        }
    }

    /// Rows of temperaments in a window.
    fn page_rows(&self, size: Size) -> usize {
        let area = Rect::new(0, 0, size.width, size.height);
        Layout::new(area, 1).map_or(1, |layout| {
            let (table, _) = shared_out(layout.body);
            Grid::rows(self, table).max(1)
        })
    }
}

/// The partial after this one.
fn next_anchor(anchor: Partial) -> Partial {
    let at = ANCHORS.iter().position(|number| *number == anchor.number());
    let next = ANCHORS[at.map_or(0, |at| (at + 1) % ANCHORS.len())];
    Partial::new(next).unwrap_or(anchor)
}

/// The room of the table and of what stands beside or below it.
fn shared_out(body: Rect) -> (Rect, Rect) {
    if body.width >= WIDE {
        let side = (body.width / 2).min(90);
        let table = Rect {
            width: body.width - side - 1,
            ..body
        };
        let beside = Rect {
            x: table.right() + 1,
            width: side,
            ..body
        };
        return (table, beside);
    }
    let rows = match body.height {
        0..=8 => 1,
        9..=14 => 4,
        15..=20 => 7,
        rows => 9 + (rows - 21) / 3,
    };
    let below = rows.min(body.height);
    let table = Rect {
        height: body.height - below,
        ..body
    };
    (
        table,
        Rect {
            y: table.bottom(),
            height: below,
            ..body
        },
    )
}

/// The view in its window.
pub(super) struct PlanScreen<'a> {
    pub(super) view: &'a PlanView,
    pub(super) rehearsal: &'a Rehearsal,
    /// Whether there is nothing else to be shown: nobody listens.
    pub(super) is_alone: bool,
    pub(super) status: Status<'a>,
    pub(super) theme: &'a Theme,
}

impl Widget for PlanScreen<'_> {
    fn render(self, area: Rect, buffer: &mut Buffer) {
        let hints = hints(self.view, &self.status);
        let pane = PlanPane {
            view: self.view,
            theme: self.theme,
        };
        if !self.is_alone {
            let framed = Framed {
                rehearsal: self.rehearsal,
                status: self.status,
                hints,
                theme: self.theme,
            };
            framed.render(area, buffer, |body, buffer| pane.render(body, buffer));
            return;
        }
        let Some(layout) = Layout::new(area, 1) else {
            frame::too_small(area, buffer);
            return;
        };
        alone::heading(self.view, &self.status, self.theme, layout.header, buffer);
        pane.render(layout.body, buffer);
        Footer {
            table: self.status.keys,
            hints,
            theme: self.theme,
        }
        .render(layout.footer, buffer);
    }
}

fn hints(view: &PlanView, status: &Status<'_>) -> Vec<Hint> {
    let hint = |actions: &'static [Action], word: &str| Hint {
        actions,
        word: word.to_owned(),
    };
    let mut hints = status.hints();
    let page = match view.page {
        Page::Meetings => "who yields",
        Page::Yielding => "meetings",
    };
    hints.push(hint(&[Action::Planned(Planned::Page)], page));
    hints.push(hint(&[Action::Planned(Planned::Take)], "take the row"));
    hints.push(hint(&[Action::Planned(Planned::Write)], "write plan"));
    hints.push(hint(&[Action::Show(Shown::Players)], "players"));
    hints.push(hint(&[Action::Planned(Planned::NextFigure)], "figures"));
    hints.push(hint(&[Action::Planned(Planned::Anchor)], "anchor"));
    hints.push(hint(
        &[
            Action::Planned(Planned::Flatter),
            Action::Planned(Planned::Sharper),
        ],
        "keys",
    ));
    hints.push(hint(&[Action::Sort], "sort"));
    hints.push(hint(&[Action::Help], "help"));
    hints.push(hint(&[Action::Quit], "quit"));
    hints
}

/// What the view shows between header and footer.
struct PlanPane<'a> {
    view: &'a PlanView,
    theme: &'a Theme,
}

impl Widget for PlanPane<'_> {
    fn render(self, area: Rect, buffer: &mut Buffer) {
        let area = area.intersection(buffer.area);
        if area.width < 20 || area.height < 3 {
            return;
        }
        let Self { view, theme } = self;
        let (table, beside) = shared_out(area);
        Grid { view, theme }.render(table, buffer);
        Side { view, theme }.render(beside, buffer);
    }
}

impl PlanView {
    fn has_trumpets(&self) -> bool {
        let mut pieces = self.programme().pieces().iter();
        pieces.any(|piece| piece.key().is_some())
    }

    fn has_several_keys(&self) -> bool {
        let pieces = self.programme().pieces().iter();
        let mut keys = pieces.filter_map(|piece| Some(piece.key()?.name));
        let first = keys.next();
        keys.any(|key| Some(key) != first)
    }

    /// What stands above a column.
    fn column_name(&self, column: usize) -> String {
        match table::piece_of(self.programme(), column) {
            Some(piece) => format!("{column} {}", piece.title()),
            None => match self.programme().pieces() {
                [only] => only.title().to_owned(),
                _ => "all".to_owned(),
            },
        }
    }

    /// Which pieces the selected cell is about.
    fn place_in_words(&self) -> String {
        match table::piece_of(self.programme(), self.column) {
            Some(piece) => piece.title().to_owned(),
            None => match self.programme().pieces() {
                [only] => only.title().to_owned(),
                _ => "all pieces".to_owned(),
            },
        }
    }

    /// Whether the selected cell is about several pieces.
    fn is_of_several(&self) -> bool {
        self.column == 0 && self.programme().pieces().len() > 1
    }

    /// The number of a piece in front of a place; empty where it goes without saying.
    fn number_of(&self, piece: usize) -> String {
        if self.is_of_several() {
            format!("{}: ", piece + 1)
        } else {
            String::new()
        }
    }

    /// What it was planned from.
    fn in_words(&self) -> String {
        let pieces = self.programme().pieces();
        let keys: Vec<String> = pieces
            .iter()
            .filter_map(crate::plan::Piece::key)
            .map(|key| {
                let guessed = if key.is_guessed { ", guessed" } else { "" };
                format!("{}{guessed}", key.name)
            })
            .fold(Vec::new(), |mut keys, key| {
                if !keys.contains(&key) {
                    keys.push(key);
                }
                keys
            });
        let plural = if pieces.len() == 1 { "" } else { "s" };
        let quarters: f64 = pieces.iter().map(crate::plan::Piece::quarters).sum();
        let trumpets = if keys.is_empty() {
            "no trumpets".to_owned()
        } else {
            format!("trumpets in {}", keys.join(" and "))
        };
        format!(
            "{} piece{plural}, {quarters:.0} quarter notes, {trumpets}",
            pieces.len()
        )
    }
}
