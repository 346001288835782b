//! Temperaments as data: how each fifth is narrowed or widened, or explicit places.
//!
//! "Sixth-comma" has two meanings, so a tempering always carries the comma it is a part of.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use crate::units::{Cents, NoteName};

/// A temperament that does not work out.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum TemperamentError {
    /// Text that is no tempering.
    #[error(
        "'{0}' is no tempering: write a part of a comma, such as -1/6 SC, 1/12 PC, -1 schisma, 0 or 1/2 rest"
    )]
    Tempering(String),
    /// A circle needs twelve fifths.
    #[error("a circle has 12 fifths, this one lists {0}")]
    CircleLength(usize),
    /// The fifths of a circle must lose exactly one Pythagorean comma between them.
    #[error(
        "the twelve fifths miss the octave by {0:.3} cents: together they must lose one Pythagorean comma (23.460)"
    )]
    CircleOpen(f64),
    /// Shares of `rest` must add up to one.
    #[error("the shares of 'rest' add up to {0:.3}: they must make 1")]
    Shares(f64),
    /// A regular fifth must remain a fifth.
    #[error("a fifth tempered by '{0}' is no fifth any more: stay within 20 cents of pure")]
    Size(String),
    /// The keys must rise from C to B.
    #[error("{0:#} would lie no higher than the key below it: check the fifths or the cents")]
    Order(NoteName),
    /// Explicit places must name twelve different keys.
    #[error("explicit places need 12 different keys with C at 0 cents: {0}")]
    Places(String),
}

/// The small intervals temperings are measured in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Comma {
    /// 81/80, by which four pure fifths overshoot a pure third: 21.506 cents.
    Syntonic,
    /// 531441/524288, by which twelve pure fifths overshoot seven octaves: 23.460 cents.
    Pythagorean,
    /// 32805/32768, the difference of the two: 1.954 cents.
    Schisma,
}

impl Comma {
    /// Its exact size.
    pub fn size(self) -> Cents {
        match self {
            Self::Syntonic => Cents::of_ratio(81.0, 80.0),
            Self::Pythagorean => Cents::of_ratio(531_441.0, 524_288.0),
            Self::Schisma => Cents::of_ratio(32_805.0, 32_768.0),
        }
    }
}

/// By how much a fifth departs from pure: negative is narrow.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub enum Tempering {
    /// A pure fifth.
    Pure,
    /// A part of a comma.
    Part {
        /// Above the line; negative narrows.
        numerator: i32,
        /// Below the line.
        denominator: u32,
        /// What it is a part of.
        comma: Comma,
    },
    /// A share of whatever the other fifths leave of the circle.
    Rest {
        /// Above the line.
        numerator: i32,
        /// Below the line.
        denominator: u32,
    },
}

impl Tempering {
    /// Its size; a share of the rest has none of its own.
    fn size(self) -> Option<Cents> {
        match self {
            Self::Pure => Some(Cents::UNISON),
            Self::Part {
                numerator,
                denominator,
                comma,
            } => Some(comma.size() * (f64::from(numerator) / f64::from(denominator))),
            Self::Rest { .. } => None,
        }
    }

    fn share(self) -> f64 {
        match self {
            Self::Rest {
                numerator,
                denominator,
            } => f64::from(numerator) / f64::from(denominator),
            Self::Pure | Self::Part { .. } => 0.0,
        }
    }
}

impl fmt::Display for Tempering {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let fraction = |n: i32, d: u32| {
            if d == 1 {
                format!("{n}")
            } else {
                format!("{n}/{d}")
            }
        };
        match *self {
            Self::Pure => f.pad("0"),
            Self::Part {
                numerator,
                denominator,
                comma,
            } => {
                let unit = match comma {
                    Comma::Syntonic => "SC",
                    Comma::Pythagorean => "PC",
                    Comma::Schisma => "schisma",
                };
                f.pad(&format!("{} {unit}", fraction(numerator, denominator)))
            }
            Self::Rest {
                numerator,
                denominator,
            } => f.pad(&format!("{} rest", fraction(numerator, denominator))),
        }
    }
}

impl FromStr for Tempering {
    type Err = TemperamentError;
    fn from_str(text: &str) -> Result<Self, TemperamentError> {
        let wrong = || TemperamentError::Tempering(text.to_owned());
        let mut words = text.split_whitespace();
        let fraction = words.next().ok_or_else(wrong)?;
        let unit = words.next();
        if words.next().is_some() {
            return Err(wrong());
        }
        let (numerator, denominator) = fraction.split_once('/').unwrap_or((fraction, "1"));
        let numerator: i32 = numerator
            .replace('\u{2212}', "-")
            .parse()
            .map_err(|_| wrong())?;
        let denominator: u32 = denominator.parse().map_err(|_| wrong())?;
        if denominator == 0 {
            return Err(wrong());
        }
        let comma = match unit {
            None if numerator == 0 => return Ok(Self::Pure),
            Some("SC") => Comma::Syntonic,
            Some("PC") => Comma::Pythagorean,
            Some("schisma") => Comma::Schisma,
            Some("rest") => {
                return Ok(Self::Rest {
                    numerator,
                    denominator,
                });
            }
            _ => return Err(wrong()),
        };
        Ok(Self::Part {
            numerator,
            denominator,
            comma,
        })
    }
}

impl TryFrom<String> for Tempering {
    type Error = TemperamentError;
    fn try_from(text: String) -> Result<Self, TemperamentError> {
        text.parse()
    }
}

impl From<Tempering> for String {
    fn from(tempering: Tempering) -> Self {
        tempering.to_string()
    }
}

/// What fixes the places of the notes.
#[derive(Debug, Clone, PartialEq)]
pub enum Fifths {
    /// Every fifth of the chain alike; one wolf is left over. Extends along the chain, so
    /// G♯ and A♭ are two notes.
    Regular {
        /// The tempering of each fifth.
        each: Tempering,
    },
    /// Twelve fifths that close: enharmonic notes share a key.
    Circle {
        /// The lower note of the first fifth listed.
        first: NoteName,
        /// The twelve fifths in rising order of fifths.
        temperings: Vec<Tempering>,
    },
    /// Explicit cents above C for twelve keys.
    Places {
        /// Key and cents above C, 0 (inclusive) to 1200 (exclusive).
        cents_from_c: Vec<(NoteName, f64)>,
    },
}

/// A named temperament.
#[derive(Debug, Clone, PartialEq)]
pub struct Temperament {
    /// Name for commands and files: `sixth-comma`.
    pub name: String,
    /// Title for people.
    pub title: String,
    /// Where the definition comes from.
    pub source: String,
    /// What a user should know before relying on it; empty when there is nothing.
    pub remark: String,
    fifths: Fifths,
    /// Cents above C by position on the chain of fifths, for C, G, D ... (keys), resolved.
    circle: [f64; 12],
}

impl Temperament {
    /// Checks that the definition works out. A circle must close within 0.01 cents.
    pub fn new(name: &str, title: &str, fifths: Fifths) -> Result<Self, TemperamentError> {
        let circle = match &fifths {
            Fifths::Regular { each } => {
                match each.size() {
                    None => return Err(TemperamentError::Tempering(each.to_string())),
                    // Twenty such fifths still spell notes in the right octave.
                    Some(size) if size.abs() > Cents::new(20.0) => {
                        return Err(TemperamentError::Size(each.to_string()));
                    }
                    Some(_) => [0.0; 12],
                }
            }
            Fifths::Circle { first, temperings } => resolve_circle(*first, temperings)?,
            Fifths::Places { cents_from_c } => resolve_places(cents_from_c)?,
        };
        Ok(Self {
            name: name.to_owned(),
            title: title.to_owned(),
            source: String::new(),
            remark: String::new(),
            fifths,
            circle,
        })
    }

    /// The definition.
    pub fn fifths(&self) -> &Fifths {
        &self.fifths
    }

    /// Whether notes such as G♯ and A♭ differ.
    pub fn extends_along_the_chain(&self) -> bool {
        matches!(self.fifths, Fifths::Regular { .. })
    }

    /// Cents above C, within the octave, of a spelled note.
    ///
    /// In a circulating temperament enharmonic spellings share a key.
    pub fn above_c(&self, name: NoteName) -> Cents {
        match &self.fifths {
            Fifths::Regular { each } => {
                let fifth = pure_fifth() + each.size().unwrap_or_default();
                (fifth * f64::from(name.fifths())).within_octave()
            }
            Fifths::Circle { .. } | Fifths::Places { .. } => {
                Cents::new(self.circle[name.fifths().rem_euclid(12) as usize])
            }
        }
    }
}

/// A pure fifth, 3/2.
pub(super) fn pure_fifth() -> Cents {
    Cents::of_ratio(3.0, 2.0)
}

fn resolve_circle(
    first: NoteName,
    temperings: &[Tempering],
) -> Result<[f64; 12], TemperamentError> {
    if temperings.len() != 12 {
        return Err(TemperamentError::CircleLength(temperings.len()));
    }
    let shares: f64 = temperings.iter().map(|t| t.share()).sum();
    let fixed: Cents = temperings.iter().filter_map(|t| t.size()).sum();
    let rest = -(Comma::Pythagorean.size() + fixed);
    let has_rest = temperings.iter().any(|t| t.size().is_none());
    if has_rest && (shares - 1.0).abs() > 1e-9 {
        return Err(TemperamentError::Shares(shares));
    }
    if !has_rest && rest.get().abs() > 0.01 {
        return Err(TemperamentError::CircleOpen(rest.get()));
    }
    let mut circle = [0.0; 12];
    let mut place = Cents::UNISON;
    for (step, tempering) in temperings.iter().enumerate() {
        circle[(first.fifths() + step as i32).rem_euclid(12) as usize] = place.get();
        place = place + pure_fifth() + tempering.size().unwrap_or(rest * tempering.share());
    }
    let c = circle[0];
    rising(circle.map(|cents| Cents::new(cents - c).within_octave().get()))
}

fn resolve_places(places: &[(NoteName, f64)]) -> Result<[f64; 12], TemperamentError> {
    let wrong = |why: String| Err(TemperamentError::Places(why));
    let mut circle = [f64::NAN; 12];
    for (name, cents) in places {
        if !(0.0..1200.0).contains(cents) {
            return wrong(format!("{name:#} at {cents} is not within 0 to 1200"));
        }
        let slot = &mut circle[name.fifths().rem_euclid(12) as usize];
        if !slot.is_nan() {
            return wrong(format!("{name:#} is on a key that was named before"));
        }
        *slot = *cents;
    }
    if circle.iter().any(|cents| cents.is_nan()) {
        return wrong(format!("{} are given", places.len()));
    }
    if circle[0].abs() > 1e-9 {
        return wrong(format!("C is at {}", circle[0]));
    }
    rising(circle)
}

/// Passes on places that rise from key to key; an octave is then the same octave for all.
fn rising(circle: [f64; 12]) -> Result<[f64; 12], TemperamentError> {
    // Seven fifths lead a semitone up.
    let at_key = |key: usize| circle[key * 7 % 12];
    match (1..12).find(|&key| at_key(key) <= at_key(key - 1)) {
        None => Ok(circle),
        // Counting from E flat, as usual, gives the usual spellings.
        Some(key) => Err(TemperamentError::Order(
            NoteName::from_fifths((key as i32 * 7 + 3).rem_euclid(12) - 3).unwrap_or(NoteName::C),
        )),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn commas_have_their_published_sizes() {
        // Public reference sheet of tunings: 23.46001038 and 21.5062896; schisma 1.953721
        // from memory.
        assert!((Comma::Pythagorean.size().get() - 23.460_010_38).abs() < 1e-8);
        assert!((Comma::Syntonic.size().get() - 21.506_289_6).abs() < 1e-7);
        assert!((Comma::Schisma.size().get() - 1.953_721).abs() < 1e-6);
    }

    #[test]
    fn temperings_survive_there_and_back() {
        for text in ["-1/6 SC", "1/12 PC", "-1 schisma", "0", "1/2 rest"] {
            assert_eq!(text.parse::<Tempering>().unwrap().to_string(), text);
        }
        for text in ["", "1/0 SC", "-1/6", "x SC", "1/6 SC SC", "1/6 comma"] {
            assert!(text.parse::<Tempering>().is_err(), "{text}");
        }
    }

    #[test]
    fn a_circle_must_close() {
        let open = Fifths::Circle {
            first: NoteName::C,
            temperings: vec![Tempering::Pure; 12],
        };
        assert!(matches!(
            Temperament::new("open", "Open", open),
            Err(TemperamentError::CircleOpen(_))
        ));
    }

    #[test]
    fn keys_must_rise() {
        let mut cents: Vec<(NoteName, f64)> = (-3..=8)
            .map(|fifths| NoteName::from_fifths(fifths).unwrap())
            .map(|name| (name, 100.0 * name.key() as f64))
            .collect();
        let places = |cents_from_c| Temperament::new("own", "Own", Fifths::Places { cents_from_c });
        assert!(places(cents.clone()).is_ok());
        // G sharp, the last of the chain, down to where G is.
        cents[11].1 = 700.0;
        assert_eq!(
            places(cents),
            Err(TemperamentError::Order("G#".parse().unwrap()))
        );
    }

    #[test]
    fn a_regular_fifth_stays_a_fifth() {
        let regular = |text: &str| {
            let each = text.parse().unwrap();
            Temperament::new("own", "Own", Fifths::Regular { each })
        };
        assert!(regular("-1/3 SC").is_ok());
        assert!(matches!(regular("-1 SC"), Err(TemperamentError::Size(_))));
        assert!(matches!(
            regular("1 rest"),
            Err(TemperamentError::Tempering(_))
        ));
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn whatever_is_read_of_a_tempering_is_shown_as_it_can_be_read(
            text in "[-+\u{2212}]?[0-9]{1,11}(/[0-9]{1,11})?( (SC|PC|schisma|rest|ED))?|\\PC{0,20}",
        ) {
            if let Ok(tempering) = text.parse::<Tempering>() {
                prop_assert_eq!(tempering.to_string().parse(), Ok(tempering));
            }
        }
    }
}
