//! How the players view shares out its rows and columns. Pure arithmetic.

use ratatui::layout::Rect;

use super::digits;

/// The narrowest window that shows anything useful.
pub const LEAST_COLUMNS: u16 = 60;
/// The lowest one.
pub const LEAST_ROWS: u16 = 10;

const HEADER_ROWS: u16 = 2;
const FOOTER_ROWS: u16 = 1;
const HEADING_ROWS: u16 = 1;

/// Columns of block figures at scale 1: a note and two deviations.
const PORTRAIT_COLUMNS: u16 = 54;

/// Beyond this many rows strips drift apart.
const MOST_STRIP_ROWS: u16 = 5;

/// Beyond this many rows a wake tells no more.
const MOST_WAKE_ROWS: u16 = 10;

/// Whether anything useful can be shown in `area`.
pub(super) fn is_enough(area: Rect) -> bool {
    area.width >= LEAST_COLUMNS && area.height >= LEAST_ROWS
}

/// How the players are shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Arrangement {
    /// Everyone in block figures.
    Portraits {
        /// Rows for each.
        rows: u16,
        /// Size of the figures.
        scale: u16,
    },
    /// Everyone in a strip and the selected player in block figures above.
    Spotlight {
        /// Rows of the spotlight.
        rows: u16,
        /// Size of the figures.
        scale: u16,
        /// Rows of each strip.
        strip_rows: u16,
    },
    /// Strips only.
    Strips {
        /// Rows of each strip.
        strip_rows: u16,
    },
}

/// The parts of the window.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Layout {
    pub(super) header: Rect,
    pub(super) body: Rect,
    /// Lines below the players.
    pub(super) lines: Rect,
    pub(super) footer: Rect,
    pub(super) arrangement: Arrangement,
}

impl Layout {
    /// The layout of a window for `n_players`; none when the window is too small.
    pub(super) fn new(area: Rect, n_players: usize) -> Option<Self> {
        Self::above(area, n_players, 0)
    }

    /// The same, with `n_lines` below the players as far as those leave room.
    pub(super) fn above(area: Rect, n_players: usize, n_lines: usize) -> Option<Self> {
        if !is_enough(area) {
            return None;
        }
        let rows = |y, height| Rect { y, height, ..area };
        let room = area.height - HEADER_ROWS - FOOTER_ROWS;
        let n_lines = n_lines.min(usize::from(room - HEADING_ROWS - 1)) as u16;
        let body = rows(area.y + HEADER_ROWS, room - n_lines);
        Some(Self {
            header: rows(area.y, HEADER_ROWS),
            body,
            lines: rows(body.bottom(), n_lines),
            footer: rows(area.bottom() - FOOTER_ROWS, FOOTER_ROWS),
            arrangement: arrange(body, area.height, n_players.clamp(1, 64) as u16),
        })
    }

    /// Players that can be seen at once.
    pub(super) fn page(&self) -> usize {
        let strips = |rows: u16, each: u16| usize::from(rows.saturating_sub(HEADING_ROWS) / each);
        match self.arrangement {
            Arrangement::Portraits { rows, .. } => usize::from(self.body.height / rows),
            Arrangement::Spotlight {
                rows, strip_rows, ..
            } => strips(self.body.height - rows, strip_rows),
            Arrangement::Strips { strip_rows } => strips(self.body.height, strip_rows),
        }
        .max(1)
    }

    /// Which of the players shown stands in a row of the body, counted from its top.
    pub(super) fn row_at(&self, row: u16) -> Option<usize> {
        let strip = |row: u16, each: u16| {
            let below = row.checked_sub(HEADING_ROWS)?;
            Some(usize::from(below / each)).filter(|place| *place < self.page())
        };
        match self.arrangement {
            Arrangement::Portraits { rows, .. } => {
                Some(usize::from(row / rows)).filter(|place| *place < self.page())
            }
            Arrangement::Spotlight {
                rows, strip_rows, ..
            } => strip(row.checked_sub(rows)?, strip_rows),
            Arrangement::Strips { strip_rows } => strip(row, strip_rows),
        }
    }

    /// The first player shown when the one at `selected` of `n_players` is: whole pages, so
    /// that the rows stand still while the selection moves within one.
    pub(super) fn first(&self, selected: usize, n_players: usize) -> usize {
        let page = self.page();
        (selected / page * page).min(n_players.saturating_sub(page))
    }
}

/// Rows of a portrait: labels, figures, axis, at least one row of wake, one blank.
fn portrait_rows(scale: u16) -> u16 {
    digits::height(scale) + 4
}

/// The figures that take about an eighth of the window's height: two centimetres or more
/// when the window fills a laptop's screen.
pub(super) fn wanted_scale(window_rows: u16) -> u16 {
    match window_rows {
        0..34 => 1,
        34..50 => 2,
        50.. => 3,
    }
}

fn arrange(body: Rect, window_rows: u16, n_players: u16) -> Arrangement {
    let widest = (body.width - 1) / PORTRAIT_COLUMNS;
    let wanted = wanted_scale(window_rows).min(widest);
    // The largest windows are still legible one size down.
    let least = if wanted > 2 { wanted - 1 } else { wanted };
    let all = (least.max(1)..=widest)
        .rev()
        .find(|scale| n_players * portrait_rows(*scale) <= body.height);
    if let Some(scale) = all {
        return Arrangement::Portraits {
            rows: (body.height / n_players).min(portrait_rows(scale) + MOST_WAKE_ROWS - 1),
            scale,
        };
    }
    let strips = |strip_rows| n_players * strip_rows + HEADING_ROWS;
    let spotlight = (1..=wanted)
        .rev()
        .find(|scale| strips(1) + portrait_rows(*scale) <= body.height);
    if let Some(scale) = spotlight {
        let strip_rows = (1..=MOST_STRIP_ROWS)
            .rev()
            .find(|rows| strips(*rows) + portrait_rows(scale) <= body.height)
            .unwrap_or(1);
        return Arrangement::Spotlight {
            rows: (body.height - strips(strip_rows)).min(portrait_rows(scale) + MOST_WAKE_ROWS - 1),
            scale,
            strip_rows,
        };
    }
    Arrangement::Strips {
        strip_rows: ((body.height - HEADING_ROWS) / n_players).clamp(1, MOST_STRIP_ROWS),
    }
}

/// A run of columns.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Column {
    pub(super) x: u16,
    pub(super) width: u16,
}

/// What there is beside the two places.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Beside {
    /// Whether something is agreed on any note.
    pub(super) agrees: bool,
    /// Whether a chord is held.
    pub(super) holds: bool,
}

/// From this width on the agreed place and the held chord have a column each.
const APART: u16 = 100;

/// The columns of a strip, the same for every player.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Columns {
    pub(super) name: Column,
    pub(super) level: Column,
    pub(super) note: Column,
    pub(super) partial: Column,
    pub(super) nature: Column,
    /// Left out where columns are scarce: the note says the same.
    pub(super) tempered_name: Column,
    pub(super) tempered: Column,
    /// Cents from the agreed place, or from it and the held chord in turns where columns are
    /// scarce; left out where they are scarcer still or nothing is agreed.
    pub(super) agreed: Column,
    /// Cents from the held chord; left out where columns are scarce or nothing is held.
    pub(super) held: Column,
    pub(super) axis: Column,
    pub(super) doing: Column,
    /// Whether the agreed place and the held chord share a column.
    pub(super) shares: bool,
    /// Whether the doing has room for its number.
    pub(super) is_roomy: bool,
}

impl Columns {
    /// Columns for a window of `width`, at least 60, with names up to `longest_name`; with
    /// those that `beside` asks for if there is room.
    pub(super) fn new(width: u16, longest_name: u16, beside: Beside) -> Self {
        let is_roomy = width >= 76;
        let gap = if width >= 100 { 3 } else { 1 };
        let most = match width {
            0..76 => 8,
            76..100 => 11,
            100.. => 18,
        };
        let mut next = 1;
        let mut take = |width: u16, gap: u16| {
            let column = Column { x: next, width };
            next += width + gap;
            column
        };
        let name = take(longest_name.clamp(6, most), 1);
        let level = take(1, gap.min(2));
        let note = take(4, gap);
        let partial = take(4, 0);
        let nature = take(6, gap);
        let tempered_name = if is_roomy { take(4, 0) } else { take(0, 0) };
        let tempered = take(6, gap);
        let has_agreed = beside.agrees && is_roomy;
        let has_held = beside.holds && is_roomy;
        let shares = has_agreed && has_held && width < APART;
        // A shared column says by a mark in front what it shows.
        let agreed = match (has_agreed, shares) {
            (true, true) => take(8, gap),
            (true, false) => take(6, gap),
            (false, _) => take(0, 0),
        };
        let held = if has_held && !shares {
            take(6, gap)
        } else {
            take(0, 0)
        };
        let doing_width = if is_roomy { 12 } else { 9 };
        let doing = Column {
            x: width.saturating_sub(doing_width),
            width: doing_width,
        };
        let axis = Column {
            x: next,
            width: doing.x.saturating_sub(next + gap).max(1),
        };
        Self {
            name,
            level,
            note,
            partial,
            nature,
            tempered_name,
            tempered,
            agreed,
            held,
            axis,
            doing,
            shares,
            is_roomy,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn arrangement(columns: u16, rows: u16, n_players: usize) -> Arrangement {
        Layout::new(Rect::new(0, 0, columns, rows), n_players)
            .unwrap()
            .arrangement
    }

    #[test]
    fn room_is_used() {
        assert!(matches!(
            arrangement(80, 24, 2),
            Arrangement::Portraits { .. }
        ));
        assert!(matches!(
            arrangement(80, 24, 12),
            Arrangement::Spotlight {
                scale: 1,
                strip_rows: 1,
                ..
            }
        ));
        assert_eq!(
            arrangement(60, 10, 12),
            Arrangement::Strips { strip_rows: 1 }
        );
        assert!(matches!(
            arrangement(200, 60, 12),
            Arrangement::Spotlight { scale: 3, .. }
        ));
        assert!(matches!(
            arrangement(200, 60, 6),
            Arrangement::Portraits { scale: 2, .. }
        ));
        assert_eq!(Layout::new(Rect::new(0, 0, 59, 24), 3), None);
        assert_eq!(Layout::new(Rect::new(0, 0, 80, 9), 3), None);
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn nothing_overlaps_and_the_selected_is_shown(
            width in 60_u16..250, height in 10_u16..90, n_players in 1_usize..33, pick in 0.0..1.0,
            holds: bool, agrees: bool,
        ) {
            let layout = Layout::new(Rect::new(0, 0, width, height), n_players).unwrap();
            let selected = (pick * n_players as f64) as usize;
            let first = layout.first(selected, n_players);
            prop_assert!(first <= selected && selected < first + layout.page());
            if let Arrangement::Spotlight { rows, strip_rows, .. } = layout.arrangement {
                prop_assert!(rows + 1 + strip_rows * n_players as u16 <= layout.body.height);
            }
            let columns = Columns::new(width, 30, Beside { agrees, holds });
            let Columns { name, level, note, partial, nature, tempered_name, tempered, agreed, held, axis, doing, .. } = columns;
            let all = [name, level, note, partial, nature, tempered_name, tempered, agreed, held, axis, doing];
            for pair in all.windows(2) {
                prop_assert!(pair[0].x + pair[0].width <= pair[1].x, "{columns:?}");
            }
            prop_assert!(doing.x + doing.width <= width && axis.width >= 11, "{columns:?}");
        }
    }
}
