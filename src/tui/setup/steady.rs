//! When a note has stood still long enough to be measured.

use std::collections::VecDeque;

use crate::analysis::Reading;
use crate::units::{Cents, Hertz, Seconds};

/// A note is measured once it has stood for so long.
pub(super) const HELD: Seconds = Seconds::new(1.0);
/// Readings of one note lie within this of one another: a string that dies away sinks a little.
const STILL: Cents = Cents::new(6.0);
/// Readings less sure than this do not count.
const SURE: Cents = Cents::new(6.0);
/// A note that is not heard for so long has ended.
const GAP: Seconds = Seconds::new(0.25);

/// A note that stood still.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Held {
    pub(super) hertz: Hertz,
    pub(super) margin: Cents,
}

/// Follows one input.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Steady {
    /// The latest second of the note at most.
    notes: VecDeque<(Seconds, Held)>,
    since: Option<Seconds>,
}

impl Steady {
    /// Takes the next reading of the input.
    pub(super) fn push(&mut self, reading: &Reading) {
        if let Some((last, _)) = self.notes.back()
            && (reading.time - *last > GAP || reading.time < *last)
        {
            self.clear();
        }
        let Ok(pitch) = reading.pitch else { return };
        if pitch.margin > SURE {
            return;
        }
        let held = Held {
            hertz: pitch.hertz,
            margin: pitch.margin,
        };
        let is_other = |(_, of): &(Seconds, Held)| held.hertz.above(of.hertz).abs() > STILL;
        // One stray reading is the ear's; the next one of the old note would clear it again.
        if self.notes.iter().any(is_other) {
            self.clear();
        }
        self.since.get_or_insert(reading.time);
        self.notes.push_back((reading.time, held));
        while self
            .notes
            .front()
            .is_some_and(|(time, _)| reading.time - *time > HELD)
        {
            self.notes.pop_front();
        }
    }

    fn clear(&mut self) {
        self.notes.clear();
        self.since = None;
    }

    /// When the note began that sounds, if one does at `now`.
    pub(super) fn since(&self, now: Seconds) -> Option<Seconds> {
        let (last, _) = self.notes.back()?;
        self.since.filter(|_| now - *last <= GAP)
    }

    /// The pitch of the moment.
    pub(super) fn sounding(&self, now: Seconds) -> Option<Held> {
        self.since(now)?;
        self.notes.back().map(|(_, held)| *held)
    }

    /// The share of the time that is needed, 0 to 1.
    pub(super) fn share(&self, now: Seconds) -> f64 {
        let Some(since) = self.since(now) else {
            return 0.0;
        };
        let last = self.notes.back().map_or(since, |(time, _)| *time);
        ((last - since).get() / HELD.get()).clamp(0.0, 1.0)
    }

    /// The note, once it has stood for `wanted`: its median, with a margin that holds its own
    /// wandering too.
    pub(super) fn held_for(&self, wanted: Seconds) -> Option<Held> {
        let (last, _) = self.notes.back()?;
        if *last - self.since? < wanted {
            return None;
        }
        let mut hertz: Vec<f64> = self
            .notes
            .iter()
            .map(|(_, held)| held.hertz.get())
            .collect();
        hertz.sort_by(f64::total_cmp);
        let middle = Hertz::new(*hertz.get(hertz.len() / 2)?).ok()?;
        let ends = (
            Hertz::new(*hertz.first()?).ok()?,
            Hertz::new(*hertz.last()?).ok()?,
        );
        let mut margins: Vec<f64> = self
            .notes
            .iter()
            .map(|(_, held)| held.margin.get())
            .collect();
        margins.sort_by(f64::total_cmp);
        let margin = margins[margins.len() / 2].max(ends.1.above(ends.0).get() / 2.0);
        Some(Held {
            hertz: middle,
            margin: Cents::new(margin),
        })
    }
}
