//! The large number, the note beside it, and what it is counted from.
//!
//! ```text
//!  ▄█ ▄█                                                 ▄▀▄                ▄█  ▀▀█
//!   █  █                                                ▀▄ ▄▀        ▀▀▀     █  █▀▀
//!  ▀▀▀▀▀▀  cents from ◇ partial 11                        ▀                 ▀▀▀ ▀▀▀
//! ```

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::widgets::Widget;

use super::glance::{self, Figure, Glance};
use crate::rehearsal::{Family, Place, Sounding, Trial};
use crate::tui::axis::{NATURE, TEMPERED};
use crate::tui::digits::{self, Shape};
use crate::tui::text::Precision;
use crate::tui::theme::Theme;
use crate::tuning::Placement;
use crate::units::{Cents, Hertz};

/// Pixels of the tenths with their point, and of the widest note.
const TENTHS: u16 = 6;
const WIDEST: u16 = 13;

/// The block figures of a practice.
pub(super) struct Figures<'a> {
    pub(super) glance: &'a Glance<'a>,
    pub(super) precision: Precision,
    pub(super) scale: u16,
    pub(super) note_scale: u16,
    pub(super) theme: &'a Theme,
}

impl Widget for Figures<'_> {
    fn render(self, area: Rect, buffer: &mut Buffer) {
        let area = area.intersection(buffer.area);
        if area.is_empty() {
            return;
        }
        let figure = self.glance.figure(self.precision);
        let theme = self.theme;
        let end = self.note(&figure, area, buffer);
        match &figure {
            Figure::Cents(cents, place) => {
                let style = glance::hue(*place, theme);
                let left = self.number(cents, style, area, buffer);
                self.counted(&figure, left, area, buffer);
            }
            Figure::Last(cents, _) => {
                // Faint: it is past.
                let left = self.number(cents, theme.faint, area, buffer);
                self.counted(&figure, left, area, buffer);
            }
            Figure::Elsewhere(is_up, away) => self.way(*is_up, *away, end, area, buffer),
            Figure::Words(lines) => self.words(lines, end, area, buffer),
        }
    }
}

impl Figures<'_> {
    /// The note that sounds, or the one to be played, and the column behind it.
    fn note(&self, figure: &Figure, area: Rect, buffer: &mut Buffer) -> u16 {
        let (glance, theme) = (self.glance, self.theme);
        let sounding = glance.part.state.sounding().map(Sounding::places);
        let meant = glance.target.map(|target| target.places);
        let (places, is_past) = match figure {
            Figure::Cents(..) => (meant.or(sounding), false),
            Figure::Elsewhere(..) => (sounding, false),
            Figure::Words(_) => (meant, true),
            // What is wanted next is larger than what is past.
            Figure::Last(..) if glance.practice.course().has_steps() => (meant, false),
            Figure::Last(..) => {
                let text = glance.trials.last().map(|trial| self.of_trial(trial));
                return self.draw_note(text, theme.faint, area, buffer);
            }
        };
        let style = if is_past { theme.faint } else { theme.text };
        self.draw_note(
            places.map(|places| self.of_places(&places)),
            style,
            area,
            buffer,
        )
    }

    fn draw_note(
        &self,
        text: Option<String>,
        style: Style,
        area: Rect,
        buffer: &mut Buffer,
    ) -> u16 {
        let left = area.x + 1;
        let Some(text) = text else {
            return left;
        };
        digits::draw(&text, (left, area.y), self.note_scale, style, area, buffer);
        left + digits::width(&text, self.note_scale) + 2
    }

    /// A trumpet's partial by its number, any other note by its name.
    fn of_places(&self, places: &Placement) -> String {
        let own = places.partial.filter(|place| place.octaves == 0);
        match own {
            Some(place) if self.is_trumpet() => place.partial.number().to_string(),
            _ => block_name(places.tempered.note),
        }
    }

    fn of_trial(&self, trial: &Trial) -> String {
        match trial.partial {
            Some(partial) if self.is_trumpet() => partial.number().to_string(),
            _ => block_name(trial.note),
        }
    }

    fn is_trumpet(&self) -> bool {
        self.glance.part.channel.instrument.family == Family::Trumpets
    }

    /// The number, its units always in the same columns; returns where it may begin.
    fn number(&self, cents: &str, style: Style, area: Rect, buffer: &mut Buffer) -> u16 {
        let scale = self.scale;
        let (whole, tenths) = cents.split_at(cents.find('.').unwrap_or(cents.len()));
        let tenths_width = match self.precision {
            Precision::Whole => 0,
            Precision::Tenths => TENTHS * scale,
        };
        let end = area.right().saturating_sub(1 + tenths_width);
        let x = end.saturating_sub(digits::width(whole, scale));
        digits::draw(whole, (x, area.y), scale, style, area, buffer);
        digits::draw(tenths, (end + scale, area.y), scale, style, area, buffer);
        end.saturating_sub(digits::width("\u{2212}00", scale))
    }

    /// What the number is counted from: its mark left of the number, and words below the note.
    fn counted(&self, figure: &Figure, number: u16, area: Rect, buffer: &mut Buffer) {
        let (lines, place) = match figure {
            Figure::Cents(_, place) => (self.lines_now(*place), *place),
            Figure::Last(_, place) => (self.lines_past(*place), *place),
            Figure::Elsewhere(..) | Figure::Words(_) => return,
        };
        let left = area.x + 1;
        let free = number.saturating_sub(left + WIDEST * self.note_scale + 1);
        let most = self.scale.div_ceil(2);
        let mark = (1..=most)
            .rev()
            .find(|scale| digits::shape_width(*scale) < free);
        // Apart from the sign, or the two would make one figure.
        let mark_x = mark.map_or(number, |scale| {
            let width = digits::shape_width(scale);
            number - (free - width).min(self.scale) - width
        });
        if let Some(scale) = mark {
            let y = area.y + (area.height - digits::height(scale)) / 2;
            let style = glance::hue(place, self.theme);
            let shape = match place {
                Place::Partial => Shape::Diamond,
                Place::Tempered => Shape::Square,
                Place::Agreed => Shape::FullDiamond,
            };
            digits::shape(shape, (mark_x, y), scale, style, area, buffer);
        }
        let top = area.y + digits::height(self.note_scale);
        let free = area.bottom().saturating_sub(top);
        let shown = (lines.len() as u16).min(free);
        // The mark begins above the words where both are as low.
        let room = usize::from(mark_x.saturating_sub(left + 1));
        for (row, (text, style)) in lines.into_iter().take(shown.into()).enumerate() {
            let y = area.bottom() - shown + row as u16;
            buffer.set_stringn(left, y, text, room, style);
        }
    }

    fn lines_now(&self, place: Place) -> Vec<(String, Style)> {
        let theme = self.theme;
        let Some(places) = self.glance.places() else {
            return Vec::new();
        };
        let hertz = self.glance.counted().map(|(_, hertz)| hertz);
        vec![
            ("cents from".to_owned(), theme.faint),
            (named(place, &places), glance::hue(place, theme)),
            (beside(place, hertz, &places), theme.faint),
        ]
    }

    fn lines_past(&self, place: Place) -> Vec<(String, Style)> {
        let theme = self.theme;
        vec![
            ("the last note,".to_owned(), theme.faint),
            ("cents from".to_owned(), theme.faint),
            (
                format!("{} {}", glance::mark(place), glance::word(place)),
                glance::hue(place, theme),
            ),
        ]
    }

    /// Where the target lies from another note.
    fn way(&self, is_up: bool, away: Cents, left: u16, area: Rect, buffer: &mut Buffer) {
        let scale = self.scale;
        let x = area.right().saturating_sub(1 + 3 * scale);
        digits::triangle(is_up, (x, area.y), scale, self.theme.faint, area, buffer);
        let wanted = self.glance.target.map(|target| target.note());
        let wanted = wanted.map_or_else(String::new, |note| note.to_string());
        let way = if is_up { "higher" } else { "lower" };
        let lines = [
            "another note".to_owned(),
            format!("{wanted} is {:.0} cents {way}", away.get()),
        ];
        let narrower = Rect {
            width: x.saturating_sub(area.x),
            ..area
        };
        self.words(&lines, left, narrower, buffer);
    }

    /// Words in the place of the number.
    fn words(&self, lines: &[String], left: u16, area: Rect, buffer: &mut Buffer) {
        let longest = lines.iter().map(|line| line.chars().count()).max();
        let longest = longest.unwrap_or(0) as u16;
        let room = area.right().saturating_sub(left + 1);
        let x = left + room.saturating_sub(longest) / 2;
        let shown = (lines.len() as u16).min(area.height);
        let y = area.y + (area.height - shown) / 2;
        for (row, line) in lines.iter().take(shown.into()).enumerate() {
            let style = self.theme.player;
            buffer.set_stringn(x, y + row as u16, line, room.into(), style);
        }
    }
}

/// A note for block figures, with a cross for the double sharp, which two sharps would be too
/// wide for.
fn block_name(note: crate::units::Note) -> String {
    let name = note.name().to_string();
    let octave = note.octave().to_string().replace('-', "\u{2212}");
    name.replace("\u{266f}\u{266f}", "\u{d7}") + &octave
}

/// A place of a note, with its mark.
fn named(place: Place, places: &Placement) -> String {
    let mark = glance::mark(place);
    match (place, places.partial) {
        (Place::Partial, Some(partial)) => format!("{mark} partial {partial}"),
        (Place::Tempered, _) => format!("{mark} tempered {}", places.tempered.note),
        (Place::Partial | Place::Agreed, _) => format!("{mark} {}", glance::word(place)),
    }
}

/// Where that place stands from the other one.
fn beside(place: Place, hertz: Option<Hertz>, places: &Placement) -> String {
    let tempered = places.tempered.place;
    match (place, places.partial) {
        (Place::Tempered, Some(partial)) => {
            format!("{NATURE} {partial} is at {}", partial.place.above(tempered))
        }
        (Place::Tempered, None) => format!("{NATURE} no partial near"),
        (Place::Partial | Place::Agreed, _) => {
            let from = hertz.map_or(Cents::UNISON, |hertz| hertz.above(tempered));
            format!("{from} from {TEMPERED} {}", places.tempered.note)
        }
    }
}
