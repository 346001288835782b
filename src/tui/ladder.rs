//! The ladder: one rung for each partial, the partial's own place in the middle of every one,
//! and beside it the tempered note, the held chord, the trumpets and the players.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::widgets::Widget;

use super::axis::{ABOVE, BELOW, HELD, LINE, NATURE, PLAYER, Place, RAIL, Scale, TEMPERED, put};
use super::beats;
use super::rungs::{Rung, Rungs};
use super::strip::Ruler;
use super::text::{self, Precision};
use super::theme::Theme;
use crate::rehearsal::{HeldVoice, Pulse, Rehearsal, Standing, Told, Voice};
use crate::units::{Cents, Hertz};

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

/// The columns of the ladder.
#[derive(Debug, Clone, Copy)]
struct Columns {
    axis: (u16, u16),
    name: (u16, u16),
    nature: u16,
    /// Left out in narrow windows.
    tempered: Option<u16>,
    held: u16,
    words: u16,
}

/// Columns of a partial's number and note, and of a figure.
const LABEL: u16 = 9;
const FIGURE: u16 = 5;
const WORDS: u16 = 15;

impl Columns {
    fn new(width: u16, longest_name: u16) -> Self {
        let (most, gap) = match width {
            0..76 => (10, 0),
            76..110 => (14, 1),
            _ => (22, 3),
        };
        let name = longest_name.clamp(6, most);
        let n_figures: u16 = if width < 76 { 2 } else { 3 };
        let figures = n_figures * (FIGURE + gap.min(1)) + gap;
        let right = name + 1 + figures + WORDS + gap;
        let room = width.saturating_sub(LABEL + 1 + right + 1);
        // Beyond twice the width that shows single cents an axis is only long.
        let axis = (room.clamp(11, 97) - 1) / 2 * 2 + 1;
        let name_x = LABEL + axis + 1 + gap;
        let first = name_x + name + 1;
        let step = FIGURE + gap.min(1);
        let tempered = (n_figures == 3).then_some(first + step);
        let held = first + step * (n_figures - 1);
        Self {
            axis: (LABEL, axis),
            name: (name_x, name),
            nature: first,
            tempered,
            held,
            words: held + FIGURE + 1 + gap,
        }
    }
}

impl Widget for Ladder<'_> {
    fn render(self, area: Rect, buffer: &mut Buffer) {
        let area = area.intersection(buffer.area);
        if area.height < 3 || area.width < 50 {
            return;
        }
        let held = self.rehearsal.shelf().current();
        let held: &[HeldVoice] = held.map_or(&[], |(_, chord)| &chord.voices);
        let rows = usize::from(area.height - 1);
        let voices = self.rehearsal.voices();
        let mut ladder = Rungs::new(voices, held, self.rehearsal.tuning(), rows);
        if !ladder.elsewhere.is_empty() && ladder.rows() + 1 > rows {
            ladder = Rungs::new(
                self.rehearsal.voices(),
                held,
                self.rehearsal.tuning(),
                rows - 1,
            );
        }
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
        let spare = ladder.elsewhere.len().min(1);
        let room = usize::from(area.height - 1) - spare;
        // Rungs stand apart as far as there is room.
        let spare_rows = room.saturating_sub(ladder.rows());
        let gap = (spare_rows / ladder.rungs.len().max(1)).min(2);
        let excess = ladder.rows().saturating_sub(room);
        let hidden = excess.min(self.scrolled);
        if excess > hidden {
            let text = format!("{} more \u{2193}", excess - hidden);
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
            let cents = self
                .precision
                .deviation(voice.sounding, places.tempered.place);
            match voice.told {
                Told::Alone(_) => format!("{} {} {cents}", voice.name(), places.tempered.note),
                Told::InChord { .. } => format!("{} {cents}", voice.name()),
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

/// One rung, being drawn.
struct Row<'a> {
    ladder: &'a Ladder<'a>,
    columns: &'a Columns,
    rung: &'a Rung<'a>,
    area: Rect,
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
    fn spine(&self, y: u16, buffer: &mut Buffer) {
        self.mark(self.partial(), y, LINE, self.ladder.theme.nature, buffer);
    }

    /// The rung itself with its trumpet, or another trumpet below it.
    fn trumpet(&self, index: usize, y: u16, buffer: &mut Buffer) {
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
        let Some(voice) = voice else {
            // Where the partial lies against the tempered note, to know beforehand.
            if let Some(x) = self.columns.tempered.filter(|_| index == 0) {
                let cents = precision_of(self.ladder, place.cents);
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
    fn player(&self, voice: &Voice<'_>, y: u16, buffer: &mut Buffer) {
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
        at(self.columns.words, &words(voice), theme.text);
    }
}

fn precision_of(ladder: &Ladder<'_>, cents: Cents) -> String {
    format!("{:>4}", ladder.precision.cents(cents))
}

/// What is said of a voice in a few words.
fn words(voice: &Voice<'_>) -> String {
    let is_clear = match voice.told {
        Told::Alone(_) => true,
        Told::InChord {
            standing, together, ..
        } => standing == Standing::Clear && together.is_none(),
    };
    match voice.matched.filter(|_| is_clear && !voice.is_trumpet()) {
        Some(matched) => beats::short(matched, voice.player.instrument.family),
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
