//! How the pitch of the ensemble moves over a rehearsal.

use super::Chronicle;
use crate::units::{Cents, Seconds};

/// One moment of a line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DriftPoint {
    /// The middle of the notes it rests on.
    pub at: Seconds,
    /// The implied A4 in cents above the pitch standard of the beginning.
    pub cents: Cents,
    /// It is right to this distance, 19 times in 20.
    pub margin: Cents,
    /// How many notes it rests on.
    pub count: usize,
}

/// A pitch over time.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct DriftLine {
    /// From early to late.
    pub points: Vec<DriftPoint>,
}

impl DriftLine {
    /// Where it began: none without points.
    pub fn start(&self) -> Option<DriftPoint> {
        self.points.first().copied()
    }

    /// Where it is now: none without points.
    pub fn end(&self) -> Option<DriftPoint> {
        self.points.last().copied()
    }

    /// How far it has moved since the start; none of fewer than two points.
    pub fn moved(&self) -> Option<Cents> {
        let [first, .., last] = self.points.as_slice() else {
            return None;
        };
        Some(last.cents - first.cents)
    }
}

/// What the lines say.
#[derive(Debug, Clone, PartialEq)]
pub enum Finding {
    /// Too little has been heard to say anything.
    TooEarly,
    /// Nobody has moved by more than the lines can tell.
    Still,
    /// All tempered players moved together.
    Everyone {
        /// By how much.
        cents: Cents,
        /// When it began.
        since: Seconds,
    },
    /// One moved against the others.
    One {
        /// The player's place among [`Chronicle::players`].
        player: usize,
        /// By how much against the ensemble.
        cents: Cents,
        /// When it began.
        since: Seconds,
    },
    /// The trumpets' series moved against the tempered players.
    Series {
        /// By how much.
        cents: Cents,
        /// When it began.
        since: Seconds,
    },
}

/// The pitch of all over a stretch of a rehearsal.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Drift {
    /// The tempered players together.
    pub ensemble: DriftLine,
    /// The trumpets' series.
    pub series: DriftLine,
    /// Each player, by the place among [`Chronicle::players`].
    pub players: Vec<(usize, DriftLine)>,
    /// What winds should do by the temperatures that were typed in, from where the winds were
    /// at the first of them; empty with fewer than two temperatures.
    pub expected: Vec<(Seconds, Cents)>,
    /// What the lines say, the most important first; never empty.
    pub findings: Vec<Finding>,
}

impl Drift {
    /// The drift over the whole of `chronicle`.
    pub fn of(_chronicle: &Chronicle) -> Self {
        Self {
            findings: vec![Finding::TooEarly],
            ..Self::default()
        }
    }
}
