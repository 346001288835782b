//! The rows of the ledger: headings, meetings, and the players of a meeting.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;

use super::columns::{self, Columns, Place};
use super::{LedgerPane, is_decided};
use crate::rehearsal::{Decision, LedgerRow, Meeting, Spread};
use crate::tui::axis::{AGREED, NATURE, TEMPERED};
use crate::tui::decide;
use crate::tui::text::{self, Precision};
use crate::units::Cents;

/// Writes `text` into a column, from its left.
fn left(place: Place, text: &str, style: Style, row: Rect, buffer: &mut Buffer) {
    let x = row.x.saturating_add(place.x);
    if x < row.right() {
        let room = place.width.min(row.right() - x);
        buffer.set_stringn(x, row.y, text, room.into(), style);
    }
}

/// Writes `text` into a column, to its right edge.
fn right(place: Place, text: &str, style: Style, row: Rect, buffer: &mut Buffer) {
    let missing = place.width.saturating_sub(text.chars().count() as u16);
    let shifted = Place {
        x: place.x + missing,
        width: place.width - missing,
    };
    left(shifted, text, style, row, buffer);
}

fn remark(remark: &str) -> String {
    if remark.is_empty() {
        String::new()
    } else {
        format!(" \u{2013} {remark}")
    }
}

impl LedgerPane<'_> {
    /// A distance, which has no sign.
    fn distance(&self, cents: Cents) -> String {
        let text = self.view.precision.cents(cents.abs());
        text.trim_start_matches(['+', '\u{b1}']).to_owned()
    }

    /// A median with its units always in the same column, and its spread.
    fn spread(&self, spread: &Spread) -> String {
        let median = self.view.precision.cents(spread.median);
        let width = match self.view.precision {
            Precision::Whole => 4,
            Precision::Tenths => 6,
        };
        format!("{median:>width$} \u{b1}{}", self.distance(spread.spread))
    }

    pub(super) fn headings(
        &self,
        columns: &Columns,
        (first, count): (usize, usize),
        area: Rect,
        buffer: &mut Buffer,
    ) {
        let theme = self.theme;
        let sorted = self.view.sort.words();
        let sorted = if first > 0 {
            format!(" {sorted}, from {} of {count}", first + 1)
        } else {
            format!(" {sorted}")
        };
        let (end, _) = buffer.set_stringn(area.x, area.y, &sorted, area.width.into(), theme.text);
        let what = if columns.has_spreads {
            "median \u{b1}spread"
        } else {
            "medians"
        };
        let long = format!("cents from the tempered place {TEMPERED}, {what}");
        let short = format!("cents from {TEMPERED}, {what}");
        // A movement of all is in every number, and no news of any note.
        let everyone = self.everyone.filter(|cents| 0.5 <= cents.abs().get());
        let with = |text: &str| everyone.map(|cents| format!("{text}; everyone at {cents}"));
        let (longest, with_everyone) = (with(&long), with(&short));
        let room = usize::from(area.right().saturating_sub(end + 4));
        let told = [longest, with_everyone, Some(long), Some(short)];
        if let Some(unit) = told
            .into_iter()
            .flatten()
            .find(|u| u.chars().count() <= room)
        {
            let x = area.right() - 1 - unit.chars().count() as u16;
            buffer.set_string(x, area.y, unit, theme.faint);
        }
        let row = Rect {
            y: area.y + 1,
            height: 1,
            ..area
        };
        left(columns.note, "note", theme.faint, row, buffer);
        if let Some(place) = columns.partial {
            right(place, NATURE, theme.nature, row, buffer);
        }
        let gap = format!("{NATURE}\u{2212}{TEMPERED}");
        right(columns.gap, &gap, theme.faint, row, buffer);
        for (family, place) in &columns.families {
            let words = columns::words(*family, columns.has_spreads);
            // The medians stand under the word, the spreads beyond it.
            right(*place, words, theme.tempered, row, buffer);
        }
        right(columns.apart, "apart", theme.faint, row, buffer);
        if let Some(place) = columns.together {
            right(place, "together", theme.faint, row, buffer);
        }
        if let Some(place) = columns.count {
            right(place, "notes", theme.faint, row, buffer);
        }
        left(columns.agreed, "agreed", theme.faint, row, buffer);
    }

    pub(super) fn meeting(
        &self,
        meeting: &Meeting,
        is_selected: bool,
        columns: &Columns,
        row: Rect,
        buffer: &mut Buffer,
    ) {
        let theme = self.theme;
        let strong = if is_selected {
            theme.selected
        } else {
            theme.text
        };
        if is_selected {
            buffer.set_string(row.x, row.y, "\u{25b8}", theme.selected);
        }
        left(columns.note, &meeting.note.to_string(), strong, row, buffer);
        if let (Some(place), Some(partial)) = (columns.partial, meeting.partial) {
            right(place, &partial.to_string(), theme.nature, row, buffer);
        }
        let gap = meeting.gap.map_or_else(
            || "\u{2014}".to_owned(),
            |gap| self.view.precision.cents(gap),
        );
        right(columns.gap, &gap, theme.nature, row, buffer);
        for (family, place) in &columns.families {
            let group = meeting.groups.iter().find(|group| group.family == *family);
            let Some(group) = group else {
                continue;
            };
            self.median(
                &group.from_tempered,
                *place,
                columns.has_spreads,
                strong,
                row,
                buffer,
            );
        }
        if let Some(apart) = meeting.apart {
            right(columns.apart, &self.distance(apart), strong, row, buffer);
        }
        if let Some(place) = columns.together.filter(|_| meeting.together.get() >= 0.5) {
            right(
                place,
                &text::clock(meeting.together),
                theme.text,
                row,
                buffer,
            );
        }
        if let Some(place) = columns.count {
            let count: usize = meeting.groups.iter().map(|group| group.count).sum();
            right(place, &count.to_string(), theme.text, row, buffer);
        }
        self.agreed(meeting, columns.agreed, row, buffer);
    }

    /// A median, its units in the same column in every row, and its spread.
    fn median(
        &self,
        spread: &Spread,
        place: Place,
        has_spread: bool,
        style: Style,
        row: Rect,
        buffer: &mut Buffer,
    ) {
        let median = self.view.precision.cents(spread.median);
        if !has_spread {
            return right(place, &median, style, row, buffer);
        }
        let spread = format!(" \u{b1}{:<2}", self.distance(spread.spread));
        let wide = spread.chars().count() as u16;
        let of_median = Place {
            width: place.width.saturating_sub(wide),
            ..place
        };
        right(of_median, &median, style, row, buffer);
        let of_spread = Place {
            x: of_median.x + of_median.width,
            width: wide,
        };
        left(of_spread, &spread, self.theme.faint, row, buffer);
    }

    fn agreed(&self, meeting: &Meeting, place: Place, row: Rect, buffer: &mut Buffer) {
        let decision = meeting.decision.as_ref().filter(|_| is_decided(meeting));
        let Some((decision, resolution)) = decision.and_then(|d| Some((d, d.resolution?))) else {
            return;
        };
        let room = usize::from(place.width);
        let count = |text: &String| text.chars().count();
        let remark = remark(&decision.remark);
        let short = decide::short_words(resolution);
        let with_remark =
            [resolution.words(), short.clone()].map(|words| format!("{AGREED} {words}{remark}"));
        let words = with_remark.into_iter().find(|text| count(text) <= room);
        // The remark is cut before the words are.
        let words = words.unwrap_or_else(|| {
            let text = format!("{AGREED} {short}{remark}");
            let kept: String = text.chars().take(room.saturating_sub(1)).collect();
            if count(&format!("{AGREED} {short}")) < room {
                format!("{}\u{2026}", kept.trim_end_matches([' ', '\u{2013}']))
            } else {
                format!("{AGREED} {short}")
            }
        });
        left(place, &words, self.theme.agreed, row, buffer);
    }

    /// What was agreed, in full.
    pub(super) fn decision(&self, decision: &Decision, row: Rect, buffer: &mut Buffer) {
        let Some(resolution) = decision.resolution else {
            return;
        };
        let text = format!(
            "{AGREED} {resolution}{}, at {}",
            remark(&decision.remark),
            text::clock(decision.at)
        );
        let room = usize::from(row.width.saturating_sub(5));
        buffer.set_stringn(row.x + 4, row.y, text, room, self.theme.agreed);
    }

    /// One player on one pitch.
    pub(super) fn detail(&self, detail: &LedgerRow, row: Rect, buffer: &mut Buffer) {
        let theme = self.theme;
        let name = self.players.get(detail.player);
        let name = name.map_or("?", |player| player.name.as_str());
        let name_width = if row.width >= 100 { 20 } else { 11 };
        let name = text::shortened(name, name_width);
        let nature = match &detail.from_partial {
            Some(spread) => format!("{NATURE} {}", self.spread(spread)),
            None => format!("{NATURE}    \u{2014}"),
        };
        let places = match self.view.precision {
            Precision::Whole => 11,
            Precision::Tenths => 14,
        };
        let plural = if detail.count == 1 { "" } else { "s" };
        let trend = detail
            .trend_per_minute
            .map_or_else(String::new, |trend| format!("{trend:.1} a minute"));
        let pieces = [
            (name, name_width as u16, theme.text),
            (detail.label.to_string(), 4, theme.text),
            (nature, places, theme.nature),
            (
                format!("{TEMPERED} {}", self.spread(&detail.from_tempered)),
                places,
                theme.tempered,
            ),
            (format!("{:>3} note{plural}", detail.count), 9, theme.text),
            (
                format!("{:>5} long", text::clock(detail.sounding)),
                10,
                theme.text,
            ),
            (trend, 14, theme.text),
        ];
        let mut x = row.x + 4;
        for (text, width, style) in pieces {
            if x + width > row.right() {
                break;
            }
            buffer.set_stringn(x, row.y, text, width.into(), style);
            x += width + 1;
        }
    }

    /// That the window is too low for the rest.
    pub(super) fn missing(&self, count: usize, row: Rect, buffer: &mut Buffer) {
        let text = format!("and {count} more: a taller window shows them");
        let room = usize::from(row.width.saturating_sub(5));
        buffer.set_stringn(row.x + 4, row.y, text, room, self.theme.faint);
    }
}
