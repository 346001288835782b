//! Time in a score, counted exactly: ticks, bars and beats.

use std::ops::{Add, Sub};

/// A moment counted from the beginning of a score, or a length of time in it, in the score's own
/// fraction of a quarter note ([`Bars::ticks_per_quarter`]).
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Ticks(u64);

impl Ticks {
    /// `count` ticks.
    pub const fn new(count: u64) -> Self {
        Self(count)
    }

    /// The count.
    pub const fn get(self) -> u64 {
        self.0
    }
}

impl Add for Ticks {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0.saturating_add(other.0))
    }
}

impl Sub for Ticks {
    type Output = Self;
    /// No less than nothing.
    fn sub(self, other: Self) -> Self {
        Self(self.0.saturating_sub(other.0))
    }
}

/// One bar.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Bar {
    /// What it is called in the score: mostly a number from 1, 0 for an upbeat, "12a".
    pub number: String,
    /// When it begins.
    pub start: Ticks,
    /// How long a beat is in it: the note value below the line of its time signature.
    pub beat: Ticks,
}

/// The bars of a score and how finely its time is counted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Bars {
    ticks_per_quarter: u64,
    /// By their beginnings.
    bars: Vec<Bar>,
}

/// A place a musician can find.
#[derive(Debug, Clone, PartialEq)]
pub struct ScorePlace {
    /// The bar's name.
    pub bar: String,
    /// The beat, counted from 1; 2.5 is half a beat after the second.
    pub beat: f64,
}

impl Bars {
    /// Bars by their beginnings, and how many ticks make a quarter note: at least one.
    pub fn new(ticks_per_quarter: u64, bars: Vec<Bar>) -> Self {
        Self {
            ticks_per_quarter: ticks_per_quarter.max(1),
            bars,
        }
    }

    /// How many ticks make a quarter note.
    pub fn ticks_per_quarter(&self) -> u64 {
        self.ticks_per_quarter
    }

    /// All bars by their beginnings.
    pub fn all(&self) -> &[Bar] {
        &self.bars
    }

    /// A length of time in quarter notes.
    pub fn quarters(&self, ticks: Ticks) -> f64 {
        ticks.get() as f64 / self.ticks_per_quarter as f64
    }

    /// The bar and beat of a moment; bar 1 where there are no bars.
    pub fn place(&self, at: Ticks) -> ScorePlace {
        let after = self.bars.partition_point(|bar| bar.start <= at);
        match after.checked_sub(1).map(|index| &self.bars[index]) {
            Some(bar) => ScorePlace {
                bar: bar.number.clone(),
                beat: 1.0 + (at - bar.start).get() as f64 / bar.beat.get().max(1) as f64,
            },
            None => ScorePlace {
                bar: "1".to_owned(),
                beat: 1.0 + self.quarters(at),
            },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn moments_are_found_by_bar_and_beat() {
        let bar = |number: &str, start, beat| Bar {
            number: number.to_owned(),
            start: Ticks::new(start),
            beat: Ticks::new(beat),
        };
        // An upbeat of a quarter, a bar of 3/4, then 6/8.
        let bars = Bars::new(4, vec![bar("0", 0, 4), bar("1", 4, 4), bar("2", 16, 2)]);
        let check = |at, number: &str, beat| {
            let place = bars.place(Ticks::new(at));
            assert_eq!((place.bar.as_str(), place.beat), (number, beat));
        };
        check(0, "0", 1.0);
        check(4, "1", 1.0);
        check(10, "1", 2.5);
        check(21, "2", 3.5);
        assert!((bars.quarters(Ticks::new(6)) - 1.5).abs() < 1e-12);
    }
}
