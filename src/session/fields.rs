//! Values that several files share: the version and texts that are shown on a terminal.

use serde::{Deserialize, Deserializer, Serialize, de::Error};

pub(crate) use crate::plain::steers;
/// The version every file states first; a scene's is the same.
pub(crate) use crate::scene::Version;

/// Longest text that is shown in one line, in characters.
const LONGEST: usize = 80;

/// One line of text for a terminal: not empty, without control characters, up to 80 long.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub(crate) struct Line(pub(crate) String);

impl TryFrom<String> for Line {
    type Error = String;
    fn try_from(text: String) -> Result<Self, String> {
        let text = text.trim();
        if text.is_empty() {
            return Err("this text is empty: give a name".into());
        }
        if text.chars().count() > LONGEST {
            return Err(format!(
                "'{}...' is too long: {LONGEST} characters are allowed",
                text.chars().take(20).collect::<String>().escape_debug()
            ));
        }
        printable(text).map(Self)
    }
}

/// Text of any length for a terminal, possibly empty, without control characters.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub(super) struct Prose(pub(super) String);

impl TryFrom<String> for Prose {
    type Error = String;
    fn try_from(text: String) -> Result<Self, String> {
        // Line breaks inside a long remark are only layout.
        printable(&text.split_whitespace().collect::<Vec<_>>().join(" ")).map(Self)
    }
}

/// A name for commands and files: small letters, digits and hyphens.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub(crate) struct CommandName(pub(crate) String);

impl TryFrom<String> for CommandName {
    type Error = String;
    fn try_from(name: String) -> Result<Self, String> {
        let allowed = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-';
        if !name.is_empty()
            && name.len() <= LONGEST
            && name.chars().all(allowed)
            && !name.starts_with('-')
        {
            Ok(Self(name))
        } else {
            Err(format!(
                "'{}' cannot be typed as a name: use small letters, digits and hyphens \
                 (my-temperament)",
                name.chars()
                    .take(LONGEST)
                    .collect::<String>()
                    .escape_debug()
            ))
        }
    }
}

/// The texts as files have them.
macro_rules! into_text {
    ($($kind:ident),*) => {
        $(impl From<$kind> for String {
            fn from(text: $kind) -> Self {
                text.0
            }
        })*
    };
}
into_text!(Line, Prose, CommandName);

impl Line {
    /// Whatever text as a line that can be read again: what would steer a terminal becomes a
    /// space, what is too long is cut.
    pub(super) fn tidied(text: &str) -> Self {
        let Prose(tidy) = Prose::tidied(text);
        let short: String = tidy.chars().take(LONGEST).collect();
        // It may be cut behind a blank.
        let short = short.trim_end();
        Self(if short.is_empty() { "-" } else { short }.to_owned())
    }
}

impl Prose {
    /// The same for text of any length.
    pub(super) fn tidied(text: &str) -> Self {
        let harmless: String = text
            .chars()
            .map(|c| if steers(c) { ' ' } else { c })
            .collect();
        Self(harmless.split_whitespace().collect::<Vec<_>>().join(" "))
    }
}

/// A text of any origin as it may be shown in one line of a terminal.
pub fn shown(text: &str) -> String {
    Line::tidied(text).0
}

/// Refuses texts with characters that steer.
fn printable(text: &str) -> Result<String, String> {
    if text.contains(steers) {
        Err(format!(
            "'{}' holds control characters: remove them",
            text.escape_debug()
        ))
    } else {
        Ok(text.to_owned())
    }
}

/// Reads a place that has a value of its own kind only in the program, reporting a bad one
/// where it stands.
pub(crate) fn checked<'de, D, T, U>(
    deserializer: D,
    check: impl FnOnce(T) -> Result<U, String>,
) -> Result<U, D::Error>
where
    D: Deserializer<'de>,
    T: Deserialize<'de>,
{
    check(T::deserialize(deserializer)?).map_err(D::Error::custom)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn names_cannot_steer_a_terminal() {
        for text in [
            "",
            "  ",
            "a\u{1b}[2Jb",
            "a\nb",
            "a\u{202e}b",
            "\u{7f}",
            "a\u{9b}b",
            "a\u{200b}b",
            "a\u{61c}b",
            "a\u{2029}b",
            "a\u{ad}b",
            "a\u{e0041}b",
        ] {
            assert!(Line::try_from(text.to_owned()).is_err(), "{text:?}");
        }
        assert!(Line::try_from("x".repeat(81)).is_err());
        let name = Line::try_from(" Viola d\u{2019}amore \u{266d} ".to_owned());
        assert_eq!(name, Ok(Line("Viola d\u{2019}amore \u{266d}".into())));
    }

    #[test]
    fn command_names_can_be_typed() {
        for name in ["", "-x", "Sixth", "a b", "a/b", "\u{e9}"] {
            assert!(CommandName::try_from(name.to_owned()).is_err(), "{name:?}");
        }
        assert!(CommandName::try_from("neidhardt-1732".to_owned()).is_ok());
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn any_text_is_shown_in_one_line_that_steers_nothing(
            text in crate::plain::tests::any_text(100),
        ) {
            let shown = shown(&text);
            prop_assert!(!shown.contains(steers));
            prop_assert_eq!(Line::try_from(shown.clone()), Ok(Line(shown)));
            if let Ok(Line(line)) = Line::try_from(text.clone()) {
                prop_assert_eq!(line, text.trim());
            }
            if let Ok(Prose(prose)) = Prose::try_from(text) {
                prop_assert!(!prose.contains(steers));
            }
        }
    }
}
