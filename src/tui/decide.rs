//! Agreeing on a note that has two true places: six choices, each by its number.
//!
//! ```text
//! ╭ agree on G♯ ──────────────────────── cents from □ ─╮
//! │ 1  follow the partial                          +39 │
//! │ 2  follow the temperament                       ±0 │
//! │ 3  meet between  ← →                           +20 │
//! │ 4  trumpet lips              trumpets −39 from ◇, ±0 │
//! │ 5  keyboard leaves it out     keyboard silent, +39 │
//! │ 6  leave it exposed       trumpets +39, others ±0 │
//! │ remark: bars 12–14▏                                │
//! ╰ now: follow the partial ───────────────────────────╯
//! ```

use ratatui::buffer::Buffer;
use ratatui::crossterm::event::KeyEvent;
use ratatui::layout::Rect;
use ratatui::widgets::Widget;

use super::axis::{NATURE, TEMPERED};
use super::field::Field;
use super::frame::Hint;
use super::keymap::{self, Action, Binding};
use super::overlay::{self, Reply};
use super::theme::Theme;
use crate::rehearsal::{Decision, Resolution};
use crate::units::{Cents, NoteName};

/// The most characters of a remark.
const REMARK: usize = 60;

/// How far the meeting place may be moved from the tempered one.
const FARTHEST: f64 = 100.0;

const COLUMNS: u16 = 56;
const ROWS: u16 = 7;

/// A note about which something is being decided.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Deciding {
    note: NoteName,
    /// The partial above the tempered place; none where no partial is near.
    gap: Option<Cents>,
    /// What is agreed so far.
    agreed: Option<Resolution>,
    meet: Cents,
    remark: Field,
    /// Whether the place to meet was moved.
    has_moved: bool,
    is_typing: bool,
    /// Why the last key did nothing.
    fault: Option<&'static str>,
}

impl Deciding {
    /// Begins with what is agreed so far, and half way between the places where nothing is.
    pub(super) fn new(note: NoteName, gap: Option<Cents>, before: Option<&Decision>) -> Self {
        let agreed = before.and_then(|decision| decision.resolution);
        let half_way = Cents::new((gap.unwrap_or_default().get() * 0.5).round());
        let remark = before.map_or("", |decision| decision.remark.as_str());
        Self {
            note,
            gap,
            agreed,
            meet: match agreed {
                Some(Resolution::MeetBetween(cents)) => cents,
                _ => half_way,
            },
            remark: Field::new(remark, REMARK),
            has_moved: false,
            is_typing: false,
            fault: None,
        }
    }

    /// The note.
    pub(super) fn note(&self) -> NoteName {
        self.note
    }

    /// The remark.
    pub(super) fn remark(&self) -> &str {
        self.remark.text()
    }

    /// The keys that mean something now.
    pub(super) fn keys(&self) -> &'static [Binding] {
        if self.is_typing {
            keymap::TYPING
        } else {
            keymap::DECIDE
        }
    }

    /// Whether characters are text now.
    pub(super) fn is_typing(&self) -> bool {
        self.is_typing
    }

    /// What the footer tells.
    pub(super) fn hints(&self) -> Vec<Hint> {
        let hint = |actions: &'static [Action], word: &str| Hint {
            actions,
            word: word.to_owned(),
        };
        if self.is_typing {
            return vec![hint(&[Action::Accept], "back to the choices")];
        }
        let mut hints = vec![
            hint(&[Action::Choose(0)], "agree"),
            hint(&[Action::MeetLower, Action::MeetHigher], "move 3"),
            hint(&[Action::Remark], "remark"),
        ];
        if self.agreed.is_some() {
            hints.push(hint(&[Action::TakeBack], "take back"));
        }
        hints.push(hint(&[Action::Close], "close"));
        hints
    }

    /// Takes a key in.
    pub(super) fn press(&mut self, key: KeyEvent) -> Reply {
        self.fault = None;
        let action = keymap::action(self.keys(), key);
        match action {
            Some(Action::Quit) => return Reply::Quit,
            Some(Action::Suspend) => return Reply::Suspend,
            Some(_) if self.is_typing => self.is_typing = false,
            None if self.is_typing => self.remark.press(key),
            Some(Action::Close) => return Reply::Close,
            Some(Action::Choose(number)) => return self.choose(number),
            Some(Action::TakeBack) if self.agreed.is_some() => return Reply::Agree(None),
            Some(Action::TakeBack) => self.fault = Some("nothing is agreed on it yet"),
            Some(Action::MeetLower) => self.move_meeting(-1.0),
            Some(Action::MeetHigher) => self.move_meeting(1.0),
            // Whoever has just moved the place to meet means that one.
            Some(Action::Accept) if self.has_moved => return self.choose(3),
            Some(Action::Accept) => self.fault = Some("choose one of the six by its number"),
            Some(Action::Remark) => self.is_typing = true,
            // Other keys mean nothing here, and must not do anything below either.
            Some(_) | None => {}
        }
        Reply::Stay
    }

    fn move_meeting(&mut self, by: f64) {
        let moved = (self.meet.get() + by).clamp(-FARTHEST, FARTHEST);
        self.meet = Cents::new(moved);
        self.has_moved = true;
    }

    fn choose(&mut self, number: u8) -> Reply {
        let Some(resolution) = self.resolution(number) else {
            return Reply::Stay;
        };
        let needs_partial = matches!(
            resolution,
            Resolution::FollowPartial | Resolution::KeyboardLeavesOut
        );
        if needs_partial && self.gap.is_none() {
            self.fault = Some("no partial is near this note");
            return Reply::Stay;
        }
        Reply::Agree(Some(resolution))
    }

    fn resolution(&self, number: u8) -> Option<Resolution> {
        Some(match number {
            1 => Resolution::FollowPartial,
            2 => Resolution::FollowTemperament,
            3 => Resolution::MeetBetween(self.meet),
            4 => Resolution::TrumpetLips,
            5 => Resolution::KeyboardLeavesOut,
            6 => Resolution::LeaveExposed,
            _ => return None,
        })
    }

    /// Where a choice puts the note, in cents from the tempered place.
    fn whereabouts(&self, resolution: Resolution) -> String {
        let tempered = Cents::UNISON;
        let none = || "no partial near".to_owned();
        match (resolution, self.gap) {
            (Resolution::FollowPartial | Resolution::KeyboardLeavesOut, None) => none(),
            (Resolution::FollowPartial, Some(gap)) => gap.to_string(),
            (Resolution::FollowTemperament, _) | (Resolution::TrumpetLips, None) => {
                tempered.to_string()
            }
            (Resolution::MeetBetween(cents), _) => cents.to_string(),
            (Resolution::TrumpetLips, Some(gap)) => {
                format!("trumpets {} from {NATURE}, all {tempered}", -gap)
            }
            (Resolution::KeyboardLeavesOut, Some(gap)) => {
                format!("keyboard silent, others {gap}")
            }
            (Resolution::LeaveExposed, gap) => match gap {
                Some(gap) => format!("trumpets {gap}, others {tempered}"),
                None => format!("others {tempered}"),
            },
        }
    }
}

/// A decision for the tables: at most eleven columns.
pub(super) fn short_words(resolution: Resolution) -> String {
    match resolution {
        Resolution::FollowPartial => format!("{NATURE} partial"),
        Resolution::FollowTemperament => format!("{TEMPERED} tempered"),
        Resolution::MeetBetween(cents) => format!("meet {cents}"),
        Resolution::TrumpetLips => "lips".to_owned(),
        Resolution::KeyboardLeavesOut => "no keyboard".to_owned(),
        Resolution::LeaveExposed => "exposed".to_owned(),
    }
}

/// What the status line says of a decision.
pub(super) fn told(note: NoteName, resolution: Resolution, remark: &str) -> String {
    if remark.is_empty() {
        format!("agreed on {note}: {resolution}")
    } else {
        format!("agreed on {note}: {resolution} \u{2013} {remark}")
    }
}

/// The choices, ready to be drawn.
pub(super) struct DecidingBox<'a> {
    pub(super) deciding: &'a Deciding,
    pub(super) theme: &'a Theme,
}

impl Widget for DecidingBox<'_> {
    fn render(self, area: Rect, buffer: &mut Buffer) {
        let area = area.intersection(buffer.area);
        let Self { deciding, theme } = self;
        let title = format!("agree on {}", deciding.note);
        let inner = overlay::boxed(&title, (COLUMNS, ROWS), area, theme, buffer);
        if inner.width < 30 || inner.height < ROWS {
            return;
        }
        let unit = format!(" cents from {TEMPERED} ");
        let unit_x = inner.right() - 1 - unit.chars().count() as u16;
        buffer.set_string(unit_x, inner.y - 1, unit, theme.faint);
        for (row, number) in (1_u8..=6).enumerate() {
            let Some(resolution) = deciding.resolution(number) else {
                continue;
            };
            let y = inner.y + row as u16;
            let is_agreed = deciding.agreed == Some(resolution);
            let style = if is_agreed { theme.player } else { theme.text };
            buffer.set_string(inner.x + 1, y, number.to_string(), theme.player);
            let words = match resolution {
                Resolution::MeetBetween(_) => "meet between  \u{2190} \u{2192}".to_owned(),
                resolution => resolution.words(),
            };
            let (end, _) = buffer.set_stringn(inner.x + 4, y, words, 26, style);
            let place = deciding.whereabouts(resolution);
            let room = usize::from(inner.right().saturating_sub(end + 2));
            let width = place.chars().count().min(room);
            let x = inner.right() - 1 - width as u16;
            buffer.set_stringn(x, y, place, width, style);
        }
        self.remark(inner, buffer);
        self.agreed(inner, buffer);
    }
}

impl DecidingBox<'_> {
    fn remark(&self, inner: Rect, buffer: &mut Buffer) {
        let Self { deciding, theme } = self;
        let y = inner.y + 6;
        let label = "remark: ";
        let (x, _) = buffer.set_stringn(inner.x + 1, y, label, label.len(), theme.faint);
        let room = usize::from(inner.right().saturating_sub(x + 1));
        if deciding.is_typing {
            let shown = deciding.remark.shown(room);
            buffer.set_stringn(x, y, shown, room, theme.player);
        } else if deciding.remark().is_empty() {
            let how = format!(
                "none, {} to write one",
                keymap::label(keymap::DECIDE, Action::Remark)
            );
            buffer.set_stringn(x, y, how, room, theme.faint);
        } else {
            buffer.set_stringn(x, y, deciding.remark(), room, theme.text);
        }
    }

    /// In the lower border: what is agreed so far, or why a key did nothing.
    fn agreed(&self, inner: Rect, buffer: &mut Buffer) {
        let Self { deciding, theme } = self;
        let (text, style) = match (deciding.fault, deciding.agreed) {
            (Some(fault), _) => (format!(" {fault} "), theme.notice),
            (None, Some(agreed)) => (format!(" agreed so far: {agreed} "), theme.text),
            (None, None) => (" nothing agreed yet ".to_owned(), theme.faint),
        };
        let room = usize::from(inner.width.saturating_sub(2));
        buffer.set_stringn(inner.x + 1, inner.bottom(), text, room, style);
    }
}
