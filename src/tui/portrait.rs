//! One player large enough to be read from the stage.
//!
//! ```text
//! ▸Violin I        ◇ partial 11↓       □ G♯           ◎ 1/2 p11   steady ±2
//!  ▄▀▀ █▄█ █▀▀             █▀█              █ █ ▄█            ▀▀█
//!  █ █ █▄█ ▀▀█     ▀▀▀     ▄▀      ▀▀▀      ▀▀█  █     ▀▀▀    █▀▀
//!   ▀▀ ▀ ▀ ▀▀▀             ▀▀▀                ▀ ▀▀▀           ▀▀▀
//!  ·······························◇·●·◎┄┄┄············□···························
//!                                   ▗▌               ┆
//!  ◎ octave below p11 of Trumpet I: beats 2.9 a second, slower when higher
//! ```

mod solo;

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::{Line, Span};
use ratatui::widgets::Widget;

use super::axis::{AGREED, Axis, HELD, NATURE, Scale, TEMPERED};
use super::beats;
use super::digits;
use super::strip::level_symbol;
use super::text::{self, Precision};
use super::theme::Theme;
use crate::rehearsal::{Agreed, Part};
use crate::tuning::Ratio;
use crate::units::Hertz;
pub(super) use solo::Solo;

/// One player in block figures of a scale, with an axis across the whole width.
pub(super) struct Portrait<'a> {
    pub(super) part: Part<'a>,
    /// What is agreed on the note that sounds.
    pub(super) agreed: Option<Agreed<'a>>,
    pub(super) scale: u16,
    pub(super) precision: Precision,
    pub(super) is_selected: bool,
    pub(super) theme: &'a Theme,
}

/// Pixels from the left edge to the three figures, and of whole cents in a figure.
const NATURE_PIXELS: u16 = 17;
const TEMPERED_PIXELS: u16 = 37;
const HELD_PIXELS: u16 = 57;
const WHOLE_PIXELS: u16 = 11;

impl Widget for Portrait<'_> {
    fn render(self, area: Rect, buffer: &mut Buffer) {
        let area = area.intersection(buffer.area);
        if area.width < 2 || area.height < 2 {
            return;
        }
        self.labels(area, buffer);
        self.figures(area, buffer);
        // The last row stays blank, to keep the next player apart.
        let top = 1 + digits::height(self.scale);
        let spare = area.height.saturating_sub(top + 2);
        let said = self.said(spare);
        let wide = Rect {
            x: area.x + 1,
            y: area.y.saturating_add(top),
            width: area.width - 2,
            height: area.height.saturating_sub(top + 1 + said.len() as u16),
        };
        for (row, line) in said.into_iter().enumerate() {
            let beside = Rect {
                y: wide.bottom() + row as u16,
                height: 1,
                ..wide
            };
            line.render(beside, buffer);
        }
        Axis {
            scale: Scale::fitting(wide.width),
            state: self.part.state,
            held: self.part.matched.map(|matched| matched.place),
            agreed: self.agreed.and_then(|agreed| agreed.place),
            aim: None,
            theme: self.theme,
        }
        .render(wide, buffer);
        self.ends(Scale::fitting(wide.width), wide, buffer);
    }
}

impl Portrait<'_> {
    /// What was agreed and how the player beats with the held chord, in rows taken from the
    /// wake: the first may take its only row, the second leaves it one.
    fn said(&self, spare: u16) -> Vec<Line<'static>> {
        let mut said = Vec::new();
        if let (Some(agreed), true) = (self.agreed, spare > 0) {
            said.extend(self.agreed_words(&agreed));
        }
        let left = spare.saturating_sub(said.len() as u16);
        if let Some(matched) = self.part.matched.filter(|_| left > 1) {
            let family = self.part.channel.instrument.family;
            said.push(beats::sentence(matched, family, self.theme));
        }
        said
    }

    /// What was agreed, and how far from its place the player is.
    fn agreed_words(&self, agreed: &Agreed<'_>) -> Option<Line<'static>> {
        let sounding = self.part.state.sounding()?;
        let resolution = agreed.decision.resolution?;
        let (cents, words) = match agreed.place {
            Some(place) => (
                self.precision.deviation(sounding, place),
                format!(", {resolution}"),
            ),
            None => ("leaves it out".to_owned(), String::new()),
        };
        let remark = if agreed.decision.remark.is_empty() {
            String::new()
        } else {
            format!(" \u{2013} {}", agreed.decision.remark)
        };
        Some(Line::from(vec![
            Span::styled(format!("{AGREED} agreed: {cents}"), self.theme.agreed),
            Span::styled(words + &remark, self.theme.text),
        ]))
    }

    /// The third figure; none where it has no room.
    fn third(&self, area: Rect) -> Option<(Hertz, Style, String)> {
        if area.width <= (HELD_PIXELS + WHOLE_PIXELS + 6) * self.scale {
            return None;
        }
        self.settled()
    }

    /// The place that was settled on, and what it is: the agreed one where there is one, else that
    /// in the held chord.
    fn settled(&self) -> Option<(Hertz, Style, String)> {
        if let Some(place) = self.agreed.and_then(|agreed| agreed.place) {
            return Some((place, self.theme.agreed, format!("{AGREED} agreed")));
        }
        let matched = self.part.matched?;
        let label = matched.voice.label;
        let beside = if matched.ratio == Ratio::UNISON {
            format!("{HELD} {label}")
        } else {
            format!("{HELD} {} {label}", matched.ratio)
        };
        Some((matched.place, self.theme.held, beside))
    }

    fn labels(&self, area: Rect, buffer: &mut Buffer) {
        let theme = self.theme;
        let slot = |from: u16, to: u16| {
            let x = area.x.saturating_add(1 + from * self.scale);
            let end = area.x.saturating_add(1 + to * self.scale).min(area.right());
            (x, usize::from(end.saturating_sub(x + 1)))
        };
        if self.is_selected {
            buffer.set_string(area.x, area.y, "\u{25b8}", theme.selected);
        }
        let (x, width) = slot(0, NATURE_PIXELS);
        let name = text::shortened(&self.part.channel.name, width.saturating_sub(2));
        let style = if self.is_selected {
            theme.selected
        } else {
            theme.text
        };
        let (end, _) = buffer.set_stringn(x, area.y, name, width, style);
        let meter = self.part.state.meter();
        let level_style = if meter.is_clipped() {
            theme.notice
        } else {
            theme.faint
        };
        if end + 1 < area.right() {
            buffer.set_string(end + 1, area.y, level_symbol(meter), level_style);
        }
        let doing = self.part.doing.to_string();
        let doing_width = doing.chars().count() as u16;
        let doing_x = (area.right()).saturating_sub(doing_width + 1).max(area.x);
        buffer.set_stringn(doing_x, area.y, &doing, doing_width.into(), theme.text);

        let Some(sounding) = self.part.state.sounding() else {
            return;
        };
        let places = sounding.places();
        let nature = match &places.partial {
            Some(place) => format!("{NATURE} partial {}", text::partial(place).trim_start()),
            None => format!("{NATURE} no partial near"),
        };
        let (x, width) = slot(NATURE_PIXELS, TEMPERED_PIXELS);
        buffer.set_stringn(x, area.y, nature, width, theme.nature);
        let (x, _) = slot(TEMPERED_PIXELS, 0);
        let mut width: usize = doing_x.saturating_sub(x + 1).into();
        if let Some((_, style, label)) = self.third(area) {
            let (third_x, _) = slot(HELD_PIXELS, 0);
            width = width.min(third_x.saturating_sub(x + 1).into());
            let room = doing_x.saturating_sub(third_x + 1).into();
            buffer.set_stringn(third_x, area.y, label, room, style);
        }
        let tempered = format!("{TEMPERED} tempered {}", places.tempered.note.name());
        buffer.set_stringn(x, area.y, tempered, width, theme.tempered);
    }

    /// How far this finer axis reaches, below its ends.
    fn ends(&self, scale: Scale, axis: Rect, buffer: &mut Buffer) {
        if axis.height < 2 || axis.width < 40 {
            return;
        }
        let (low, high) = text::reach(scale.reach());
        let style = self.theme.faint;
        buffer.set_string(axis.x, axis.y + 1, low, style);
        let high = format!("{high} cents");
        let x = axis.x + scale.columns() - high.chars().count() as u16;
        buffer.set_string(x, axis.y + 1, high, style);
    }

    fn figures(&self, area: Rect, buffer: &mut Buffer) {
        let Some(sounding) = self.part.state.sounding() else {
            return;
        };
        let (scale, theme) = (self.scale, self.theme);
        let y = area.y + 1;
        let left = area.x + 1;
        let places = sounding.places();
        // A cross for the double sharp, which two sharps would be too wide for.
        let note = places.tempered.note;
        let name = note
            .name()
            .to_string()
            .replace("\u{266f}\u{266f}", "\u{d7}");
        digits::draw(&name, (left, y), scale, theme.player, area, buffer);
        let x = left + digits::width(&name, scale) + scale;
        let octave = note.octave().to_string().replace('-', "\u{2212}");
        digits::draw(&octave, (x, y), scale, theme.faint, area, buffer);

        let mut figure = |text: &str, slot: u16, style: Style| {
            let (whole, tenths) = text.split_at(text.find('.').unwrap_or(text.len()));
            let end = left + (slot + WHOLE_PIXELS) * scale;
            let x = end.saturating_sub(digits::width(whole, scale));
            digits::draw(whole, (x, y), scale, style, area, buffer);
            digits::draw(tenths, (end + scale, y), scale, style, area, buffer);
        };
        let from_nature = places.partial.map_or_else(
            || "\u{2014}".to_owned(),
            |place| self.precision.deviation(sounding, place.place),
        );
        figure(&from_nature, NATURE_PIXELS, theme.nature);
        let from_tempered = self.precision.deviation(sounding, places.tempered.place);
        figure(&from_tempered, TEMPERED_PIXELS, theme.tempered);
        if let Some((place, style, _)) = self.third(area) {
            figure(
                &self.precision.deviation(sounding, place),
                HELD_PIXELS,
                style,
            );
        }
    }
}
