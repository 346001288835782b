//! Faults of files in words for musicians, with the place where each was found.

use std::fs::File;
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use ron::error::{Error, SpannedError};
use ron::extensions::Extensions;
use serde::Serialize;
use serde::de::{DeserializeOwned, DeserializeSeed};

use crate::plain::written_out;

/// The longest file that is read, in bytes.
const LARGEST: u64 = 1_000_000;

/// A file that cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum FileError {
    /// It cannot be opened or read.
    #[error("cannot read '{}' ({reason}): check the name and whether you may read it", path.display())]
    Read {
        /// The file.
        path: PathBuf,
        /// The system's reason.
        reason: io::Error,
    },
    /// What is read from it might be somebody else's.
    #[error("others may write to '{}': type 'chmod go-w' and this name, or remove it if it is not yours", path.display())]
    Distrusted {
        /// The file, or the folder it lies in.
        path: PathBuf,
    },
    /// It is a folder, a device or a pipe.
    #[error("'{}' is no file but a folder, a device or a pipe: a file is wanted there", path.display())]
    NotAFile {
        /// What was given.
        path: PathBuf,
    },
    /// It is not text.
    #[error("'{}' is not text in UTF-8: save it as plain text", path.display())]
    NotText {
        /// The file.
        path: PathBuf,
    },
    /// It is far too long to be one of ours.
    #[error("'{}' is larger than 1 MB, as no such file is: choose another (a recording is given with '--from')", path.display())]
    TooLarge {
        /// The file.
        path: PathBuf,
    },
    /// Something in it is wrong.
    #[error("{}:{fault}", path.display())]
    Content {
        /// The file.
        path: PathBuf,
        /// What and where.
        fault: Fault,
    },
}

/// What is wrong in a text, and where.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{line}:{column}: {message}")]
pub struct Fault {
    /// Line, counted from 1.
    pub line: usize,
    /// Column in characters, counted from 1; the fault lies at or just before it.
    pub column: usize,
    /// What is wrong and what to do.
    pub message: String,
}

impl Fault {
    /// The same place with another message.
    pub(super) fn saying(self, message: &impl ToString) -> Self {
        Self {
            message: harmless(&message.to_string()),
            ..self
        }
    }
}

impl From<SpannedError> for Fault {
    fn from(error: SpannedError) -> Self {
        Self {
            line: error.span.end.line,
            column: error.span.end.col,
            message: harmless(&in_words(&error.code)),
        }
    }
}

/// Reads `text` with the syntax all files share.
pub(crate) fn parse<T: DeserializeOwned>(text: &str) -> Result<T, Fault> {
    ron::Options::default()
        .with_default_extension(Extensions::IMPLICIT_SOME)
        .from_str(text)
        .map_err(Fault::from)
}

/// The same by a reader that is made for the purpose.
pub(crate) fn parse_with<'de, S: DeserializeSeed<'de>>(
    seed: S,
    text: &'de str,
) -> Result<S::Value, Fault> {
    ron::Options::default()
        .with_default_extension(Extensions::IMPLICIT_SOME)
        .from_str_seed(text, seed)
        .map_err(Fault::from)
}

/// A value in the same syntax, on one line; none only of what that syntax has no form for.
pub(super) fn written(value: &impl Serialize) -> Option<String> {
    ron::Options::default()
        .with_default_extension(Extensions::IMPLICIT_SOME)
        .to_string(value)
        .ok()
}

/// The text of the file at `path`, without the mark some editors put before it.
pub(crate) fn read_text(path: &Path) -> Result<String, FileError> {
    let path = path.to_owned();
    // Opening a pipe would wait for whoever is at its other end.
    if path.metadata().is_ok_and(|data| !data.is_file()) {
        return Err(FileError::NotAFile { path });
    }
    let mut bytes = Vec::new();
    let read = File::open(&path).and_then(|file| file.take(LARGEST + 1).read_to_end(&mut bytes));
    match read {
        Err(reason) => Err(FileError::Read { path, reason }),
        Ok(length) if length as u64 > LARGEST => Err(FileError::TooLarge { path }),
        Ok(_) => match String::from_utf8(bytes) {
            Err(_) => Err(FileError::NotText { path }),
            Ok(text) => Ok(text.trim_start_matches('\u{feff}').to_owned()),
        },
    }
}

/// The longest message, in characters.
const LONGEST: usize = 400;

/// A message that cannot steer a terminal nor fill it, whatever text of the file it quotes.
fn harmless(message: &str) -> String {
    let count = message.chars().count();
    let message = if count > LONGEST {
        let begins: String = message.chars().take(LONGEST / 4).collect();
        let ends: String = message.chars().skip(count - LONGEST / 2).collect();
        format!("{begins} \u{2026} {ends}")
    } else {
        message.to_owned()
    };
    written_out(&message.replace('\n', " ")).into_owned()
}

/// What the reader found, and what to do about it.
fn in_words(error: &Error) -> String {
    match error {
        Error::Message(message) => message.clone(),
        Error::Eof => {
            "the file ends too early: a closing bracket or quotation mark is missing".into()
        }
        Error::NoSuchStructField {
            expected, found, ..
        }
        | Error::NoSuchEnumVariant {
            expected, found, ..
        } => format!("'{found}' is not known here: write {}", one_of(expected)),
        Error::MissingStructField { field, .. } => {
            format!("'{field}' is missing before this place: add it")
        }
        Error::DuplicateStructField { field, .. } => {
            format!("'{field}' stands twice: keep one of them")
        }
        Error::InvalidValueForType { expected, found } => {
            format!(
                "{} cannot stand here: write {expected}",
                found.replace('`', "'")
            )
        }
        Error::ExpectedString => "text in \"quotation marks\" is wanted here".into(),
        Error::ExpectedStringEnd => "a closing quotation mark is missing: add it".into(),
        Error::ExpectedInteger | Error::IntegerOutOfBounds => {
            "a whole number is wanted here".into()
        }
        Error::ExpectedFloat => "a number is wanted here".into(),
        Error::ExpectedBoolean => "true or false is wanted here".into(),
        Error::TrailingCharacters => "something follows the last closing bracket: remove it".into(),
        Error::ExpectedComma => "a comma or a closing bracket is missing before this place".into(),
        Error::ExpectedArray => "a list in [square brackets] is wanted here".into(),
        Error::ExpectedArrayEnd => "a comma or a closing ] is missing before this place".into(),
        Error::ExpectedMap => "a list in {curly brackets} is wanted here".into(),
        Error::ExpectedMapEnd => "a comma or a closing } is missing before this place".into(),
        Error::ExpectedMapColon => "a colon is missing before this place: add it".into(),
        Error::ExpectedStructLike | Error::ExpectedNamedStructLike(_) => {
            "an opening ( is wanted here".into()
        }
        Error::ExpectedStructLikeEnd => {
            "a comma or a closing ) is missing before this place".into()
        }
        other => format!(
            "this cannot be read ({}): check brackets, commas and quotation marks before it",
            other.to_string().to_lowercase()
        ),
    }
}

/// `'a', 'b' or 'c'`
fn one_of(names: &[&str]) -> String {
    let quoted: Vec<String> = names.iter().map(|name| format!("'{name}'")).collect();
    match quoted.split_last() {
        None => "nothing".into(),
        Some((last, [])) => last.clone(),
        Some((last, others)) => format!("{} or {last}", others.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde::Deserialize;

    #[derive(Debug, Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Sample {
        #[serde(rename = "count")]
        _count: u8,
        #[serde(rename = "words", default)]
        _words: Vec<String>,
    }

    #[test]
    fn a_long_name_does_not_fill_the_terminal() {
        let text = format!("({}: 3)", "x".repeat(500_000));
        let told = parse::<Sample>(&text).unwrap_err().to_string();
        assert!(told.chars().count() < 500, "{told}");
        assert!(
            told.contains("'xxx") && told.ends_with("'count' or 'words'"),
            "{told}"
        );
    }

    fn check(text: &str, line: usize, column: usize, part: &str) {
        let fault = parse::<Sample>(text).unwrap_err();
        assert_eq!(
            (fault.line, fault.column),
            (line, column),
            "{text}: {fault}"
        );
        assert!(fault.message.contains(part), "{text}: {fault}");
    }

    #[test]
    fn the_reader_s_faults_come_in_plain_words() {
        check(
            "(\n  cuont: 1)",
            2,
            8,
            "'cuont' is not known here: write 'count' or 'words'",
        );
        check("(words: [])", 1, 11, "'count' is missing");
        check("(count: 1, count: 2)", 1, 17, "'count' stands twice");
        check("(count: \"x\")", 1, 9, "number is wanted");
        check("(count: 1\n words: [])", 2, 2, "comma");
        check("(count: 1, words: [\"a\")", 1, 23, "closing bracket");
        check("(count: 1, words: [\"a)", 1, 21, "quotation mark");
        check("(count: 1) more", 1, 12, "follows the last closing bracket");
        check("(count: 1", 1, 10, "closing");
        check("", 1, 1, "(");
    }
}
