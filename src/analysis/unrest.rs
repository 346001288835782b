//! Whether a pitch moves too fast for the window it is measured in.
//!
//! Within a long window a deep vibrato spreads each partial over several peaks, so that the
//! fit jumps between them. The next shorter window tells when that happens, and then measures
//! instead; for the longest one the vibrato that `motion` finds tells it.

use super::lately::Lately;

/// Hops within which a pitch must move to be restless: about the length of the middle window.
const SOON: usize = 8;
/// Hops for which it must then keep still: about one swing of a vibrato.
const LATE: usize = 20;
/// The movement, in bins of the longer window at the fundamental, that spreads its partials.
const RESTLESS_BINS: f64 = 1.2;
/// The same in cents, at least and at most.
const RESTLESS_CENTS: (f64, f64) = (15.0, 60.0);
/// The share of that which is still again.
const CALM: f64 = 0.7;

/// The last pitches of the shorter window.
#[derive(Debug)]
pub(super) struct Unrest {
    lately: Lately,
    restless: bool,
}

impl Unrest {
    /// A note not yet begun.
    pub(super) fn new() -> Self {
        Self {
            lately: Lately::new(LATE),
            restless: false,
        }
    }

    /// Begins a new note.
    pub(super) fn clear(&mut self) {
        self.lately.clear();
        self.restless = false;
    }

    /// Whether the shorter window, which reads `hz` now, had better measure than one whose
    /// bins are `bin_hz` wide. The last look was `passed` hops before.
    pub(super) fn moves(&mut self, hz: f64, bin_hz: f64, passed: u32) -> bool {
        self.lately.reach(hz, passed);
        let (least, most) = RESTLESS_CENTS;
        let limit = (1200.0 * (1.0 + RESTLESS_BINS * bin_hz / hz).log2()).clamp(least, most);
        self.restless = if self.restless {
            self.lately.range(LATE) > CALM * limit
        } else {
            self.lately.range(SOON) > limit
        };
        self.restless
    }
}
