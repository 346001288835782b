//! One rung of the ladder, and the players below it.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;

use super::columns::Columns;
use super::{BESIDE, Ladder, THERE, words, write};
use crate::rehearsal::{Family, Pulse, Voice};
use crate::tui::axis::{
    ABOVE, AGREED, BELOW, HELD, LINE, NATURE, PLAYER, Place, RAIL, Scale, TEMPERED, put,
};
use crate::tui::rungs::Rung;
use crate::tui::text;
use crate::units::Hertz;

/// One rung, being drawn.
pub(super) struct Row<'a> {
    pub(super) ladder: &'a Ladder<'a>,
    pub(super) columns: &'a Columns,
    pub(super) rung: &'a Rung<'a>,
    pub(super) area: Rect,
}

impl Row<'_> {
    fn partial(&self) -> Hertz {
        let series = self.ladder.rehearsal.tuning().series();
        series.frequency(self.rung.partial)
    }

    fn scale(&self) -> Scale {
        Scale::fitting(self.columns.axis.1)
    }

    fn mark(&self, hertz: Hertz, y: u16, symbol: &str, style: Style, buffer: &mut Buffer) {
        let scale = self.scale();
        let (column, symbol) = match self.column(hertz) {
            Place::At(column) => (column, symbol),
            Place::Below => (0, BELOW),
            Place::Above => (scale.columns() - 1, ABOVE),
        };
        let at = (self.area.x + self.columns.axis.0 + column, y);
        if self.area.contains(at.into()) {
            put(buffer, at, symbol, style);
        }
    }

    fn column(&self, hertz: Hertz) -> Place {
        self.scale().column(hertz.above(self.partial()), 1)
    }

    /// The line that joins the partials from rung to rung.
    pub(super) fn spine(&self, y: u16, buffer: &mut Buffer) {
        self.mark(self.partial(), y, LINE, self.ladder.theme.nature, buffer);
    }

    /// The rung itself with its trumpet, or another trumpet below it.
    pub(super) fn trumpet(&self, index: usize, y: u16, buffer: &mut Buffer) {
        let theme = self.ladder.theme;
        let tuning = self.ladder.rehearsal.tuning();
        let place = tuning.place(self.partial()).tempered;
        let voice = self.rung.trumpets.get(index);
        if index == 0 {
            let label = format!("{:>3} {}", self.rung.partial.number(), place.note);
            let is_bare = self.rung.held.is_empty() && voice.is_none();
            let style = if is_bare { theme.faint } else { theme.nature };
            write((self.area.x, y), &label, style, self.area, buffer);
            let (x, width) = (self.area.x + self.columns.axis.0, self.scale().columns());
            for x in x..(x + width).min(self.area.right()) {
                put(buffer, (x, y), RAIL, theme.rail);
            }
        }
        self.mark(place.place, y, TEMPERED, theme.tempered, buffer);
        self.mark(self.partial(), y, NATURE, theme.nature, buffer);
        for held in &self.rung.held {
            self.mark(held.hertz, y, HELD, theme.held, buffer);
        }
        // Where trumpets are to stand on the note of this rung.
        let chronicle = self.ladder.rehearsal.chronicle();
        let agreed = chronicle.agreed(Family::Trumpets, &tuning.place(self.partial()));
        if let Some(agreed) = agreed.and_then(|agreed| agreed.place) {
            self.mark(agreed, y, AGREED, theme.agreed, buffer);
        }
        let Some(voice) = voice else {
            // Where the partial lies against the tempered note, to know beforehand.
            if let Some(x) = self.columns.tempered.filter(|_| index == 0) {
                let cents = format!("{:>4}", self.ladder.precision.cents(place.cents));
                let at = (self.area.x + x, y);
                write(at, &cents, theme.faint, self.area, buffer);
            }
            return;
        };
        let hertz = voice.sounding.needle().hertz();
        if !voice.is_absent() {
            self.mark(hertz, y, PLAYER, theme.player, buffer);
        }
        self.texts(voice, y, buffer);
    }

    /// A player beside the rung, as far from the voice as from the place that belongs to it.
    pub(super) fn player(&self, voice: &Voice<'_>, y: u16, buffer: &mut Buffer) {
        let theme = self.ladder.theme;
        self.spine(y, buffer);
        if let Some(matched) = voice.matched {
            let centre = matched.voice.hertz;
            let own = centre.raised(matched.cents);
            let is_held = !self.rung.held.is_empty();
            self.swell(matched.pulse, (centre, own), y, buffer);
            let symbol = if is_held { HELD } else { PLAYER };
            let style = if is_held { theme.held } else { theme.faint };
            self.mark(centre, y, symbol, style, buffer);
            let is_there = self.column(centre) == self.column(own);
            let symbol = if is_there { THERE } else { BESIDE };
            self.mark(own, y, symbol, theme.player, buffer);
        }
        self.texts(voice, y, buffer);
    }

    /// The beats between two marks, as a line that opens and closes.
    fn swell(&self, pulse: Pulse, ends: (Hertz, Hertz), y: u16, buffer: &mut Buffer) {
        let Some(swell) = pulse.swell().filter(|_| !pulse.is_still()) else {
            return;
        };
        let column = |hertz: Hertz| match self.column(hertz) {
            Place::At(column) => column,
            Place::Below => 0,
            Place::Above => self.scale().columns() - 1,
        };
        let (from, to) = (column(ends.0), column(ends.1));
        let symbol = match (swell * 4.0) as u8 {
            0 => " ",
            1 => "\u{2504}",
            2 => "\u{2500}",
            _ => "\u{2501}",
        };
        for column in from.min(to)..=from.max(to) {
            let at = (self.area.x + self.columns.axis.0 + column, y);
            if self.area.contains(at.into()) {
                put(buffer, at, symbol, self.ladder.theme.text);
            }
        }
    }

    fn texts(&self, voice: &Voice<'_>, y: u16, buffer: &mut Buffer) {
        let (theme, precision) = (self.ladder.theme, self.ladder.precision);
        let (x, width) = self.columns.name;
        let name = text::shortened(&voice.name(), width.into());
        let mut at = |x: u16, text: &str, style| {
            write((self.area.x + x, y), text, style, self.area, buffer);
        };
        at(x, &name, theme.text);
        if voice.has_pitch() {
            let places = voice.sounding.places();
            let figure = |text: &str| format!("{text:>4}");
            let nature = match &places.partial {
                Some(place) => precision.deviation(voice.sounding, place.place),
                None => "\u{2014}".to_owned(),
            };
            at(self.columns.nature, &figure(&nature), theme.nature);
            if let Some(x) = self.columns.tempered {
                let cents = precision.deviation(voice.sounding, places.tempered.place);
                at(x, &figure(&cents), theme.tempered);
            }
            let is_held = self.ladder.rehearsal.shelf().current().is_some();
            if let Some(matched) = voice.matched.filter(|_| is_held) {
                at(
                    self.columns.held,
                    &figure(&precision.deviation(voice.sounding, matched.place)),
                    theme.held,
                );
            }
        }
        let room = usize::from(self.area.width.saturating_sub(self.columns.words));
        at(self.columns.words, &words(voice, room), theme.text);
    }
}
