//! The plan view alone on the screen: nobody listens, and nothing is recorded.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::{Line, Span};
use ratatui::widgets::Widget;

use super::{PlanView, Planning};
use crate::analysis::chord::Sought;
use crate::plan::Settled;
use crate::rehearsal::{Ensemble, Entry, Rehearsal, Update};
use crate::tui::event::Recording;
use crate::tui::frame::Status;
use crate::tui::theme::Theme;
use crate::tui::{Ending, Error, Opening, Options, Shell, run};
use crate::tuning::{Anchor, Tuning};
use crate::units::NoteName;

/// What a plan alone needs of the program around it.
pub trait PlanShell {
    /// Puts a plan into a file, and says where it is or why it cannot be.
    fn write_plan(&mut self, settled: &Settled) -> String;
}

/// A shell in which nothing sounds.
struct Silent<'a, S>(&'a mut S);

impl<S: PlanShell> Shell for Silent<'_, S> {
    fn fetch(&mut self) -> Vec<Update> {
        Vec::new()
    }

    fn record(&mut self, _entries: Vec<Entry>) -> Option<String> {
        None
    }

    fn recording(&self) -> Recording {
        Recording::Nowhere
    }

    fn seek(&mut self, _sought: Vec<Option<Sought>>) {}

    fn write_plan(&mut self, settled: &Settled) -> String {
        self.0.write_plan(settled)
    }
}

/// Shows a plan alone until it is ended by key or signal. `told` is the first thing to say, if
/// there is any; `guard` lasts as long as the screen is up, as with [`run`].
///
/// # Errors
///
/// As for [`run`].
pub fn show_plan<G>(
    planning: Planning,
    told: Option<String>,
    shell: &mut impl PlanShell,
    options: &Options,
    guard: G,
) -> Result<Ending, Error> {
    let opening = Opening {
        rehearsal: nobody(&planning),
        told,
        planning: Some(planning),
        is_plan_alone: true,
    };
    run(opening, &mut Silent(shell), options, guard)
}

/// A rehearsal without players, in the tuning the plan begins with.
pub(in crate::tui) fn nobody(planning: &Planning) -> Rehearsal {
    let choice = &planning.choice;
    let keys = planning.programme.pieces().iter();
    let key = keys
        .filter_map(crate::plan::Piece::key)
        .map(|key| key.name)
        .next();
    let (key, anchor) = match key {
        Some(key) => (key, choice.anchor_in(key)),
        None => (NoteName::D, Anchor::tonic(NoteName::D)),
    };
    let ensemble = Ensemble {
        title: planning.title.clone(),
        tuning: Tuning::new(
            choice.standard,
            &choice.temperament,
            choice.chain,
            key,
            anchor,
        ),
        channels: Vec::new(),
    };
    Rehearsal::new(ensemble, planning.temperaments.clone())
}

/// Two rows: the programme, and what has just happened or how much it was planned from.
pub(super) fn heading(
    view: &PlanView,
    status: &Status<'_>,
    theme: &Theme,
    area: Rect,
    buffer: &mut Buffer,
) {
    let taken = &view.temperament(view.taken).name;
    let first = Line::from(vec![
        Span::styled(format!(" {}", view.planning.title), theme.player),
        Span::styled(format!("  \u{25c6} {taken}"), theme.agreed),
    ]);
    let second = match status.notice {
        Some(notice) => Line::from(vec![
            Span::raw(" "),
            Span::styled(format!(" {notice} "), theme.notice),
        ]),
        None => Line::styled(format!(" {}", view.in_words()), theme.faint),
    };
    for (line, y) in [first, second].into_iter().zip(area.y..area.bottom()) {
        let row = Rect {
            y,
            height: 1,
            ..area
        };
        line.render(row.intersection(buffer.area), buffer);
    }
}
