//! Themes from RON text: the shipped ones, and a user's own as differences from them.

use std::sync::LazyLock;

use serde::de::{Deserialize, Deserializer};

use crate::session::{CommandName, Line, Version, checked, parse};
use crate::tui::{Basic, Colours, Rgb, Role};

/// A theme and its name.
#[derive(Debug, Clone, PartialEq)]
pub struct NamedTheme {
    /// What it is called by.
    pub name: String,
    /// What it is for.
    pub about: String,
    /// Its colours.
    pub colours: Colours,
}

impl NamedTheme {
    /// Roles whose colour cannot be read well on the ground, with the contrast: below 4.5
    /// (WCAG 2.2, level AA). Only of mixed colours is anything known.
    pub fn faint_roles(&self) -> Vec<(Role, f64)> {
        let Colours::Painted { mixed, .. } = &self.colours else {
            return Vec::new();
        };
        let ground = mixed[Role::Ground as usize];
        Role::ALL
            .into_iter()
            .filter(|role| *role != Role::Ground)
            .map(|role| (role, mixed[role as usize].contrast(ground)))
            .filter(|(_, contrast)| *contrast < 4.5)
            .collect()
    }
}

static SHIPPED: LazyLock<Vec<NamedTheme>> = LazyLock::new(|| {
    let text = include_str!("../../assets/themes.ron");
    let file: File = parse(text).expect("a test reads the shipped themes");
    file.themes
        .into_iter()
        .map(|fields| fields.onto(&[]).expect("a test builds the shipped themes"))
        .collect()
});

/// The shipped themes; the one that is used if nothing else is asked for comes first.
pub fn themes() -> Vec<NamedTheme> {
    SHIPPED.clone()
}

/// The theme of a name among `all`, or what there is instead.
pub(super) fn named<'a>(all: &'a [NamedTheme], name: &str) -> Result<&'a NamedTheme, String> {
    all.iter().find(|theme| theme.name == name).ok_or_else(|| {
        let names: Vec<&str> = all.iter().map(|theme| theme.name.as_str()).collect();
        let shown: String = name.escape_debug().take(40).collect();
        format!(
            "there is no theme '{shown}': there are {}",
            names.join(", ")
        )
    })
}

#[derive(Debug, serde::Deserialize)]
#[serde(rename = "themes", deny_unknown_fields)]
struct File {
    #[serde(rename = "version")]
    _version: Version,
    themes: Vec<ThemeFields>,
}

/// A theme as a file has it.
#[derive(Debug, Clone, serde::Deserialize)]
#[serde(rename = "theme", deny_unknown_fields)]
pub(super) struct ThemeFields {
    name: CommandName,
    #[serde(default)]
    about: Option<Line>,
    #[serde(default)]
    from: Option<CommandName>,
    #[serde(default)]
    mixed: Option<OfEach<Mixed>>,
    #[serde(default)]
    sixteen: Option<OfEach<Basic>>,
}

/// A colour for some roles or all.
#[derive(Debug, Clone, serde::Deserialize)]
#[serde(rename = "colours", deny_unknown_fields)]
struct OfEach<T> {
    #[serde(default = "none")]
    ground: Option<T>,
    #[serde(default = "none")]
    text: Option<T>,
    #[serde(default = "none")]
    player: Option<T>,
    #[serde(default = "none")]
    faint: Option<T>,
    #[serde(default = "none")]
    rail: Option<T>,
    #[serde(default = "none")]
    wake: Option<T>,
    #[serde(default = "none")]
    nature: Option<T>,
    #[serde(default = "none")]
    tempered: Option<T>,
    #[serde(default = "none")]
    notice: Option<T>,
}

fn none<T>() -> Option<T> {
    None
}

impl<T> OfEach<T> {
    fn into_array(self) -> [Option<T>; Role::ALL.len()] {
        [
            self.ground,
            self.text,
            self.player,
            self.faint,
            self.rail,
            self.wake,
            self.nature,
            self.tempered,
            self.notice,
        ]
    }
}

#[derive(Debug, Clone, Copy)]
struct Mixed(Rgb);

impl<'de> Deserialize<'de> for Mixed {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        checked(deserializer, |text: String| text.parse().map(Self))
    }
}

/// The colours of a role each: those that are given, the others as `before`.
fn filled<T: Copy, U>(
    given: Option<OfEach<U>>,
    before: Option<[T; Role::ALL.len()]>,
    convert: impl Fn(U) -> T,
    block: &str,
) -> Result<[T; Role::ALL.len()], String> {
    let given: Vec<Option<T>> = match given {
        Some(given) => given.into_array().map(|of| of.map(&convert)).into(),
        None => vec![None; Role::ALL.len()],
    };
    let mut filled = Vec::with_capacity(Role::ALL.len());
    for (role, colour) in Role::ALL.into_iter().zip(given) {
        let colour = colour.or(before.map(|before| before[role as usize]));
        let missing = || {
            let role = format!("{role:?}").to_lowercase();
            format!("'{block}' has no colour for '{role}': give one, or name a theme with 'from'")
        };
        filled.push(colour.ok_or_else(missing)?);
    }
    filled
        .try_into()
        .map_err(|_| "a theme has one colour for each role".to_owned())
}

impl ThemeFields {
    /// The theme, where it is built on another on the one of `known`.
    pub(super) fn onto(self, known: &[NamedTheme]) -> Result<NamedTheme, String> {
        let base = match &self.from {
            Some(CommandName(name)) => Some(named(known, name)?),
            None => None,
        };
        let about = match (self.about, base) {
            (Some(Line(about)), _) => about,
            (None, Some(base)) => format!("made from {}", base.name),
            (None, None) => "a theme of one's own".to_owned(),
        };
        let before = match base.map(|base| base.colours) {
            Some(Colours::Painted { mixed, basic }) => Some((mixed, basic)),
            Some(Colours::None) | None => None,
        };
        let colours = if self.mixed.is_none() && self.sixteen.is_none() && before.is_none() {
            Colours::None
        } else {
            Colours::Painted {
                mixed: filled(self.mixed, before.map(|b| b.0), |Mixed(rgb)| rgb, "mixed")?,
                basic: filled(self.sixteen, before.map(|b| b.1), |basic| basic, "sixteen")?,
            }
        };
        Ok(NamedTheme {
            name: self.name.0,
            about,
            colours,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn own(fields: &str) -> Result<NamedTheme, String> {
        let fields: ThemeFields = parse(fields).map_err(|fault| fault.to_string())?;
        fields.onto(&themes())
    }

    #[test]
    fn a_user_s_theme_differs_from_another() {
        let candle = own("(name: \"candle\", from: \"dark-stage\", mixed: (nature: \"#ffb070\"))");
        let candle = candle.unwrap();
        let (
            Colours::Painted { mixed, basic },
            Colours::Painted {
                mixed: before,
                basic: same,
            },
        ) = (candle.colours, themes()[0].colours)
        else {
            unreachable!("both are painted");
        };
        assert_eq!(basic, same);
        for role in Role::ALL {
            let expected = match role {
                Role::Nature => Rgb(0xff, 0xb0, 0x70),
                other => before[other as usize],
            };
            assert_eq!(mixed[role as usize], expected, "{role:?}");
        }
        assert_eq!(candle.about, "made from dark-stage");
        assert!(candle.faint_roles().is_empty());
        let dim =
            own("(name: \"dim\", from: \"dark-stage\", mixed: (faint: \"#303030\"))").unwrap();
        let faint = dim.faint_roles();
        assert_eq!(faint.len(), 1);
        assert!(faint[0].0 == Role::Faint && faint[0].1 < 2.0, "{faint:?}");
    }

    #[test]
    fn what_is_missing_or_unknown_is_told() {
        let fault = |fields: &str, part: &str| {
            let error = own(fields).unwrap_err();
            assert!(error.contains(part), "{fields}: {error}");
        };
        fault(
            "(name: \"a\", from: \"fog\")",
            "there is no theme 'fog': there are dark-stage",
        );
        fault(
            "(name: \"a\", mixed: (text: \"#ffffff\"))",
            "no colour for 'ground'",
        );
        fault(
            "(name: \"a\", from: \"mono\", mixed: (text: \"#ffffff\"))",
            "no colour for 'ground'",
        );
        fault(
            "(name: \"a\", from: \"daylight\", mixed: (ink: \"#ffffff\"))",
            "'ink' is not known here",
        );
        fault(
            "(name: \"a\", from: \"daylight\", mixed: (text: \"white\"))",
            "'white' is no colour",
        );
        fault(
            "(name: \"a\", from: \"daylight\", sixteen: (text: Grey))",
            "'Grey' is not known here",
        );
        fault("(name: \"A b\")", "cannot be typed as a name");
    }
}
