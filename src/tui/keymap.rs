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
    /// Freeze the picture or let it go on.
    Freeze,
    /// Hold the trumpets' chord as it sounds.
    Hold,
    /// Use the held chord of this number; 0 in the tables, where it stands for any.
    Recall(u8),
    /// Use the next held chord.
    NextHeld,
    /// Use no held chord.
    Release,
    /// The other view.
    Switch,
    /// Large figures or the ladder.
    Far,
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
            KeyCode::Backspace => "\u{232b}".to_owned(),
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

const FREEZE: Binding = bind(
    &[Key::of(' '), Key::of('f')],
    Action::Freeze,
    "freeze, go on",
);
const UP: Key = Key::plain(KeyCode::Up);
const DOWN: Key = Key::plain(KeyCode::Down);
const PAGE_UP: Key = Key::plain(KeyCode::PageUp);
const PAGE_DOWN: Key = Key::plain(KeyCode::PageDown);
const ENTER: Key = Key::plain(KeyCode::Enter);
const NUMBERS: &[Key] = &[
    Key::of('1'),
    Key::of('2'),
    Key::of('3'),
    Key::of('4'),
    Key::of('5'),
    Key::of('6'),
    Key::of('7'),
    Key::of('8'),
    Key::of('9'),
];
const RECALL: Binding = bind(NUMBERS, Action::Recall(0), "recall that chord");
const RELEASE: Binding = bind(
    &[Key::of('0'), Key::plain(KeyCode::Backspace)],
    Action::Release,
    "release the chord",
);
const TEMPERAMENT: &str = "temperament";
const NEXT_TEMPERAMENT: Binding = bind(&[Key::of('t')], Action::NextTemperament, TEMPERAMENT);
const PREVIOUS_TEMPERAMENT: Binding = bind(
    &[Key::of('r'), Key::of('T')],
    Action::PreviousTemperament,
    TEMPERAMENT,
);
const STANDARD: &str = "pitch by 0.5 Hz";
const RAISE: Binding = bind(
    &[Key::of('+'), Key::of('=')],
    Action::RaiseStandard,
    STANDARD,
);
const LOWER: Binding = bind(&[Key::of('-')], Action::LowerStandard, STANDARD);
const DECIMALS: Binding = bind(
    &[Key::of('.'), Key::of('d')],
    Action::Decimals,
    "tenths of a cent",
);
const HELP_KEY: Binding = bind(
    &[Key::of('?'), Key::plain(KeyCode::F(1))],
    Action::Help,
    "this help",
);
const SUSPEND: Binding = bind(&[Key::control('z')], Action::Suspend, "back to the shell");
const QUIT: Binding = bind(&[Key::of('q'), Key::control('c')], Action::Quit, "quit");

/// The keys of the players view. Lower case and close together: one hand, in the dark.
/// Bindings that follow one another with the same help are told in one line.
pub(super) const PLAYERS: &[Binding] = &[
    FREEZE,
    bind(&[ENTER], Action::Hold, "hold the chord"),
    RECALL,
    RELEASE,
    bind(&[Key::of('c'), Key::of('p')], Action::Switch, "chord view"),
    bind(
        &[UP, Key::of('k')],
        Action::SelectPrevious,
        "select a player",
    ),
    bind(&[DOWN, Key::of('j')], Action::SelectNext, "select a player"),
    bind(&[PAGE_UP], Action::PageUp, "by a screen"),
    bind(&[PAGE_DOWN], Action::PageDown, "by a screen"),
    bind(&[Key::of('h')], Action::Hide, "hide this player"),
    bind(&[Key::of('a')], Action::ShowAll, "show all players"),
    NEXT_TEMPERAMENT,
    PREVIOUS_TEMPERAMENT,
    RAISE,
    LOWER,
    DECIMALS,
    HELP_KEY,
    SUSPEND,
    QUIT,
];

/// The keys of the chord view. A pedal for turning pages sends `PgDn` and `PgUp`.
pub(super) const CHORD: &[Binding] = &[
    FREEZE,
    bind(&[ENTER, PAGE_DOWN], Action::Hold, "hold the chord"),
    bind(
        &[Key::of('n'), PAGE_UP],
        Action::NextHeld,
        "next held chord",
    ),
    RECALL,
    RELEASE,
    bind(
        &[Key::of('c'), Key::of('p')],
        Action::Switch,
        "players view",
    ),
    bind(
        &[Key::plain(KeyCode::Tab), Key::of('b')],
        Action::Far,
        "large, ladder",
    ),
    bind(&[UP, Key::of('k')], Action::SelectPrevious, "scroll"),
    bind(&[DOWN, Key::of('j')], Action::SelectNext, "scroll"),
    NEXT_TEMPERAMENT,
    PREVIOUS_TEMPERAMENT,
    RAISE,
    LOWER,
    DECIMALS,
    HELP_KEY,
    SUSPEND,
    QUIT,
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
    let binding = table.iter().find(|binding| binding.keys.contains(&key))?;
    Some(match (binding.action, key.code) {
        (Action::Recall(_), KeyCode::Char(digit)) => {
            Action::Recall(digit.to_digit(10).unwrap_or(0) as u8)
        }
        (action, _) => action,
    })
}

/// A table as the help tells it: the keys of a line and what they do.
pub(super) fn lines(table: &[Binding]) -> Vec<(String, &'static str)> {
    let mut lines: Vec<(String, &'static str)> = Vec::new();
    for binding in table {
        let labels: Vec<String> = binding.keys.iter().map(|key| key.label()).collect();
        let keys = match (binding.action, &labels[..]) {
            (Action::Recall(_), [first, .., last]) => format!("{first}\u{2013}{last}"),
            _ => labels.join(" "),
        };
        match lines.last_mut() {
            Some((before, help)) if *help == binding.help => {
                before.push(' ');
                before.push_str(&keys);
            }
            _ => lines.push((keys, binding.help)),
        }
    }
    lines
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
        for table in [PLAYERS, CHORD, HELP] {
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
        assert_eq!(press(KeyCode::Char('7'), none), Some(Action::Recall(7)));
        assert_eq!(press(KeyCode::Char('0'), none), Some(Action::Release));
    }

    #[test]
    fn keys_that_belong_together_are_told_in_one_line() {
        let lines = lines(PLAYERS);
        assert!(lines.contains(&("PgUp PgDn".to_owned(), "by a screen")));
        assert!(lines.contains(&("1\u{2013}9".to_owned(), "recall that chord")));
        let keys_fit = |(keys, _): &(String, &str)| keys.chars().count() <= 10;
        assert!(lines.iter().all(keys_fit), "{lines:?}");
    }
}
