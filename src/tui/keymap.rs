//! Which key does what: the one table behind keys, help and footer.

use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyModifiers};

/// What a key asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) enum Action {
    /// The next temperament of the list.
    NextTemperament,
    /// The one before.
    PreviousTemperament,
    /// A4 half a hertz up.
    RaiseStandard,
    /// A4 half a hertz down.
    LowerStandard,
    /// The player above.
    SelectPrevious,
    /// The player below.
    SelectNext,
    /// A screenful up.
    PageUp,
    /// A screenful down.
    PageDown,
    /// Hide the selected channel.
    Hide,
    /// Show every channel.
    ShowAll,
    /// Hold the picture or let it go on.
    Freeze,
    /// Whole cents or tenths.
    Decimals,
    /// Open or close the help.
    Help,
    /// Close what lies on top.
    Close,
    /// Give the terminal back for a while.
    Suspend,
    /// End.
    Quit,
}

/// A key with or without Ctrl.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) struct Key {
    code: KeyCode,
    control: bool,
}

impl Key {
    const fn plain(code: KeyCode) -> Self {
        Self {
            code,
            control: false,
        }
    }

    const fn of(character: char) -> Self {
        Self::plain(KeyCode::Char(character))
    }

    const fn control(character: char) -> Self {
        Self {
            code: KeyCode::Char(character),
            control: true,
        }
    }

    /// The key of an event; Shift is part of the character, other modifiers are no keys of
    /// ours.
    fn of_event(event: KeyEvent) -> Option<Self> {
        let other = KeyModifiers::ALT | KeyModifiers::SUPER | KeyModifiers::META;
        (!event.modifiers.intersects(other)).then_some(Self {
            code: event.code,
            control: event.modifiers.contains(KeyModifiers::CONTROL),
        })
    }

    /// What is printed on the key.
    pub(super) fn label(self) -> String {
        let name = match self.code {
            KeyCode::Char(' ') => "space".to_owned(),
            KeyCode::Char('-') => "\u{2212}".to_owned(),
            KeyCode::Char(c) if self.control => c.to_ascii_uppercase().to_string(),
            KeyCode::Char(c) => c.to_string(),
            KeyCode::Up => "\u{2191}".to_owned(),
            KeyCode::Down => "\u{2193}".to_owned(),
            KeyCode::PageUp => "PgUp".to_owned(),
            KeyCode::PageDown => "PgDn".to_owned(),
            KeyCode::Esc => "Esc".to_owned(),
            code => code.to_string(),
        };
        if self.control {
            format!("Ctrl-{name}")
        } else {
            name
        }
    }
}

/// One line of the table.
#[derive(Debug, Clone, Copy)]
pub(super) struct Binding {
    /// The keys; the first is the one that is shown in the footer.
    pub(super) keys: &'static [Key],
    /// What they do.
    pub(super) action: Action,
    /// The same for people.
    pub(super) help: &'static str,
}

const fn bind(keys: &'static [Key], action: Action, help: &'static str) -> Binding {
    Binding { keys, action, help }
}

/// The keys of the players view. Lower case and close together: one hand, in the dark.
pub(super) const PLAYERS: &[Binding] = &[
    bind(&[Key::of(' '), Key::of('f')], Action::Freeze, "hold, go on"),
    bind(
        &[Key::plain(KeyCode::Up), Key::of('k')],
        Action::SelectPrevious,
        "player above",
    ),
    bind(
        &[Key::plain(KeyCode::Down), Key::of('j')],
        Action::SelectNext,
        "player below",
    ),
    bind(
        &[Key::plain(KeyCode::PageUp)],
        Action::PageUp,
        "a screen up",
    ),
    bind(
        &[Key::plain(KeyCode::PageDown)],
        Action::PageDown,
        "a screen down",
    ),
    bind(&[Key::of('h')], Action::Hide, "hide this player"),
    bind(&[Key::of('a')], Action::ShowAll, "show all players"),
    bind(&[Key::of('t')], Action::NextTemperament, "next temperament"),
    bind(
        &[Key::of('r'), Key::of('T')],
        Action::PreviousTemperament,
        "temperament before",
    ),
    bind(
        &[Key::of('+'), Key::of('=')],
        Action::RaiseStandard,
        "pitch 0.5 Hz up",
    ),
    bind(&[Key::of('-')], Action::LowerStandard, "pitch 0.5 Hz down"),
    bind(
        &[Key::of('.'), Key::of('d')],
        Action::Decimals,
        "tenths of a cent",
    ),
    bind(
        &[Key::of('?'), Key::plain(KeyCode::F(1))],
        Action::Help,
        "this help",
    ),
    bind(&[Key::control('z')], Action::Suspend, "back to the shell"),
    bind(&[Key::of('q'), Key::control('c')], Action::Quit, "quit"),
];

/// The keys while the help lies on top; all others go on to the view below.
pub(super) const HELP: &[Binding] = &[bind(
    &[
        Key::plain(KeyCode::Esc),
        Key::of('?'),
        Key::plain(KeyCode::F(1)),
    ],
    Action::Close,
    "close the help",
)];

/// What a pressed key asks for by a table.
pub(super) fn action(table: &[Binding], event: KeyEvent) -> Option<Action> {
    let key = Key::of_event(event)?;
    table
        .iter()
        .find(|binding| binding.keys.contains(&key))
        .map(|binding| binding.action)
}

/// The label of the first key of an action; empty when the table has none.
pub(super) fn label(table: &[Binding], action: Action) -> String {
    table
        .iter()
        .find(|binding| binding.action == action)
        .and_then(|binding| binding.keys.first())
        .map_or_else(String::new, |key| key.label())
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::HashSet;

    #[test]
    fn no_key_and_no_action_is_bound_twice() {
        for table in [PLAYERS, HELP] {
            let mut keys = HashSet::new();
            let mut actions = HashSet::new();
            for binding in table {
                assert!(actions.insert(binding.action), "{:?}", binding.action);
                assert!(!binding.keys.is_empty());
                for key in binding.keys {
                    assert!(keys.insert(*key), "'{}' is bound twice", key.label());
                }
            }
        }
    }

    #[test]
    fn events_find_their_action() {
        let press = |code, modifiers| action(PLAYERS, KeyEvent::new(code, modifiers));
        let none = KeyModifiers::NONE;
        assert_eq!(
            press(KeyCode::Char('t'), none),
            Some(Action::NextTemperament)
        );
        let shift = KeyModifiers::SHIFT;
        assert_eq!(
            press(KeyCode::Char('T'), shift),
            Some(Action::PreviousTemperament)
        );
        let control = KeyModifiers::CONTROL;
        assert_eq!(press(KeyCode::Char('c'), control), Some(Action::Quit));
        assert_eq!(press(KeyCode::Char('t'), control), None);
        assert_eq!(press(KeyCode::Char('t'), KeyModifiers::ALT), None);
        assert_eq!(press(KeyCode::Char('x'), none), None);
    }
}
