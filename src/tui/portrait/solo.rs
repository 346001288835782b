//! One player alone, as large as the window allows: the far view of the players.
//!
//! ```text
//! ▸Violin I ▅  ◇ partial 11↓                                        steady ±2
//!  ▄▀▄ █ █                                       the note, and the partial
//!  █▀█ ▀▀█
//!  ◇ cents from the partial         □ cents from the tempered note
//!         ▀▀█                                █ █ ▄█
//!   ▀▀▀   ▄▀                          ▀▀▀    ▀▀█  █
//!  ·······························◇·●·◎┄┄┄············□···························
//! ```

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::widgets::Widget;

use crate::rehearsal::{Family, Sounding};

use super::{Axis, NATURE, Portrait, Scale, TEMPERED, digits, level_symbol, text};

/// Pixels of whole cents with their sign, and of a note with its partial.
const CENTS: u16 = 11;
const NOTE: u16 = 27;
/// Rows that are no figures: two of words, and the axis with the last seconds below it.
const OTHER_ROWS: u16 = 5;

/// One player alone; the scale of the portrait counts for nothing.
pub(in crate::tui) struct Solo<'a>(pub(in crate::tui) Portrait<'a>);

/// The largest figures that fit; none where not even the smallest do.
fn scale(area: Rect, has_tenths: bool) -> Option<u16> {
    let cents = CENTS + if has_tenths { 6 } else { 0 };
    let fits = |scale: &u16| {
        let width = (2 * cents + 3).max(NOTE) * scale + 2;
        width <= area.width && 2 * digits::height(*scale) + OTHER_ROWS <= area.height
    };
    (1..=12).rev().find(fits)
}

impl Widget for Solo<'_> {
    fn render(self, area: Rect, buffer: &mut Buffer) {
        let area = area.intersection(buffer.area);
        let Portrait {
            part,
            theme,
            precision,
            ..
        } = self.0;
        let Some(scale) = scale(area, precision == text::Precision::Tenths) else {
            return self.0.render(area, buffer);
        };
        let rows = digits::height(scale);
        let (left, right) = (area.x + 1, area.right());
        let line = |buffer: &mut Buffer, x: u16, y: u16, words: &str, style: Style| {
            let room = usize::from(right.saturating_sub(x));
            buffer.set_stringn(x, y, words, room, style).0
        };
        self.head(area, buffer);
        let (first, labels) = (area.y + 1, area.y + 1 + rows);
        let second = labels + 1;
        if let Some(sounding) = part.state.sounding() {
            let places = sounding.places();
            let note = places.tempered.note;
            // A cross for the double sharp, which two sharps would be too wide for.
            let name = note
                .name()
                .to_string()
                .replace("\u{266f}\u{266f}", "\u{d7}");
            digits::draw(&name, (left, first), scale, theme.player, area, buffer);
            let x = left + digits::width(&name, scale) + scale;
            let octave = note.octave().to_string().replace('-', "\u{2212}");
            digits::draw(&octave, (x, first), scale, theme.faint, area, buffer);
            let middle = left + area.width.saturating_sub(2) / 2;
            if let Some(place) = &places.partial {
                let number = place.partial.number().to_string();
                digits::draw(&number, (middle, first), scale, theme.nature, area, buffer);
            }
            let [(words, written, style), beside] = self.figures(sounding);
            let words = text::shortened(&words, usize::from(middle - left).saturating_sub(1));
            line(buffer, left, labels, &words, style);
            line(buffer, middle, labels, &beside.0, beside.2);
            let mut figure = |written: &str, x: u16, style: Style| {
                let (whole, tenths) = written.split_at(written.find('.').unwrap_or(written.len()));
                let end = x + CENTS * scale;
                let start = end.saturating_sub(digits::width(whole, scale));
                digits::draw(whole, (start, second), scale, style, area, buffer);
                digits::draw(tenths, (end + scale, second), scale, style, area, buffer);
            };
            figure(&written, left, style);
            figure(&beside.1, middle, beside.2);
        }
        self.axis(second + rows, area, buffer);
    }
}

/// What a figure is counted from, the figure and its colour.
type Figure = (String, String, Style);

impl Solo<'_> {
    /// Both figures: from the partial and from the tempered note; where something else was settled,
    /// from that, and from the place that is the player's own.
    fn figures(&self, sounding: &Sounding) -> [Figure; 2] {
        let Portrait {
            part,
            theme,
            precision,
            ..
        } = self.0;
        let places = sounding.places();
        let nature = match &places.partial {
            Some(place) => (
                format!("{NATURE} cents from {}", text::partial(place).trim_start()),
                precision.deviation(sounding, place.place),
                theme.nature,
            ),
            None => (
                format!("{NATURE} no partial near"),
                "\u{2014}".to_owned(),
                theme.nature,
            ),
        };
        let tempered = (
            format!("{TEMPERED} cents from {}", places.tempered.note.name()),
            precision.deviation(sounding, places.tempered.place),
            theme.tempered,
        );
        let Some((place, style, label)) = self.0.settled() else {
            return [nature, tempered];
        };
        let settled = (
            label.replacen(' ', " cents from ", 1),
            precision.deviation(sounding, place),
            style,
        );
        let is_trumpet = part.channel.instrument.family == Family::Trumpets;
        [settled, if is_trumpet { nature } else { tempered }]
    }

    /// Who it is, how loud, and what is being done.
    fn head(&self, area: Rect, buffer: &mut Buffer) {
        let Portrait { part, theme, .. } = self.0;
        let (left, right) = (area.x + 1, area.right());
        let doing = part.doing.to_string();
        let doing_x = right
            .saturating_sub(doing.chars().count() as u16 + 1)
            .max(left);
        let room = usize::from(doing_x.saturating_sub(left + 3));
        let name = text::shortened(&part.channel.name, room);
        buffer.set_string(area.x, area.y, "\u{25b8}", theme.selected);
        let (end, _) = buffer.set_stringn(left, area.y, &name, room, theme.selected);
        if end + 1 < doing_x {
            buffer.set_string(
                end + 1,
                area.y,
                level_symbol(part.state.meter()),
                theme.faint,
            );
        }
        let room = usize::from(right.saturating_sub(doing_x));
        buffer.set_stringn(doing_x, area.y, &doing, room, theme.text);
    }

    /// The axis with the last seconds below it, from the row `top` on, and what is said there.
    fn axis(&self, top: u16, area: Rect, buffer: &mut Buffer) {
        let Portrait { part, theme, .. } = self.0;
        let left = area.x + 1;
        let spare = area.bottom().saturating_sub(top + 2);
        let said = self.0.said(spare);
        let wide = Rect {
            x: left,
            y: top,
            width: area.width - 2,
            height: (area.bottom() - top).saturating_sub(said.len() as u16),
        };
        for (row, words) in said.into_iter().enumerate() {
            let beside = Rect {
                y: wide.bottom() + row as u16,
                height: 1,
                ..wide
            };
            words.render(beside, buffer);
        }
        Axis {
            scale: Scale::fitting(wide.width),
            state: part.state,
            held: part.matched.map(|matched| matched.place),
            agreed: self.0.agreed.and_then(|agreed| agreed.place),
            aim: None,
            theme,
        }
        .render(wide, buffer);
        self.0.ends(Scale::fitting(wide.width), wide, buffer);
    }
}
