//! Bytes to text: UTF-8, UTF-16 with its mark, and ISO-8859-1 where the file says so.

use std::borrow::Cow;

use super::ScoreError;
use super::names::tidy;

/// How far into a file its encoding is declared, in bytes.
const DECLARED_WITHIN: usize = 200;

/// The text of an XML file, without a byte order mark.
pub(super) fn decode(bytes: &[u8]) -> Result<Cow<'_, str>, ScoreError> {
    match bytes {
        [0xff, 0xfe, rest @ ..] => utf16(rest, u16::from_le_bytes).map(Cow::Owned),
        [0xfe, 0xff, rest @ ..] => utf16(rest, u16::from_be_bytes).map(Cow::Owned),
        [0xef, 0xbb, 0xbf, rest @ ..] => utf8(rest),
        _ => match declared(bytes) {
            None => utf8(bytes),
            Some(name) => match name.to_ascii_lowercase().as_str() {
                "utf-8" | "utf8" | "us-ascii" | "ascii" => utf8(bytes),
                // Every byte is the character of that number.
                "iso-8859-1" | "latin1" | "iso_8859-1" => Ok(Cow::Owned(
                    bytes.iter().map(|&byte| char::from(byte)).collect(),
                )),
                _ => Err(ScoreError::Encoding(tidy(&name))),
            },
        },
    }
}

fn utf8(bytes: &[u8]) -> Result<Cow<'_, str>, ScoreError> {
    std::str::from_utf8(bytes)
        .map(Cow::Borrowed)
        .map_err(|_| ScoreError::NotText("UTF-8"))
}

fn utf16(bytes: &[u8], unit: fn([u8; 2]) -> u16) -> Result<String, ScoreError> {
    let (pairs, rest) = bytes.as_chunks::<2>();
    let text: Result<String, _> =
        char::decode_utf16(pairs.iter().map(|pair| unit(*pair))).collect();
    match text {
        Ok(text) if rest.is_empty() => Ok(text),
        _ => Err(ScoreError::NotText("UTF-16")),
    }
}

/// The encoding an XML declaration names.
fn declared(bytes: &[u8]) -> Option<String> {
    let head = &bytes[..bytes.len().min(DECLARED_WITHIN)];
    let head = String::from_utf8_lossy(head);
    let (declaration, _) = head.strip_prefix("<?xml")?.split_once("?>")?;
    let (_, value) = declaration.split_once("encoding")?;
    let value = value.trim_start().strip_prefix('=')?.trim_start();
    let quote = value.chars().next().filter(|c| matches!(c, '"' | '\''))?;
    value[1..].split(quote).next().map(str::to_owned)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_is_read_in_the_encodings_scores_come_in() {
        let check = |bytes: &[u8], text: &str| assert_eq!(decode(bytes).unwrap(), text);
        check("<a>\u{e9}</a>".as_bytes(), "<a>\u{e9}</a>");
        check(b"\xef\xbb\xbf<a/>", "<a/>");
        check(b"\xff\xfe<\0a\0\xe9\0", "<a\u{e9}");
        check(b"\xfe\xff\0<\0a\0\xe9", "<a\u{e9}");
        let latin = b"<?xml version='1.0' encoding='ISO-8859-1'?>\xe9";
        assert!(decode(latin).unwrap().ends_with("?>\u{e9}"));
    }

    #[test]
    fn other_encodings_are_named() {
        let check = |bytes: &[u8], part: &str| {
            let error = decode(bytes).unwrap_err().to_string();
            assert!(error.contains(part), "{error}");
        };
        check(
            b"<?xml version=\"1.0\" encoding=\"Shift_JIS\"?>",
            "'Shift_JIS'",
        );
        check(b"<a>\xe9</a>", "not in UTF-8");
        check(b"\xff\xfe<\0a", "not in UTF-16");
        check(b"\xff\xfe\0\xd8\0\xd8", "not in UTF-16");
    }
}
