//! Who stands in which row: players one by one, and groups that are folded into a line each below
//! them.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::widgets::Widget;

use crate::rehearsal::{Family, Part, Rehearsal};
use crate::tui::axis::{NATURE, TEMPERED};
use crate::tui::text::{self, Precision};
use crate::tui::theme::Theme;

/// A player, or a group in one line.
pub(super) enum Row<'a> {
    /// One player.
    Player(Part<'a>),
    /// All players of a family.
    Group(Family, Vec<Part<'a>>),
}

impl Row<'_> {
    /// The channels it shows.
    fn channels(&self) -> Vec<usize> {
        match self {
            Self::Player(part) => vec![part.index],
            Self::Group(_, parts) => parts.iter().map(|part| part.index).collect(),
        }
    }

    /// The channel that stands for it.
    pub(super) fn index(&self) -> usize {
        self.channels()[0]
    }
}

/// The rows in their order: players as in the ensemble, then what is folded.
pub(super) fn rows<'a>(rehearsal: &'a Rehearsal, folded: &[Family]) -> Vec<Row<'a>> {
    let mut players = Vec::new();
    let mut groups: Vec<(Family, Vec<Part<'a>>)> = Vec::new();
    for part in rehearsal.parts() {
        let family = part.channel.instrument.family;
        if !folded.contains(&family) {
            players.push(Row::Player(part));
        } else if let Some((_, parts)) = groups.iter_mut().find(|(of, _)| *of == family) {
            parts.push(part);
        } else {
            groups.push((family, vec![part]));
        }
    }
    let groups = groups
        .into_iter()
        .map(|(family, parts)| Row::Group(family, parts));
    players.into_iter().chain(groups).collect()
}

/// Where the channel `selected` stands among the rows, or whoever comes after it.
pub(super) fn position(rows: &[Row<'_>], selected: usize) -> usize {
    let own = rows
        .iter()
        .position(|row| row.channels().contains(&selected));
    let next = || {
        let after = |row: &Row<'_>| matches!(row, Row::Player(part) if part.index > selected);
        rows.iter().position(after)
    };
    own.or_else(next).unwrap_or(rows.len().saturating_sub(1))
}

/// What a group is called.
fn group(family: Family) -> &'static str {
    match family {
        Family::Trumpets => "Trumpets",
        Family::Strings => "Strings",
        Family::Plucked => "Plucked strings",
        Family::Winds => "Winds",
        Family::Voices => "Voices",
        Family::Keyboard => "Keyboard",
        Family::Section => "Sections",
        Family::Room => "Room",
    }
}

/// A folded group: its name, how many it is, and what they sound with the cents from the tempered
/// note, of trumpets from the partial, as far as there is room.
pub(super) struct GroupLine<'a> {
    pub(super) family: Family,
    pub(super) parts: &'a [Part<'a>],
    pub(super) precision: Precision,
    pub(super) is_selected: bool,
    pub(super) theme: &'a Theme,
}

impl Widget for GroupLine<'_> {
    fn render(self, area: Rect, buffer: &mut Buffer) {
        let area = area.intersection(buffer.area);
        if area.width < 2 || area.height == 0 {
            return;
        }
        let theme = self.theme;
        let mut x = area.x;
        let mut write = |text: &str, style| {
            let room = area.right().saturating_sub(x);
            let needed = text.chars().count() as u16;
            if needed > room {
                return false;
            }
            buffer.set_string(x, area.y, text, style);
            x += needed;
            true
        };
        let (mark, style) = if self.is_selected {
            ("\u{25b8}", theme.selected)
        } else {
            (" ", theme.text)
        };
        write(mark, theme.selected);
        write(group(self.family), style);
        write(&format!(" \u{d7}{}", self.parts.len()), theme.faint);
        let mut n_sounding = 0;
        for part in self.parts {
            let Some(sounding) = part.state.sounding() else {
                continue;
            };
            n_sounding += 1;
            let places = sounding.places();
            let (symbol, place, style) = match places.partial {
                Some(partial) if self.family == Family::Trumpets => {
                    (NATURE, partial.place, theme.nature)
                }
                _ => (TEMPERED, places.tempered.place, theme.tempered),
            };
            let note = format!("   {:4}", places.tempered.note.to_string());
            let cents = self.precision.deviation(sounding, place);
            // Both or neither, that no cents stand without their note.
            let pair = format!("{note}{symbol}{}", text::in_field(&cents));
            if pair.chars().count() as u16 > area.right().saturating_sub(area.x + 1) {
                break;
            }
            if !write(&note, theme.player) || !write(&pair[note.len()..], style) {
                write(" \u{2026}", theme.faint);
                break;
            }
        }
        if n_sounding == 0 {
            write("   quiet", theme.faint);
        }
    }
}
