//! Bars of every input, moving as one plays.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::desk::Around;
use super::hearing::Heard;

/// The quietest level that shows, and the loudest.
const RANGE_DB: (f64, f64) = (-70.0, 0.0);
/// Columns of a bar's number and of its level.
const SIDES: u16 = 14;
/// The narrowest column of bars.
const NARROWEST: u16 = 26;
/// The widest bar.
const WIDEST: u16 = 40;
/// Columns of a player's name.
const NAME: u16 = 18;

/// Draws the bars in as many columns as they need; that of `marked` stands out.
pub(super) fn draw(area: Rect, buffer: &mut Buffer, around: &Around<'_>, marked: Option<usize>) {
    let inputs = &around.hearing.inputs;
    if inputs.is_empty() || area.height == 0 || area.width < NARROWEST {
        return;
    }
    let most = usize::from(area.width / NARROWEST).max(1);
    let rows = inputs
        .len()
        .div_ceil(most)
        .max(usize::from(area.height).min(inputs.len()));
    let columns = inputs.len().div_ceil(rows).max(1);
    let width = area.width / columns as u16;
    // Where not all have room, the marked one has.
    let first = marked.map_or(0, |at| {
        (at % rows).saturating_sub(usize::from(area.height) - 1)
    });
    for (at, heard) in inputs.iter().enumerate() {
        let row = at % rows;
        if row < first || row - first >= usize::from(area.height) {
            continue;
        }
        let cell = Rect {
            x: area.x + (at / rows) as u16 * width,
            y: area.y + (row - first) as u16,
            width: width.saturating_sub(1),
            height: 1,
        };
        draw_one(cell, buffer, around, (at, heard), marked == Some(at));
    }
}

fn draw_one(
    cell: Rect,
    buffer: &mut Buffer,
    around: &Around<'_>,
    (at, heard): (usize, &Heard),
    is_marked: bool,
) {
    let theme = around.theme;
    let name = around.players.get(&at).map_or("", String::as_str);
    let room = cell.width.saturating_sub(SIDES);
    let named = if room >= NAME + 8 { NAME } else { 0 };
    let length = room.saturating_sub(named).min(WIDEST);
    let share = ((heard.bar - RANGE_DB.0) / (RANGE_DB.1 - RANGE_DB.0)).clamp(0.0, 1.0);
    let eighths = (share * f64::from(length) * 8.0).round() as usize;
    let mut bar = "\u{2588}".repeat(eighths / 8);
    if !eighths.is_multiple_of(8) {
        // The blocks from one eighth to seven.
        bar.extend(char::from_u32(0x2590 - (eighths % 8) as u32));
    }
    let style = if is_marked { theme.player } else { theme.text };
    let mark = if is_marked { "\u{25b8}" } else { " " };
    buffer.set_stringn(cell.x, cell.y, format!("{mark}{:>2} ", at + 1), 4, style);
    let rail = "\u{2500}".repeat(length.into());
    buffer.set_stringn(cell.x + 4, cell.y, rail, length.into(), theme.rail);
    buffer.set_stringn(cell.x + 4, cell.y, bar, length.into(), style);
    let level = if heard.is_clipping {
        "too loud".to_owned()
    } else if heard.bar <= RANGE_DB.0 {
        "     \u{b7}".to_owned()
    } else {
        format!("{:>4.0} dB", heard.bar).replace('-', "\u{2212}")
    };
    let after = cell.x + 4 + length + 1;
    let style = if heard.is_clipping {
        theme.notice
    } else {
        theme.faint
    };
    buffer.set_stringn(
        after,
        cell.y,
        level,
        cell.right().saturating_sub(after).into(),
        style,
    );
    if named > 0 {
        let after = after + 9;
        let room = usize::from(cell.right().saturating_sub(after));
        buffer.set_stringn(after, cell.y, name, room, theme.player);
    }
}
