//! The changes of keys in a settings file: of each view, what is to be done by which keys.

use std::fmt;

use serde::de::{Deserialize, DeserializeSeed, Deserializer, Error, MapAccess, Visitor};

use crate::tui::{KeyFault, Keymap};

/// One change as it stands in the file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Change {
    pub(super) view: String,
    pub(super) action: String,
    pub(super) keys: Vec<String>,
}

/// The key tables with all changes made.
pub(super) fn changed(changes: &[Change]) -> Result<Keymap, KeyFault> {
    let mut keymap = Keymap::default();
    for change in changes {
        keymap.change(&change.view, &change.action, &change.keys)?;
    }
    keymap.checked()
}

/// Reads changes, in the order of the file; the one that has a fault is refused where it stands,
/// so that the reader's error names its line. Whether a change has a fault is known only once all
/// have been read: then the file is read once more with it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Changes<'a>(pub(super) Option<&'a KeyFault>);

impl<'de> DeserializeSeed<'de> for Changes<'_> {
    type Value = Vec<Change>;

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<Vec<Change>, D::Error> {
        deserializer.deserialize_map(Views(self.0))
    }
}

struct Views<'a>(Option<&'a KeyFault>);

impl<'de> Visitor<'de> for Views<'_> {
    type Value = Vec<Change>;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("views with their keys, as in {\"players\": {\"hold\": [\"enter\"]}}")
    }

    fn visit_map<M: MapAccess<'de>>(self, mut map: M) -> Result<Vec<Change>, M::Error> {
        let mut changes: Vec<Change> = Vec::new();
        while let Some(view) = map.next_key::<String>()? {
            if changes.iter().any(|change| change.view == view) {
                let shown: String = view.escape_debug().take(40).collect();
                return Err(M::Error::custom(format!(
                    "'{shown}' stands twice: keep one of them"
                )));
            }
            changes.extend(map.next_value_seed(View {
                view: &view,
                fault: self.0.filter(|fault| fault.view == view),
            })?);
        }
        Ok(changes)
    }
}

struct View<'a> {
    view: &'a str,
    fault: Option<&'a KeyFault>,
}

impl<'de> DeserializeSeed<'de> for View<'_> {
    type Value = Vec<Change>;

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<Vec<Change>, D::Error> {
        deserializer.deserialize_map(self)
    }
}

impl<'de> Visitor<'de> for View<'_> {
    type Value = Vec<Change>;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("what keys do, as in {\"hold\": [\"enter\", \"x\"]}")
    }

    fn visit_map<M: MapAccess<'de>>(self, mut map: M) -> Result<Vec<Change>, M::Error> {
        let mut changes: Vec<Change> = Vec::new();
        while let Some(action) = map.next_key::<String>()? {
            if changes.iter().any(|change| change.action == action) {
                let shown: String = action.escape_debug().take(40).collect();
                return Err(M::Error::custom(format!(
                    "'{shown}' stands twice: keep one of them"
                )));
            }
            let fault = self.fault.filter(|fault| fault.action == action);
            let keys = map.next_value_seed(Keys(fault))?;
            changes.push(Change {
                view: self.view.to_owned(),
                action,
                keys,
            });
        }
        Ok(changes)
    }
}

/// The keys of one change, refused while the reader still stands behind them.
struct Keys<'a>(Option<&'a KeyFault>);

impl<'de> DeserializeSeed<'de> for Keys<'_> {
    type Value = Vec<String>;

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<Vec<String>, D::Error> {
        let keys = Vec::deserialize(deserializer)?;
        match self.0 {
            Some(fault) => Err(D::Error::custom(&fault.message)),
            None => Ok(keys),
        }
    }
}
