//! A short line of text that is being typed.

use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyModifiers};

use crate::plain::steers;

/// Text of a few words; the cursor is always at its end.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Field {
    text: String,
    most: usize,
}

impl Field {
    /// A field for up to `most` characters that holds `text` already.
    pub(super) fn new(text: &str, most: usize) -> Self {
        Self {
            text: text.chars().take(most).collect(),
            most,
        }
    }

    /// What was typed, without blanks around it.
    pub(super) fn text(&self) -> &str {
        self.text.trim()
    }

    /// Takes a key in, if it is one for text: a printable character or Backspace.
    pub(super) fn press(&mut self, key: KeyEvent) {
        let other = KeyModifiers::CONTROL | KeyModifiers::SUPER | KeyModifiers::META;
        // Some terminals send what AltGr makes with both modifiers.
        let alt_gr = KeyModifiers::CONTROL | KeyModifiers::ALT;
        let is_text = !key.modifiers.intersects(other) || key.modifiers == alt_gr;
        match key.code {
            KeyCode::Backspace => {
                self.text.pop();
            }
            KeyCode::Char(c) if is_text && self.has_room() && !steers(c) => self.text.push(c),
            _ => {}
        }
    }

    fn has_room(&self) -> bool {
        self.text.chars().count() < self.most
    }

    /// The text with its cursor, at most `width` columns of its end.
    pub(super) fn shown(&self, width: usize) -> String {
        let count = self.text.chars().count();
        let kept = width.saturating_sub(1);
        let shown: String = self.text.chars().skip(count.saturating_sub(kept)).collect();
        format!("{shown}\u{258f}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn typed(script: &str, most: usize) -> Field {
        let mut field = Field::new("", most);
        for c in script.chars() {
            let code = match c {
                '<' => KeyCode::Backspace,
                c => KeyCode::Char(c),
            };
            field.press(KeyEvent::new(code, KeyModifiers::NONE));
        }
        field
    }

    #[test]
    fn text_is_typed_and_taken_back() {
        assert_eq!(typed("bars 12\u{2013}14", 60).text(), "bars 12\u{2013}14");
        assert_eq!(typed("abc<<d", 60).text(), "ad");
        assert_eq!(typed("<<", 60).text(), "");
        assert_eq!(typed("abcdef", 4).text(), "abcd");
        assert_eq!(
            typed("a\u{7}\u{202e}\u{61c}\u{ad}\u{e0041}b", 4).text(),
            "ab"
        );
        assert_eq!(typed("abcdef", 9).shown(4), "def\u{258f}");
    }

    #[test]
    fn keys_with_control_are_no_text() {
        let mut field = Field::new("", 9);
        field.press(KeyEvent::new(KeyCode::Char('a'), KeyModifiers::CONTROL));
        assert_eq!(field.text(), "");
        let alt_gr = KeyModifiers::CONTROL | KeyModifiers::ALT;
        field.press(KeyEvent::new(KeyCode::Char('['), alt_gr));
        assert_eq!(field.text(), "[");
    }
}
