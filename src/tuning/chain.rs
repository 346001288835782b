//! The run of fifths that decides which accidentals an instrument owns.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use crate::units::NoteName;

/// A chain that cannot serve.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ChainError {
    /// Text that does not read as two notes.
    #[error("'{0}' is no chain: write its flattest and its sharpest note, such as Eb-G#")]
    Text(String),
    /// Fewer than twelve or more than twenty-one notes.
    #[error(
        "the chain {first:#} to {last:#} has {count} notes: a keyboard's has 12 (Eb to G#), \
         a player's 12 to 21, and the first note is the flattest"
    )]
    Length {
        /// First note given.
        first: NoteName,
        /// Last note given.
        last: NoteName,
        /// Notes from one to the other up the chain of fifths; negative when turned round.
        count: i32,
    },
}

/// Notes in the order of fifths, from the flattest to the sharpest: E♭ to G♯ is the usual
/// keyboard, with twelve of them. In files it is text: `Eb-G#`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Chain {
    first: i32,
    last: i32,
}

impl Chain {
    /// A chain from `first` to `last` with 12 to 21 notes.
    pub fn new(first: NoteName, last: NoteName) -> Result<Self, ChainError> {
        let count = last.fifths() - first.fifths() + 1;
        if (12..=21).contains(&count) {
            Ok(Self {
                first: first.fifths(),
                last: last.fifths(),
            })
        } else {
            Err(ChainError::Length { first, last, count })
        }
    }

    /// The usual twelve keys, E♭ to G♯.
    pub fn usual() -> Self {
        Self { first: -3, last: 8 }
    }

    /// The chain, if it has the twelve notes of a keyboard.
    pub fn of_keyboard(self) -> Result<Self, ChainError> {
        match self.last - self.first + 1 {
            12 => Ok(self),
            count => Err(ChainError::Length {
                first: self.first(),
                last: self.last(),
                count,
            }),
        }
    }

    /// The flattest note.
    pub fn first(self) -> NoteName {
        NoteName::from_fifths(self.first).unwrap_or(NoteName::C)
    }

    /// The sharpest note.
    pub fn last(self) -> NoteName {
        NoteName::from_fifths(self.last).unwrap_or(NoteName::C)
    }

    /// The notes in order.
    pub fn notes(self) -> impl Iterator<Item = NoteName> {
        (self.first..=self.last).filter_map(NoteName::from_fifths)
    }

    /// Whether the chain owns this spelling.
    pub fn contains(self, name: NoteName) -> bool {
        (self.first..=self.last).contains(&name.fifths())
    }
}

impl fmt::Display for Chain {
    /// `E♭–G♯`; the alternate form is ASCII, as in files: `Eb-G#`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if f.alternate() {
            f.pad(&format!("{:#}-{:#}", self.first(), self.last()))
        } else {
            f.pad(&format!("{}\u{2013}{}", self.first(), self.last()))
        }
    }
}

impl FromStr for Chain {
    type Err = ChainError;
    fn from_str(text: &str) -> Result<Self, ChainError> {
        let wrong = || ChainError::Text(text.to_owned());
        let (first, last) = text.split_once(['-', '\u{2013}']).ok_or_else(wrong)?;
        Self::new(
            first.parse().map_err(|_| wrong())?,
            last.parse().map_err(|_| wrong())?,
        )
    }
}

impl TryFrom<String> for Chain {
    type Error = ChainError;
    fn try_from(text: String) -> Result<Self, ChainError> {
        text.parse()
    }
}

impl From<Chain> for String {
    fn from(chain: Chain) -> Self {
        format!("{chain:#}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn chain(first: &str, last: &str) -> Result<Chain, ChainError> {
        Chain::new(first.parse().unwrap(), last.parse().unwrap())
    }

    #[test]
    fn the_usual_chain_has_twelve_notes() {
        assert_eq!(chain("Eb", "G#"), Ok(Chain::usual()));
        let names: Vec<String> = Chain::usual().notes().map(NoteName::ascii).collect();
        assert_eq!(
            names,
            [
                "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#", "G#"
            ]
        );
    }

    #[test]
    fn a_keyboard_has_twelve_keys() {
        assert_eq!(Chain::usual().of_keyboard(), Ok(Chain::usual()));
        let player = chain("Ab", "D#").unwrap();
        assert!(matches!(
            player.of_keyboard(),
            Err(ChainError::Length { count: 14, .. })
        ));
    }

    #[test]
    fn short_long_and_reversed_chains_are_refused() {
        for (first, last) in [("C", "G"), ("G#", "Eb"), ("Fbb", "B##")] {
            assert!(chain(first, last).is_err(), "{first} {last}");
        }
    }

    #[test]
    fn chains_are_read_and_shown() {
        for (text, shown) in [
            ("Eb-G#", "E\u{266d}\u{2013}G\u{266f}"),
            ("A\u{266d}\u{2013}C\u{266f}", "A\u{266d}\u{2013}C\u{266f}"),
            ("Gb - A#", "G\u{266d}\u{2013}A\u{266f}"),
        ] {
            let chain: Chain = text.parse().unwrap();
            assert_eq!(chain.to_string(), shown);
            assert_eq!(String::from(chain).parse(), Ok(chain));
        }
        for text in ["", "Eb", "Eb-", "Eb G#", "H-G#"] {
            assert_eq!(
                text.parse::<Chain>(),
                Err(ChainError::Text(text.to_owned())),
                "{text}"
            );
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn whatever_is_read_is_shown_as_it_can_be_read(
            text in "[A-H\\u{e9}][b#\u{266d}\u{266f}]{0,3} ?[-\u{2013}] ?[A-H][b#]{0,3}|\\PC{0,12}",
        ) {
            if let Ok(chain) = text.parse::<Chain>() {
                prop_assert_eq!(String::from(chain).parse(), Ok(chain));
                prop_assert_eq!(chain.to_string().parse(), Ok(chain));
            }
        }
    }
}
