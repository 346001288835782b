//! A key of the keyboard: as the terminal sends it, as it is printed, and as settings name it.

use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyModifiers};

/// A key with or without Ctrl.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(in crate::tui) struct Key {
    code: KeyCode,
    control: bool,
}

/// The names of keys that print nothing, as settings have them.
const NAMED: [(&str, KeyCode); 16] = [
    ("space", KeyCode::Char(' ')),
    ("enter", KeyCode::Enter),
    ("tab", KeyCode::Tab),
    ("back-tab", KeyCode::BackTab),
    ("esc", KeyCode::Esc),
    ("backspace", KeyCode::Backspace),
    ("insert", KeyCode::Insert),
    ("delete", KeyCode::Delete),
    ("up", KeyCode::Up),
    ("down", KeyCode::Down),
    ("left", KeyCode::Left),
    ("right", KeyCode::Right),
    ("page-up", KeyCode::PageUp),
    ("page-down", KeyCode::PageDown),
    ("home", KeyCode::Home),
    ("end", KeyCode::End),
];

impl Key {
    pub(super) const fn plain(code: KeyCode) -> Self {
        Self {
            code,
            control: false,
        }
    }

    pub(super) const fn of(character: char) -> Self {
        Self::plain(KeyCode::Char(character))
    }

    pub(super) const fn with_control(code: KeyCode) -> Self {
        Self {
            code,
            control: true,
        }
    }

    pub(super) const fn control(character: char) -> Self {
        Self::with_control(KeyCode::Char(character))
    }

    /// The key of an event; Shift is part of the character, other modifiers are no keys of
    /// ours.
    pub(super) fn of_event(event: KeyEvent) -> Option<Self> {
        let other = KeyModifiers::ALT | KeyModifiers::SUPER | KeyModifiers::META;
        (!event.modifiers.intersects(other)).then_some(Self {
            code: event.code,
            control: event.modifiers.contains(KeyModifiers::CONTROL),
        })
    }

    /// What is printed on the key.
    pub(in crate::tui) fn label(self) -> String {
        let name = match self.code {
            KeyCode::Char(' ') => "space".to_owned(),
            KeyCode::Char('-') => "\u{2212}".to_owned(),
            KeyCode::Char(c) if self.control => c.to_ascii_uppercase().to_string(),
            KeyCode::Char(c) => c.to_string(),
            KeyCode::Up => "\u{2191}".to_owned(),
            KeyCode::Down => "\u{2193}".to_owned(),
            KeyCode::Left => "\u{2190}".to_owned(),
            KeyCode::Right => "\u{2192}".to_owned(),
            KeyCode::PageUp => "PgUp".to_owned(),
            KeyCode::PageDown => "PgDn".to_owned(),
            KeyCode::Esc => "Esc".to_owned(),
            KeyCode::Backspace => "\u{232b}".to_owned(),
            code => code.to_string(),
        };
        if self.control {
            format!("Ctrl-{name}")
        } else {
            name
        }
    }

    /// The key of a name: a character, `space`, `enter`, `page-down` and the like, `f1` to
    /// `f12`, each with `ctrl-` before it or without.
    ///
    /// # Errors
    ///
    /// There is no such key; the error says what there is.
    pub(super) fn named(name: &str) -> Result<Self, String> {
        let (control, plain) = match name.strip_prefix("ctrl-") {
            Some(plain) if !plain.is_empty() => (true, plain),
            _ => (false, name),
        };
        let mut characters = plain.chars();
        let code = match (characters.next(), characters.next()) {
            (Some(only), None) if !only.is_control() && !only.is_whitespace() => {
                Some(KeyCode::Char(only))
            }
            _ => NAMED
                .iter()
                .find(|(name, _)| *name == plain)
                .map(|(_, code)| *code)
                .or_else(|| function_key(plain)),
        };
        let code = code.ok_or_else(|| {
            let names: Vec<&str> = NAMED.iter().map(|(name, _)| *name).collect();
            let shown: String = name.escape_debug().take(20).collect();
            format!(
                "'{shown}' is no key: write one character, {}, or f1 to f12, with ctrl- before it \
                 if it is pressed with Ctrl",
                names.join(", ")
            )
        })?;
        Ok(Self { code, control })
    }

    /// The name that [`Self::named`] finds it by.
    pub(super) fn name(self) -> String {
        let plain = match (NAMED.iter().find(|(_, code)| *code == self.code), self.code) {
            (Some((name, _)), _) => (*name).to_owned(),
            (None, KeyCode::Char(c)) => c.to_string(),
            (None, KeyCode::F(number)) => format!("f{number}"),
            // No table has others.
            (None, code) => code.to_string().to_lowercase(),
        };
        if self.control {
            format!("ctrl-{plain}")
        } else {
            plain
        }
    }
}

fn function_key(name: &str) -> Option<KeyCode> {
    let number = name.strip_prefix('f')?.parse().ok()?;
    (1..=12).contains(&number).then_some(KeyCode::F(number))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_lead_to_keys_and_back() {
        for name in [
            "a",
            "A",
            "\u{e9}",
            "space",
            "enter",
            "page-down",
            "ctrl-q",
            "ctrl-left",
            "f1",
            "f12",
            "-",
            "?",
        ] {
            assert_eq!(Key::named(name).map(Key::name).as_deref(), Ok(name));
        }
        for (name, code) in NAMED {
            assert_eq!(Key::named(name), Ok(Key::plain(code)));
        }
        for name in [
            "", "ctrl-", "ctrl", "f0", "f13", "aa", " ", "\u{1b}", "Enter", "f-1",
        ] {
            let error = Key::named(name).unwrap_err();
            assert!(error.contains("is no key: write one character"), "{error}");
        }
    }
}
