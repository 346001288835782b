//! One player in one to five rows.
//!
//! ```text
//! ▸Trumpet I   ▅ G♯5   11  −2    G♯   −41    ········◇·●┄······□··········   steady ±2
//!                                                     ▗▌       ┆
//! ```

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::widgets::Widget;

use super::axis::{AGREED, Axis, HELD, NATURE, Scale, TEMPERED};
use super::layout::{Column, Columns};
use super::text::{self, Precision};
use super::theme::Theme;
use crate::rehearsal::{Agreed, Meter, Part};

/// In place of cents, for a player who leaves the note out.
const OUT: &str = " out";

/// One player.
pub(super) struct Strip<'a> {
    pub(super) part: Part<'a>,
    /// What is agreed on the note that sounds.
    pub(super) agreed: Option<Agreed<'a>>,
    pub(super) columns: &'a Columns,
    pub(super) precision: Precision,
    pub(super) is_selected: bool,
    pub(super) theme: &'a Theme,
}

/// A quarter block's height of level: nothing below -60 dBFS, full at -4.
pub(super) fn level_symbol(meter: &Meter) -> &'static str {
    const BARS: [&str; 9] = [
        " ", "\u{2581}", "\u{2582}", "\u{2583}", "\u{2584}", "\u{2585}", "\u{2586}", "\u{2587}",
        "\u{2588}",
    ];
    if meter.is_clipped() {
        return "!";
    }
    let steps = ((meter.level().get() + 60.0) / 7.0).clamp(0.0, 8.0);
    BARS[steps as usize]
}

/// Writes `text` into a column of `area`, cut to its width.
fn write(column: Column, text: &str, style: Style, area: Rect, buffer: &mut Buffer) {
    let x = area.x.saturating_add(column.x);
    if x < area.right() {
        let width = column.width.min(area.right() - x);
        buffer.set_stringn(x, area.y, text, usize::from(width), style);
    }
}

impl Widget for Strip<'_> {
    fn render(self, area: Rect, buffer: &mut Buffer) {
        let area = area.intersection(buffer.area);
        if area.is_empty() {
            return;
        }
        let Self {
            part,
            agreed,
            columns,
            precision,
            is_selected,
            theme,
        } = self;
        let name_style = if is_selected {
            theme.selected
        } else {
            theme.text
        };
        if is_selected {
            buffer.set_string(area.x, area.y, "\u{25b8}", theme.selected);
        }
        let name = text::shortened(&part.channel.name, columns.name.width.into());
        write(columns.name, &name, name_style, area, buffer);
        let meter = part.state.meter();
        let level_style = if meter.is_clipped() {
            theme.notice
        } else {
            theme.faint
        };
        write(
            columns.level,
            level_symbol(meter),
            level_style,
            area,
            buffer,
        );

        if let Some(sounding) = part.state.sounding() {
            let places = sounding.places();
            let tempered = places.tempered;
            write(
                columns.note,
                &tempered.note.to_string(),
                theme.player,
                area,
                buffer,
            );
            let (partial, from_nature) = match &places.partial {
                Some(place) => (
                    text::partial(place),
                    precision.deviation(sounding, place.place),
                ),
                None => (String::new(), "\u{2014}".to_owned()),
            };
            write(columns.partial, &partial, theme.nature, area, buffer);
            write(
                columns.nature,
                &text::in_field(&from_nature),
                theme.nature,
                area,
                buffer,
            );
            let name = tempered.note.name().to_string();
            write(columns.tempered_name, &name, theme.tempered, area, buffer);
            let from_tempered = precision.deviation(sounding, tempered.place);
            write(
                columns.tempered,
                &text::in_field(&from_tempered),
                theme.tempered,
                area,
                buffer,
            );
        }
        beside(&part, agreed, columns, precision, theme, area, buffer);
        let doing = if columns.is_roomy {
            part.doing.to_string()
        } else {
            part.doing.word().to_owned()
        };
        let style = if part.state.sounding().is_some() {
            theme.text
        } else {
            theme.faint
        };
        write(columns.doing, &doing, style, area, buffer);
    }
}

/// The axis, and how far the player is from what was agreed and from the held chord.
fn beside(
    part: &Part<'_>,
    agreed: Option<Agreed<'_>>,
    columns: &Columns,
    precision: Precision,
    theme: &Theme,
    area: Rect,
    buffer: &mut Buffer,
) {
    if let Some(sounding) = part.state.sounding() {
        let from = |place| text::in_field(&precision.deviation(sounding, place));
        let agreed = agreed.map(|agreed| agreed.place.map_or_else(|| OUT.to_owned(), from));
        let held = part.matched.map(|matched| from(matched.place));
        let (first, second) = if columns.shares {
            let marked = |mark: &str, cents| format!("{mark} {cents}");
            let agreed = agreed.map(|cents| marked(AGREED, cents));
            (agreed.or(held.map(|cents| marked(HELD, cents))), None)
        } else {
            (agreed, held)
        };
        if let Some(cents) = first {
            write(columns.agreed, &cents, theme.agreed, area, buffer);
        }
        if let Some(cents) = second {
            write(columns.held, &cents, theme.held, area, buffer);
        }
    }
    let axis = Rect {
        x: area.x + columns.axis.x,
        width: columns.axis.width,
        ..area
    };
    Axis {
        scale: Scale::fitting(columns.axis.width),
        state: part.state,
        held: part.matched.map(|matched| matched.place),
        agreed: agreed.and_then(|agreed| agreed.place),
        aim: None,
        theme,
    }
    .render(axis, buffer);
}

/// What the columns of the strips below it are.
pub(super) struct Heading<'a> {
    pub(super) columns: &'a Columns,
    pub(super) theme: &'a Theme,
}

impl Widget for Heading<'_> {
    fn render(self, area: Rect, buffer: &mut Buffer) {
        let area = area.intersection(buffer.area);
        if area.is_empty() {
            return;
        }
        let Self { columns, theme } = self;
        let through = |first: Column, last: Column| Column {
            x: first.x,
            width: last.x + last.width - first.x,
        };
        write(columns.note, "note", theme.faint, area, buffer);
        let nature = format!(" {NATURE} partial");
        write(
            through(columns.partial, columns.nature),
            &nature,
            theme.nature,
            area,
            buffer,
        );
        let (tempered, place) = if columns.is_roomy {
            (
                format!("{TEMPERED} tempered"),
                through(columns.tempered_name, columns.tempered),
            )
        } else {
            (format!("  {TEMPERED}"), columns.tempered)
        };
        write(place, &tempered, theme.tempered, area, buffer);
        let agreed = if columns.shares {
            format!("{AGREED} or {HELD}")
        } else {
            format!("  {AGREED}")
        };
        write(columns.agreed, &agreed, theme.agreed, area, buffer);
        write(columns.held, &format!("  {HELD}"), theme.held, area, buffer);
        Ruler {
            scale: Scale::fitting(columns.axis.width),
            theme,
        }
        .render(
            Rect {
                x: area.x + columns.axis.x,
                width: columns.axis.width,
                ..area
            },
            buffer,
        );
    }
}

/// The ends of an axis and its unit.
pub(super) struct Ruler<'a> {
    pub(super) scale: Scale,
    pub(super) theme: &'a Theme,
}

impl Widget for Ruler<'_> {
    fn render(self, area: Rect, buffer: &mut Buffer) {
        let area = area.intersection(buffer.area);
        let columns = usize::from(self.scale.columns());
        if area.is_empty() || usize::from(area.width) < columns {
            return;
        }
        let (low, high) = text::reach(self.scale.reach());
        let ends = low.chars().count() + high.chars().count();
        let unit = "cents";
        if ends + unit.len() + 2 <= columns {
            let middle = area.x + (columns - unit.len()) as u16 / 2;
            buffer.set_string(middle, area.y, unit, self.theme.faint);
        }
        buffer.set_string(area.x, area.y, &low, self.theme.faint);
        let right = area.x + (columns - high.chars().count()) as u16;
        buffer.set_string(right, area.y, &high, self.theme.faint);
    }
}
