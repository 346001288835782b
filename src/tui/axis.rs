//! The shared axis: both places fixed, the player between them, and the wake behind.
//!
//! ```text
//! ····◇·◆·(·●┄┄)·◎··□···   the axis: nature, the agreed place, the player with a trail, the
//!                           held chord's and the tempered place
//! ··◇··╞══●◆═══╡····□···   the same with a place to aim at: what counts as there is bracketed
//!     │   ▗▄▖     │        the wake: the last twenty seconds, newest on top, twice as fine
//! ```

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::widgets::Widget;

use super::theme::Theme;
use crate::rehearsal::{ChannelState, Sounding, Trace, TracePoint};
use crate::tuning::Placement;
use crate::units::{Cents, Hertz, Seconds};

/// Nature's place.
pub(super) const NATURE: &str = "\u{25c7}";
/// The tempered place.
pub(super) const TEMPERED: &str = "\u{25a1}";
/// Both in one column.
pub(super) const BOTH: &str = "\u{25c8}";
/// The player.
pub(super) const PLAYER: &str = "\u{25cf}";
/// The place in the held chord.
pub(super) const HELD: &str = "\u{25ce}";
/// The agreed place.
pub(super) const AGREED: &str = "\u{25c6}";
/// Where the player has just been.
pub(super) const TRAIL: &str = "\u{2504}";
/// Off the left end.
pub(super) const BELOW: &str = "\u{2039}";
/// Off the right end.
pub(super) const ABOVE: &str = "\u{203a}";
/// The player is between these, 19 times in 20.
pub(super) const MARGIN: [&str; 2] = ["(", ")"];
pub(super) const RAIL: &str = "\u{b7}";
pub(super) const LINE: &str = "\u{2506}";
/// From end to end of what counts as being there, and on the rows below.
const BAND: [&str; 3] = ["\u{255e}", "\u{2550}", "\u{2561}"];
const BELOW_BAND: &str = "\u{2591}";

/// Points of a wake nearer than this in time and pitch are joined by a stroke.
const JOINED_WITHIN: Seconds = Seconds::new(0.15);
const JOINED_UP_TO: Cents = Cents::new(40.0);

/// Cents that an axis shows on either side of its middle, at least.
const REACH: f64 = 48.0;

/// Steps a reader can count with.
const STEPS: [f64; 13] = [
    0.25, 0.5, 0.75, 1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0,
];

/// How cents become columns.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Scale {
    /// An odd number, so that the middle is a column.
    columns: u16,
    cents_per_column: f64,
}

impl Scale {
    /// The finest round scale that reaches 48 cents either way within `width` columns.
    pub(super) fn fitting(width: u16) -> Self {
        let columns = width.saturating_sub(1) / 2 * 2 + 1;
        let half = f64::from(columns / 2);
        let cents_per_column = STEPS
            .into_iter()
            .find(|step| step * half >= REACH)
            .unwrap_or(STEPS[STEPS.len() - 1]);
        Self {
            columns,
            cents_per_column,
        }
    }

    /// Columns used.
    pub(super) fn columns(self) -> u16 {
        self.columns
    }

    /// Cents from the middle to either end.
    pub(super) fn reach(self) -> Cents {
        Cents::new(f64::from(self.columns / 2) * self.cents_per_column)
    }

    /// The column of something `offset` from the middle, with `parts` to each column.
    pub(super) fn column(self, offset: Cents, parts: u16) -> Place {
        let middle = f64::from(self.columns / 2) + 0.5;
        let column = (offset.get() / self.cents_per_column + middle) * f64::from(parts);
        if column < 0.0 {
            Place::Below
        } else if column >= f64::from(self.columns) * f64::from(parts) {
            Place::Above
        } else {
            Place::At(column as u16)
        }
    }
}

/// Where something lies on an axis.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Place {
    Below,
    At(u16),
    Above,
}

/// A place that is aimed at: the axis stands still about it, whatever sounds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Aim {
    /// Both places of the note that is meant.
    pub(super) places: Placement,
    /// The place that is meant.
    pub(super) target: Hertz,
    /// How far from it counts as there.
    pub(super) tolerance: Cents,
    /// Whether the player is not to be seen.
    pub(super) hides_player: bool,
}

/// What an axis shows: where its middle is, and both places.
#[derive(Debug, Clone, Copy)]
struct Ground {
    centre: Hertz,
    places: Placement,
}

/// An axis with the wake below it, as many rows as the area has.
pub(super) struct Axis<'a> {
    pub(super) scale: Scale,
    pub(super) state: &'a ChannelState,
    /// The place beside the held chord.
    pub(super) held: Option<Hertz>,
    /// The place that was agreed.
    pub(super) agreed: Option<Hertz>,
    /// What is aimed at; without it the axis follows the note that sounds.
    pub(super) aim: Option<Aim>,
    pub(super) theme: &'a Theme,
}

impl Widget for Axis<'_> {
    fn render(self, area: Rect, buffer: &mut Buffer) {
        let area = area.intersection(buffer.area);
        if area.is_empty() {
            return;
        }
        for x in area.left()..area.right().min(area.left() + self.scale.columns) {
            put(buffer, (x, area.y), RAIL, self.theme.rail);
        }
        if let Some(ground) = self.ground() {
            self.wake(ground, area, buffer);
            self.rail(ground, area, buffer);
        }
    }
}

impl Axis<'_> {
    fn ground(&self) -> Option<Ground> {
        let Some(Aim { places, .. }) = self.aim else {
            let sounding = self.state.sounding()?;
            return Some(Ground {
                centre: sounding.centre(),
                places: sounding.places(),
            });
        };
        Some(Ground {
            centre: centre(&places),
            places,
        })
    }

    /// What sounds, where it may be seen.
    fn sounding(&self) -> Option<&Sounding> {
        let hides = self.aim.is_some_and(|aim| aim.hides_player);
        self.state.sounding().filter(|_| !hides)
    }

    fn place(&self, hertz: Hertz, ground: Ground) -> Place {
        self.scale.column(hertz.above(ground.centre), 1)
    }

    /// The columns of nature's and the tempered place.
    fn places(&self, ground: Ground) -> (Option<Place>, Place) {
        let places = ground.places;
        (
            places.partial.map(|p| self.place(p.place, ground)),
            self.place(places.tempered.place, ground),
        )
    }

    /// The first and the last column of what counts as there, as far as the axis shows it.
    fn band(&self, ground: Ground) -> Option<(Place, Place)> {
        let aim = self.aim?;
        let edge = |cents: Cents| self.place(aim.target.raised(cents), ground);
        let (low, high) = (edge(-aim.tolerance), edge(aim.tolerance));
        (low != Place::Above && high != Place::Below).then_some((low, high))
    }

    /// The columns of the band, from the left edge of the axis.
    fn band_columns(&self, ground: Ground) -> std::ops::Range<u16> {
        let Some((low, high)) = self.band(ground) else {
            return 0..0;
        };
        let first = match low {
            Place::At(column) => column,
            Place::Below | Place::Above => 0,
        };
        match high {
            Place::At(column) => first..column + 1,
            Place::Below | Place::Above => first..self.scale.columns,
        }
    }

    fn rail(&self, ground: Ground, area: Rect, buffer: &mut Buffer) {
        let mut put = |column: u16, symbol: &str, style| {
            let x = area.left().saturating_add(column);
            if x < area.right() {
                self::put(buffer, (x, area.y), symbol, style);
            }
        };
        for column in self.band_columns(ground) {
            put(column, BAND[1], self.theme.rail);
        }
        if let Some((low, high)) = self.band(ground) {
            for (edge, symbol) in [(low, BAND[0]), (high, BAND[2])] {
                if let Place::At(column) = edge {
                    put(column, symbol, self.theme.text);
                }
            }
        }
        let needle = self.sounding().map(|sounding| sounding.needle().hertz());
        if let Some(needle) = needle {
            for point in self.state.trail().points() {
                if let Place::At(column) = self.place(point.hertz, ground) {
                    put(column, TRAIL, self.theme.text);
                }
            }
            let margin = self.state.margin();
            // A margin of less than a column is that of the needle itself.
            if margin.get() >= self.scale.cents_per_column {
                for (symbol, edge) in MARGIN.into_iter().zip([-margin, margin]) {
                    if let Place::At(column) = self.place(needle.raised(edge), ground) {
                        put(column, symbol, self.theme.text);
                    }
                }
            }
        }
        let (nature, tempered) = self.places(ground);
        let last = self.scale.columns - 1;
        let mut mark = |place, symbol, style| match place {
            Place::At(column) => put(column, symbol, style),
            Place::Below => put(0, symbol, style),
            Place::Above => put(last, symbol, style),
        };
        mark(tempered, TEMPERED, self.theme.tempered);
        if let Some(nature) = nature {
            if nature == tempered {
                mark(nature, BOTH, self.theme.text);
            } else {
                mark(nature, NATURE, self.theme.nature);
            }
        }
        if let Some(held) = self.held {
            mark(self.place(held, ground), HELD, self.theme.held);
        }
        if let Some(agreed) = self.agreed {
            mark(self.place(agreed, ground), AGREED, self.theme.agreed);
        }
        match needle.map(|needle| self.place(needle, ground)) {
            Some(Place::At(column)) => put(column, PLAYER, self.theme.player),
            Some(Place::Below) => put(0, BELOW, self.theme.player),
            Some(Place::Above) => put(self.scale.columns - 1, ABOVE, self.theme.player),
            None => {}
        }
    }

    /// The last twenty seconds, two moments to a row and two places to a column.
    fn wake(&self, ground: Ground, area: Rect, buffer: &mut Buffer) {
        let rows = area.height - 1;
        if rows == 0 {
            return;
        }
        let columns = self.scale.columns.min(area.width);
        let (nature, tempered) = self.places(ground);
        for column in self.band_columns(ground).filter(|column| *column < columns) {
            for y in area.top() + 1..area.bottom() {
                put(buffer, (area.x + column, y), BELOW_BAND, self.theme.rail);
            }
        }
        let mut lit = vec![0_usize; usize::from(columns) * usize::from(rows)];
        let is_seen = self.aim.is_none_or(|aim| !aim.hides_player);
        let strokes = strokes(self.state.history(), self.state.now(), 2 * rows);
        for (step, from, to) in strokes.filter(|_| is_seen) {
            let column = |hertz: Hertz| self.scale.column(hertz.above(ground.centre), 2);
            let (Place::At(from), Place::At(to)) = (column(from), column(to)) else {
                continue;
            };
            for half in from.min(to)..=from.max(to) {
                if half / 2 < columns {
                    let row = usize::from(step / 2) * usize::from(columns);
                    lit[row + usize::from(half / 2)] |= 1 << (2 * (step % 2) + half % 2);
                }
            }
        }
        for (cell, quarters) in lit.into_iter().enumerate().filter(|(_, lit)| *lit != 0) {
            let x = area.x + (cell % usize::from(columns)) as u16;
            let y = area.y + 1 + (cell / usize::from(columns)) as u16;
            put(buffer, (x, y), QUADRANTS[quarters], self.theme.wake);
        }
        // The lines lie on top, or a wide vibrato would hide what it swings about. They end a
        // row early, so as not to run into the axis of the next player.
        let end = area.bottom() - u16::from(rows > 1);
        for y in area.top() + 1..end {
            for (place, style) in [
                (Some(tempered), self.theme.tempered),
                (nature, self.theme.nature),
            ] {
                if let Some(Place::At(column)) = place
                    && column < columns
                {
                    put(buffer, (area.x + column, y), LINE, style);
                }
            }
        }
    }
}

/// The middle of an axis with these places: half-way between them, or the tempered one where no
/// partial is near.
pub(super) fn centre(places: &Placement) -> Hertz {
    let half = places.gap().unwrap_or(Cents::UNISON) * 0.5;
    places.tempered.place.raised(half)
}

/// Draws one cell, with nothing left of what was there.
pub(super) fn put(buffer: &mut Buffer, at: (u16, u16), symbol: &str, style: Style) {
    let cell = &mut buffer[at];
    cell.reset();
    cell.set_symbol(symbol).set_style(style);
}

/// A trace as strokes: the step each belongs to, 0 for the newest of `n_steps`, and the two
/// pitches it joins. Steps begin at fixed moments, so that the picture moves on as a whole
/// and does not shimmer.
fn strokes(trace: &Trace, now: Seconds, n_steps: u16) -> impl Iterator<Item = (u16, Hertz, Hertz)> {
    let length = trace.span().get() / f64::from(n_steps.max(1));
    let current = (now.get() / length).floor();
    let mut last: Option<TracePoint> = None;
    trace.points().filter_map(move |point| {
        // A leap or a pause is no movement of the pitch.
        let joined = last.filter(|last| {
            point.time - last.time < JOINED_WITHIN
                && point.hertz.above(last.hertz).abs() < JOINED_UP_TO
        });
        last = Some(point);
        let step = (current - (point.time.get() / length).floor()).max(0.0);
        let from = joined.map_or(point.hertz, |last| last.hertz);
        (step < f64::from(n_steps)).then_some((step as u16, from, point.hertz))
    })
}

/// Quarter blocks by bits: 1 upper left, 2 upper right, 4 lower left, 8 lower right.
const QUADRANTS: [&str; 16] = [
    " ", "\u{2598}", "\u{259d}", "\u{2580}", "\u{2596}", "\u{258c}", "\u{259e}", "\u{259b}",
    "\u{2597}", "\u{259a}", "\u{2590}", "\u{259c}", "\u{2584}", "\u{2599}", "\u{259f}", "\u{2588}",
];

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn scales_are_round_and_reach_far_enough() {
        for width in 11..=220 {
            let scale = Scale::fitting(width);
            assert!(scale.columns % 2 == 1 && scale.columns <= width);
            assert!(scale.reach().get() >= REACH, "{width}: {scale:?}");
        }
    }

    #[test]
    fn the_middle_is_the_middle_column() {
        let scale = Scale::fitting(27);
        assert_eq!(scale.column(Cents::UNISON, 1), Place::At(13));
        assert_eq!(scale.column(scale.reach(), 1), Place::At(26));
        assert_eq!(scale.column(-scale.reach(), 1), Place::At(0));
        assert_eq!(scale.column(Cents::new(60.0), 1), Place::Above);
        assert_eq!(scale.column(Cents::new(-60.0), 1), Place::Below);
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn higher_is_never_further_left(width in 1_u16..220, a in -90.0..90.0, b in -90.0..90.0) {
            let scale = Scale::fitting(width);
            let number = |cents| match scale.column(Cents::new(cents), 2) {
                Place::Below => -1,
                Place::At(column) => i32::from(column),
                Place::Above => i32::MAX,
            };
            let (low, high) = if a <= b { (a, b) } else { (b, a) };
            prop_assert!(number(low) <= number(high));
        }
    }
}
