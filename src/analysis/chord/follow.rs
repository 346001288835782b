//! Voices over time: who is who from one update to the next.

use super::heard::{HeardVoice, Place, VoiceStatus};
use super::trail::cents_between;

/// A voice moves no farther than this between two updates, in cents.
const REACH: f64 = 30.0;
/// A followed voice keeps its place while it stands no farther from it, in cents.
const KEPT: f64 = 48.0;
/// What a change of place costs in cents, so that a label is not lost half-way.
const OTHER_PLACE: f64 = 15.0;
/// A voice that is missing is remembered for so many updates.
const REMEMBERED: u8 = 3;

#[derive(Debug, Clone, Copy)]
struct Followed {
    identity: u32,
    place: usize,
    hz: f64,
    missing: u8,
    /// Whether it has been known by its place while no other stood beside it.
    is_named: bool,
}

/// Remembers the voices of a channel.
#[derive(Debug, Default)]
pub(super) struct Following {
    known: Vec<Followed>,
    next: u32,
}

impl Following {
    /// Forgets everyone.
    pub(super) fn forget(&mut self) {
        self.known.clear();
    }

    /// The pitches of the voices that sounded a moment ago.
    pub(super) fn pitches(&self) -> Vec<f64> {
        self.known.iter().map(|known| known.hz).collect()
    }

    /// Gives every voice the identity it had, or a new one, and says of two almost in unison
    /// whether it is known which is which.
    pub(super) fn name(&mut self, voices: &mut [HeardVoice], places: &[Place]) {
        let mut pairs: Vec<(f64, usize, usize)> = Vec::new();
        for (voice, heard) in voices.iter().enumerate() {
            for (index, known) in self.known.iter().enumerate() {
                let moved = cents_between(heard.hertz.get(), known.hz).abs();
                let other = if heard.place == known.place {
                    0.0
                } else {
                    OTHER_PLACE
                };
                if moved <= REACH {
                    pairs.push((moved + other, voice, index));
                }
            }
        }
        pairs.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut of_voice = vec![None; voices.len()];
        let mut is_taken = vec![false; self.known.len()];
        for (_, voice, index) in pairs {
            if of_voice[voice].is_none() && !is_taken[index] {
                of_voice[voice] = Some(index);
                is_taken[index] = true;
            }
        }
        let mut now: Vec<Followed> = Vec::new();
        for (voice, heard) in voices.iter_mut().enumerate() {
            let before = of_voice[voice].map(|index: usize| self.known[index]);
            let identity = before.map_or_else(
                || {
                    self.next += 1;
                    self.next
                },
                |before| before.identity,
            );
            // A place is kept as long as it is near: labels must not swap.
            if let Some(before) = before
                && places.get(before.place).is_some_and(|place| {
                    cents_between(heard.hertz.get(), place.hertz.get()).abs() <= KEPT
                })
            {
                heard.place = before.place;
            }
            heard.identity = identity;
            now.push(Followed {
                identity,
                place: heard.place,
                hz: heard.hertz.get(),
                missing: 0,
                is_named: heard.beating.is_none() || before.is_some_and(|before| before.is_named),
            });
        }
        let named: Vec<bool> = now.iter().map(|followed| followed.is_named).collect();
        for (voice, heard) in voices.iter_mut().enumerate() {
            // Where one of two is known, so is the other.
            heard.is_named =
                named[voice] || heard.beating.is_some_and(|beating| named[beating.with]);
            if heard.status == VoiceStatus::Absent {
                heard.is_named = true;
            }
        }
        let missing = self.known.iter().zip(is_taken).filter(|(_, taken)| !taken);
        let kept = missing.filter_map(|(known, _)| {
            let mut known = *known;
            known.missing += 1;
            (known.missing <= REMEMBERED).then_some(known)
        });
        now.extend(kept);
        self.known = now;
    }
}
