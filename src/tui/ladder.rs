//! The ladder: one rung for each partial, the partial's own place in the middle of every one,
//! and beside it the tempered note, the held chord, the trumpets and the players.

mod columns;
mod row;

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::widgets::Widget;

use super::axis::{HELD, NATURE, Scale, TEMPERED};
use super::beats;
use super::rungs::Rungs;
use super::strip::Ruler;
use super::text::Precision;
use super::theme::Theme;
use crate::rehearsal::{HeldVoice, Rehearsal, Standing, Told, Voice};
use columns::Columns;
use row::Row;

/// A player beside the chord.
pub(super) const BESIDE: &str = "\u{25cb}";
/// A player in the same column as the place beside the chord.
pub(super) const THERE: &str = "\u{25c9}";

/// The ladder below its heading.
pub(super) struct Ladder<'a> {
    pub(super) rehearsal: &'a Rehearsal,
    pub(super) precision: Precision,
    /// Rows scrolled away, where not all find room.
    pub(super) scrolled: usize,
    pub(super) theme: &'a Theme,
}

/// The ladder's rungs, as many as find room below the heading.
fn rungs(rehearsal: &Rehearsal, area: Rect) -> Rungs<'_> {
    let held = rehearsal.shelf().current();
    let held: &[HeldVoice] = held.map_or(&[], |(_, chord)| &chord.voices);
    let in_rows = |rows| Rungs::new(rehearsal.voices(), held, rehearsal.tuning(), rows);
    let rows = usize::from(area.height - 1);
    let ladder = in_rows(rows);
    if !ladder.elsewhere.is_empty() && ladder.rows() + 1 > rows {
        return in_rows(rows - 1);
    }
    ladder
}

/// Rows for the rungs: those who stand beside no voice have the last one.
fn room(ladder: &Rungs<'_>, area: Rect) -> usize {
    usize::from(area.height - 1) - ladder.elsewhere.len().min(1)
}

/// Rows that find no room in `area`.
pub(super) fn n_hidden(rehearsal: &Rehearsal, area: Rect) -> usize {
    if area.height < 3 {
        return 0;
    }
    let ladder = rungs(rehearsal, area);
    ladder.rows().saturating_sub(room(&ladder, area))
}

impl Widget for Ladder<'_> {
    fn render(self, area: Rect, buffer: &mut Buffer) {
        let area = area.intersection(buffer.area);
        if area.height < 3 || area.width < 50 {
            return;
        }
        let ladder = rungs(self.rehearsal, area);
        let names = self
            .rehearsal
            .voices()
            .map(|voice| voice.name().chars().count());
        let columns = Columns::new(area.width, names.max().unwrap_or(0).min(99) as u16);
        self.heading(&columns, area, buffer);
        self.rungs(&ladder, &columns, area, buffer);
        self.elsewhere(&ladder, area, buffer);
    }
}

impl Ladder<'_> {
    fn heading(&self, columns: &Columns, area: Rect, buffer: &mut Buffer) {
        let theme = self.theme;
        let key = self.rehearsal.tuning().series().key();
        write(
            (area.x + 1, area.y),
            &format!("in {key}"),
            theme.nature,
            area,
            buffer,
        );
        let (x, width) = columns.axis;
        let axis = Rect {
            x: area.x + x,
            width,
            height: 1,
            ..area
        };
        Ruler {
            scale: Scale::fitting(width),
            theme,
        }
        .render(axis, buffer);
        let mut mark = |x: u16, symbol: &str, style| {
            write((area.x + x + 3, area.y), symbol, style, area, buffer);
        };
        mark(columns.nature, NATURE, theme.nature);
        if let Some(tempered) = columns.tempered {
            mark(tempered, TEMPERED, theme.tempered);
        }
        mark(columns.held, HELD, theme.held);
    }

    fn rungs(&self, ladder: &Rungs<'_>, columns: &Columns, area: Rect, buffer: &mut Buffer) {
        let room = room(ladder, area);
        // Rungs stand apart as far as there is room.
        let spare_rows = room.saturating_sub(ladder.rows());
        let gap = (spare_rows / ladder.rungs.len().max(1)).min(2);
        let excess = ladder.rows().saturating_sub(room);
        let hidden = excess.min(self.scrolled);
        let more = match (hidden, excess - hidden) {
            (0, 0) => None,
            (0, below) => Some(format!("{below} more \u{2193}")),
            (above, 0) => Some(format!("{above} more \u{2191}")),
            (above, below) => Some(format!("{above}\u{2191} {below}\u{2193} more")),
        };
        if let Some(text) = more {
            let x = area.right().saturating_sub(text.chars().count() as u16 + 1);
            write((x, area.y), &text, self.theme.text, area, buffer);
        }
        let mut row = 0;
        let mut next = || {
            let at = row;
            row += 1;
            let shown = at >= hidden && at - hidden < room;
            shown.then(|| area.y + 1 + (at - hidden) as u16)
        };
        for rung in &ladder.rungs {
            let line = Row {
                ladder: self,
                columns,
                rung,
                area,
            };
            let n_trumpets = rung.trumpets.len().max(1);
            for index in 0..n_trumpets {
                if let Some(y) = next() {
                    line.trumpet(index, y, buffer);
                }
            }
            for voice in &rung.players {
                if let Some(y) = next() {
                    line.player(voice, y, buffer);
                }
            }
            for _ in 0..gap {
                if let Some(y) = next() {
                    line.spine(y, buffer);
                }
            }
        }
    }

    /// Those who stand beside no voice.
    fn elsewhere(&self, ladder: &Rungs<'_>, area: Rect, buffer: &mut Buffer) {
        if ladder.elsewhere.is_empty() {
            return;
        }
        let told = ladder.elsewhere.iter().map(|voice| {
            let places = voice.sounding.places();
            let told = if voice.has_pitch() {
                let place = places.tempered.place;
                self.precision.deviation(voice.sounding, place)
            } else {
                status(voice)
            };
            match voice.told {
                Told::Alone(_) => format!("{} {} {told}", voice.name(), places.tempered.note),
                Told::InChord { .. } => format!("{} {told}", voice.name()),
            }
        });
        let told = told.collect::<Vec<_>>().join(", ");
        let text = format!("beside no voice ({TEMPERED}): {told}");
        write(
            (area.x + 1, area.bottom() - 1),
            &text,
            self.theme.tempered,
            area,
            buffer,
        );
    }
}

/// What is said of a voice in a few words, which should fit into `room` columns.
fn words(voice: &Voice<'_>, room: usize) -> String {
    let is_clear = match voice.told {
        Told::Alone(_) => true,
        Told::InChord {
            standing, together, ..
        } => standing == Standing::Clear && together.is_none(),
    };
    match voice.matched.filter(|_| is_clear && !voice.is_trumpet()) {
        Some(matched) => {
            let words = beats::short(matched, voice.player.instrument.family, room);
            // The note its cents count from, which the rung it stands on may not be.
            let note = voice.sounding.places().tempered.note.to_string();
            if note.chars().count() + 1 + words.chars().count() <= room {
                format!("{note} {words}")
            } else {
                words
            }
        }
        None => status(voice),
    }
}

/// What a voice does, or what may be said of it.
pub(super) fn status(voice: &Voice<'_>) -> String {
    match voice.told {
        Told::Alone(doing) => doing.to_string(),
        Told::InChord {
            standing,
            together: Some(together),
            ..
        } => {
            let pulse = together.pulse;
            let beats = format!("{}{}/s", beats::bar(pulse), beats::rate(pulse));
            match standing {
                // Two pitches, whosever they are.
                Standing::Clear | Standing::Doubtful => format!("{beats} with {}", together.with),
                Standing::Merged { .. } | Standing::Absent => format!("together {beats}"),
            }
        }
        Told::InChord { standing, span, .. } => match standing {
            Standing::Clear => format!("\u{b1}{:.1} in {:.1} s", voice.margin.get(), span.get()),
            Standing::Merged { with, partial: 1 } => format!("together, {with}"),
            Standing::Merged { with, partial } => format!("merged {partial} of {with}"),
            Standing::Doubtful => format!("doubtful \u{b1}{:.0}", voice.margin.get()),
            Standing::Absent => "not heard".to_owned(),
        },
    }
}

/// Writes `text` from `at` on, cut at the end of `area`.
fn write(at: (u16, u16), text: &str, style: Style, area: Rect, buffer: &mut Buffer) {
    if area.contains(at.into()) {
        let room = usize::from(area.right() - at.0);
        buffer.set_stringn(at.0, at.1, text, room, style);
    }
}
