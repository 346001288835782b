//! The pitches of the last hops, and how far they have moved.

use std::collections::VecDeque;

/// Pitches of the last hops in cents above 1 Hz.
#[derive(Debug)]
pub(super) struct Lately {
    cents: VecDeque<f64>,
    most: usize,
}

impl Lately {
    /// Room for so many hops.
    pub(super) fn new(most: usize) -> Self {
        Self {
            cents: VecDeque::with_capacity(most),
            most,
        }
    }

    /// Forgets them.
    pub(super) fn clear(&mut self) {
        self.cents.clear();
    }

    /// Takes a pitch that was reached within so many hops; those between lie on the way to it. A
    /// first one has no way behind it.
    pub(super) fn reach(&mut self, hz: f64, hops: u32) {
        let cents = 1200.0 * hz.log2();
        let from = self.cents.back().copied();
        let steps = if from.is_some() { hops.max(1) } else { 1 };
        for step in 1..=steps {
            let share = f64::from(step) / f64::from(steps);
            if self.cents.len() == self.most {
                self.cents.pop_front();
            }
            let way = from.map_or(0.0, |from| (from - cents) * (1.0 - share));
            self.cents.push_back(cents + way);
        }
    }

    /// How far `hz` lies from the last pitch, in cents; 0 where there is none.
    pub(super) fn leap(&self, hz: f64) -> f64 {
        self.cents
            .back()
            .map_or(0.0, |last| (1200.0 * hz.log2() - last).abs())
    }

    /// Hops remembered.
    pub(super) fn hops(&self) -> usize {
        self.cents.len()
    }

    /// Cents between the lowest and the highest pitch of the last `hops`.
    pub(super) fn range(&self, hops: usize) -> f64 {
        distance(self.cents.iter().rev().take(hops).copied())
    }
}

/// From the lowest of some values to the highest.
pub(super) fn distance(values: impl Iterator<Item = f64>) -> f64 {
    let (low, high) = values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
        (low.min(value), high.max(value))
    });
    high - low
}
