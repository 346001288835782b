//! Block figures and note names, to be read from the back of the stage.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;

/// Pixels of a character from top to bottom.
const HEIGHT: usize = 5;

/// The pixels of a character, one row each, the leftmost pixel in the highest of the low
/// `width` bits.
fn glyph(character: char) -> (usize, [u8; HEIGHT]) {
    let rows = match character {
        '0' => [0b111, 0b101, 0b101, 0b101, 0b111],
        '1' => [0b010, 0b110, 0b010, 0b010, 0b111],
        '2' => [0b111, 0b001, 0b111, 0b100, 0b111],
        '3' => [0b111, 0b001, 0b111, 0b001, 0b111],
        '4' => [0b101, 0b101, 0b111, 0b001, 0b001],
        '5' => [0b111, 0b100, 0b111, 0b001, 0b111],
        '6' => [0b111, 0b100, 0b111, 0b101, 0b111],
        '7' => [0b111, 0b001, 0b001, 0b001, 0b001],
        '8' => [0b111, 0b101, 0b111, 0b101, 0b111],
        '9' => [0b111, 0b101, 0b111, 0b001, 0b111],
        'A' => [0b010, 0b101, 0b111, 0b101, 0b101],
        'B' => [0b110, 0b101, 0b110, 0b101, 0b110],
        'C' => [0b011, 0b100, 0b100, 0b100, 0b011],
        'D' => [0b110, 0b101, 0b101, 0b101, 0b110],
        'E' => [0b111, 0b100, 0b110, 0b100, 0b111],
        'F' => [0b111, 0b100, 0b110, 0b100, 0b100],
        'G' => [0b011, 0b100, 0b101, 0b101, 0b011],
        '+' => [0b000, 0b010, 0b111, 0b010, 0b000],
        '\u{2212}' | '\u{2014}' => [0b000, 0b000, 0b111, 0b000, 0b000],
        '\u{b1}' => [0b010, 0b111, 0b010, 0b000, 0b111],
        // Wider than the letters, or it would pass for an A.
        '\u{266f}' => return (5, [0b01010, 0b11111, 0b01010, 0b11111, 0b01010]),
        '\u{d7}' => [0b000, 0b101, 0b010, 0b101, 0b000],
        '\u{266d}' => [0b100, 0b100, 0b110, 0b101, 0b110],
        '.' => return (1, [0, 0, 0, 0, 1]),
        _ => [0; HEIGHT],
    };
    (3, rows)
}

/// Rows that block text takes at a scale.
pub(super) fn height(scale: u16) -> u16 {
    (HEIGHT as u16 * scale).div_ceil(2)
}

/// Columns that `text` takes at a scale.
pub(super) fn width(text: &str, scale: u16) -> u16 {
    let pixels: usize = text.chars().map(|c| glyph(c).0 + 1).sum();
    (pixels.saturating_sub(1) as u16).saturating_mul(scale)
}

/// Draws `text` with its left edge at `x` and its top at `y`, `scale` half-cells to the
/// pixel, clipped to `area`.
pub(super) fn draw(
    text: &str,
    (x, y): (u16, u16),
    scale: u16,
    style: Style,
    area: Rect,
    buffer: &mut Buffer,
) {
    let mut left = x;
    for character in text.chars() {
        let (columns, rows) = glyph(character);
        let lit = |column: u16, half_row: u16| {
            let row = usize::from(half_row / scale);
            let bit = columns as u16 - 1 - column / scale;
            row < HEIGHT && rows[row] >> bit & 1 == 1
        };
        let columns = columns as u16 * scale;
        paint(
            lit,
            (columns, height(scale)),
            (left, y),
            style,
            area,
            buffer,
        );
        left = left.saturating_add(columns + scale);
    }
}

/// Pixels of a triangle in both directions.
const TRIANGLE: u16 = 3;

/// Draws a triangle that points up or down, beside block text with its top at `y`.
pub(super) fn triangle(
    is_up: bool,
    (x, y): (u16, u16),
    scale: u16,
    style: Style,
    area: Rect,
    buffer: &mut Buffer,
) {
    let side = TRIANGLE * scale;
    let above = (HEIGHT as u16 * scale - side) / 2;
    let lit = |column: u16, half_row: u16| {
        let Some(row) = half_row.checked_sub(above).filter(|row| *row < side) else {
            return false;
        };
        let from_tip = if is_up { row } else { side - 1 - row };
        // Half as far from the middle as from the tip.
        (2 * column + 1).abs_diff(side) <= from_tip + 1
    };
    paint(lit, (side, height(scale)), (x, y), style, area, buffer);
}

/// The outline of a mark, or all of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Shape {
    /// A square on its corner, hollow.
    Diamond,
    /// A square on its corner, full.
    FullDiamond,
    /// A square on its side, hollow.
    Square,
}

/// Columns of a shape at a scale.
pub(super) fn shape_width(scale: u16) -> u16 {
    SHAPE * scale
}

/// Pixels of a shape in both directions: those of the figures beside it.
const SHAPE: u16 = HEIGHT as u16;

/// Draws a shape as large as block text with its top at `y`. Finer than pixels: a diamond of
/// five by five would pass for a plus.
pub(super) fn shape(
    shape: Shape,
    (x, y): (u16, u16),
    scale: u16,
    style: Style,
    area: Rect,
    buffer: &mut Buffer,
) {
    let side = SHAPE * scale;
    let lit = |column: u16, half_row: u16| {
        if half_row >= side {
            return false;
        }
        // Twice the distance from the middle, so that it is a whole number.
        let across = (2 * column + 1).abs_diff(side);
        let down = (2 * half_row + 1).abs_diff(side);
        let from_edge = match shape {
            Shape::Square => (side - 1).saturating_sub(across.max(down)),
            Shape::Diamond | Shape::FullDiamond => match side.checked_sub(across + down) {
                Some(inside) => inside,
                None => return false,
            },
        };
        shape == Shape::FullDiamond || from_edge < 2 * scale
    };
    paint(lit, (side, height(scale)), (x, y), style, area, buffer);
}

/// Lights half-cells of a field of columns and rows, clipped to `area`.
fn paint(
    lit: impl Fn(u16, u16) -> bool,
    (columns, rows): (u16, u16),
    (x, y): (u16, u16),
    style: Style,
    area: Rect,
    buffer: &mut Buffer,
) {
    let area = area.intersection(buffer.area);
    for row in 0..rows {
        for column in 0..columns {
            let symbol = match (lit(column, 2 * row), lit(column, 2 * row + 1)) {
                (true, true) => "\u{2588}",
                (true, false) => "\u{2580}",
                (false, true) => "\u{2584}",
                (false, false) => continue,
            };
            let at = (x.saturating_add(column), y.saturating_add(row));
            if area.contains(at.into()) {
                buffer[at].set_symbol(symbol).set_style(style);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_are_blocks() {
        let area = Rect::new(0, 0, 11, 3);
        let mut buffer = Buffer::empty(area);
        draw("\u{2212}41", (0, 0), 1, Style::new(), area, &mut buffer);
        let expected = Buffer::with_lines([
            "    \u{2588} \u{2588} \u{2584}\u{2588} ",
            "\u{2580}\u{2580}\u{2580} \u{2580}\u{2580}\u{2588}  \u{2588} ",
            "      \u{2580} \u{2580}\u{2580}\u{2580}",
        ]);
        assert_eq!(buffer, expected);
        assert_eq!((width("\u{2212}41", 1), height(1)), (11, 3));
        assert_eq!((width("\u{2212}41", 3), height(3)), (33, 8));
    }

    #[test]
    fn triangles_point_where_they_should() {
        let area = Rect::new(0, 0, 6, 5);
        let pictures = [true, false].map(|is_up| {
            let mut buffer = Buffer::empty(area);
            triangle(is_up, (0, 0), 2, Style::new(), area, &mut buffer);
            buffer
        });
        let up = [
            "      ",
            "  \u{2588}\u{2588}  ",
            " \u{2588}\u{2588}\u{2588}\u{2588} ",
            "\u{2588}\u{2588}\u{2588}\u{2588}\u{2588}\u{2588}",
            "      ",
        ];
        let mut down = up;
        down.reverse();
        assert_eq!(pictures, [Buffer::with_lines(up), Buffer::with_lines(down)]);
    }

    #[test]
    fn shapes_are_told_apart() {
        let area = Rect::new(0, 0, 10, 5);
        let picture = |kind: Shape| {
            let mut buffer = Buffer::empty(area);
            shape(kind, (0, 0), 2, Style::new(), area, &mut buffer);
            let rows = buffer.content().chunks(10);
            let rows = rows.map(|row| row.iter().map(ratatui::buffer::Cell::symbol).collect());
            rows.collect::<Vec<String>>().join("\n")
        };
        let pictures = [Shape::Diamond, Shape::FullDiamond, Shape::Square].map(picture);
        insta::assert_snapshot!(pictures.join("\n\n"));
    }

    #[test]
    fn nothing_is_drawn_outside() {
        let mut buffer = Buffer::empty(Rect::new(0, 0, 3, 2));
        let area = Rect::new(0, 0, 3, 2);
        draw("888", (u16::MAX - 1, 0), 3, Style::new(), area, &mut buffer);
        draw(
            "888",
            (1, 1),
            3,
            Style::new(),
            Rect::new(0, 0, 90, 90),
            &mut buffer,
        );
        assert_eq!(buffer[(0, 0)].symbol(), " ");
    }
}
