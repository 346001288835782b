//! Whether a pitch moves too fast for the window it is measured in.
//!
//! Within a long window a deep vibrato spreads each partial over several peaks, so that the
//! fit jumps between them. The next shorter window tells when that happens, and then measures
//! instead.

use std::collections::VecDeque;

/// Hops looked back at: about the length of the middle window.
const HOPS: usize = 8;
/// The shorter window takes over when its pitch has moved by this much within them, in cents ...
const RESTLESS: f64 = 30.0;
/// ... and hands back when it has moved by less than this.
const CALM: f64 = 20.0;

/// The last pitches of the shorter window.
#[derive(Debug)]
pub(super) struct Unrest {
    cents: VecDeque<f64>,
    restless: bool,
}

impl Unrest {
    /// A note not yet begun.
    pub(super) fn new() -> Self {
        Self {
            cents: VecDeque::with_capacity(HOPS),
            restless: false,
        }
    }

    /// Begins a new note.
    pub(super) fn clear(&mut self) {
        self.cents.clear();
        self.restless = false;
    }

    /// Whether the shorter window, which reads `hz` now, had better measure.
    pub(super) fn moves(&mut self, hz: f64) -> bool {
        if self.cents.len() == HOPS {
            self.cents.pop_front();
        }
        self.cents.push_back(1200.0 * hz.log2());
        let (low, high) = self
            .cents
            .iter()
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), c| {
                (l.min(*c), h.max(*c))
            });
        let range = high - low;
        self.restless = range > if self.restless { CALM } else { RESTLESS };
        self.restless
    }
}
