//! The last question: what the file is called.

use ratatui::buffer::Buffer;
use ratatui::crossterm::event::KeyEvent;
use ratatui::layout::Rect;

use super::desk::{Around, Reply};
use super::keys::{Table, Wish};
use crate::plain::as_argument;
use crate::tui::field::Field;

/// The longest name.
const LONGEST: usize = 120;

const NAMING: Table = &[
    (Wish::Take, "write it"),
    (Wish::Up, "read it"),
    (Wish::Down, "read it"),
    (Wish::Back, "back"),
];
const WRITTEN: Table = &[
    (Wish::Take, "rehearse now"),
    (Wish::Up, "read it"),
    (Wish::Down, "read it"),
    (Wish::Back, ""),
];

/// The file.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct File {
    name: Field,
    /// What will stand in it.
    text: String,
    first: u16,
    written: Option<String>,
    failed: Option<String>,
    /// How the rehearsal is begun later, after "concento ".
    command: String,
}

impl File {
    pub(super) fn new(name: &str) -> Self {
        Self {
            name: Field::new(name, LONGEST),
            text: String::new(),
            first: 0,
            written: None,
            failed: None,
            command: String::new(),
        }
    }

    /// What would be written now.
    pub(super) fn set_text(&mut self, text: String) {
        self.text = text;
        self.first = 0;
        // What was settled since may differ from what was written.
        self.written = None;
        self.failed = None;
    }

    pub(super) fn text(&self) -> &str {
        &self.text
    }

    pub(super) fn name(&self) -> &str {
        self.name.text()
    }

    pub(super) fn written(&self) -> Option<&str> {
        self.written.as_deref()
    }

    /// What came of writing.
    pub(super) fn take(&mut self, written: Result<String, String>, options: &str) {
        match written {
            Ok(name) => {
                self.command = format!("concento rehearse {}{options}", as_argument(&name));
                self.written = Some(name);
                self.failed = None;
            }
            Err(reason) => self.failed = Some(reason),
        }
    }

    pub(super) fn table(&self) -> Table {
        if self.written.is_some() {
            WRITTEN
        } else {
            NAMING
        }
    }

    pub(super) fn is_typing(&self) -> bool {
        self.written.is_none()
    }

    pub(super) fn type_in(&mut self, key: KeyEvent) {
        self.failed = None;
        self.name.press(key);
    }

    pub(super) fn press(&mut self, wish: Wish) -> Reply {
        match (wish, self.written.is_some()) {
            (Wish::Take, true) => return Reply::Rehearse,
            (Wish::Back, true) => return Reply::End,
            (Wish::Take, false) if self.name().is_empty() => {
                self.failed = Some("give the file a name, such as ensemble.ron".to_owned());
            }
            (Wish::Take, false) => return Reply::Write,
            (Wish::Back, false) => return Reply::Back,
            (Wish::Up, _) => self.first = self.first.saturating_sub(1),
            (Wish::Down, _) => {
                let last = (self.text.lines().count() as u16).saturating_sub(1);
                self.first = (self.first + 1).min(last);
            }
            _ => {}
        }
        Reply::Stay
    }

    pub(super) fn question(&self) -> String {
        match &self.written {
            None => format!("the file's name: {}", self.name.shown(50)),
            Some(name) => format!("written: {name}"),
        }
    }

    pub(super) fn hint(&self) -> String {
        match &self.written {
            None => "nothing is written over; this will stand in it:".to_owned(),
            Some(_) => format!("from now on: {}", self.command),
        }
    }

    pub(super) fn notice(&self) -> Option<String> {
        self.failed.clone()
    }

    pub(super) fn draw(&self, area: Rect, buffer: &mut Buffer, around: &Around<'_>) {
        let theme = around.theme;
        let lines = self.text.lines().skip(self.first.into());
        for (row, line) in (0..area.height).zip(lines) {
            let style = if line.trim_start().starts_with("//") {
                theme.faint
            } else {
                theme.text
            };
            buffer.set_stringn(area.x, area.y + row, line, area.width.into(), style);
        }
    }
}
