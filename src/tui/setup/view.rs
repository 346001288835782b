//! Draws a question.
//!
//! ```text
//! setting up · 2 of 5 · players                            Stage Box, 8 inputs
//!
//! input 3: Trumpet II (Natural trumpet)
//! 14 dB louder than input 4, the next one
//!
//!   1 ████────────────  −52 dB
//!  ▸3 ██████████████──  −12 dB  Trumpet I
//!
//! the microphone has gone
//! Enter yes   ←→ instrument   ↑↓ input   Esc listen again
//! ```

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::{Line, Span};
use ratatui::widgets::{Paragraph, Widget, Wrap};

use super::desk::{SetupDesk, Step};
use super::keys;
use crate::sound::SourceState;

/// The smallest window a question is drawn in.
const SMALLEST: (u16, u16) = (20, 6);
/// Rows of a hint.
const HINT: u16 = 2;

impl Widget for &SetupDesk {
    fn render(self, area: Rect, buffer: &mut Buffer) {
        let area = area.intersection(buffer.area);
        if area.width < SMALLEST.0 || area.height < SMALLEST.1 {
            return;
        }
        let area = Rect {
            x: area.x + 1,
            width: area.width - 2,
            ..area
        };
        let theme = &self.theme;
        let room = usize::from(area.width);
        self.draw_head(area, buffer);
        // A low window does without the gaps.
        let gap = u16::from(area.height >= 16);
        let question_at = area.y + 1 + gap;
        buffer.set_stringn(area.x, question_at, self.question(), room, theme.player);
        let hint = Rect {
            y: question_at + 1,
            height: HINT.min(area.bottom().saturating_sub(question_at + 2)),
            ..area
        };
        Paragraph::new(self.hint())
            .style(theme.text)
            .wrap(Wrap { trim: true })
            .render(hint, buffer);
        let mut footer = keys::footer(self.table());
        if !self.is_typing() {
            footer.push_str("   q end");
        }
        let lines = wrapped(&footer, room);
        let n_lines = (lines.len() as u16).min(2);
        let notice_at = area.bottom().saturating_sub(n_lines + 1);
        let body_at = hint.bottom() + gap;
        let body = Rect {
            y: body_at,
            height: notice_at.saturating_sub(body_at + gap),
            ..area
        };
        if body.height > 0 {
            self.draw_body(body, buffer);
        }
        if notice_at > question_at
            && let Some(notice) = self.notice()
        {
            let line = Line::from(Span::styled(notice, theme.notice));
            buffer.set_line(area.x, notice_at, &line, area.width);
        }
        for (row, line) in (0..n_lines).zip(lines) {
            let y = area.bottom() - n_lines + row;
            // The key is what is looked for.
            let mut spans = Vec::new();
            for part in line.split("   ") {
                let (key, word) = part.split_once(' ').unwrap_or((part, ""));
                spans.push(Span::styled(key.to_owned(), theme.player));
                spans.push(Span::styled(format!(" {word}   "), theme.faint));
            }
            buffer.set_line(area.x, y, &Line::from(spans), area.width);
        }
    }
}

impl SetupDesk {
    fn draw_head(&self, area: Rect, buffer: &mut Buffer) {
        let theme = &self.theme;
        let (number, count) = self.count();
        let head = format!(
            "setting up \u{b7} {number} of {count} \u{b7} {}",
            self.step.title()
        );
        let room = usize::from(area.width);
        buffer.set_stringn(area.x, area.y, &head, room, theme.tempered);
        let inputs = match self.hearing.inputs.len() {
            0 => return,
            1 => "1 input".to_owned(),
            count => format!("{count} inputs"),
        };
        let left = room.saturating_sub(head.chars().count() + 3);
        let name: String = self
            .hearing
            .name
            .chars()
            .take(left.saturating_sub(inputs.len() + 2))
            .collect();
        let told = if name.is_empty() {
            inputs
        } else {
            format!("{name}, {inputs}")
        };
        if told.chars().count() <= left {
            let at = area.right() - told.chars().count() as u16;
            buffer.set_stringn(at, area.y, told, left, theme.faint);
        }
    }

    fn question(&self) -> String {
        match self.step {
            Step::Devices => self.devices.question(),
            Step::Players => self.players.question(),
            Step::Keyboard => self.keyboard.question(),
            Step::Trumpets => self.trumpets.question(),
            Step::File => self.file.question(),
        }
    }

    fn hint(&self) -> String {
        match self.step {
            Step::Devices => self.devices.hint(),
            Step::Players => self.players.hint(),
            Step::Keyboard => self.keyboard.hint(),
            Step::Trumpets => self.trumpets.hint(),
            Step::File => self.file.hint(),
        }
    }

    /// What the leader has to see to: a fault of the microphone first, where one is listened to.
    fn notice(&self) -> Option<String> {
        if let (SourceState::Waiting(fault), true) = (&self.hearing.state, self.step != Step::File)
        {
            return Some(fault.to_string());
        }
        let own = match self.step {
            Step::Keyboard => self.keyboard.notice(),
            Step::File => return self.file.notice(),
            Step::Devices | Step::Players | Step::Trumpets => None,
        };
        own.or_else(|| match &self.hearing.state {
            SourceState::Opening if self.step != Step::Devices => {
                Some("the microphone is being opened".to_owned())
            }
            SourceState::Ended => Some("the recording has ended".to_owned()),
            SourceState::Opening | SourceState::Running | SourceState::Waiting(_) => {
                self.devices.notice(&self.around())
            }
        })
    }

    fn draw_body(&self, body: Rect, buffer: &mut Buffer) {
        let around = self.around();
        match self.step {
            Step::Devices => self.devices.draw(body, buffer, &around),
            Step::Players => self.players.draw(body, buffer, &around),
            Step::Keyboard => self.keyboard.draw(body, buffer, &around),
            Step::Trumpets => self.trumpets.draw(body, buffer, &around),
            Step::File => self.file.draw(body, buffer, &around),
        }
    }
}

/// A footer on as many lines as it needs, broken between keys.
fn wrapped(footer: &str, width: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for part in footer.split("   ") {
        match lines.last_mut() {
            Some(line) if line.chars().count() + part.chars().count() + 3 <= width => {
                line.push_str("   ");
                line.push_str(part);
            }
            _ => lines.push(part.to_owned()),
        }
    }
    lines
}
