//! The practice view: one player large, on a music stand three metres away.
//!
//! ```text
//!  The eleventh, both places  2 of 4: 11 G♯5 at ◇ partial         Trumpet I ▅ steady ±2
//!  ▄█ ▄█                                                                    ▄█  ▀▀█
//!   █  █                                                             ▀▀▀     █  █▀▀
//!  ▀▀▀▀▀▀  ◇ cents from partial 11                                          ▀▀▀ ▀▀▀
//!  beats 1.3 a second, measured 1.2      ▄▄▄▄▄▄▄▄▄▄▄▄▄▄▄▄▄▄▄▄
//!  ·············●··╞══◇══╡···············◆················□·············
//!               ▗▖ ░░░┆░░░                               ┆
//!  inside ±5: 3.2 of 4.1 s   spread 2   drift −0.4 a second   from below
//!  +20        █
//!   ±0 ───▄───▀──────
//!         +4 ▸−3
//!  drone sounding: ◇8 ◇12   organ   octave ±0   −38 dBFS, ceiling −20
//!  drone taken out (84 ms, −46 dB)
//! ```

mod deeds;
mod figures;
mod glance;
mod holds;
mod rows;
mod words;

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::widgets::Widget;

use super::axis::{self, Aim, Axis, Scale};
use super::frame::{Framed, Hint, Status};
use super::keymap::{Action, Practise, Shown};
use super::text::{self, Precision};
use super::theme::Theme;
use crate::rehearsal::Rehearsal;
use crate::tuning::Placement;
pub(super) use deeds::carry_out;
use figures::Figures;
use glance::Glance;
use holds::Holds;
use rows::Rows;

/// What the view remembers.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct PracticeView {
    precision: Precision,
    /// The note that sounded last, for a decision on it.
    latest: Option<Placement>,
    /// The tuning it belongs to, by its number.
    revision: u64,
}

impl PracticeView {
    /// In whole cents.
    pub(super) fn new() -> Self {
        Self {
            precision: Precision::Whole,
            latest: None,
            revision: 0,
        }
    }

    /// Carries out what a key asked for. What is not of this view is passed over.
    pub(super) fn update(&mut self, action: Action, rehearsal: &mut Rehearsal) {
        match action {
            Action::NextTemperament => rehearsal.step_temperament(1),
            Action::PreviousTemperament => rehearsal.step_temperament(-1),
            Action::Decimals => self.precision = self.precision.toggled(),
            Action::RaiseStandard
            | Action::LowerStandard
            | Action::SelectPrevious
            | Action::SelectNext
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

    /// Keeps in mind which note sounds.
    pub(super) fn observe(&mut self, rehearsal: &Rehearsal) {
        let revision = rehearsal.sought_revision();
        if revision != self.revision {
            self.revision = revision;
            self.latest = None;
        }
        let sounding = rehearsal.parts().next().and_then(|p| p.state.sounding());
        if let Some(sounding) = sounding {
            self.latest = Some(sounding.places());
        }
    }

    /// The places of the note at hand: the one the exercise asks for, or the last one heard.
    pub(super) fn at_hand(&mut self, rehearsal: &Rehearsal) -> Option<Placement> {
        self.observe(rehearsal);
        let target = rehearsal.target().map(|target| target.places);
        let places = target.or(self.latest)?;
        // The gap of the note itself, whatever partial the player was nearest to.
        Some(rehearsal.tuning().places_of(places.tempered))
    }
}

/// The view in its window.
pub(super) struct PracticeScreen<'a> {
    pub(super) view: &'a PracticeView,
    pub(super) rehearsal: &'a Rehearsal,
    pub(super) status: Status<'a>,
    pub(super) theme: &'a Theme,
}

impl Widget for PracticeScreen<'_> {
    fn render(self, area: Rect, buffer: &mut Buffer) {
        let Self {
            view,
            rehearsal,
            status,
            theme,
        } = self;
        let glance = Glance::of(rehearsal);
        let framed = Framed {
            rehearsal,
            status,
            hints: hints(view, glance.as_ref(), &status),
            theme,
        };
        framed.render(area, buffer, |body, buffer| {
            if let Some(glance) = &glance {
                PracticePane {
                    glance,
                    precision: view.precision,
                    theme,
                }
                .render(body, buffer);
            } else {
                let text = "nobody practises: begin with 'concento practise'";
                let middle = body.y + body.height / 2;
                buffer.set_stringn(body.x + 1, middle, text, body.width.into(), theme.text);
            }
        });
    }
}

fn hints(view: &PracticeView, glance: Option<&Glance<'_>>, status: &Status<'_>) -> Vec<Hint> {
    let hint = |actions: &'static [Action], word: &str| Hint {
        actions,
        word: word.to_owned(),
    };
    let mut hints = status.hints();
    let has_steps = glance.is_some_and(|glance| glance.step.is_some());
    let is_sounding = glance.is_some_and(|glance| glance.practice.drone().is_sounding());
    hints.push(hint(
        &[Action::Practise(Practise::Drone)],
        if is_sounding { "silence" } else { "drone" },
    ));
    hints.push(hint(
        &[
            Action::Practise(Practise::Next),
            Action::Practise(Practise::Previous),
        ],
        if has_steps { "step" } else { "drone's note" },
    ));
    hints.push(hint(&[Action::Practise(Practise::Swing)], "other place"));
    hints.push(hint(
        &[
            Action::Practise(Practise::Louder),
            Action::Practise(Practise::Softer),
        ],
        "level",
    ));
    hints.push(hint(
        &[Action::Practise(Practise::NextExercise)],
        "exercise",
    ));
    hints.push(hint(&[Action::Mark], "mark"));
    hints.push(hint(&[Action::Practise(Practise::Timbre)], "sound"));
    hints.push(hint(&[Action::Practise(Practise::OctaveUp)], "octave"));
    hints.push(hint(
        &[Action::Practise(Practise::Headphones)],
        "headphones",
    ));
    hints.push(hint(&[Action::Agree], "agree"));
    hints.push(hint(&[Action::Show(Shown::Drift)], "drift"));
    hints.push(hint(&[Action::Show(Shown::Ledger)], "ledger"));
    let precision = match view.precision {
        Precision::Whole => "tenths",
        Precision::Tenths => "whole cents",
    };
    hints.push(hint(&[Action::Decimals], precision));
    hints.push(hint(&[Action::Help], "help"));
    hints.push(hint(&[Action::Quit], "quit"));
    hints
}

/// What stands between header and footer.
struct PracticePane<'a> {
    glance: &'a Glance<'a>,
    precision: Precision,
    theme: &'a Theme,
}

impl Widget for PracticePane<'_> {
    fn render(self, area: Rect, buffer: &mut Buffer) {
        let area = area.intersection(buffer.area);
        let Some(rows) = Rows::new(area, self.precision) else {
            return;
        };
        let Self {
            glance,
            precision,
            theme,
        } = self;
        words::title(glance, theme, rows.title, buffer);
        Figures {
            glance,
            precision,
            scale: rows.scale,
            note_scale: rows.note_scale,
            theme,
        }
        .render(rows.figures, buffer);
        words::beats(glance, theme, rows.pulse, buffer);
        self.axis(rows.axis, buffer);
        self.pointer(rows.pointer, buffer);
        words::hold(glance, theme, rows.hold, buffer);
        Holds {
            trials: glance.trials,
            theme,
        }
        .render(rows.holds, buffer);
        words::drone(glance, theme, rows.drone, buffer);
    }
}

impl PracticePane<'_> {
    /// A wedge that points at the player on the axis below.
    fn pointer(&self, area: Rect, buffer: &mut Buffer) {
        let glance = self.glance;
        let Some(sounding) = glance.part.state.sounding().filter(|_| !glance.is_hidden) else {
            return;
        };
        let middle = match glance.target {
            Some(target) => axis::centre(&target.places),
            None => sounding.centre(),
        };
        let left = area.x + 1;
        let scale = Scale::fitting(area.width.saturating_sub(2));
        let off = sounding.needle().hertz().above(middle);
        let axis::Place::At(column) = scale.column(off, 1) else {
            return;
        };
        for row in 0..area.height {
            let half = area.height - row;
            for step in 0..=2 * half {
                let symbol = match step {
                    0 => "\u{259c}",
                    step if step == 2 * half => "\u{259b}",
                    _ => "\u{2588}",
                };
                let Some(x) = (left + column + step).checked_sub(half) else {
                    continue;
                };
                if x < area.right() {
                    axis::put(buffer, (x, area.y + row), symbol, self.theme.player);
                }
            }
        }
    }

    fn axis(&self, area: Rect, buffer: &mut Buffer) {
        if area.width < 3 || area.height == 0 {
            return;
        }
        let wide = Rect {
            x: area.x + 1,
            width: area.width - 2,
            ..area
        };
        let scale = Scale::fitting(wide.width);
        let glance = self.glance;
        Axis {
            scale,
            state: glance.part.state,
            held: None,
            agreed: glance.agreed,
            aim: glance.target.map(|target| Aim {
                places: target.places,
                target: target.hertz,
                tolerance: glance.exercise.tolerance,
                hides_player: glance.is_hidden,
            }),
            theme: self.theme,
        }
        .render(wide, buffer);
        if wide.height > 1 && wide.width >= 40 {
            let (low, high) = text::reach(scale.reach());
            let high = format!("{high} cents");
            let style = self.theme.faint;
            buffer.set_string(wide.x, wide.y + 1, low, style);
            let x = wide.x + scale.columns() - high.chars().count() as u16;
            buffer.set_string(x, wide.y + 1, high, style);
        }
    }
}

#[cfg(test)]
mod tests;
