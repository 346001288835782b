//! Who is who in a score: trumpets, keyboards and those who can move, told from part names.

use std::fmt;
use std::str::FromStr;

use crate::rehearsal::{Family, Reach};
use crate::score::Part;

/// Where a player's notes stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Side {
    /// On the exact partials of the series.
    Trumpets,
    /// On twelve keys.
    Keyboard,
    /// On the temperament as it is spelled.
    Others,
}

/// A part's player.
#[derive(Debug, Clone, PartialEq)]
pub struct Player {
    /// The part's name.
    pub name: String,
    /// Where the notes stand.
    pub side: Side,
    /// How it behaves.
    pub family: Family,
    /// How far a held note can be moved.
    pub reach: Reach,
}

/// Words by which parts are called, and what they are.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KnownName {
    /// Words in lower case, one or several: `tromba`, `basso continuo`.
    pub words: Vec<String>,
    /// How such an instrument behaves.
    pub family: Family,
    /// Whether it is a natural trumpet rather than another instrument on a series.
    pub is_trumpet: bool,
}

/// Text that is no pattern.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "'{0}' is no pattern of part names: write names parted by commas, such as 'Trumpet*,Clarino*'"
)]
pub struct PatternError(String);

/// Names of parts as they may be written: `Trumpet*,Clarino*`. A star stands for anything, a
/// question mark for one character, and capitals make no difference.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pattern(Vec<Vec<char>>);

impl Pattern {
    /// Nobody: no part is meant.
    pub fn nobody() -> Self {
        Self(Vec::new())
    }

    /// Whether no part is meant.
    pub fn is_nobody(&self) -> bool {
        self.0.is_empty()
    }

    /// Whether a part called `name` is meant.
    pub fn matches(&self, name: &str) -> bool {
        let name: Vec<char> = name.to_lowercase().chars().collect();
        self.0.iter().any(|pattern| fits(pattern, &name))
    }
}

impl FromStr for Pattern {
    type Err = PatternError;
    fn from_str(text: &str) -> Result<Self, PatternError> {
        let patterns: Vec<Vec<char>> = text
            .split(',')
            .map(|name| name.trim().to_lowercase().chars().collect())
            .collect();
        if patterns.iter().any(Vec::is_empty) {
            return Err(PatternError(text.to_owned()));
        }
        Ok(Self(patterns))
    }
}

impl fmt::Display for Pattern {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let names: Vec<String> = self.0.iter().map(|name| name.iter().collect()).collect();
        f.pad(&names.join(","))
    }
}

/// Whether `name` is `pattern`, in time that grows with the product of their lengths.
fn fits(pattern: &[char], name: &[char]) -> bool {
    let (mut p, mut n) = (0, 0);
    let mut retry: Option<(usize, usize)> = None;
    while n < name.len() {
        if p < pattern.len() && pattern[p] == '*' {
            retry = Some((p, n));
            p += 1;
        } else if p < pattern.len() && (pattern[p] == '?' || pattern[p] == name[n]) {
            p += 1;
            n += 1;
        } else if let Some((star, from)) = retry {
            retry = Some((star, from + 1));
            p = star + 1;
            n = from + 1;
        } else {
            return false;
        }
    }
    pattern[p..].iter().all(|c| *c == '*')
}

/// How the players of a programme are told apart.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Casting {
    /// What parts are usually called.
    pub known: Vec<KnownName>,
    /// The trumpets, where names do not tell.
    pub trumpets: Option<Pattern>,
    /// The keyboards, where names do not tell.
    pub keyboard: Option<Pattern>,
    /// Reaches that differ from those of the family; the last that matches counts.
    pub reaches: Vec<(Pattern, Reach)>,
}

impl Casting {
    /// Who plays `part`. A part whose name says several is a keyboard's where one of them is:
    /// "Bass, Continuo" can move no more than the organ in it can.
    pub fn player(&self, part: &Part) -> Player {
        let words = words(&part.name);
        let named: Vec<&KnownName> = self
            .known
            .iter()
            .filter(|known| known.words.iter().any(|name| says(&words, name)))
            .collect();
        let is = |given: &Option<Pattern>, by_name: bool| {
            given
                .as_ref()
                .map_or(by_name, |pattern| pattern.matches(&part.name))
        };
        let is_trumpet = is(&self.trumpets, named.iter().any(|known| known.is_trumpet));
        let is_keyboard = is(
            &self.keyboard,
            named.iter().any(|known| known.family == Family::Keyboard),
        );
        let (side, family) = if is_trumpet {
            (Side::Trumpets, Family::Trumpets)
        } else if is_keyboard {
            (Side::Keyboard, Family::Keyboard)
        } else {
            let family = named
                .iter()
                .map(|known| known.family)
                .find(|family| *family != Family::Keyboard);
            (Side::Others, family.unwrap_or(Family::Section))
        };
        let reach = self
            .reaches
            .iter()
            .rev()
            .find(|(pattern, _)| pattern.matches(&part.name))
            .map_or(family.reach(), |(_, reach)| *reach);
        Player {
            name: part.name.clone(),
            side,
            family,
            reach,
        }
    }
}

/// The words of a name in lower case, without numbers and points.
fn words(name: &str) -> Vec<String> {
    name.to_lowercase()
        .split(|c: char| !c.is_alphabetic())
        .filter(|word| !word.is_empty())
        .map(str::to_owned)
        .collect()
}

/// Whether the words of a part's name contain those of `known`, one after the other.
fn says(name: &[String], known: &str) -> bool {
    let known = words(known);
    !known.is_empty() && name.windows(known.len()).any(|window| window == known)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn casting() -> Casting {
        let known = |words: &[&str], family, is_trumpet| KnownName {
            words: words.iter().map(|word| (*word).to_owned()).collect(),
            family,
            is_trumpet,
        };
        Casting {
            known: vec![
                known(&["trumpet", "tromba"], Family::Trumpets, true),
                known(&["horn"], Family::Trumpets, false),
                known(&["continuo", "b c"], Family::Keyboard, false),
                known(&["bass"], Family::Voices, false),
            ],
            ..Casting::default()
        }
    }

    fn player(casting: &Casting, name: &str) -> Player {
        casting.player(&Part {
            name: name.to_owned(),
            notes: Vec::new(),
        })
    }

    #[test]
    fn names_tell_who_plays() {
        let check = |name: &str, side, family| {
            let player = player(&casting(), name);
            assert_eq!((player.side, player.family), (side, family), "{name}");
        };
        check("Trumpet 1", Side::Trumpets, Family::Trumpets);
        check("TROMBA II.", Side::Trumpets, Family::Trumpets);
        check("Horn in D", Side::Others, Family::Trumpets);
        check("Bass, Continuo", Side::Keyboard, Family::Keyboard);
        check("B. c.", Side::Keyboard, Family::Keyboard);
        check("Bass", Side::Others, Family::Voices);
        check("Trombone", Side::Others, Family::Section);
        check("", Side::Others, Family::Section);
    }

    #[test]
    fn what_is_given_goes_before_names() {
        let given = Casting {
            trumpets: Some("horn*,Clar?no I".parse().unwrap()),
            keyboard: Some("Piano".parse().unwrap()),
            ..casting()
        };
        assert_eq!(player(&given, "Horn in D").side, Side::Trumpets);
        assert_eq!(player(&given, "clarino i").side, Side::Trumpets);
        assert_eq!(player(&given, "Trumpet 1").side, Side::Others);
        assert_eq!(player(&given, "Continuo").side, Side::Others);
        assert_eq!(player(&given, "piano").side, Side::Keyboard);
    }

    #[test]
    fn patterns_match_whole_names() {
        let check = |pattern: &str, name: &str, expected: bool| {
            let pattern: Pattern = pattern.parse().unwrap();
            assert_eq!(pattern.matches(name), expected, "{pattern} {name}");
        };
        check("Trumpet", "Trumpet 1", false);
        check("Trumpet*", "Trumpet 1", true);
        check("*in D", "Clarino in D", true);
        check("*a*a*", "banana", true);
        check("*", "", true);
        check("V?olin", "Violin", true);
        check(&format!("{}b", "*a".repeat(40)), &"a".repeat(4000), false);
        for text in ["", ",", "a,,b"] {
            assert!(text.parse::<Pattern>().is_err(), "{text}");
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn any_pattern_is_read_again_and_asked_of_any_name(
            text in "[a-c*?, ]{0,12}|\\PC{0,12}",
            name in "[a-c ]{0,12}|\\PC{0,12}",
        ) {
            if let Ok(pattern) = text.parse::<Pattern>() {
                prop_assert_eq!(pattern.to_string().parse(), Ok(pattern.clone()));
                let _ = pattern.matches(&name);
            }
            let everything: Pattern = "*".parse().unwrap();
            prop_assert!(everything.matches(&name));
        }
    }
}
