//! The chord in block figures, for whoever stands three metres away.
//!
//! ```text
//!  Violin I  octave below p12            Viola  octave below p8
//!  ▄▀▄ █ █        ▀▀█  █                 █▀▄ █ █        ▄█
//!  █▀█ ▀▀█    ▀▀▀ █▀▀ ▀█▀  2.9 lower     █ █ ▀▀█   ▀█▀   █   still
//!  ▀ ▀   ▀        ▀▀▀  ▀                 ▀▀    ▀        ▀▀▀
//!       ━━━━━━━━━━━━━━
//! ```

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::widgets::Widget;

use super::axis::{HELD, NATURE};
use super::beats;
use super::digits;
use super::text::{self, Precision};
use super::theme::Theme;
use crate::rehearsal::{Rehearsal, Told, Voice, Way};

/// Columns of an entry at scale 1: a note, its cents and an arrow.
const ENTRY: u16 = 36;

/// Everyone in block figures.
pub(super) struct Far<'a> {
    pub(super) rehearsal: &'a Rehearsal,
    /// The first voice shown, where not all find room.
    pub(super) first: usize,
    pub(super) theme: &'a Theme,
}

/// Rows of an entry: its name, its figures, its pulse.
fn rows(scale: u16) -> u16 {
    digits::height(scale) + 2
}

/// The largest figures in which `count` entries fit into `area`, and how many stand side by
/// side.
fn grid(area: Rect, count: usize) -> (u16, u16) {
    let side_by_side = |scale: u16| (area.width / (ENTRY * scale)).clamp(1, 3);
    let fits = |scale: &u16| {
        let places = side_by_side(*scale) * (area.height / rows(*scale));
        area.width >= ENTRY * scale && usize::from(places) >= count
    };
    let scale = (1..=6).rev().find(fits).unwrap_or(1);
    // As few columns as will do, so that the words have room.
    let down = (area.height / rows(scale)).max(1);
    let columns = (count as u16).div_ceil(down).clamp(1, side_by_side(scale));
    (scale, columns)
}

impl Widget for Far<'_> {
    fn render(self, area: Rect, buffer: &mut Buffer) {
        let area = area.intersection(buffer.area);
        let voices: Vec<Voice<'_>> = self.rehearsal.voices().collect();
        if area.height < rows(1) || area.width < ENTRY || voices.is_empty() {
            return;
        }
        let (scale, columns) = grid(area, voices.len());
        let down = usize::from(area.height / rows(scale)).max(1);
        let most = down * usize::from(columns);
        let first = self.first.min(voices.len().saturating_sub(most));
        let width = area.width / columns;
        for (index, voice) in voices[first..].iter().take(most).enumerate() {
            let entry = Rect {
                x: area.x + (index / down) as u16 * width,
                y: area.y + (index % down) as u16 * rows(scale),
                width,
                height: rows(scale),
            };
            self.entry(voice, scale, entry, buffer);
        }
    }
}

impl Far<'_> {
    fn entry(&self, voice: &Voice<'_>, scale: u16, area: Rect, buffer: &mut Buffer) {
        let theme = self.theme;
        let left = area.x + 1;
        let room = usize::from(area.width.saturating_sub(2));
        let place = voice.matched.map(beats::place).unwrap_or_default();
        let name = text::shortened(&voice.name(), room);
        let (end, _) = buffer.set_stringn(left, area.y, &name, room, theme.player);
        let room = usize::from(area.right().saturating_sub(end + 3));
        if voice.is_trumpet() {
            let (mark, style) = if voice.matched.is_some() {
                (HELD, theme.held)
            } else {
                (NATURE, theme.nature)
            };
            let text = format!("{mark} partial");
            buffer.set_stringn(end + 2, area.y, text, room, style);
        } else {
            buffer.set_stringn(end + 2, area.y, place, room, theme.text);
        }
        let y = area.y + 1;
        let draw = |text: &str, x: u16, style, buffer: &mut Buffer| {
            digits::draw(text, (x, y), scale, style, area, buffer);
        };
        let places = voice.sounding.places();
        let what = match voice.label.partial().filter(|_| voice.is_trumpet()) {
            Some(partial) => partial.number().to_string(),
            None => places
                .tempered
                .note
                .to_string()
                .replace("\u{266f}\u{266f}", "\u{d7}"),
        };
        let style = if voice.is_trumpet() {
            theme.nature
        } else {
            theme.player
        };
        draw(&what, left, style, buffer);
        if voice.is_absent() {
            let x = left + digits::width("A\u{266f}4", scale) + 2 * scale;
            buffer.set_stringn(x, y, "not heard", room, theme.text);
            return;
        }
        let (cents, style) = match (voice.matched, places.partial) {
            (Some(matched), _) => (
                Precision::Whole.deviation(voice.sounding, matched.place),
                theme.held,
            ),
            (None, Some(place)) => (
                Precision::Whole.deviation(voice.sounding, place.place),
                theme.nature,
            ),
            (None, None) => {
                let place = places.tempered.place;
                (
                    Precision::Whole.deviation(voice.sounding, place),
                    theme.tempered,
                )
            }
        };
        let end = left + 26 * scale;
        draw(
            &cents,
            end.saturating_sub(digits::width(&cents, scale)),
            style,
            buffer,
        );
        if let Some(matched) = voice.matched {
            let family = voice.player.instrument.family;
            let x = end + 2 * scale;
            if let Some(way) = beats::way(matched, family) {
                let is_up = matched.slower() == Some(Way::Higher);
                draw(
                    if is_up { "\u{2191}" } else { "\u{2193}" },
                    x,
                    theme.player,
                    buffer,
                );
                self.beats(
                    &format!("{} {way}", beats::rate(matched.pulse)),
                    x + 5 * scale,
                    area,
                    buffer,
                );
            } else if matched.pulse.is_still() {
                self.beats("still", x, area, buffer);
            } else {
                self.beats(&beats::rate(matched.pulse), x, area, buffer);
            }
        }
        self.pulse(voice, scale, area, buffer);
    }

    fn beats(&self, text: &str, x: u16, area: Rect, buffer: &mut Buffer) {
        let y = area.y + 1;
        let room = usize::from(area.right().saturating_sub(x));
        if x < area.right() {
            buffer.set_stringn(x, y, text, room, self.theme.text);
        }
    }

    /// A bar as long as the two tones are loud together.
    fn pulse(&self, voice: &Voice<'_>, scale: u16, area: Rect, buffer: &mut Buffer) {
        let together = match voice.told {
            Told::InChord { together, .. } => together.map(|together| together.pulse),
            Told::Alone(_) => None,
        };
        let pulse = together.or(voice.matched.map(|matched| matched.pulse));
        let Some(pulse) = pulse.filter(|pulse| !pulse.is_still()) else {
            return;
        };
        let Some(swell) = pulse.swell() else {
            return;
        };
        let length = 26 * scale;
        let lit = (f64::from(length) * swell).round() as u16;
        let x = area.x + 1 + (length - lit) / 2;
        let room = usize::from(area.right().saturating_sub(x));
        let bar = "\u{2501}".repeat(lit.into());
        buffer.set_stringn(x, area.bottom() - 1, bar, room, self.theme.text);
    }
}
