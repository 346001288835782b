//! Which characters of a stranger's text must not reach a terminal or a page as they are.
//! Knows nothing of where texts come from or go.

use std::borrow::Cow;
use std::fmt::Write;

/// Whether a character would steer a terminal, break a line, turn its writing round or hide in it.
///
/// From Unicode 16: the controls (Cc), the separators of lines and paragraphs (Zl, Zp) and of the
/// formats (Cf) those that have no width or change the direction of writing.
pub(crate) fn steers(c: char) -> bool {
    c.is_control()
        || matches!(
            c,
            '\u{ad}' | '\u{61c}' | '\u{180e}' | '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}'
                | '\u{2060}'..='\u{206f}' | '\u{feff}' | '\u{fff9}'..='\u{fffb}'
                | '\u{e0000}'..='\u{e007f}'
        )
}

/// A text with those characters written out, as in `\u202e`, but for the ends of its lines. JSON
/// stays what it is, as it can hold them in this form too.
pub(crate) fn written_out(text: &str) -> Cow<'_, str> {
    let is_harmless = |c: char| c == '\n' || !steers(c);
    if text.chars().all(is_harmless) {
        return Cow::Borrowed(text);
    }
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        if is_harmless(c) {
            out.push(c);
        } else {
            for unit in c.encode_utf16(&mut [0; 2]) {
                // Writing into a string cannot fail.
                let _ = write!(out, "\\u{unit:04x}");
            }
        }
    }
    Cow::Owned(out)
}

/// A file's name as it is typed into a command line: quoted where it has to be, and never taken for
/// an option.
pub(crate) fn as_argument(name: &str) -> String {
    let is_plain = |c: char| c.is_alphanumeric() || matches!(c, '.' | '-' | '_' | '/');
    let name = if name.starts_with('-') {
        Cow::Owned(format!("./{name}"))
    } else {
        Cow::Borrowed(name)
    };
    if !name.is_empty() && name.chars().all(is_plain) {
        name.into_owned()
    } else {
        format!("'{}'", name.replace('\'', "'\\''"))
    }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_name_can_be_typed_as_it_is_told() {
        let check = |name: &str, expected: &str| assert_eq!(as_argument(name), expected);
        check("band.ron", "band.ron");
        check("a/f\u{fc}nf-1.session", "a/f\u{fc}nf-1.session");
        check("my band.ron", "'my band.ron'");
        check("it's here", "'it'\\''s here'");
        check("a; rm -rf x", "'a; rm -rf x'");
        check("$HOME", "'$HOME'");
        check("-q.session", "./-q.session");
        check("-q r", "'./-q r'");
        check("", "''");
    }

    #[test]
    fn what_steers_is_written_out() {
        let check = |text: &str, expected: &str| assert_eq!(written_out(text), expected);
        check(
            "Viola d\u{2019}amore \u{266d}\n\u{e9}",
            "Viola d\u{2019}amore \u{266d}\n\u{e9}",
        );
        check("a\u{1b}[2Jb\u{9b}c\u{7f}", "a\\u001b[2Jb\\u009bc\\u007f");
        check(
            "a\u{202e}b\u{2066}\u{61c}\u{200f}",
            "a\\u202eb\\u2066\\u061c\\u200f",
        );
        check(
            "a\u{200b}b\u{2028}\u{feff}\u{ad}",
            "a\\u200bb\\u2028\\ufeff\\u00ad",
        );
        check("a\u{e0041}\r\t", "a\\udb40\\udc41\\u000d\\u0009");
    }

    /// Text of up to `most` characters, many of which steer.
    pub(crate) fn any_text(most: usize) -> impl Strategy<Value = String> {
        let character = prop_oneof![
            any::<char>(),
            prop::char::range('\0', '\u{a0}'),
            prop::char::range('\u{2000}', '\u{2070}'),
        ];
        prop::collection::vec(character, 0..=most).prop_map(String::from_iter)
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn json_means_the_same_and_steers_no_more(text in any_text(20)) {
            let json = serde_json::to_string(&text).unwrap();
            let out = written_out(&json);
            prop_assert!(!out.contains(steers));
            prop_assert_eq!(serde_json::from_str::<String>(&out).unwrap(), text);
        }
    }
}
