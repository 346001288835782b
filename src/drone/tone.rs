//! The tones of a drone, as they are asked for.

use std::fmt;
use std::str::FromStr;

use crate::tuning::{Partial, Ratio, SeriesError};
use crate::units::{Note, ParseNoteError};

/// The most tones a drone has.
pub const MOST_TONES: usize = 6;

/// The largest number in a ratio.
const LARGEST: u32 = 64;

/// One tone of a drone, by the way its pitch is given.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tone {
    /// A partial of the trumpets' series.
    Partial(Partial),
    /// A note of the temperament.
    Tempered(Note),
    /// Where the ensemble has agreed that a note stands; the tempered note where it has not.
    Agreed(Note),
    /// In a pure ratio to another tone, by its place from 0, which stands before this one.
    Above(Ratio, usize),
}

/// A text that is no drone.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ToneError {
    /// Nothing is named.
    #[error("a drone needs a tone: 'D3,A3' or '8,12'")]
    Empty,
    /// Too much is named.
    #[error("a drone has at most {MOST_TONES} tones, and this would be {0}")]
    TooMany(usize),
    /// No such partial.
    #[error(transparent)]
    Partial(#[from] SeriesError),
    /// No such note.
    #[error(
        "'{text}' is no tone: write a note ('D3'), a partial ('8'), a ratio to the first tone \
         ('3/2', or '5/4@2' to the second) or an agreed note ('agreed:F#4')"
    )]
    Unknown {
        /// What was written.
        text: String,
        /// What is wrong with it as a note.
        source: ParseNoteError,
    },
    /// Numbers that make no ratio.
    #[error("'{0}' is no ratio: write two whole numbers from 1 to {LARGEST}, such as '3/2'")]
    Ratio(String),
    /// A ratio to a tone that does not stand before it.
    #[error("'{0}' is counted from a tone that does not stand before it: '@1' is the first")]
    Reference(String),
}

/// The tones of a drone, one to [`MOST_TONES`].
///
/// As text they are separated by commas: `D3,A3`, `8,12`, `D3,5/4,3/2`, `agreed:F#4`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Tones(Vec<Tone>);

impl Tones {
    /// These tones.
    ///
    /// # Errors
    ///
    /// Where there are none or too many, or a ratio is counted from a tone not before it.
    pub fn new(tones: Vec<Tone>) -> Result<Self, ToneError> {
        if tones.is_empty() {
            return Err(ToneError::Empty);
        }
        if tones.len() > MOST_TONES {
            return Err(ToneError::TooMany(tones.len()));
        }
        for (place, tone) in tones.iter().enumerate() {
            if let Tone::Above(_, of) = tone
                && *of >= place
            {
                return Err(ToneError::Reference(tone.to_string()));
            }
        }
        Ok(Self(tones))
    }

    /// All of them, in their order.
    pub fn list(&self) -> &[Tone] {
        &self.0
    }
}

impl Default for Tones {
    /// The fundamental of the trumpets.
    fn default() -> Self {
        let lowest = Partial::all().next().map(Tone::Partial);
        Self(lowest.into_iter().collect())
    }
}

impl FromStr for Tones {
    type Err = ToneError;
    fn from_str(text: &str) -> Result<Self, ToneError> {
        let tones = text.split(',').map(str::trim).filter(|t| !t.is_empty());
        Self::new(tones.map(str::parse).collect::<Result<_, _>>()?)
    }
}

impl fmt::Display for Tones {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (place, tone) in self.0.iter().enumerate() {
            if place > 0 {
                f.write_str(",")?;
            }
            tone.fmt(f)?;
        }
        Ok(())
    }
}

impl FromStr for Tone {
    type Err = ToneError;
    fn from_str(text: &str) -> Result<Self, ToneError> {
        if let Some(note) = text.strip_prefix("agreed:") {
            return Ok(Self::Agreed(note_of(note.trim())?));
        }
        if text.contains('/') {
            return ratio_of(text);
        }
        let number = text.strip_prefix('p').unwrap_or(text);
        if !number.is_empty() && number.chars().all(|c| c.is_ascii_digit()) {
            return Ok(Self::Partial(Partial::new(
                number.parse().unwrap_or(u8::MAX),
            )?));
        }
        Ok(Self::Tempered(note_of(text)?))
    }
}

fn note_of(text: &str) -> Result<Note, ToneError> {
    text.parse().map_err(|source| ToneError::Unknown {
        text: text.to_owned(),
        source,
    })
}

fn ratio_of(text: &str) -> Result<Tone, ToneError> {
    let wrong = || ToneError::Ratio(text.to_owned());
    let (ratio, of) = match text.split_once('@') {
        Some((ratio, of)) => (ratio, of.parse().map_err(|_| wrong())?),
        None => (text, 1_usize),
    };
    let (over, under) = ratio.split_once('/').ok_or_else(wrong)?;
    let number = |text: &str| {
        let number = text.trim().parse().ok();
        number.filter(|number| (1..=LARGEST).contains(number))
    };
    let (Some(over), Some(under)) = (number(over), number(under)) else {
        return Err(wrong());
    };
    let of = of
        .checked_sub(1)
        .ok_or_else(|| ToneError::Reference(text.to_owned()))?;
    Ok(Tone::Above(Ratio::new(over, under), of))
}

impl fmt::Display for Tone {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Partial(partial) => write!(f, "p{}", partial.number()),
            Self::Tempered(note) => write!(f, "{note}"),
            Self::Agreed(note) => write!(f, "agreed:{note}"),
            Self::Above(ratio, of) => {
                write!(f, "{}/{}@{}", ratio.over(), ratio.under(), of + 1)
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn check(text: &str, expected: &str) {
        let told = match text.parse::<Tones>() {
            Ok(tones) => tones.to_string(),
            Err(error) => error.to_string(),
        };
        assert!(told.starts_with(expected), "{text}: {told}");
    }

    #[test]
    fn tones_are_read() {
        check("D3,A3", "D3,A3");
        check(" 8, p12 ", "p8,p12");
        check("D3,5/4,6/5@2", "D3,5/4@1,6/5@2");
        check("agreed:F#4", "agreed:F\u{266f}4");
        check("4/2,1/1", "'2/1@1' is counted from a tone that does not");
        check("D3,6/4", "D3,3/2@1");
    }

    #[test]
    fn what_is_no_tone_is_told() {
        check("", "a drone needs a tone");
        check(" , ,", "a drone needs a tone");
        check("25", "'25' is no partial");
        check("999999", "'255' is no partial");
        check("H3", "'H3' is no tone");
        check("p", "'p' is no tone");
        check("D3,3/0", "'3/0' is no ratio");
        check("D3,3/2@0", "'3/2@0' is counted from");
        check("D3,3/2@2", "'3/2@2' is counted from");
        check("D3,3/2@x", "'3/2@x' is no ratio");
        check("D3,3/65", "'3/65' is no ratio");
        check("1,2,3,4,5,6,7", "a drone has at most 6 tones");
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn whatever_is_read_is_shown_as_it_can_be_read(
            text in "((agreed:)?[A-G][b#]?[0-9]|[0-9]{1,3}(/[0-9]{1,4})?(@[0-9])?)(,[0-9]{1,2}/[1-9](@[0-9])?){0,3}|\\PC{0,20}",
        ) {
            if let Ok(tones) = text.parse::<Tones>() {
                let shown: Vec<String> = tones.list().iter().map(ToString::to_string).collect();
                prop_assert_eq!(shown.join(",").parse(), Ok(tones));
            }
        }
    }
}
