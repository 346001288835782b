//! The settings file: read, checked, and written once as an example.
//!
//! Its shape is explained at the head of `assets/settings.ron`.

use std::fmt;
use std::marker::PhantomData;
use std::path::Path;

use serde::de::{Deserialize, DeserializeSeed, Deserializer, Error, MapAccess, Visitor};

use super::keys::{Change, Changes, changed};
use super::themes::{ThemeFields, named};
use super::{Settings, beside, themes};
use crate::private::{self, FolderError};
use crate::session::{Fault, FileError, NewFileError, Version, parse_with, read_text, write_new};
use crate::tui::{FRAMES_PER_SECOND, KeyFault};

/// Pictures a second that can be asked for.
const RATES: std::ops::RangeInclusive<u32> = 1..=60;

/// Why settings cannot be written.
#[derive(Debug, thiserror::Error)]
pub enum SettingsError {
    /// The folder for them cannot be made, or is not the user's alone.
    #[error(transparent)]
    Folder(#[from] FolderError),
    /// The file exists or cannot be written.
    #[error(transparent)]
    New(#[from] NewFileError),
}

/// The settings in the platform's folder for them; the usual ones where there are none.
///
/// # Errors
///
/// There is such a file, and others may write to it, it cannot be read, or something in it is wrong.
pub fn load() -> Result<Settings, FileError> {
    match super::path() {
        // A link that leads nowhere counts as something that is there.
        Some(path) if path.symlink_metadata().is_ok() => match private::distrusted(&path) {
            Some(open) => Err(FileError::Distrusted {
                path: open.to_owned(),
            }),
            None => load_from(&path),
        },
        _ => Ok(Settings::default()),
    }
}

/// The settings of a file.
///
/// # Errors
///
/// It cannot be read, or something in it is wrong.
pub fn load_from(path: &Path) -> Result<Settings, FileError> {
    let text = read_text(path)?;
    read(&text, path).map_err(|fault| FileError::Content {
        path: path.to_owned(),
        fault,
    })
}

/// Writes a commented example to `path`, which must not exist yet, and makes its folder.
///
/// # Errors
///
/// The file exists, or cannot be written.
pub fn write_example(path: &Path) -> Result<(), SettingsError> {
    if let Some(folder) = path.parent() {
        // One that is there may be a link to where such files are kept.
        if !folder.is_dir() {
            private::make_folder(folder)?;
        } else if private::distrusted(path).is_some() {
            return Err(FolderError::Open(folder.to_owned()).into());
        }
    }
    Ok(write_new(path, include_str!("../../assets/settings.ron"))?)
}

/// The settings in `text`; `path` is where an ensemble they name is looked for.
///
/// # Errors
///
/// Something in it is wrong.
pub fn read(text: &str, path: &Path) -> Result<Settings, Fault> {
    let fields = parse_with(Whole { fault: None }, text)?;
    let keymap = match changed(&fields.keys) {
        Ok(keymap) => keymap,
        // Read once more, to be refused at the line where the fault is.
        Err(fault) => {
            return Err(
                match parse_with(
                    Whole {
                        fault: Some(&fault),
                    },
                    text,
                ) {
                    Err(found) => found,
                    // A key that is bound anew by nobody cannot clash.
                    Ok(_) => Fault {
                        line: 1,
                        column: 1,
                        message: fault.message,
                    },
                },
            );
        }
    };
    Ok(Settings {
        theme: fields.theme,
        themes: fields.themes,
        frames_per_second: fields.frames_per_second,
        mouse: fields.mouse,
        ensemble: fields.ensemble.map(|named| beside(path, &named)),
        keymap,
    })
}

/// What stands in the file.
struct Fields {
    theme: super::NamedTheme,
    themes: Vec<super::NamedTheme>,
    frames_per_second: u32,
    mouse: bool,
    ensemble: Option<String>,
    keys: Vec<Change>,
}

const FIELDS: &[&str] = &[
    "version",
    "theme",
    "frames_per_second",
    "mouse",
    "ensemble",
    "keys",
    "themes",
];

/// Reads the file; a change of keys that has this fault is refused where it stands.
#[derive(Debug, Clone, Copy)]
struct Whole<'a> {
    fault: Option<&'a KeyFault>,
}

impl<'de> DeserializeSeed<'de> for Whole<'_> {
    type Value = Fields;

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<Fields, D::Error> {
        deserializer.deserialize_struct("settings", FIELDS, self)
    }
}

/// The name of a field.
#[derive(serde::Deserialize)]
#[serde(field_identifier, rename_all = "snake_case")]
enum Field {
    Version,
    Theme,
    FramesPerSecond,
    Mouse,
    Ensemble,
    Keys,
    Themes,
}

impl<'de> Visitor<'de> for Whole<'_> {
    type Value = Fields;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("settings in (round brackets)")
    }

    fn visit_map<M: MapAccess<'de>>(self, mut map: M) -> Result<Fields, M::Error> {
        let wrong = M::Error::custom;
        let mut seen = [false; FIELDS.len()];
        let mut all = themes();
        let mut fields = Fields {
            theme: all[0].clone(),
            themes: Vec::new(),
            frames_per_second: FRAMES_PER_SECOND,
            mouse: true,
            ensemble: None,
            keys: Vec::new(),
        };
        while let Some(field) = map.next_key::<Field>()? {
            let index = field as usize;
            if std::mem::replace(&mut seen[index], true) {
                return Err(M::Error::duplicate_field(FIELDS[index]));
            }
            match FIELDS[index] {
                "version" => {
                    map.next_value::<Version>()?;
                }
                "theme" => {
                    let find = |name: String| named(&all, &name).cloned();
                    fields.theme = map.next_value_seed(Checked::by(find))?;
                }
                "frames_per_second" => {
                    let possible = |rate: u32| {
                        let (least, most) = (RATES.start(), RATES.end());
                        RATES.contains(&rate).then_some(rate).ok_or_else(|| {
                            format!("'{rate}' pictures a second are not possible: give {least} to {most}")
                        })
                    };
                    fields.frames_per_second = map.next_value_seed(Checked::by(possible))?;
                }
                "mouse" => fields.mouse = map.next_value()?,
                "ensemble" => {
                    let given = |path: String| {
                        let is_empty = path.is_empty();
                        (!is_empty)
                            .then_some(path)
                            .ok_or("'ensemble' is empty: give the path of a file".to_owned())
                    };
                    fields.ensemble = Some(map.next_value_seed(Checked::by(given))?);
                }
                "keys" => fields.keys = map.next_value_seed(Changes(self.fault))?,
                _ => {
                    if seen[1] {
                        let text = "'themes' stands after 'theme': put it before, so that the name is known";
                        return Err(wrong(text.to_owned()));
                    }
                    all =
                        map.next_value_seed(Checked::by(|own: Vec<ThemeFields>| joined(all, own)))?;
                }
            }
        }
        if !seen[0] {
            return Err(M::Error::missing_field("version"));
        }
        fields.themes = all;
        Ok(fields)
    }
}

/// All themes there are, with a user's own.
fn joined(
    mut all: Vec<super::NamedTheme>,
    own: Vec<ThemeFields>,
) -> Result<Vec<super::NamedTheme>, String> {
    for own in own {
        let own = own.onto(&all)?;
        match all.iter_mut().find(|theme| theme.name == own.name) {
            Some(theme) => *theme = own,
            None => all.push(own),
        }
    }
    Ok(all)
}

/// A value that is checked while the reader still stands behind it, so that a fault is told with
/// its place.
struct Checked<T, F> {
    check: F,
    of: PhantomData<T>,
}

impl<T, F> Checked<T, F> {
    fn by(check: F) -> Self {
        Self {
            check,
            of: PhantomData,
        }
    }
}

impl<'de, T, U, F> DeserializeSeed<'de> for Checked<T, F>
where
    T: Deserialize<'de>,
    F: FnOnce(T) -> Result<U, String>,
{
    type Value = U;

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<U, D::Error> {
        (self.check)(T::deserialize(deserializer)?).map_err(D::Error::custom)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn settings(text: &str) -> Result<Settings, Fault> {
        read(text, Path::new("/somewhere/settings.ron"))
    }

    fn fault(text: &str, place: (usize, usize), part: &str) {
        let fault = settings(text).unwrap_err();
        assert!(fault.message.contains(part), "{text}: {fault}");
        assert_eq!((fault.line, fault.column), place, "{text}: {fault}");
    }

    #[test]
    fn the_example_says_what_is_so_anyway() {
        let example = include_str!("../../assets/settings.ron");
        assert_eq!(settings(example), Ok(Settings::default()));
        // And what it only shows can be read, too.
        let shown: String = example
            .lines()
            .map(|line| match line.trim_start().strip_prefix("//~ ") {
                Some(shown) => format!("{shown}\n"),
                None => format!("{line}\n"),
            })
            .collect();
        assert_ne!(shown, example);
        let settings = settings(&shown).unwrap();
        assert_eq!(settings.theme.name, "candle");
        assert_eq!(
            settings.ensemble,
            Some(Path::new("/somewhere/band.ron").to_owned())
        );
        assert_ne!(settings.keymap, crate::tui::Keymap::default());
    }

    #[test]
    fn faults_are_told_with_their_place() {
        fault(
            "(version: 1, colour: 3)",
            (1, 20),
            "'colour' is not known here",
        );
        fault("(theme: \"mono\")", (1, 15), "'version' is missing");
        fault(
            "(version: 1,\n theme: \"fog\")",
            (2, 14),
            "there is no theme 'fog'",
        );
        fault(
            "(version: 1, mouse: true, mouse: true)",
            (1, 32),
            "'mouse' stands twice",
        );
        fault(
            "(version: 1, frames_per_second: 0)",
            (1, 34),
            "give 1 to 60",
        );
        fault("(version: 2)", (1, 12), "");
        fault(
            "(version: 1, theme: \"mono\", themes: [])",
            (1, 35),
            "put it before",
        );
    }

    #[test]
    fn a_fault_is_told_at_its_own_line() {
        for line in [
            "theme: \"fog\",",
            "frames_per_second: 999,",
            "ensemble: \"\",",
            "themes: [(name: \"a\", from: \"fog\")],",
            "mouse: 3,",
            "keys: {\"players\": {\"hold\": [\"q\"]}},",
        ] {
            let text = format!("(version: 1,\n  {line}\n\n\n)");
            assert_eq!(settings(&text).unwrap_err().line, 2, "{text}");
        }
    }

    #[test]
    fn a_key_that_would_do_two_things_is_refused_at_its_line() {
        let text =
            "(version: 1, keys: {\n \"chord\": {\n  \"hold\": [\"x\"],\n  \"far\": [\"x\"],\n }})";
        let fault = settings(text).unwrap_err();
        assert!(fault.message.contains("'x' would do two things"), "{fault}");
        assert!((3..=4).contains(&fault.line), "{fault}");
        let text = "(version: 1, keys: {\n \"chord\": {\n  \"hold\": [\"c\"],\n }})";
        assert_eq!(settings(text).unwrap_err().line, 3);
        let text = "(version: 1, keys: {\n \"players\": {\"hold\": [\"x\"]},\n \"chord\": {\"dance\": [\"x\"]}})";
        let fault = settings(text).unwrap_err();
        assert!(
            fault.line == 3 && fault.message.contains("'dance' is nothing"),
            "{fault}"
        );
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn no_text_makes_it_panic(cut in 0_usize..3000, put in ".{0,12}") {
            let example = include_str!("../../assets/settings.ron");
            let cut = example.floor_char_boundary(cut.min(example.len()));
            let text = format!("{}{put}{}", &example[..cut], &example[cut..]);
            let _ = settings(&text);
        }
    }
}
