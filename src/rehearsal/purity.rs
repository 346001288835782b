//! How far the intervals of a chord lie from pure, and which one move would help most.

use super::Reach;
use crate::tuning::{OfPure, Partial, Ratio, Ratios};
use crate::units::{Cents, Hertz};

/// A move must bring the intervals nearer by this much in the mean to be worth telling.
const LEAST_GAIN: Cents = Cents::new(1.0);

/// One note of a chord.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChordNote {
    /// Where it stands.
    pub hertz: Hertz,
    /// The partial it is played on: two of them have an exact ratio, be it 11/8 or 13/8.
    pub partial: Option<Partial>,
    /// How far it can be moved from there.
    pub reach: Reach,
}

/// An interval of a chord, measured from pure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PureInterval {
    /// The lower note, by its place in the chord.
    pub low: usize,
    /// The upper one.
    pub high: usize,
    /// The pure ratio.
    pub ratio: Ratio,
    /// How far the interval is wider than that.
    pub cents: Cents,
}

/// One note moved.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Move {
    /// The note, by its place in the chord.
    pub note: usize,
    /// How far, up if positive.
    pub by: Cents,
    /// By how much the mean distance from pure shrinks.
    pub gain: Cents,
}

/// How pure a chord is.
#[derive(Debug, Clone, PartialEq)]
pub struct Purity {
    /// Every interval near a pure one.
    pub intervals: Vec<PureInterval>,
    /// Mean distance from pure, simple intervals counting more.
    pub mean: Cents,
    /// The single move that helps most.
    pub best: Option<Move>,
}

impl Purity {
    /// The purity of `notes`; none where no interval lies near a pure one.
    pub fn of(notes: &[ChordNote]) -> Option<Self> {
        let mut intervals = Vec::new();
        for low in 0..notes.len() {
            for high in 0..notes.len() {
                let is_rising = notes[low].hertz < notes[high].hertz;
                let is_unison = notes[low].hertz == notes[high].hertz && low < high;
                if low != high && (is_rising || is_unison) {
                    intervals.extend(interval(notes, low, high));
                }
            }
        }
        if intervals.is_empty() {
            return None;
        }
        let mean = mean(&intervals, None);
        let best = (0..notes.len())
            .filter_map(|note| best_move(notes, note, &intervals, mean))
            .max_by(|a, b| a.gain.get().total_cmp(&b.gain.get()));
        Some(Self {
            intervals,
            mean,
            best,
        })
    }

    /// The interval farthest from pure.
    pub fn widest(&self) -> Option<&PureInterval> {
        let distance = |interval: &&PureInterval| interval.cents.abs().get();
        self.intervals
            .iter()
            .max_by(|a, b| distance(a).total_cmp(&distance(b)))
    }
}

fn interval(notes: &[ChordNote], low: usize, high: usize) -> Option<PureInterval> {
    let size = notes[high].hertz.above(notes[low].hertz);
    let of = match (notes[low].partial, notes[high].partial) {
        (Some(low), Some(high)) => {
            OfPure::new(Ratio::new(high.number().into(), low.number().into()), size)
        }
        _ => Ratios::OF_CHORDS.simplest(size)?,
    };
    Some(PureInterval {
        low,
        high,
        ratio: of.ratio,
        cents: of.cents,
    })
}

/// Simple intervals count more: a fifth is heard before a seventh (a weighting of this
/// program).
fn weight(ratio: Ratio) -> f64 {
    let bits = |number: u32| f64::from(number >> number.trailing_zeros()).log2();
    1.0 / (1.0 + bits(ratio.over()) + bits(ratio.under()))
}

/// By how much an interval changes when `note` is raised by one: +1, -1 or 0.
fn side(interval: &PureInterval, note: usize) -> f64 {
    f64::from(i8::from(interval.high == note)) - f64::from(i8::from(interval.low == note))
}

fn mean(intervals: &[PureInterval], moved: Option<(usize, Cents)>) -> Cents {
    let (mut sum, mut weights) = (0.0, 0.0);
    for interval in intervals {
        let by = moved.map_or(0.0, |(note, by)| side(interval, note) * by.get());
        sum += weight(interval.ratio) * (interval.cents.get() + by).abs();
        weights += weight(interval.ratio);
    }
    Cents::new(sum / weights)
}

/// The sum of distances is least where one of the intervals is pure, or at an end of the
/// reach: it is linear in between.
fn best_move(
    notes: &[ChordNote],
    note: usize,
    intervals: &[PureInterval],
    before: Cents,
) -> Option<Move> {
    let Reach { up, down } = notes[note].reach;
    let touching = intervals
        .iter()
        .filter(|interval| side(interval, note) != 0.0);
    touching
        .map(|interval| -side(interval, note) * interval.cents.get())
        .map(|by| Cents::new(by.clamp(-down.get(), up.get())))
        .map(|by| Move {
            note,
            by,
            gain: before - mean(intervals, Some((note, by))),
        })
        .filter(|moved| moved.gain >= LEAST_GAIN)
        .max_by(|a, b| a.gain.get().total_cmp(&b.gain.get()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rehearsal::Family;
    use proptest::prelude::*;

    fn note(family: Family, hz: f64, cents: f64) -> ChordNote {
        ChordNote {
            hertz: Hertz::new(hz).unwrap().raised(Cents::new(cents)),
            partial: None,
            reach: family.reach(),
        }
    }

    fn on_partial(number: u8, cents: f64) -> ChordNote {
        ChordNote {
            partial: Some(number.try_into().unwrap()),
            ..note(Family::Trumpets, 70.0 * f64::from(number), cents)
        }
    }

    #[test]
    fn a_chord_of_partials_is_pure_whatever_they_are() {
        let chord = [on_partial(8, 0.0), on_partial(11, 0.0), on_partial(13, 0.0)];
        let purity = Purity::of(&chord).unwrap();
        let ratios: Vec<String> = purity
            .intervals
            .iter()
            .map(|i| i.ratio.to_string())
            .collect();
        assert_eq!(ratios, ["11/8", "13/8", "13/11"]);
        assert!(purity.mean.get() < 1e-9);
        assert_eq!(purity.best, None, "nothing to be gained");
    }

    #[test]
    fn the_move_that_helps_most_is_found() {
        // Octave and third pure but for the violin's third, 14 too wide.
        let chord = [
            note(Family::Trumpets, 400.0, 0.0),
            note(Family::Strings, 500.0, 14.0),
            note(Family::Keyboard, 600.0, 0.0),
        ];
        let purity = Purity::of(&chord).unwrap();
        let best = purity.best.unwrap();
        assert_eq!(best.note, 1);
        assert!((best.by.get() + 14.0).abs() < 1e-9);
        assert!((best.gain - purity.mean).abs().get() < 1e-9, "all of it");
        assert!((purity.widest().unwrap().cents.abs().get() - 14.0).abs() < 1e-9);
    }

    #[test]
    fn nobody_is_asked_for_more_than_they_can() {
        let two = |family| {
            Purity::of(&[
                note(Family::Keyboard, 400.0, 0.0),
                note(family, 600.0, 40.0),
            ])
            .unwrap()
        };
        assert_eq!(two(Family::Keyboard).best, None);
        assert!((two(Family::Trumpets).best.unwrap().by.get() + 30.0).abs() < 1e-9);
        assert!((two(Family::Strings).best.unwrap().by.get() + 40.0).abs() < 1e-9);
    }

    #[test]
    fn a_chord_without_pure_intervals_has_no_purity() {
        assert_eq!(Purity::of(&[]), None);
        assert_eq!(Purity::of(&[note(Family::Strings, 400.0, 0.0)]), None);
        let semitone = [
            note(Family::Strings, 400.0, 0.0),
            note(Family::Strings, 424.0, 0.0),
        ];
        assert_eq!(Purity::of(&semitone), None);
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn the_best_move_keeps_its_word(
            cents in prop::collection::vec(-30.0..30.0_f64, 3), step in -50.0..50.0_f64, which in 0_usize..3,
        ) {
            let hz = [400.0, 500.0, 600.0];
            let chord: Vec<ChordNote> = (0..3).map(|n| note(Family::Strings, hz[n], cents[n])).collect();
            // Too far from pure, all of it, to be taken for anything.
            let Some(purity) = Purity::of(&chord) else {
                return Ok(());
            };
            let gain = purity.best.map_or(0.0, |best| best.gain.get());
            // No other move of any note does better.
            let other = mean(&purity.intervals, Some((which, Cents::new(step))));
            prop_assert!(purity.mean.get() - other.get() <= gain + LEAST_GAIN.get() + 1e-9);
            if let Some(best) = purity.best {
                prop_assert!(best.by.abs().get() <= 50.0);
                let after = mean(&purity.intervals, Some((best.note, best.by)));
                prop_assert!((purity.mean - after - best.gain).abs().get() < 1e-9);
            }
        }
    }
}
