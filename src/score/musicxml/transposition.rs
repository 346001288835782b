//! From written to sounding pitch, with the spelling kept: a clarinet's written D sounds C, its
//! written C sharp sounds B.

use roxmltree::Node;

use super::part::text_of;
use crate::score::{BarFault, spelled};
use crate::units::Note;

/// Semitones within one octave from written to sounding that are believed; four octaves.
const FARTHEST: i32 = 48;

/// An interval from written to sounding notes.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) struct Transposition {
    /// Steps of the staff, octaves included.
    steps: i32,
    /// Semitones, octaves included.
    semitones: i32,
}

impl Transposition {
    /// `semitones` and `octaves`, with the staff steps the score states for the semitones.
    ///
    /// Steps that are missing, or that would make an interval wider or narrower than any simply
    /// augmented or diminished one, are those of the interval with the fewest fifths.
    pub(super) fn new(semitones: i32, steps: Option<i32>, octaves: i32) -> Self {
        let fifths_of = |steps: i32| 7 * semitones - 12 * steps;
        let likely = || {
            // The augmented fourth before the diminished fifth, of six fifths both.
            let middle = (semitones * 7).div_euclid(12);
            let candidates = [middle, middle + 1];
            candidates
                .into_iter()
                .min_by_key(|&steps| (fifths_of(steps).abs(), -fifths_of(steps)))
                .unwrap_or(middle)
        };
        let steps = steps
            .filter(|&steps| fifths_of(steps).abs() < 12)
            .unwrap_or_else(likely);
        Self {
            steps: steps + 7 * octaves,
            semitones: semitones + 12 * octaves,
        }
    }

    /// Reads a `<transpose>`.
    pub(super) fn read(node: Node) -> Result<Self, BarFault> {
        let number = |name: &str| -> Result<Option<i32>, BarFault> {
            let Some(text) = text_of(node, name) else {
                return Ok(None);
            };
            let wrong = || BarFault::Transposition(crate::score::names::tidy(text));
            let value: f64 = text.trim().parse().map_err(|_| wrong())?;
            // Semitones may be written with a fraction, which no instrument here has.
            if value.abs() > f64::from(FARTHEST) || value.fract() != 0.0 {
                return Err(wrong());
            }
            Ok(Some(value as i32))
        };
        let semitones = number("chromatic")?.unwrap_or_default();
        let octaves = number("octave-change")?.unwrap_or_default();
        Ok(Self::new(semitones, number("diatonic")?, octaves))
    }

    /// The sounding note; none where there is none so high or low.
    pub(super) fn sounding(self, written: Note) -> Option<Note> {
        spelled::moved(written, self.steps, self.semitones)
    }

    /// The sounding key signature, as near to no accidentals as enharmonic keys allow.
    pub(super) fn signature(self, fifths: i8) -> i8 {
        let by = 7 * self.semitones - 12 * self.steps;
        let sounding = i32::from(fifths) + by;
        let folded = match sounding {
            8.. if fifths <= 7 => sounding - 12,
            ..=-8 if fifths >= -7 => sounding + 12,
            _ => sounding,
        };
        folded.clamp(-14, 14) as i8
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn written_notes_sound_as_their_instruments_do() {
        let check = |semitones, steps, octaves, written: &str, sounding: &str| {
            let transposition = Transposition::new(semitones, steps, octaves);
            let note = transposition.sounding(written.parse().unwrap()).unwrap();
            assert_eq!(note.ascii(), sounding, "{written} by {semitones} {steps:?}");
        };
        // Trumpet in D, with and without its staff steps, and with steps left at nothing.
        check(2, Some(1), 0, "E4", "F#4");
        check(2, None, 0, "F#5", "G#5");
        check(2, Some(0), 0, "C4", "D4");
        // Clarinet in A, horns in F and E flat, double bass, tenor's octave, bass clarinet.
        check(-3, Some(-2), 0, "C4", "A3");
        check(-7, None, 0, "F#4", "B3");
        check(-9, None, 0, "Bb4", "Db4");
        check(0, Some(0), -1, "Bb3", "Bb2");
        check(-2, Some(-1), -1, "C#4", "B2");
        // Half steps are minor seconds, the tritone an augmented fourth.
        check(-1, None, 0, "C4", "B3");
        check(1, None, 0, "E4", "F4");
        check(6, None, 0, "C4", "F#4");
        // Octaves stated within the semitones.
        check(-14, None, 0, "D5", "C4");
        // Three sharps have no name: the same key has another.
        check(1, Some(0), 0, "Fx4", "G#4");
    }

    #[test]
    fn key_signatures_sound_too() {
        let check = |semitones, written, sounding| {
            assert_eq!(
                Transposition::new(semitones, None, 0).signature(written),
                sounding
            );
        };
        check(2, 0, 2);
        check(-2, 2, 0);
        check(-3, 0, 3);
        check(-7, 1, 0);
        check(2, 7, -3);
    }
}
