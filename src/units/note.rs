//! Spelled notes: a letter, its accidentals and an octave. C4 is middle C.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

/// Text that spells no note.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ParseNoteError {
    /// The letter or its accidentals cannot be read.
    #[error(
        "'{0}' is no note name: write a letter A to G with up to two accidentals (F#, B\u{266d}, Ebb)"
    )]
    Name(String),
    /// The octave number is missing or cannot be read.
    #[error("'{0}' is no note: write name and octave, with C4 as middle C (F#4, Bb3)")]
    Octave(String),
}

/// The seven letters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Letter {
    /// C.
    C,
    /// D.
    D,
    /// E.
    E,
    /// F.
    F,
    /// G.
    G,
    /// A.
    A,
    /// B, a whole tone above A.
    B,
}

impl Letter {
    const ALL: [Self; 7] = [
        Self::C,
        Self::D,
        Self::E,
        Self::F,
        Self::G,
        Self::A,
        Self::B,
    ];

    /// Fifths from C: F is -1, G is 1.
    fn fifths(self) -> i32 {
        [0, 2, 4, -1, 1, 3, 5][self as usize]
    }

    fn as_char(self) -> char {
        ['C', 'D', 'E', 'F', 'G', 'A', 'B'][self as usize]
    }

    fn from_char(c: char) -> Option<Self> {
        Self::ALL
            .into_iter()
            .find(|letter| letter.as_char() == c.to_ascii_uppercase())
    }
}

/// A note name without octave, such as F sharp or B flat.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct NoteName {
    letter: Letter,
    /// Sharps when positive, flats when negative; -2 to 2.
    sharps: i8,
}

impl NoteName {
    /// The name C.
    pub const C: Self = Self {
        letter: Letter::C,
        sharps: 0,
    };
    /// The name D.
    pub const D: Self = Self {
        letter: Letter::D,
        sharps: 0,
    };
    /// The name A.
    pub const A: Self = Self {
        letter: Letter::A,
        sharps: 0,
    };

    /// The name `fifths` steps up the chain of fifths from C: 1 is G, -2 is B flat.
    /// `None` where more than two accidentals would be needed.
    pub fn from_fifths(fifths: i32) -> Option<Self> {
        let sharps = (fifths + 1).div_euclid(7);
        let letter = Letter::ALL
            .into_iter()
            .find(|l| l.fifths() == fifths - 7 * sharps)?;
        (-2..=2).contains(&sharps).then_some(Self {
            letter,
            sharps: sharps as i8,
        })
    }

    /// Steps up the chain of fifths from C.
    pub fn fifths(self) -> i32 {
        self.letter.fifths() + 7 * i32::from(self.sharps)
    }

    /// Semitones above C on the keyboard, 0 to 11: enharmonic names share a key.
    pub fn key(self) -> usize {
        (self.fifths() * 7).rem_euclid(12) as usize
    }

    /// The letter.
    pub fn letter(self) -> Letter {
        self.letter
    }

    /// Sharps when positive, flats when negative.
    pub fn sharps(self) -> i8 {
        self.sharps
    }

    /// This name in `octave`.
    pub fn in_octave(self, octave: i8) -> Note {
        Note { name: self, octave }
    }

    /// The name in ASCII, for file names and machines: `F#`, `Bb`.
    pub fn ascii(self) -> String {
        let accidental = if self.sharps < 0 { "b" } else { "#" };
        format!(
            "{}{}",
            self.letter.as_char(),
            accidental.repeat(self.sharps.unsigned_abs().into())
        )
    }
}

impl fmt::Display for NoteName {
    /// With musical accidentals: F♯, B♭, F♯♯. The alternate form is ASCII.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if f.alternate() {
            return f.pad(&self.ascii());
        }
        let accidental = if self.sharps < 0 {
            "\u{266d}"
        } else {
            "\u{266f}"
        };
        f.pad(&format!(
            "{}{}",
            self.letter.as_char(),
            accidental.repeat(self.sharps.unsigned_abs().into())
        ))
    }
}

impl FromStr for NoteName {
    type Err = ParseNoteError;
    fn from_str(text: &str) -> Result<Self, ParseNoteError> {
        let wrong = || ParseNoteError::Name(text.to_owned());
        let mut chars = text.trim().chars();
        let letter = chars.next().and_then(Letter::from_char).ok_or_else(wrong)?;
        let mut sharps = 0_i8;
        for c in chars {
            let step = match c {
                '#' | '\u{266f}' => 1,
                'b' | '\u{266d}' => -1,
                'x' | '\u{1d12a}' => 2,
                '\u{1d12b}' => -2,
                _ => return Err(wrong()),
            };
            // Accidentals of one kind only, and no more than two of them.
            if sharps != 0 && (sharps > 0) != (step > 0) {
                return Err(wrong());
            }
            sharps += step;
            if sharps.abs() > 2 {
                return Err(wrong());
            }
        }
        Ok(Self { letter, sharps })
    }
}

impl TryFrom<String> for NoteName {
    type Error = ParseNoteError;
    fn try_from(text: String) -> Result<Self, ParseNoteError> {
        text.parse()
    }
}

impl From<NoteName> for String {
    fn from(name: NoteName) -> Self {
        name.ascii()
    }
}

/// A spelled note in its octave. B♯3 and C4 are different notes that may share a key.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Note {
    name: NoteName,
    octave: i8,
}

impl Note {
    /// The A above middle C.
    pub const A4: Self = Self {
        name: NoteName::A,
        octave: 4,
    };

    /// The name without its octave.
    pub fn name(self) -> NoteName {
        self.name
    }

    /// The octave number; it changes at C.
    pub fn octave(self) -> i8 {
        self.octave
    }

    /// The note in ASCII, for machines: `F#4`.
    pub fn ascii(self) -> String {
        format!("{}{}", self.name.ascii(), self.octave)
    }

    /// The number of the key, counted in semitones with C4 = 60; C♭4 shares 59 with B3.
    pub fn key_number(self) -> i32 {
        let natural = [0, 2, 4, 5, 7, 9, 11][self.name.letter as usize];
        (i32::from(self.octave) + 1) * 12 + natural + i32::from(self.name.sharps)
    }
}

impl fmt::Display for Note {
    /// With musical accidentals: F♯4. The alternate form is ASCII.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if f.alternate() {
            f.pad(&self.ascii())
        } else {
            f.pad(&format!("{}{}", self.name, self.octave))
        }
    }
}

impl FromStr for Note {
    type Err = ParseNoteError;
    fn from_str(text: &str) -> Result<Self, ParseNoteError> {
        let text = text.trim();
        let split = text
            .find(|c: char| c.is_ascii_digit() || c == '-' || c == '\u{2212}')
            .ok_or_else(|| ParseNoteError::Octave(text.to_owned()))?;
        let (name, octave) = text.split_at(split);
        let octave: i8 = octave
            .replace('\u{2212}', "-")
            .parse()
            .ok()
            .filter(|octave| (-1..=9).contains(octave))
            .ok_or_else(|| ParseNoteError::Octave(text.to_owned()))?;
        Ok(name.parse::<NoteName>()?.in_octave(octave))
    }
}

impl TryFrom<String> for Note {
    type Error = ParseNoteError;
    fn try_from(text: String) -> Result<Self, ParseNoteError> {
        text.parse()
    }
}

impl From<Note> for String {
    fn from(note: Note) -> Self {
        note.ascii()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn check(text: &str, shown: &str, key_number: i32) {
        let note: Note = text.parse().unwrap();
        assert_eq!(note.to_string(), shown);
        assert_eq!(note.key_number(), key_number, "{text}");
    }

    #[test]
    fn notes_are_read_and_shown() {
        check("F#4", "F\u{266f}4", 66);
        check("b\u{266d}3", "B\u{266d}3", 58);
        check("C4", "C4", 60);
        check("Cb4", "C\u{266d}4", 59);
        check("B#3", "B\u{266f}3", 60);
        check("Fx2", "F\u{266f}\u{266f}2", 43);
        check("Ebb5", "E\u{266d}\u{266d}5", 74);
        check("A-1", "A-1", 9);
    }

    #[test]
    fn nonsense_is_named() {
        for text in ["", "H4", "F#", "F###4", "F#b4", "A44", "4", "A4x"] {
            let error = text.parse::<Note>().unwrap_err().to_string();
            assert!(error.contains("is no note"), "{text}: {error}");
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn every_name_survives_there_and_back(fifths in -15_i32..=19, octave in -1_i8..=9) {
            let name = NoteName::from_fifths(fifths).unwrap();
            prop_assert_eq!(name.fifths(), fifths);
            let note = name.in_octave(octave);
            prop_assert_eq!(note.to_string().parse::<Note>().unwrap(), note);
            prop_assert_eq!(note.ascii().parse::<Note>().unwrap(), note);
            prop_assert_eq!(note.key_number().rem_euclid(12) as usize, name.key());
        }

        #[test]
        fn no_text_breaks_the_reader(text in "\\PC{0,8}") {
            let _ = text.parse::<Note>();
        }
    }
}
