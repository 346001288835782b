//! How the practice view shares out its rows. Pure arithmetic.

use ratatui::layout::Rect;

use crate::tui::digits;
use crate::tui::text::Precision;

/// Pixels of a note with its octave, of a number with sign and two figures, and of its tenths.
const NOTE: u16 = 13;
const WHOLE: u16 = 11;
const TENTHS: u16 = 6;
/// Columns left, right and between the note and the number.
const MARGINS: u16 = 3;

/// Figures of so many rows can be read from three metres; lower ones only where there is no room.
const LEGIBLE: u16 = 8;

/// Title, axis, hold and drone, a row each.
const LEAST: u16 = 4;

/// Beyond so many rows a wake or a chart tells no more.
const MOST_WAKE: u16 = 9;
const MOST_HOLDS: u16 = 13;

/// Where everything stands; what has no room has no rows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Rows {
    pub(super) title: Rect,
    pub(super) figures: Rect,
    pub(super) pulse: Rect,
    /// Above the axis, for a pointer to the player.
    pub(super) pointer: Rect,
    /// The axis and the wake below it.
    pub(super) axis: Rect,
    pub(super) hold: Rect,
    pub(super) holds: Rect,
    pub(super) drone: Rect,
    /// Size of the number.
    pub(super) scale: u16,
    /// Size of the note or partial.
    pub(super) note_scale: u16,
}

/// How many rows everything has.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
struct Shares {
    below_title: u16,
    pulse: u16,
    pointer: u16,
    wake: u16,
    above_hold: u16,
    above_holds: u16,
    holds: u16,
    above_drone: u16,
    drone: u16,
}

impl Rows {
    /// The rows of `area`; none where not even the least has room.
    pub(super) fn new(area: Rect, precision: Precision) -> Option<Self> {
        let (scale, note_scale) = scales(area, precision)?;
        let spare = area.height - LEAST - digits::height(scale);
        let shares = share_out(spare);
        let mut y = area.y;
        let mut take = |above: u16, height: u16| {
            y += above;
            let rows = Rect { y, height, ..area };
            y += height;
            rows
        };
        Some(Self {
            title: take(0, 1),
            figures: take(shares.below_title, digits::height(scale)),
            pulse: take(0, shares.pulse),
            pointer: take(0, shares.pointer),
            axis: take(0, 1 + shares.wake),
            hold: take(shares.above_hold, 1),
            holds: take(shares.above_holds, shares.holds),
            drone: take(shares.above_drone, 1 + shares.drone),
            scale,
            note_scale,
        })
    }
}

/// The largest number that leaves room for the rest, and the largest note beside it.
fn scales(area: Rect, precision: Precision) -> Option<(u16, u16)> {
    let room = area.height.checked_sub(LEAST)?;
    // Where eight rows have room, the figures have them; more only from what is left over.
    let share = (area.height * 21 / 50).max(LEGIBLE.min(area.height.saturating_sub(9)));
    let most = room.min(share.max(digits::height(1)));
    let number = match precision {
        Precision::Whole => WHOLE,
        Precision::Tenths => WHOLE + TENTHS,
    };
    let fits = |scale: &u16| digits::height(*scale) <= most;
    let note_for = |scale: u16| {
        let left = area.width.checked_sub(number * scale + MARGINS)?;
        // Not so large that the mark between them has no room.
        let note = (left / NOTE).min(2 * scale / 3).max(1);
        (note * NOTE <= left).then_some((scale, note))
    };
    (1..=12).rev().filter(fits).find_map(note_for)
}

/// Shares out what is left over, the most needed first.
fn share_out(mut spare: u16) -> Shares {
    let mut shares = Shares::default();
    {
        let mut give = |share: &mut u16, rows: u16| {
            if spare >= rows {
                *share += rows;
                spare -= rows;
            }
        };
        give(&mut shares.drone, 1);
        give(&mut shares.pulse, 1);
        give(&mut shares.holds, 3);
        give(&mut shares.wake, 1);
        give(&mut shares.pointer, 1);
        give(&mut shares.holds, 1);
        give(&mut shares.below_title, 1);
        give(&mut shares.above_hold, 1);
        give(&mut shares.holds, 2);
        give(&mut shares.above_drone, 1);
        give(&mut shares.above_holds, 1);
        give(&mut shares.pulse, 1);
        give(&mut shares.pointer, 1);
    }
    while spare > 0 && (shares.wake < MOST_WAKE || shares.holds < MOST_HOLDS) {
        let to_wake = shares.wake < MOST_WAKE && shares.wake <= shares.holds;
        if to_wake || shares.holds >= MOST_HOLDS {
            shares.wake += 1;
        } else {
            shares.holds += 1;
        }
        spare -= 1;
    }
    shares
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn the_number_is_legible_from_80_by_24_on() {
        for (columns, rows, least) in [(80, 21, 8), (60, 17, 8), (120, 37, 13), (200, 57, 20)] {
            let area = Rect::new(0, 0, columns, rows);
            let rows = Rows::new(area, Precision::Whole).unwrap();
            assert!(rows.figures.height >= least, "{columns}: {rows:?}");
        }
        let tenths = Rows::new(Rect::new(0, 0, 80, 21), Precision::Tenths).unwrap();
        assert_eq!(tenths.figures.height, 8);
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn rows_follow_one_another_within_the_area(
            width in 60_u16..250, height in 7_u16..90, is_whole: bool,
        ) {
            let area = Rect::new(3, 2, width, height);
            let precision = if is_whole { Precision::Whole } else { Precision::Tenths };
            let rows = Rows::new(area, precision).unwrap();
            let Rows { title, figures, pulse, pointer, axis, hold, holds, drone, .. } = rows;
            for pair in [title, figures, pulse, pointer, axis, hold, holds, drone].windows(2) {
                prop_assert!(pair[0].bottom() <= pair[1].y, "{rows:?}");
            }
            prop_assert!(drone.bottom() <= area.bottom(), "{rows:?}");
            prop_assert!(NOTE * rows.note_scale + WHOLE * rows.scale + MARGINS <= width);
        }
    }
}
