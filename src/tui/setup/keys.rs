//! The keys of the questions. A step's own table says which of them mean something there; they
//! do what the footer says and nothing else.

use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyModifiers};

/// What a key asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Wish {
    /// What is shown is taken, and the next question comes.
    Take,
    /// The question before.
    Back,
    /// This question is left open.
    LeaveOut,
    /// The line above.
    Up,
    /// The line below.
    Down,
    /// Less, or the one before.
    Left,
    /// More, or the next.
    Right,
    /// The last thing is taken back.
    Undo,
    /// Lists once more.
    Again,
}

/// A step's keys with what they do there, in the order of the footer.
pub(super) type Table = &'static [(Wish, &'static str)];

const KEYS: [(KeyCode, Wish); 11] = [
    (KeyCode::Enter, Wish::Take),
    (KeyCode::Esc, Wish::Back),
    (KeyCode::Tab, Wish::LeaveOut),
    (KeyCode::Up, Wish::Up),
    (KeyCode::Down, Wish::Down),
    (KeyCode::Left, Wish::Left),
    (KeyCode::Right, Wish::Right),
    (KeyCode::Backspace, Wish::Undo),
    (KeyCode::Delete, Wish::Undo),
    (KeyCode::Char('r'), Wish::Again),
    (KeyCode::F(5), Wish::Again),
];

/// What a key asks for by a step's table.
pub(super) fn wish(table: Table, key: KeyEvent) -> Option<Wish> {
    let other = KeyModifiers::CONTROL | KeyModifiers::ALT | KeyModifiers::SUPER;
    if key.modifiers.intersects(other) {
        return None;
    }
    let (_, wish) = KEYS.iter().find(|(code, _)| *code == key.code)?;
    table.iter().any(|(own, _)| own == wish).then_some(*wish)
}

/// What is printed on the key.
fn label(wish: Wish) -> &'static str {
    match wish {
        Wish::Take => "Enter",
        Wish::Back => "Esc",
        Wish::LeaveOut => "Tab",
        Wish::Up | Wish::Down => "\u{2191}\u{2193}",
        Wish::Left | Wish::Right => "\u{2190}\u{2192}",
        Wish::Undo => "\u{232b}",
        Wish::Again => "r",
    }
}

/// The footer of a table: arrows that belong together are told once.
pub(super) fn footer(table: Table) -> String {
    let mut parts: Vec<String> = Vec::new();
    for (wish, help) in table {
        let part = format!("{} {help}", label(*wish));
        if !help.is_empty() && !parts.contains(&part) {
            parts.push(part);
        }
    }
    parts.join("   ")
}

#[cfg(test)]
mod tests {
    use super::*;

    const TABLE: Table = &[
        (Wish::Take, "take it"),
        (Wish::Up, "choose"),
        (Wish::Down, "choose"),
        (Wish::Back, "back"),
    ];

    #[test]
    fn keys_do_what_the_footer_says_and_nothing_else() {
        let press = |code| wish(TABLE, KeyEvent::new(code, KeyModifiers::NONE));
        assert_eq!(press(KeyCode::Enter), Some(Wish::Take));
        assert_eq!(press(KeyCode::Down), Some(Wish::Down));
        assert_eq!(press(KeyCode::Tab), None);
        assert_eq!(press(KeyCode::Char('x')), None);
        let control = KeyEvent::new(KeyCode::Enter, KeyModifiers::CONTROL);
        assert_eq!(wish(TABLE, control), None);
        assert_eq!(
            footer(TABLE),
            "Enter take it   \u{2191}\u{2193} choose   Esc back"
        );
    }
}
