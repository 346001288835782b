//! Bars from the time signatures of a MIDI file.

use super::super::{Bar, MOST_BARS, ScoreError, Ticks, at_most};

/// A time signature: when it begins in ticks of the file, how many beats, and the power of two
/// that they are of a whole note.
pub(super) type Meter = (u64, u8, u8);

/// The shortest note a beat can be: two to that power.
const SHORTEST_BEAT: u8 = 7;

/// How many times finer than the file's `division` of a quarter note time must be counted so
/// that every beat is a whole number of ticks.
pub(super) fn refinement(meters: &[Meter], division: u64) -> Result<u64, ScoreError> {
    let mut finer = 1;
    for &(_, beats, power) in meters {
        if beats == 0 || power > SHORTEST_BEAT {
            return Err(ScoreError::MidiMeter {
                beats: u32::from(beats),
                power,
            });
        }
        while !(4 * division * finer).is_multiple_of(1 << power) {
            finer *= 2;
        }
    }
    Ok(finer)
}

/// Bars up to `end`, counted from 1; a signature in the middle of a bar begins another. They are
/// of four quarters where nothing is said.
pub(super) fn bars(
    meters: &[Meter],
    per_quarter: u64,
    finer: u64,
    end: u64,
) -> Result<Vec<Bar>, ScoreError> {
    let mut bars = Vec::new();
    let mut at = 0;
    let (mut beat, mut length) = (per_quarter, 4 * per_quarter);
    let mut next = meters.iter().peekable();
    while at < end {
        while let Some(&(from, beats, power)) = next.peek()
            && from * finer <= at
        {
            beat = 4 * per_quarter / (1 << power);
            length = u64::from(*beats) * beat;
            next.next();
        }
        bars.push(Bar {
            number: (bars.len() + 1).to_string(),
            start: Ticks::new(at),
            beat: Ticks::new(beat),
        });
        at_most("bars", bars.len(), MOST_BARS)?;
        at += length;
        if let Some(&(from, ..)) = next.peek() {
            at = at.min(from * finer);
        }
    }
    Ok(bars)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bars_follow_the_time_signatures() {
        let check = |meters: &[Meter], division, end, expected: &[(u64, u64)]| {
            let finer = refinement(meters, division).unwrap();
            let bars = bars(meters, division * finer, finer, end * finer).unwrap();
            let bars: Vec<_> = bars
                .iter()
                .map(|bar| (bar.start.get(), bar.beat.get()))
                .collect();
            assert_eq!(bars, expected);
        };
        check(&[], 24, 97, &[(0, 24), (96, 24)]);
        check(
            &[(0, 3, 2), (72, 6, 3)],
            24,
            150,
            &[(0, 24), (72, 12), (144, 12)],
        );
        // In the middle of a bar, and an eighth of a division that has no half.
        check(&[(0, 4, 2), (48, 2, 2)], 24, 60, &[(0, 24), (48, 24)]);
        check(&[(0, 3, 3)], 3, 5, &[(0, 3), (9, 3)]);
    }

    #[test]
    fn impossible_time_signatures_are_refused() {
        let check = |meter, part: &str| {
            let error = refinement(&[meter], 96).unwrap_err().to_string();
            assert!(error.contains(part), "{error}");
        };
        check((0, 0, 2), "0 beats");
        check((0, 4, 200), "to the power of 200");
        let long = bars(&[(0, 1, 7)], 128, 1, u64::MAX / 2).unwrap_err();
        assert_eq!(
            long,
            ScoreError::TooMany {
                what: "bars",
                limit: MOST_BARS
            }
        );
    }
}
