//! The key tables as a user has changed them.

use std::borrow::Cow;
use std::collections::HashMap;

use super::tables;
use super::{Action, Binding, Key, alone, in_practice, in_replay, with_plan};

/// A table that can be changed: the keys of a view, or those through a replay.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum KeysOf {
    /// The players.
    Players,
    /// The chord.
    Chord,
    /// The drift.
    Drift,
    /// The ledger.
    Ledger,
    /// The practice.
    Practice,
    /// The plan.
    Plan,
    /// The first screen.
    Home,
    /// The tuner's steps.
    Bearings,
    /// The way through a replay, asked before those of the view.
    Replay,
}

impl KeysOf {
    /// All of them.
    pub const ALL: [Self; 9] = [
        Self::Players,
        Self::Chord,
        Self::Drift,
        Self::Ledger,
        Self::Practice,
        Self::Plan,
        Self::Home,
        Self::Bearings,
        Self::Replay,
    ];

    /// Its name in settings.
    pub fn name(self) -> &'static str {
        match self {
            Self::Players => "players",
            Self::Chord => "chord",
            Self::Drift => "drift",
            Self::Ledger => "ledger",
            Self::Practice => "practice",
            Self::Plan => "plan",
            Self::Home => "home",
            Self::Bearings => "bearings",
            Self::Replay => "replay",
        }
    }

    fn table(self) -> &'static [Binding] {
        match self {
            Self::Players => tables::PLAYERS,
            Self::Chord => tables::CHORD,
            Self::Drift => tables::DRIFT,
            Self::Ledger => tables::LEDGER,
            Self::Practice => tables::PRACTICE,
            Self::Plan => tables::PLAN,
            Self::Home => tables::HOME,
            Self::Bearings => tables::BEARINGS,
            Self::Replay => tables::REPLAY,
        }
    }
}

/// What is wrong with a change of keys.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{message}")]
pub struct KeyFault {
    /// The view whose keys they are.
    pub view: String,
    /// What the keys were to do.
    pub action: String,
    /// What is wrong and what to do.
    pub message: String,
}

/// Every key and what it does, with the changes of a user.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Keymap {
    /// Of a table and an action the keys that stand in place of its own.
    changes: HashMap<(KeysOf, Action), Vec<Key>>,
}

impl Keymap {
    /// Lets `keys` do `action` in a view, in place of those that did.
    ///
    /// # Errors
    ///
    /// There is no such view, action or key; or the action takes another number of keys.
    /// Whether keys do two things is not asked before [`Self::checked`].
    pub fn change(&mut self, view: &str, action: &str, keys: &[String]) -> Result<(), KeyFault> {
        let fault = |message: String| KeyFault {
            view: view.to_owned(),
            action: action.to_owned(),
            message,
        };
        let shown = |text: &str| text.escape_debug().take(40).collect::<String>();
        let of = KeysOf::ALL.into_iter().find(|of| of.name() == view);
        let of = of.ok_or_else(|| {
            let names = KeysOf::ALL.map(KeysOf::name).join(", ");
            fault(format!("'{}' has no keys: there are {names}", shown(view)))
        })?;
        let binding = of.table().iter().find(|b| name_of(b.action) == action);
        let binding = binding.ok_or_else(|| {
            fault(format!(
                "'{}' is nothing a key can do there: 'concento settings --keys' tells what is",
                shown(action)
            ))
        })?;
        let keys = keys
            .iter()
            .map(|name| Key::named(name))
            .collect::<Result<Vec<Key>, String>>()
            .map_err(fault)?;
        let n_wanted = binding.keys.len();
        if matches!(binding.action, Action::Recall(_)) && keys.len() != n_wanted {
            return Err(fault(format!(
                "'{action}' takes {n_wanted} keys, one for each"
            )));
        }
        if binding.action == Action::Quit && keys.is_empty() {
            return Err(fault(
                "'quit' needs a key: without one nobody could leave".to_owned(),
            ));
        }
        let mut keys = keys;
        // Ctrl-C ends every program of a terminal, whatever else does.
        if binding.action == Action::Quit && !keys.contains(&Key::control('c')) {
            keys.push(Key::control('c'));
        }
        self.changes.insert((of, binding.action), keys);
        Ok(())
    }

    /// The same, if no key does two things in any form of any view.
    ///
    /// # Errors
    ///
    /// A key does; the one that was changed is told.
    pub fn checked(self) -> Result<Self, KeyFault> {
        for of in KeysOf::ALL {
            for table in self.forms(of) {
                self.check(of, &table)?;
            }
        }
        Ok(self)
    }

    /// The table of a view in all the forms it can have.
    fn forms(&self, of: KeysOf) -> Vec<Vec<Binding>> {
        let own = self.table(of);
        let replay = self.table(KeysOf::Replay);
        match of {
            KeysOf::Players | KeysOf::Chord => vec![with_plan(&own), in_replay(&own, &replay), own],
            KeysOf::Drift | KeysOf::Ledger => vec![
                with_plan(&own),
                in_practice(&own),
                in_replay(&own, &replay),
                own,
            ],
            KeysOf::Practice | KeysOf::Home | KeysOf::Bearings | KeysOf::Replay => vec![own],
            KeysOf::Plan => vec![alone(&own), with_plan(&own)],
        }
    }

    fn check(&self, of: KeysOf, table: &[Binding]) -> Result<(), KeyFault> {
        let mut users: HashMap<Key, Action> = HashMap::new();
        for binding in table {
            for key in binding.keys.iter() {
                let Some(other) = users.insert(*key, binding.action) else {
                    continue;
                };
                // The one that was changed is to be told; the table of the replay may be the
                // one it was changed in.
                let changed = [binding.action, other]
                    .into_iter()
                    .flat_map(|action| [(of, action), (KeysOf::Replay, action)])
                    .find(|change| self.changes.contains_key(change));
                let (view, action) = changed.unwrap_or((of, binding.action));
                let rival = if action == other {
                    binding.action
                } else {
                    other
                };
                return Err(KeyFault {
                    view: view.name().to_owned(),
                    action: name_of(action),
                    message: format!(
                        "'{}' would do two things in the view '{}', '{}' and '{}': give one of \
                         them another key",
                        key.name(),
                        of.name(),
                        name_of(action),
                        name_of(rival),
                    ),
                });
            }
        }
        Ok(())
    }

    /// The keys of a view.
    pub(in crate::tui) fn table(&self, of: KeysOf) -> Vec<Binding> {
        let changed = |binding: &Binding| match self.changes.get(&(of, binding.action)) {
            Some(keys) => Binding {
                keys: Cow::Owned(keys.clone()),
                ..binding.clone()
            },
            None => binding.clone(),
        };
        of.table().iter().map(changed).collect()
    }

    /// Every view, what its keys do by the name that settings use, the keys, and the same in
    /// words.
    pub fn list(&self) -> Vec<(&'static str, String, Vec<String>, &'static str)> {
        let lines = |of: KeysOf| {
            self.table(of).into_iter().map(move |binding| {
                let keys = binding.keys.iter().map(|key| key.name()).collect();
                (of.name(), name_of(binding.action), keys, binding.help)
            })
        };
        KeysOf::ALL.into_iter().flat_map(lines).collect()
    }
}

/// The name of an action in settings: that of its variant, in small letters with hyphens. A
/// snapshot holds them, as files depend on them.
fn name_of(action: Action) -> String {
    let written = match action {
        Action::Show(view) => format!("Show{view:?}"),
        Action::Replay(way) => format!("{way:?}"),
        Action::Practise(what) => format!("{what:?}"),
        Action::Planned(what) => format!("{what:?}"),
        Action::Go(door) => format!("{door:?}"),
        Action::Recall(_) => "Recall".to_owned(),
        Action::Choose(_) => "Choose".to_owned(),
        other => format!("{other:?}"),
    };
    let mut name = String::new();
    for c in written.chars() {
        if c.is_ascii_uppercase() && !name.is_empty() {
            name.push('-');
        }
        name.push(c.to_ascii_lowercase());
    }
    name
}

#[cfg(test)]
mod tests {
    use super::*;

    fn changed(changes: &[(&str, &str, &[&str])]) -> Result<Keymap, KeyFault> {
        let mut keymap = Keymap::default();
        for (view, action, keys) in changes {
            let keys: Vec<String> = keys.iter().map(|key| (*key).to_owned()).collect();
            keymap.change(view, action, &keys)?;
        }
        keymap.checked()
    }

    fn fault(changes: &[(&str, &str, &[&str])], part: &str) {
        let fault = changed(changes).unwrap_err();
        assert!(fault.message.contains(part), "{}", fault.message);
    }

    #[test]
    fn keys_are_changed_and_the_others_stay() {
        let keymap = changed(&[("chord", "hold", &["x", "page-down"])]).unwrap();
        let table = keymap.table(KeysOf::Chord);
        let hold = table.iter().find(|b| b.action == Action::Hold).unwrap();
        assert_eq!(
            hold.keys[..],
            [Key::named("x").unwrap(), Key::named("page-down").unwrap()]
        );
        assert_eq!(keymap.table(KeysOf::Players), tables::PLAYERS);
        let others = |table: &[Binding]| {
            let kept = table.iter().filter(|b| b.action != Action::Hold);
            kept.cloned().collect::<Vec<_>>()
        };
        assert_eq!(others(&table), others(tables::CHORD));
    }

    #[test]
    fn keys_can_change_places() {
        let swapped = [
            ("players", "show-chord", &["d"][..]),
            ("players", "show-drift", &["c"]),
        ];
        assert!(changed(&swapped).is_ok());
        fault(
            &swapped[..1],
            "'d' would do two things in the view 'players', 'show-chord' and 'show-drift'",
        );
    }

    #[test]
    fn control_c_always_ends() {
        let keymap = changed(&[("players", "quit", &["z"])]).unwrap();
        let table = keymap.table(KeysOf::Players);
        let quit = table.iter().find(|b| b.action == Action::Quit).unwrap();
        assert_eq!(quit.keys[..], [Key::of('z'), Key::control('c')]);
    }

    #[test]
    fn what_makes_no_sense_is_refused() {
        fault(
            &[("stalls", "hold", &["x"])],
            "'stalls' has no keys: there are players, chord",
        );
        fault(
            &[("players", "dance", &["x"])],
            "'dance' is nothing a key can do there",
        );
        fault(&[("players", "hold", &["xx"])], "'xx' is no key");
        fault(&[("players", "recall", &["x"])], "takes 9 keys");
        fault(&[("players", "quit", &[])], "'quit' needs a key");
        // Where there is a plan, a key leads to it.
        fault(&[("players", "hold", &["g"])], "'g' would do two things");
        // A replay has keys of its own.
        fault(&[("replay", "pause", &["q"])], "'q' would do two things");
    }

    #[test]
    fn the_names_stay_as_files_have_them() {
        let lines: Vec<String> = Keymap::default()
            .list()
            .into_iter()
            .map(|(view, action, keys, help)| {
                format!("{view:9} {action:20} {:22} {help}", keys.join(" "))
            })
            .collect();
        insta::assert_snapshot!(lines.join("\n"));
    }
}
