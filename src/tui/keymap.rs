//! Which key does what: the tables behind keys, help and footer.

mod changed;
mod key;
mod plan;
mod practise;
mod tables;

use std::borrow::Cow;

use ratatui::crossterm::event::KeyEvent;

use super::event::Travel;
use super::home::Door;
use crate::units::Seconds;
pub use changed::{KeyFault, Keymap, KeysOf};
pub(super) use key::Key;
pub(super) use plan::Planned;
pub(super) use practise::Practise;
#[cfg(test)]
pub(super) use tables::{CHORD, DRIFT, LEDGER, PLAN, PLAYERS, PRACTICE, REPLAY};
pub(super) use tables::{DECIDE, HELP, HELP_IN_PRACTICE, TYPING};
use tables::{DRIFT_LEDGER, DRIFT_LEDGER_PLAN, TO_PLAN, TO_PRACTICE};

/// What fills the window.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) enum Shown {
    /// Every player against both places.
    Players,
    /// The chord on its ladder.
    Chord,
    /// How the pitch moves over the rehearsal.
    Drift,
    /// Note by note, who stood where.
    Ledger,
    /// One player, a drone and an exercise.
    Practice,
    /// What each temperament does to each piece.
    Plan,
}

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
    /// Show every channel, each by itself.
    ShowAll,
    /// The selected player's group in one line, or player by player.
    Fold,
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
    /// That view.
    Show(Shown),
    /// As large as can be, to be read from afar, or as before.
    Far,
    /// The next theme.
    Colours,
    /// Whole cents or tenths.
    Decimals,
    /// The whole rehearsal or its last minutes.
    Stretch,
    /// Another order of the rows.
    Sort,
    /// What a row is made of.
    Open,
    /// Agree on the note at hand.
    Agree,
    /// Agree on the choice of this number; 0 in the tables, where it stands for any.
    Choose(u8),
    /// A cent lower.
    MeetLower,
    /// A cent higher.
    MeetHigher,
    /// Take back what was agreed.
    TakeBack,
    /// Write a remark.
    Remark,
    /// Take what was typed.
    Accept,
    /// Write the page everyone takes home.
    Page,
    /// Mark this moment.
    Mark,
    /// Mark it and type a few words.
    MarkInWords,
    /// Tell the room's temperature.
    Warmth,
    /// Take the measured series of a trumpet as the reference.
    Adopt,
    /// Go elsewhere in a replay.
    Replay(Replay),
    /// Change something about the drone or the exercise.
    Practise(Practise),
    /// Change something about the plan.
    Planned(Planned),
    /// Go through a door of the first screen.
    Go(Door),
    /// Show what to be careful about.
    Caution,
    /// Open or close the help.
    Help,
    /// Close what lies on top.
    Close,
    /// Give the terminal back for a while.
    Suspend,
    /// End.
    Quit,
}

/// Ways through a replay.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) enum Replay {
    /// Stand still, or go on.
    Pause,
    /// A few seconds back.
    Back,
    /// A few seconds on.
    On,
    /// A minute back.
    FarBack,
    /// A minute on.
    FarOn,
    /// To the mark before.
    PreviousMark,
    /// To the next mark.
    NextMark,
    /// Slower.
    Slower,
    /// Faster.
    Faster,
}

impl Replay {
    /// What the shell has to do for it.
    pub(super) fn travel(self) -> Travel {
        let by = |seconds| Travel::By(Seconds::new(seconds));
        match self {
            Self::Pause => Travel::Pause,
            Self::Back => by(-10.0),
            Self::On => by(10.0),
            Self::FarBack => by(-60.0),
            Self::FarOn => by(60.0),
            Self::PreviousMark => Travel::PreviousMark,
            Self::NextMark => Travel::NextMark,
            Self::Slower => Travel::Slower,
            Self::Faster => Travel::Faster,
        }
    }
}

impl Action {
    /// Whether it would add something to the record, so that a replay refuses it.
    pub(super) fn is_recorded(self) -> bool {
        match self {
            Self::NextTemperament
            | Self::PreviousTemperament
            | Self::RaiseStandard
            | Self::LowerStandard
            | Self::Hold
            | Self::Agree
            | Self::Choose(_)
            | Self::TakeBack
            | Self::Remark
            | Self::Mark
            | Self::MarkInWords
            | Self::Warmth
            | Self::Adopt
            | Self::Practise(_) => true,
            Self::SelectPrevious
            | Self::SelectNext
            | Self::PageUp
            | Self::PageDown
            | Self::Hide
            | Self::ShowAll
            | Self::Fold
            | Self::Colours
            | Self::Freeze
            | Self::Recall(_)
            | Self::NextHeld
            | Self::Release
            | Self::Show(_)
            | Self::Far
            | Self::Decimals
            | Self::Stretch
            | Self::Sort
            | Self::Open
            | Self::Page
            | Self::MeetLower
            | Self::MeetHigher
            | Self::Accept
            | Self::Replay(_)
            | Self::Planned(_)
            | Self::Go(_)
            | Self::Caution
            | Self::Help
            | Self::Close
            | Self::Suspend
            | Self::Quit => false,
        }
    }
}

/// One line of the table.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Binding {
    /// The keys; the first is the one that is shown in the footer.
    pub(super) keys: Cow<'static, [Key]>,
    /// What they do.
    pub(super) action: Action,
    /// The same for people.
    pub(super) help: &'static str,
}

/// The keys of a view while it is filled by a replay: what would change the record is left
/// out.
pub(super) fn in_replay(view: &[Binding], replay: &[Binding]) -> Vec<Binding> {
    let is_kept =
        |binding: &&Binding| binding.action != Action::Freeze && !binding.action.is_recorded();
    let own = view.iter().filter(is_kept);
    replay.iter().chain(own).cloned().collect()
}

/// The keys of a view of a rehearsal that is only watched: what would change it is left out.
pub(super) fn on_stand(view: &[Binding]) -> Vec<Binding> {
    let own = view.iter().filter(|binding| !binding.action.is_recorded());
    own.cloned().collect()
}

/// The keys of a view while one practises alone: the practice stands in the place of the players,
/// and one player makes no chord.
pub(super) fn in_practice(view: &[Binding]) -> Vec<Binding> {
    let of_one = |binding: &&Binding| binding.action != Action::Show(Shown::Chord);
    let own = view.iter().filter(of_one);
    own.map(|binding| match binding.action {
        Action::Show(Shown::Players) => TO_PRACTICE,
        _ => binding.clone(),
    })
    .collect()
}

/// The keys of a view of a rehearsal that has a plan to look at.
pub(super) fn with_plan(view: &[Binding]) -> Vec<Binding> {
    let mut table = Vec::new();
    for binding in view {
        if binding.help == DRIFT_LEDGER {
            table.push(Binding {
                help: DRIFT_LEDGER_PLAN,
                ..binding.clone()
            });
            if binding.action == Action::Show(Shown::Ledger) {
                table.push(TO_PLAN);
            }
        } else {
            table.push(binding.clone());
        }
    }
    table
}

/// The keys of a view that is alone on the screen.
pub(super) fn alone(view: &[Binding]) -> Vec<Binding> {
    let is_other_view = |binding: &&Binding| !matches!(binding.action, Action::Show(_));
    view.iter().filter(is_other_view).cloned().collect()
}

/// What a pressed key asks for by a table.
pub(super) fn action(table: &[Binding], event: KeyEvent) -> Option<Action> {
    let key = Key::of_event(event)?;
    let binding = table.iter().find(|binding| binding.keys.contains(&key))?;
    // Keys that choose among several do so by their place.
    let number = binding.keys.iter().position(|of| *of == key).unwrap_or(0) as u8 + 1;
    Some(match binding.action {
        Action::Recall(_) => Action::Recall(number),
        Action::Choose(_) => Action::Choose(number),
        action => action,
    })
}

/// A table as the help tells it: the keys of a line and what they do.
pub(super) fn lines(table: &[Binding]) -> Vec<(String, &'static str)> {
    let mut lines: Vec<(String, &'static str)> = Vec::new();
    for binding in table {
        let labels: Vec<String> = binding.keys.iter().map(|key| key.label()).collect();
        let keys = match (binding.action, &labels[..]) {
            (Action::Recall(_) | Action::Choose(_), [first, .., last]) => {
                format!("{first}\u{2013}{last}")
            }
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
    let Some(binding) = table.iter().find(|binding| binding.action == action) else {
        return String::new();
    };
    match (action, &binding.keys[..]) {
        (Action::Choose(_), [first, .., last]) => {
            format!("{}\u{2013}{}", first.label(), last.label())
        }
        (_, keys) => keys.first().map_or_else(String::new, |key| key.label()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use ratatui::crossterm::event::{KeyCode, KeyModifiers};
    use std::collections::HashSet;

    #[test]
    fn no_key_and_no_action_is_bound_twice() {
        let [players, chord, drift, ledger] =
            [PLAYERS, CHORD, DRIFT, LEDGER].map(|view| in_replay(view, REPLAY));
        let [alone_drift, alone_ledger] = [DRIFT, LEDGER].map(in_practice);
        let planned = [PLAYERS, CHORD, DRIFT, LEDGER, PLAN].map(with_plan);
        let [by_players, by_chord, by_drift, by_ledger, plan] = &planned;
        for table in [
            PLAYERS,
            CHORD,
            DRIFT,
            LEDGER,
            PRACTICE,
            PLAN,
            by_players,
            by_chord,
            by_drift,
            by_ledger,
            plan,
            REPLAY,
            DECIDE,
            TYPING,
            HELP,
            HELP_IN_PRACTICE,
            &players,
            &chord,
            &drift,
            &ledger,
            &alone_drift,
            &alone_ledger,
        ] {
            let mut keys = HashSet::new();
            let mut actions = HashSet::new();
            for binding in table {
                assert!(actions.insert(binding.action), "{:?}", binding.action);
                assert!(!binding.keys.is_empty());
                for key in binding.keys.iter() {
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
        assert_eq!(press(KeyCode::Char('z'), none), None);
        assert_eq!(press(KeyCode::Char('7'), none), Some(Action::Recall(7)));
        assert_eq!(press(KeyCode::Char('0'), none), Some(Action::Release));
    }

    fn fits_in_the_help(table: &[Binding]) {
        let lines = super::lines(table);
        // Two columns of nine in the smallest window.
        assert!(lines.len() <= 18, "{lines:?}");
        for (keys, help) in lines {
            assert!(keys.chars().count() <= 10, "{keys}");
            assert!(help.chars().count() <= 17, "{help}");
        }
    }

    #[test]
    fn keys_that_belong_together_are_told_in_one_line() {
        let lines = lines(PLAYERS);
        assert!(lines.contains(&("PgUp PgDn".to_owned(), "by a screen")));
        let numbers = "1\u{2013}9 0 \u{232b}".to_owned();
        assert!(lines.contains(&(numbers, "recall, release")));
        for view in [PLAYERS, CHORD, DRIFT, LEDGER, PLAN] {
            let tables = [
                view.to_vec(),
                in_practice(view),
                with_plan(view),
                alone(view),
            ];
            for table in tables {
                fits_in_the_help(&table);
            }
        }
        // A replay is never a practice, and has no plan to look at.
        fits_in_the_help(PRACTICE);
        for view in [PLAYERS, CHORD, DRIFT, LEDGER] {
            fits_in_the_help(&in_replay(view, REPLAY));
            fits_in_the_help(&on_stand(view));
        }
    }
}
