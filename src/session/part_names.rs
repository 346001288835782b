//! The shipped names of parts in scores.

use std::sync::LazyLock;

use serde::Deserialize;

use super::fields::Version;
use super::file_error::parse;
use crate::plan::KnownName;
use crate::rehearsal::Family;

static SHIPPED: LazyLock<Vec<KnownName>> = LazyLock::new(|| {
    let file = parse::<File>(include_str!("../../assets/part-names.ron"))
        .expect("a test reads the shipped names of parts");
    file.names.into_iter().map(KnownName::from).collect()
});

#[derive(Deserialize)]
#[serde(rename = "part_names", deny_unknown_fields)]
struct File {
    #[serde(rename = "version")]
    _version: Version,
    names: Vec<Fields>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Fields {
    family: Family,
    #[serde(default)]
    is_trumpet: bool,
    words: Vec<String>,
}

impl From<Fields> for KnownName {
    fn from(fields: Fields) -> Self {
        Self {
            words: fields.words,
            family: fields.family,
            is_trumpet: fields.is_trumpet,
        }
    }
}

/// What parts are called, and who plays them.
pub fn part_names() -> &'static [KnownName] {
    &SHIPPED
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::{Casting, Side};
    use crate::score::Part;

    #[test]
    fn the_usual_names_are_known() {
        let casting = Casting {
            known: part_names().to_vec(),
            ..Casting::default()
        };
        let check = |name: &str, side: Side, family: Family| {
            let part = Part {
                name: name.to_owned(),
                notes: Vec::new(),
            };
            let player = casting.player(&part);
            assert_eq!((player.side, player.family), (side, family), "{name}");
        };
        check("Trumpet 1,2", Side::Trumpets, Family::Trumpets);
        check("Clarino II in D", Side::Trumpets, Family::Trumpets);
        check("Trombone", Side::Others, Family::Winds);
        check("Corno da caccia", Side::Others, Family::Trumpets);
        check("Cornetto", Side::Others, Family::Winds);
        check("Timpani", Side::Others, Family::Plucked);
        check("Soprano Oboe 1 Violin1", Side::Others, Family::Voices);
        check("Bass Continuo", Side::Keyboard, Family::Keyboard);
        check("Basso", Side::Others, Family::Voices);
        check("B. c.", Side::Keyboard, Family::Keyboard);
        check("Contrabass", Side::Others, Family::Strings);
        check("Oboe d'amore", Side::Others, Family::Winds);
        check("Viola", Side::Others, Family::Strings);
        check("Bassoon", Side::Others, Family::Winds);
    }

    #[test]
    fn no_word_stands_twice() {
        let mut seen = std::collections::HashSet::new();
        for word in part_names().iter().flat_map(|known| &known.words) {
            assert!(seen.insert(word), "{word}");
        }
    }
}
