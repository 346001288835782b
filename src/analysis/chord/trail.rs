//! A voice's pitch through the span.

use super::span::{Span, WINDOWS};

/// A voice on a line of pitch, from which each window may depart a little.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Trail {
    /// Where it is sought among the places.
    pub(super) place: usize,
    /// The frequency of that place.
    pub(super) place_hz: f64,
    /// How far above that it stands at the middle of the span.
    pub(super) cents: f64,
    /// How fast it rises, in cents a second.
    pub(super) slope: f64,
    /// How far each window departs from that line, in cents.
    pub(super) bends: [f64; WINDOWS],
}

impl Trail {
    /// A voice on its place.
    pub(super) fn at(place: usize, place_hz: f64) -> Self {
        Self {
            place,
            place_hz,
            cents: 0.0,
            slope: 0.0,
            bends: [0.0; WINDOWS],
        }
    }

    /// The same `cents` higher.
    pub(super) fn raised(mut self, cents: f64) -> Self {
        self.cents += cents;
        self
    }

    /// The same without slope or bends, `cents` above its place.
    pub(super) fn flat(&self, cents: f64) -> Self {
        Self::at(self.place, self.place_hz).raised(cents)
    }

    /// The pitch at the middle of the span.
    pub(super) fn hz(&self) -> f64 {
        self.place_hz * (self.cents / 1200.0).exp2()
    }

    /// The pitch of the line in window `index`.
    pub(super) fn line_hz(&self, index: usize) -> f64 {
        self.place_hz * ((self.cents + self.slope * Span::offset_s(index)) / 1200.0).exp2()
    }

    /// The pitch in window `index`.
    pub(super) fn hz_in(&self, index: usize) -> f64 {
        self.line_hz(index) * (self.bends[index] / 1200.0).exp2()
    }

    /// What is known beforehand of where voices stand and how they move: within 25 cents of
    /// their places and 15 cents a second, both as standard deviations.
    pub(super) fn prior(&self) -> f64 {
        -0.5 * ((self.cents / 25.0).powi(2) + (self.slope / 15.0).powi(2))
    }
}

/// How far `hz` lies above `reference_hz`, in cents.
pub(super) fn cents_between(hz: f64, reference_hz: f64) -> f64 {
    1200.0 * (hz / reference_hz).log2()
}
