//! Which fundamental is meant: settles between the three windows and over time.
//!
//! The long window separates low partials and weak ones but still holds the note before;
//! the short one is quick but cannot separate the partials of a low note.

use super::comb::{Candidate, KNOWN, score};
use super::peaks::Peaks;
use super::spectrum::Spectrum;

/// One window's opinion.
pub(super) struct Opinion<'a> {
    /// The peaks it saw.
    pub(super) peaks: &'a Peaks,
    /// What it was read from.
    pub(super) spectrum: &'a Spectrum,
    /// Its best candidate.
    pub(super) best: Option<Candidate>,
    /// The lowest fundamental whose partials it separates.
    pub(super) lowest_hz: f64,
    /// Hops the window is long.
    pub(super) hops: u32,
}

/// How long a jump by a whole ratio must last before it is believed, in hops: one hop for
/// every eight that spoke for the note followed, so that a first guess gives way at once ...
const SUPPORT_PER_PATIENCE: u32 = 8;
/// ... and never longer than this.
const LONGEST_PATIENCE: u32 = 8;
/// The same for any other change.
const PATIENCE_CHANGE: u32 = 1;
/// Below this a note needs the longest window, in hertz.
const LOW_HZ: f64 = 110.0;
/// A candidate below this score is no note.
const LEAST_SCORE: f64 = 0.3;

/// The fundamental being followed.
#[derive(Debug, Default)]
pub(super) struct Choice {
    followed: Option<f64>,
    /// The last fundamental that was followed for a while.
    last: Option<f64>,
    /// Hops since the note began.
    age: u32,
    /// Hops in a row that spoke for another note.
    pending: u32,
    /// Hops that spoke for this one.
    support: u32,
}

impl Choice {
    /// The fundamental heard at the last hop.
    pub(super) fn followed(&self) -> Option<f64> {
        self.followed
    }

    /// Hops since this note began.
    pub(super) fn age(&self) -> u32 {
        self.age
    }

    /// Forgets the note.
    pub(super) fn forget(&mut self) {
        *self = Self::default();
    }

    /// Notes that a new stroke of the same pitch may have begun.
    pub(super) fn struck(&mut self) {
        self.age = 0;
    }

    /// The measured frequency of the note chosen, which is followed more closely than the
    /// choice itself.
    pub(super) fn follow(&mut self, hz: f64) {
        self.followed = Some(hz);
    }

    /// The fundamental at this hop; windows from long to short. While a sound is `fading` its
    /// partials die at their own pace: an octave or twelfth that is left is no new note. The last
    /// look was `passed` hops before.
    pub(super) fn decide(
        &mut self,
        windows: &[Opinion<'_>; 3],
        fading: bool,
        passed: u32,
    ) -> Option<f64> {
        self.age = self.age.saturating_add(passed);
        let wanted = self.settle(windows);
        let Some(wanted) = wanted else {
            self.followed = None;
            self.pending = 0;
            return None;
        };
        let left_over = fading && self.last.is_some_and(|last| whole_ratio(wanted, last));
        let Some(followed) = self.followed else {
            if left_over {
                return None;
            }
            self.begin(wanted);
            return self.followed;
        };
        if same(wanted, followed) {
            self.pending = 0;
            self.support = self.support.saturating_add(passed);
            self.followed = Some(wanted);
            if self.support >= SUPPORT_PER_PATIENCE {
                self.last = self.followed;
            }
            return self.followed;
        }
        let related = whole_ratio(wanted, followed);
        if left_over || related && fading {
            self.pending = 0;
            return self.followed;
        }
        self.pending = self.pending.saturating_add(passed);
        let patience = if related {
            (self.support / SUPPORT_PER_PATIENCE).clamp(1, LONGEST_PATIENCE)
        } else {
            PATIENCE_CHANGE
        };
        let home = home(windows, followed, self.age);
        let still = score(windows[home].peaks, followed, KNOWN);
        if self.pending <= patience.max(passed) && still.score > LEAST_SCORE {
            return self.followed;
        }
        self.begin(wanted);
        self.followed
    }

    fn begin(&mut self, hz: f64) {
        self.followed = Some(hz);
        self.age = 0;
        self.pending = 0;
        self.support = 0;
    }

    fn settle(&self, windows: &[Opinion<'_>; 3]) -> Option<f64> {
        let mut chosen: Option<(Candidate, usize)> = None;
        for (index, window) in windows.iter().enumerate() {
            let Some(candidate) = window.best.filter(|c| c.score > LEAST_SCORE) else {
                continue;
            };
            let Some((held, held_in)) = chosen else {
                chosen = Some((candidate, index));
                continue;
            };
            let shorter_wins = if same(candidate.hz, held.hz) {
                true
            } else if whole_ratio(candidate.hz, held.hz) {
                // The longer window knows the octave better, once it holds only this note;
                // till then it may still hold a lower one.
                self.age < windows[held_in].hops / 2
                    && held.hz >= window.lowest_hz
                    && candidate.hz > held.hz
            } else if held.hz >= window.lowest_hz {
                score(window.peaks, held.hz, KNOWN).score < 0.6 * candidate.score
            } else {
                // The held one is too low for this window: it must be strong in its own.
                held.score < candidate.score
            };
            if shorter_wins {
                chosen = Some((candidate, index));
            }
        }
        chosen.map(|(candidate, _)| candidate.hz)
    }
}

/// The window in which a fundamental is measured: the longest for the lowest notes, the
/// middle one for all others, or a shorter one still while the note is young.
pub(super) fn home(windows: &[Opinion<'_>; 3], hz: f64, age: u32) -> usize {
    let by_register = usize::from(hz >= LOW_HZ);
    (by_register..windows.len())
        .find(|&i| age >= windows[i].hops * 7 / 10 || i + 1 == windows.len())
        .filter(|&i| hz >= windows[i].lowest_hz * 0.6)
        .unwrap_or(by_register)
}

/// Within half a semitone of one another.
fn same(a: f64, b: f64) -> bool {
    (a / b).ln().abs() < 0.029
}

/// One a small whole multiple of the other.
fn whole_ratio(a: f64, b: f64) -> bool {
    let ratio = if a > b { a / b } else { b / a };
    let whole = ratio.round();
    (2.0..=12.0).contains(&whole) && (ratio / whole - 1.0).abs() < 0.029
}
