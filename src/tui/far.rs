//! The chord in block figures, for whoever stands three metres away.
//!
//! ```text
//!  Violin I octave below p12 2.9/s lower   Viola octave below p8     still
//!  ▄▀▄ █ █             ▄  █▀▀              █▀▄ █ █                █▀█
//!  █▀█ ▀▀█            ▀█▀ █▀█ ▀█▀          █ █ ▀▀█            ▀█▀ █ █
//!  ▀ ▀   ▀                ▀▀▀              ▀▀    ▀            ▀▀▀ ▀▀▀
//!       ▄▄▄▄▄▄▄▄▄▄▄▄▄▄
//! ```

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::widgets::Widget;

use super::axis::{HELD, NATURE, TEMPERED};
use super::beats;
use super::digits;
use super::ladder;
use super::text::{self, Precision};
use super::theme::Theme;
use crate::rehearsal::{Rehearsal, Told, Voice, Way};

/// Pixels of an entry: a note, its cents and a triangle.
const NOTE: u16 = 13;
const CENTS: u16 = NOTE + 1 + 11;
const ENTRY: u16 = CENTS + 1 + 3;
/// Columns that the words need, whatever the size of the figures.
const WORDS: u16 = 38;

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

/// Columns of an entry.
fn columns(scale: u16) -> u16 {
    (ENTRY * scale + 1).max(WORDS)
}

/// The largest figures in which `count` entries fit into `area`, and how many stand side by
/// side.
fn grid(area: Rect, count: usize) -> (u16, u16) {
    let side_by_side = |scale: u16| (area.width / columns(scale)).max(1);
    let fits = |scale: &u16| {
        let places = side_by_side(*scale) * (area.height / rows(*scale));
        area.width >= columns(*scale) && usize::from(places) >= count
    };
    let scale = (1..=6).rev().find(fits).unwrap_or(1);
    // As few columns as will do, so that the words have room.
    let down = (area.height / rows(scale)).max(1);
    let columns = (count as u16).div_ceil(down).clamp(1, side_by_side(scale));
    (scale, columns)
}

/// Entries that find no room in `area`.
pub(super) fn n_hidden(rehearsal: &Rehearsal, area: Rect) -> usize {
    let count = rehearsal.voices().count();
    if area.height < rows(1) || area.width < WORDS || count == 0 {
        return 0;
    }
    let (scale, columns) = grid(area, count);
    let down = usize::from(area.height / rows(scale)).max(1);
    count.saturating_sub(down * usize::from(columns))
}

impl Widget for Far<'_> {
    fn render(self, area: Rect, buffer: &mut Buffer) {
        let area = area.intersection(buffer.area);
        let voices: Vec<Voice<'_>> = self.rehearsal.voices().collect();
        if area.height < rows(1) || area.width < WORDS || voices.is_empty() {
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
        self.words(voice, area, buffer);
        let (left, y) = (area.x + 1, area.y + 1);
        let mut draw = |text: &str, x: u16, style| {
            digits::draw(text, (x, y), scale, style, area, buffer);
        };
        let places = voice.sounding.places();
        let partial = voice.label.partial().filter(|_| voice.is_trumpet());
        let (what, style) = if let Some(partial) = partial {
            (partial.number().to_string(), theme.nature)
        } else {
            let note = places.tempered.note.to_string();
            (note.replace("\u{266f}\u{266f}", "\u{d7}"), theme.faint)
        };
        // Fainter than the cents, which are what is looked for.
        draw(&what, left, style);
        if !voice.has_pitch() {
            return self.pulse(voice, scale, area, buffer);
        }
        let (place, style) = match (voice.matched, places.partial) {
            (Some(matched), _) => (matched.place, theme.held),
            (None, Some(place)) => (place.place, theme.nature),
            (None, None) => (places.tempered.place, theme.tempered),
        };
        let cents = Precision::Whole.deviation(voice.sounding, place);
        let end = left + CENTS * scale;
        draw(
            &cents,
            end.saturating_sub(digits::width(&cents, scale)),
            style,
        );
        if let Some(matched) = voice.matched.filter(|_| !voice.is_trumpet()) {
            let family = voice.player.instrument.family;
            if beats::way(matched, family).is_some() {
                let is_up = matched.slower() == Some(Way::Higher);
                let at = (end + scale, y);
                digits::triangle(is_up, at, scale, theme.player, area, buffer);
            }
        }
        self.pulse(voice, scale, area, buffer);
    }

    /// Who it is, beside what, and how it beats.
    fn words(&self, voice: &Voice<'_>, area: Rect, buffer: &mut Buffer) {
        let theme = self.theme;
        let beside = voice
            .matched
            .filter(|_| !voice.is_trumpet() && voice.has_pitch());
        let told = match beside {
            Some(matched) if matched.pulse.is_still() => "still".to_owned(),
            Some(matched) => beats::told(matched, voice.player.instrument.family),
            None => ladder::status(voice),
        };
        let told_x = area.right().saturating_sub(told.chars().count() as u16 + 2);
        let left = area.x + 1;
        let room = usize::from(told_x.saturating_sub(left + 1));
        let name = text::shortened(&voice.name(), room);
        let (end, _) = buffer.set_stringn(left, area.y, &name, room, theme.player);
        let (place, style) = match voice.matched {
            Some(_) if voice.is_trumpet() => (format!("{HELD} partial"), theme.held),
            Some(matched) => (beats::place(matched), theme.text),
            None if voice.sounding.places().partial.is_some() => {
                (format!("{NATURE} partial"), theme.nature)
            }
            None => (format!("{TEMPERED} tempered"), theme.tempered),
        };
        let room = usize::from(told_x.saturating_sub(end + 2));
        let place = match voice.matched.filter(|_| place.chars().count() > room) {
            Some(matched) if !voice.is_trumpet() => {
                format!("{} {}", matched.ratio, matched.voice.label)
            }
            _ => place,
        };
        buffer.set_stringn(end + 1, area.y, place, room, style);
        buffer.set_string(told_x, area.y, told, theme.text);
    }

    /// A bar as long as the two tones are loud together.
    fn pulse(&self, voice: &Voice<'_>, scale: u16, area: Rect, buffer: &mut Buffer) {
        let together = match voice.told {
            Told::InChord { together, .. } => together.map(|together| together.pulse),
            Told::Alone(_) => None,
        };
        let beside = voice.matched.filter(|_| !voice.is_trumpet());
        let pulse = together.or(beside.map(|matched| matched.pulse));
        let Some(pulse) = pulse.filter(|pulse| !pulse.is_still()) else {
            return;
        };
        let Some(swell) = pulse.swell() else {
            return;
        };
        let length = CENTS * scale;
        let lit = (f64::from(length) * swell).round() as u16;
        let x = area.x + 1 + (length - lit) / 2;
        let room = usize::from(area.right().saturating_sub(x));
        let bar = "\u{2584}".repeat(lit.into());
        buffer.set_stringn(x, area.bottom() - 1, bar, room, self.theme.text);
    }
}
