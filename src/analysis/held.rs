//! Whether a pitch is held, as a note is, or glides, as speech does.
//!
//! A spoken vowel has a pitch at every moment, but hardly ever one that stays: within a
//! tenth of a second it moves by half a semitone, and it is over before a note would be. A
//! note settles within some 30 ms and stays; a wide vibrato is known by lasting longer than
//! a vowel.

use super::lately::Lately;

/// Hops remembered: 0.36 s, more than most vowels last.
const LONG: usize = 36;
/// A leap by more than this from one hop to the next begins another note, in cents.
const LEAP: f64 = 80.0;
/// What the partials must explain of a sound that is believed at once, or nearly so.
const PURE: f64 = 0.97;
const CLEAR: f64 = 0.93;
/// What they must explain of one that is believed for lasting.
const FAIR: f64 = 0.7;
/// Hops that a held note makes the next one trusted, and hops it must have been held for that.
const TRUST: u32 = 20;
const TRUSTED_AFTER: u32 = 20;

/// Ranges in cents that a pitch may move within so many hops. Found by comparing spoken words
/// (recorded and synthetic) with recorded and synthetic notes.
mod range {
    /// A pure sound begins to be a note.
    pub(super) const AT_ONCE: (usize, f64) = (2, 15.0);
    /// A clear one.
    pub(super) const SOON: (usize, f64) = (3, 8.0);
    /// Any sound.
    pub(super) const LATER: (usize, f64) = (7, 12.0);
    /// A sound that lasts, with vibrato, begins to be one.
    pub(super) const AT_LENGTH: (usize, f64) = (super::LONG, 150.0);
    /// A note is one no longer, while it might yet be a vowel ...
    pub(super) const GLIDE: (usize, f64) = (8, 60.0);
    pub(super) const SLOW_GLIDE: (usize, f64) = (20, 110.0);
    /// ... or having lasted longer.
    pub(super) const LONG_GLIDE: (usize, f64) = (20, 180.0);
}

/// The pitches of a run of hops that had one.
#[derive(Debug)]
pub(super) struct Held {
    lately: Lately,
    is_note: bool,
    /// Hops this note has been held.
    hops: u32,
    /// Hops for which the next note is believed on the strength of the last.
    trust: u32,
}

impl Held {
    /// Nothing heard yet.
    pub(super) fn new() -> Self {
        Self {
            lately: Lately::new(LONG),
            is_note: false,
            hops: 0,
            trust: 0,
        }
    }

    /// Forgets all it heard.
    pub(super) fn forget(&mut self) {
        self.begin();
        self.trust = 0;
    }

    /// No pitch, `passed` hops after the last look.
    pub(super) fn pause(&mut self, passed: u32) {
        self.begin();
        self.trust = self.trust.saturating_sub(passed);
    }

    /// Takes the pitch of a hop, of which the partials explain `share`; says whether it is
    /// that of a note. Speech is breathy: the less `confidence` there is in a pitch, the
    /// stiller a note must be. The last pitch was taken `passed` hops before.
    pub(super) fn holds(&mut self, hz: f64, share: f64, confidence: f64, passed: u32) -> bool {
        if self.lately.leap(hz) > LEAP {
            self.begin();
        }
        self.lately.reach(hz, passed);
        self.is_note = if self.is_note {
            !self.glides(confidence)
        } else {
            self.trust > 0 && share >= FAIR
                || share >= PURE && self.within(range::AT_ONCE)
                || share >= CLEAR && self.within(range::SOON)
                || self.within(range::LATER)
                || share >= FAIR && self.within(range::AT_LENGTH)
        };
        if self.is_note {
            self.hops += passed;
            if self.hops >= TRUSTED_AFTER {
                self.trust = TRUST;
            }
        } else {
            self.hops = 0;
            self.trust = self.trust.saturating_sub(passed);
        }
        self.is_note
    }

    fn begin(&mut self) {
        self.lately.clear();
        self.is_note = false;
        self.hops = 0;
    }

    fn glides(&self, confidence: f64) -> bool {
        let moves =
            |(hops, cents): (usize, f64), share: f64| self.lately.range(hops) > cents * share;
        if self.lately.hops() == LONG {
            moves(range::LONG_GLIDE, 1.0)
        } else {
            moves(range::GLIDE, 0.3 + 0.7 * confidence) || moves(range::SLOW_GLIDE, 1.0)
        }
    }

    /// Whether the pitch has lasted for so many hops and kept within so many cents.
    fn within(&self, (hops, cents): (usize, f64)) -> bool {
        self.lately.hops() >= hops && self.lately.range(hops) <= cents
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn share_held(cents: impl Fn(f64) -> f64, share: f64, seconds: f64) -> f64 {
        let mut held = Held::new();
        let hops = (seconds * 100.0) as usize;
        let count = (0..hops)
            .filter(|hop| {
                let hz = 220.0 * (cents(*hop as f64 * 0.01) / 1200.0).exp2();
                held.holds(hz, share, ((share - 0.35) / 0.6).clamp(0.0, 1.0), 1)
            })
            .count();
        count as f64 / hops as f64
    }

    #[test]
    fn a_still_note_is_held_from_its_second_hop() {
        assert!(share_held(|_| 0.0, 0.99, 1.0) > 0.985);
    }

    #[test]
    fn vibrato_is_held_even_a_wide_one_in_the_end() {
        let swing = |extent: f64| move |t: f64| extent * (34.6 * t).sin();
        assert!(share_held(swing(20.0), 0.98, 2.0) > 0.95);
        assert!(share_held(swing(60.0), 0.98, 2.0) > 0.8);
    }

    #[test]
    fn a_falling_voice_is_no_note() {
        // Seven semitones a second, in vowels of 0.2 s.
        assert!(share_held(|t| -700.0 * t, 0.75, 0.2) < 0.1);
    }

    #[test]
    fn a_note_after_a_held_one_is_believed_at_once() {
        let mut held = Held::new();
        for _ in 0..30 {
            held.holds(220.0, 0.9, 0.9, 1);
        }
        held.pause(1);
        assert!(held.holds(330.0, 0.9, 0.9, 1));
        for _ in 0..TRUST {
            held.pause(1);
        }
        assert!(!held.holds(220.0, 0.9, 0.9, 1));
    }
}
