//! Colours as themes have them, and as terminals do.

use std::fmt;
use std::str::FromStr;

use ratatui::style::Color;

/// A colour mixed of red, green and blue, each from 0 to 255 (sRGB).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Rgb(pub u8, pub u8, pub u8);

impl FromStr for Rgb {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let wrong = || {
            let shown: String = text.escape_debug().take(20).collect();
            format!("'{shown}' is no colour: write # and six digits, as in \"#f0b060\"")
        };
        let digits = text.strip_prefix('#').ok_or_else(wrong)?;
        if digits.len() != 6 || !digits.bytes().all(|b| b.is_ascii_hexdigit()) {
            return Err(wrong());
        }
        let part = |at: usize| u8::from_str_radix(&digits[at..at + 2], 16).map_err(|_| wrong());
        Ok(Self(part(0)?, part(2)?, part(4)?))
    }
}

impl fmt::Display for Rgb {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "#{:02x}{:02x}{:02x}", self.0, self.1, self.2)
    }
}

impl From<Rgb> for Color {
    fn from(Rgb(red, green, blue): Rgb) -> Self {
        Self::Rgb(red, green, blue)
    }
}

/// The steps of the cube of colours that terminals with 256 have from index 16 on.
const STEPS: [u8; 6] = [0, 95, 135, 175, 215, 255];

impl Rgb {
    /// The nearest colour of the cube and the greys of a terminal with 256. The first sixteen are
    /// left out, as every user may have set them otherwise.
    pub fn nearest_of_256(self) -> u8 {
        let all = 16..=255_u8;
        all.min_by_key(|index| self.distance(Self::of_256(*index)))
            .unwrap_or(16)
    }

    /// The colour of an index from 16 on, as xterm has it.
    pub fn of_256(index: u8) -> Self {
        match index.saturating_sub(16) {
            grey @ 216.. => {
                let level = 8 + 10 * (grey - 216);
                Self(level, level, level)
            }
            place => {
                let step = |place: u8| STEPS[usize::from(place % 6)];
                Self(step(place / 36), step(place / 6), step(place))
            }
        }
    }

    fn distance(self, other: Self) -> i32 {
        let square = |a: u8, b: u8| (i32::from(a) - i32::from(b)).pow(2);
        square(self.0, other.0) + square(self.1, other.1) + square(self.2, other.2)
    }

    /// Contrast with another colour, from 1 to 21 (relative luminances of both, by WCAG 2.2).
    pub fn contrast(self, other: Self) -> f64 {
        let (one, two) = (self.luminance(), other.luminance());
        (one.max(two) + 0.05) / (one.min(two) + 0.05)
    }

    /// Relative luminance, from 0 to 1, as WCAG 2.2 defines it.
    fn luminance(self) -> f64 {
        let linear = |part: u8| {
            let part = f64::from(part) / 255.0;
            if part <= 0.04045 {
                part / 12.92
            } else {
                ((part + 0.055) / 1.055).powf(2.4)
            }
        };
        0.2126 * linear(self.0) + 0.7152 * linear(self.1) + 0.0722 * linear(self.2)
    }
}

/// One of the sixteen colours that every terminal has, and every user may have set otherwise.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Deserialize)]
#[serde(rename = "colour")]
#[allow(missing_docs, reason = "their names say it")]
pub enum Basic {
    Black,
    Red,
    Green,
    Yellow,
    Blue,
    Magenta,
    Cyan,
    White,
    BrightBlack,
    BrightRed,
    BrightGreen,
    BrightYellow,
    BrightBlue,
    BrightMagenta,
    BrightCyan,
    BrightWhite,
}

impl From<Basic> for Color {
    fn from(basic: Basic) -> Self {
        match basic {
            Basic::Black => Self::Black,
            Basic::Red => Self::Red,
            Basic::Green => Self::Green,
            Basic::Yellow => Self::Yellow,
            Basic::Blue => Self::Blue,
            Basic::Magenta => Self::Magenta,
            Basic::Cyan => Self::Cyan,
            Basic::White => Self::Gray,
            Basic::BrightBlack => Self::DarkGray,
            Basic::BrightRed => Self::LightRed,
            Basic::BrightGreen => Self::LightGreen,
            Basic::BrightYellow => Self::LightYellow,
            Basic::BrightBlue => Self::LightBlue,
            Basic::BrightMagenta => Self::LightMagenta,
            Basic::BrightCyan => Self::LightCyan,
            Basic::BrightWhite => Self::White,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn colours_are_read_and_written() {
        assert_eq!("#f0b060".parse(), Ok(Rgb(0xf0, 0xb0, 0x60)));
        assert_eq!(Rgb(1, 2, 255).to_string(), "#0102ff");
        for wrong in [
            "f0b060",
            "#f0b06",
            "#f0b0600",
            "#+0b060",
            "",
            "#\u{e9}\u{e9}\u{e9}",
            "red",
        ] {
            let error = wrong.parse::<Rgb>().unwrap_err();
            assert!(error.contains("is no colour: write #"), "{error}");
        }
    }

    #[test]
    fn terminals_with_256_come_near() {
        for index in 16..=255 {
            let colour = Rgb::of_256(index);
            assert_eq!(Rgb::of_256(colour.nearest_of_256()), colour, "{index}");
        }
        assert_eq!(Rgb(255, 175, 95).nearest_of_256(), 215);
        assert_eq!(Rgb(0x76, 0x76, 0x76).nearest_of_256(), 243);
    }

    /// WebAIM's and everybody's example: #767676 on white is the lightest grey of 4.5 : 1; black
    /// on white is 21 : 1 by the definition (WCAG 2.2, "contrast ratio").
    #[test]
    fn contrast_is_as_defined() {
        let white = Rgb(255, 255, 255);
        assert!((Rgb(0, 0, 0).contrast(white) - 21.0).abs() < 1e-9);
        assert!((white.contrast(white) - 1.0).abs() < 1e-9);
        assert!(Rgb(0x76, 0x76, 0x76).contrast(white) >= 4.5);
        assert!(Rgb(0x77, 0x77, 0x77).contrast(white) < 4.5);
    }
}
