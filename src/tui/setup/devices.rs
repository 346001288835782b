//! The first question: which microphone.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::desk::{Around, Reply};
use super::keys::{Table, Wish};
use super::meters;
use super::{Listened, SetupInput};
use crate::units::Seconds;

/// Counts of channels that interfaces have.
const COUNTS: [usize; 11] = [1, 2, 4, 6, 8, 10, 12, 16, 18, 24, 32];
/// After so long without any sound it is said.
const DEAD: Seconds = Seconds::new(6.0);
/// Inputs shown at once.
const MOST_SHOWN: u16 = 6;

const TABLE: Table = &[
    (Wish::Take, "this one"),
    (Wish::Up, "another"),
    (Wish::Down, "another"),
    (Wish::Left, "channels"),
    (Wish::Right, "channels"),
    (Wish::Again, "look again"),
    (Wish::Back, ""),
];
const OF_RECORDING: Table = &[(Wish::Take, "go on"), (Wish::Back, "")];

/// Which input is listened to, and with how many channels.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Devices {
    /// None while they are being listed.
    inputs: Option<Result<Vec<SetupInput>, String>>,
    cursor: usize,
    /// The count asked for, where it is not the device's own.
    channels: Option<usize>,
    is_recording: bool,
}

impl Devices {
    pub(super) fn new(is_recording: bool) -> Self {
        Self {
            inputs: None,
            cursor: 0,
            channels: None,
            is_recording,
        }
    }

    fn list(&self) -> &[SetupInput] {
        match &self.inputs {
            Some(Ok(inputs)) => inputs,
            _ => &[],
        }
    }

    fn chosen(&self) -> Option<&SetupInput> {
        self.list().get(self.cursor)
    }

    /// What is listened to.
    pub(super) fn listened(&self) -> Listened {
        let named = self.chosen().filter(|input| !input.is_default);
        Listened {
            input: named.map(|input| input.id.clone()),
            channels: self.channels,
        }
    }

    /// The inputs there are. The one that is listened to stays chosen if it is still there.
    pub(super) fn take(&mut self, inputs: Result<Vec<SetupInput>, String>) {
        let before = self.chosen().map(|input| input.id.clone());
        let list = inputs.as_deref().unwrap_or_default();
        let is_before = |input: &SetupInput| Some(&input.id) == before.as_ref();
        self.cursor = (list.iter().position(is_before))
            .or_else(|| list.iter().position(|input| input.is_default))
            .unwrap_or(0);
        self.inputs = Some(inputs);
    }

    pub(super) fn table(&self) -> Table {
        if self.is_recording {
            OF_RECORDING
        } else {
            TABLE
        }
    }

    pub(super) fn press(&mut self, wish: Wish, around: &Around<'_>) -> Reply {
        match wish {
            Wish::Take => Reply::Next,
            Wish::Back => Reply::Back,
            Wish::Up => self.go(-1),
            Wish::Down => self.go(1),
            Wish::Left => self.count(false, around),
            Wish::Right => self.count(true, around),
            Wish::Again => Reply::List,
            Wish::LeaveOut | Wish::Undo => Reply::Stay,
        }
    }

    fn go(&mut self, by: isize) -> Reply {
        let last = self.list().len().saturating_sub(1);
        let cursor = self.cursor.saturating_add_signed(by).min(last);
        if cursor == self.cursor {
            return Reply::Stay;
        }
        self.cursor = cursor;
        self.channels = None;
        Reply::Listen
    }

    fn count(&mut self, is_more: bool, around: &Around<'_>) -> Reply {
        let Some(input) = self.chosen() else {
            return Reply::Stay;
        };
        let heard = around.hearing.inputs.len();
        let now = self
            .channels
            .unwrap_or(if heard > 0 { heard } else { input.channels });
        let most = input.most_channels.max(input.channels);
        let mut counts = COUNTS.iter().copied().filter(|count| *count <= most);
        let next = if is_more {
            counts.find(|count| *count > now)
        } else {
            counts.rfind(|count| *count < now)
        };
        let Some(next) = next else { return Reply::Stay };
        self.channels = Some(next);
        Reply::Listen
    }

    pub(super) fn question(&self) -> String {
        if self.is_recording {
            "listening to a recording in place of a microphone".to_owned()
        } else {
            "which microphone? play something: its bars move".to_owned()
        }
    }

    pub(super) fn hint(&self) -> String {
        let more = self
            .chosen()
            .is_some_and(|input| input.most_channels > input.channels);
        if more && !self.is_recording {
            "a sound server does not know how many channels there are: set with \u{2190}\u{2192} as \
             many as the interface has"
                .to_owned()
        } else {
            "one bar for each channel".to_owned()
        }
    }

    pub(super) fn notice(&self, around: &Around<'_>) -> Option<String> {
        match &self.inputs {
            Some(Err(reason)) => Some(reason.clone()),
            Some(Ok(inputs)) if inputs.is_empty() => {
                Some("no input can be listened to: connect a microphone, then press r".to_owned())
            }
            _ if around.hearing.dead_for() > DEAD => Some(format!(
                "no sound at all for {:.0} s: is the microphone on, and its input turned up?",
                around.hearing.dead_for().get()
            )),
            _ => None,
        }
    }

    pub(super) fn draw(&self, area: Rect, buffer: &mut Buffer, around: &Around<'_>) {
        let theme = around.theme;
        let list = self.list();
        let shown = (list.len() as u16)
            .clamp(1, MOST_SHOWN)
            .min(area.height / 2);
        let top = self
            .cursor
            .saturating_sub(usize::from(shown).saturating_sub(1));
        if list.is_empty() && shown > 0 {
            let text = if self.inputs.is_none() {
                "looking for inputs \u{2026}"
            } else {
                "none"
            };
            buffer.set_stringn(area.x, area.y, text, area.width.into(), theme.faint);
        }
        for (row, (at, input)) in (0..shown).zip(list.iter().enumerate().skip(top)) {
            let is_chosen = at == self.cursor;
            let count = match (is_chosen, self.channels) {
                (true, Some(count)) => count,
                _ => input.channels,
            };
            let channels = if count == 1 { "channel" } else { "channels" };
            let default = if input.is_default {
                ", used unless another is named"
            } else {
                ""
            };
            let mark = if is_chosen { "\u{25b8}" } else { " " };
            let text = format!(
                "{mark} {}  ({count} {channels}{default})",
                input.description
            );
            let style = if is_chosen { theme.player } else { theme.text };
            buffer.set_stringn(area.x, area.y + row, text, area.width.into(), style);
        }
        let below = Rect {
            y: area.y + shown + 1,
            height: area.height.saturating_sub(shown + 1),
            ..area
        };
        meters::draw(below, buffer, around, None);
    }
}
