//! Draws the tuner's screen.
//!
//! ```text
//! sixth-comma, A4 = 415 Hz                                          step 5 of 25
//! tune C4 from G3, fourth
//! pure first, then raise C4 until it beats 1.5 a second, wide
//!
//!   C4                         −3.2
//!   to tune, with G3           C4: cents below its place (±0.2)
//!   1.5                        1.2
//!   beats wanted: wide         heard: wide (±0.1)
//!
//! listening · strike both keys
//! space next   ⌫ before   Enter tones   + − louder, softer   q end
//! ```

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::Line;
use ratatui::widgets::{Paragraph, Widget, Wrap};

use super::desk::{Desk, Doing};
use super::figures::{self, Figure};
use crate::bearings::{CAUTIONS, Deed, interval};
use crate::rehearsal::Loudspeaker;
use crate::sound::SourceState;
use crate::tui::frame::{Footer, Hint};
use crate::tui::keymap::{Action, Practise};
use crate::tui::{caution, digits, overlay};
use crate::units::NoteName;

/// Rows above the figures: head, what is done, how (two), and a gap.
const HEAD: u16 = 5;
/// Rows below them: a gap, the state and the keys.
const FOOT: u16 = 3;
/// How long something counts as sounding now, in seconds.
const PRESENT_S: f64 = 0.7;
const COLUMNS: u16 = 74;

impl Widget for &Desk {
    fn render(self, area: Rect, buffer: &mut Buffer) {
        let area = area.intersection(buffer.area);
        if area.width < 20 || area.height < 6 {
            return;
        }
        let area = Rect {
            x: area.x + 1,
            width: area.width - 2,
            ..area
        };
        self.draw_head(area, buffer);
        let body = Rect {
            y: area.y + HEAD,
            height: area.height.saturating_sub(HEAD + FOOT),
            ..area
        };
        self.draw_figures(body, buffer);
        self.draw_foot(area, buffer);
        if self.doing == Doing::Cautioning {
            self.draw_cautions(area, buffer);
        }
    }
}

impl Desk {
    fn draw_head(&self, area: Rect, buffer: &mut Buffer) {
        let theme = &self.theme;
        let standard = self.sheet.standard();
        let mut level = format!(
            "{}, A4 = {} Hz",
            self.sheet.scale().temperament().name,
            standard.a4().get()
        );
        if standard.kept() != NoteName::A {
            level = format!("{level} kept by {}", standard.kept());
        }
        let step = self.step();
        let count = format!("step {} of {}", step.number, self.sheet.steps().len());
        let room = usize::from(area.width);
        buffer.set_stringn(area.x, area.y, &level, room, theme.tempered);
        let at = area.right().saturating_sub(count.len() as u16);
        if usize::from(area.width) > level.chars().count() + count.len() + 2 {
            buffer.set_string(at, area.y, &count, theme.faint);
        }
        buffer.set_stringn(area.x, area.y + 1, what(&step.deed), room, theme.player);
        let how = Rect {
            y: area.y + 2,
            height: 2.min(area.height - 2),
            ..area
        };
        Paragraph::new(step.deed.how())
            .style(theme.text)
            .wrap(Wrap { trim: true })
            .render(how, buffer);
    }

    fn draw_figures(&self, body: Rect, buffer: &mut Buffer) {
        let theme = &self.theme;
        let deed = &self.step().deed;
        let heard = self.heard.as_ref().map(|(heard, _)| heard);
        let is_present = self
            .heard
            .is_some_and(|(_, at)| (self.now - at).get() < PRESENT_S);
        let live = if is_present {
            theme.player
        } else {
            theme.faint
        };
        let top = [
            (figures::note(deed), theme.player),
            (figures::place(deed, heard), live),
        ];
        let below = figures::wanted(deed)
            .map(|wanted| [(wanted, theme.tempered), (figures::beats(heard), live)]);
        let count = if below.is_some() { 2 } else { 1 };
        let height = body.height / count;
        for (row, figures) in [Some(top), below].into_iter().flatten().enumerate() {
            let half = body.width / 2;
            for (side, (figure, style)) in figures.iter().enumerate() {
                let cell = Rect {
                    x: body.x + side as u16 * half,
                    y: body.y + row as u16 * height,
                    width: half,
                    height,
                };
                self.draw_figure(figure, *style, cell, buffer);
            }
        }
    }

    /// A figure as large as its cell allows, and what it says below it.
    fn draw_figure(&self, figure: &Figure, style: Style, cell: Rect, buffer: &mut Buffer) {
        let Some(room) = cell.height.checked_sub(1) else {
            return;
        };
        // As large as the widest figure could be drawn, so that size does not change with what
        // is heard; a longer one is smaller.
        let fits = |text: &str, scale: u16| {
            digits::height(scale) <= room.saturating_sub(1).max(1)
                && digits::width(text, scale) + 2 <= cell.width
        };
        let scale = (1..=8)
            .rev()
            .find(|scale| fits("\u{2212}10.4", *scale) && fits(&figure.text, *scale))
            .or_else(|| (1..=8).rev().find(|scale| fits(&figure.text, *scale)));
        let label_at = if let Some(scale) = scale {
            digits::draw(&figure.text, (cell.x, cell.y), scale, style, cell, buffer);
            cell.y + digits::height(scale)
        } else {
            buffer.set_stringn(cell.x, cell.y, &figure.text, cell.width.into(), style);
            cell.y + 1
        };
        if label_at < cell.bottom() {
            let room = usize::from(cell.width.saturating_sub(1));
            buffer.set_stringn(cell.x, label_at, &figure.label, room, self.theme.text);
        }
    }

    fn draw_foot(&self, area: Rect, buffer: &mut Buffer) {
        let theme = &self.theme;
        let room = usize::from(area.width);
        let (state, is_notice) = self.state();
        let style = if is_notice { theme.notice } else { theme.text };
        let bottom = area.bottom();
        if area.height > HEAD + FOOT {
            buffer.set_stringn(area.x, bottom - 2, state, room, style);
        }
        let hint = |actions: &'static [Action], word: &str| Hint {
            actions,
            word: word.to_owned(),
        };
        let mut hints = vec![
            hint(&[Action::Practise(Practise::Next)], "next"),
            hint(&[Action::Practise(Practise::Previous)], "before"),
        ];
        if self.can_sound {
            hints.push(hint(&[Action::Practise(Practise::Drone)], "tones"));
            hints.push(hint(
                &[
                    Action::Practise(Practise::Louder),
                    Action::Practise(Practise::Softer),
                ],
                "louder, softer",
            ));
        }
        hints.push(hint(&[Action::Quit], "end"));
        let footer = Rect {
            x: area.x - 1,
            y: bottom - 1,
            width: area.width + 1,
            height: 1,
        };
        Footer {
            table: &self.keys(),
            hints,
            theme,
        }
        .render(footer, buffer);
    }

    /// What is going on, and whether somebody has to see to it.
    fn state(&self) -> (String, bool) {
        if let SourceState::Waiting(fault) = &self.source {
            return (fault.to_string(), true);
        }
        if let (true, Loudspeaker::Waiting(fault)) = (self.can_sound, &self.loudspeaker) {
            return (fault.clone(), true);
        }
        let level = self.level.get();
        let state = match self.doing {
            Doing::Cautioning => "nothing sounds yet".to_owned(),
            Doing::Sounding(until) => format!(
                "the tones as they have to be, {:.0} s more, at {level:.0} dBFS",
                (until - self.now).get().max(0.0).ceil()
            ),
            Doing::Ringing(_) => "the tones have ended".to_owned(),
            Doing::Listening => match (&self.source, &self.heard) {
                (SourceState::Opening, _) => "the microphone is being opened".to_owned(),
                (SourceState::Ended, _) => "the recording has ended".to_owned(),
                (_, Some((_, at))) if (self.now - *at).get() >= PRESENT_S => format!(
                    "listening; what is shown was heard {:.0} s ago",
                    (self.now - *at).get().max(1.0)
                ),
                _ => "listening".to_owned(),
            },
        };
        (state, false)
    }

    fn draw_cautions(&self, area: Rect, buffer: &mut Buffer) {
        let theme = &self.theme;
        let columns = COLUMNS.min(area.width.saturating_sub(4));
        let texts: Vec<&str> = if self.can_sound {
            CAUTIONS.into_iter().chain(caution::CAUTIONS).collect()
        } else {
            CAUTIONS.to_vec()
        };
        let width = usize::from(columns.saturating_sub(8)).max(1);
        let rows: usize = texts
            .iter()
            .map(|text| text.chars().count().div_ceil(width))
            .sum();
        let inner = overlay::boxed(
            "before the first string",
            (columns + 2, rows as u16),
            area,
            theme,
            buffer,
        );
        if inner.width < 3 || inner.height < 1 {
            return;
        }
        let words = Rect {
            x: inner.x + 1,
            width: inner.width - 2,
            ..inner
        };
        let lines: Vec<Line<'_>> = texts.into_iter().map(Line::raw).collect();
        Paragraph::new(lines)
            .style(theme.text)
            .wrap(Wrap { trim: true })
            .render(words, buffer);
        // In the lower border.
        let is_cut = rows > usize::from(inner.height);
        let (close, style) = if is_cut {
            let more = " there is more: enlarge the window; any key goes on ";
            (more, theme.notice)
        } else {
            (" any key goes on to the first step, q ends ", theme.faint)
        };
        buffer.set_stringn(words.x, inner.bottom(), close, words.width.into(), style);
    }
}

/// The step in a line.
fn what(deed: &Deed) -> String {
    let word = deed.word();
    match (deed.tuned(), deed.standing(), deed.pair()) {
        (Some(tuned), Some(standing), Some(pair)) => {
            format!(
                "{word} {} from {}, {}",
                tuned.note,
                standing.note,
                interval(pair)
            )
        }
        (Some(tuned), ..) => format!("{word} {}", tuned.note),
        (None, _, Some(pair)) => format!(
            "{word} {}\u{2013}{}, {}",
            pair.lower.note,
            pair.upper.note,
            interval(pair)
        ),
        (None, _, None) => word.to_owned(),
    }
}
