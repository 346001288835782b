//! Voices over time: who is who from one update to the next, and whose voice it is.

use super::heard::{HeardVoice, Place, Sought, VoiceStatus};
use super::trail::cents_between;

/// A voice moves no farther than this between two updates, in cents.
const REACH: f64 = 30.0;
/// What a change of place costs in cents: as much as decides between equals.
const OTHER_PLACE: f64 = 2.0;
/// A followed voice keeps its place while it stands no farther from it, in cents.
const KEPT: f64 = 48.0;
/// Places of two companies nearer than this to a voice cannot be told apart by its pitch.
const EITHER: f64 = 30.0;
/// Two almost in unison share out the places within this reach, in cents.
const UNISON: f64 = 60.0;
/// A voice that is missing is remembered for so many updates.
const REMEMBERED: u8 = 3;

#[derive(Debug, Clone, Copy)]
struct Followed {
    identity: u32,
    place: usize,
    hz: f64,
    missing: u8,
    /// Whether it was known whose voice it is.
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

    /// Gives every voice the identity it had, or a new one; sees to it that no two have one
    /// place; and says whether it is known whose voice each is.
    pub(super) fn name(&mut self, voices: &mut [HeardVoice], sought: &Sought) {
        let before = self.match_up(voices);
        let places = sought.places();
        for (voice, before) in voices.iter_mut().zip(&before) {
            voice.identity = before.map_or_else(
                || {
                    self.next += 1;
                    self.next
                },
                |before| before.identity,
            );
        }
        share_out(voices, &before, sought);
        let was_named = |index: usize| before[index].is_some_and(|before| before.is_named);
        let names: Vec<(bool, Option<usize>)> = voices
            .iter()
            .enumerate()
            .map(|(index, voice)| match voice.beating {
                _ if voice.status == VoiceStatus::Absent => (true, None),
                // Where one of two is known, so is the other.
                Some(beating) => {
                    let is_named = was_named(index) || was_named(beating.with);
                    (is_named, (!is_named).then_some(voices[beating.with].place))
                }
                None => match sought {
                    Sought::Expected(_) => (true, None),
                    Sought::Free { .. } => {
                        let other = other_company(voice, places, EITHER);
                        (other.is_none(), other)
                    }
                },
            })
            .collect();
        let mut now: Vec<Followed> = Vec::new();
        for (voice, (is_named, or_place)) in voices.iter_mut().zip(names) {
            (voice.is_named, voice.or_place) = (is_named, or_place);
            now.push(Followed {
                identity: voice.identity,
                place: voice.place,
                hz: voice.hertz.get(),
                missing: 0,
                is_named,
            });
        }
        let gone = self.known.iter().filter(|known| {
            let is_here = |voice: &HeardVoice| voice.identity == known.identity;
            !voices.iter().any(is_here)
        });
        let kept = gone.filter_map(|known| {
            let mut known = *known;
            known.missing += 1;
            (known.missing <= REMEMBERED).then_some(known)
        });
        now.extend(kept);
        self.known = now;
    }

    /// Who each voice was: whoever stood nearest to its pitch.
    fn match_up(&self, voices: &[HeardVoice]) -> Vec<Option<Followed>> {
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
        let mut before = vec![None; voices.len()];
        let mut is_taken = vec![false; self.known.len()];
        for (_, voice, index) in pairs {
            if before[voice].is_none() && !is_taken[index] {
                before[voice] = Some(self.known[index]);
                is_taken[index] = true;
            }
        }
        before
    }
}

/// Keeps the places of followed voices as long as they are near; whoever then stands on
/// another's place gets the one that is left, or the other company's.
fn share_out(voices: &mut [HeardVoice], before: &[Option<Followed>], sought: &Sought) {
    let places = sought.places();
    let is_near = |voice: &HeardVoice, place: usize, reach: f64| {
        places
            .get(place)
            .is_some_and(|place| cents_between(voice.hertz.get(), place.hertz.get()).abs() <= reach)
    };
    let found: Vec<usize> = voices.iter().map(|voice| voice.place).collect();
    for (voice, before) in voices.iter_mut().zip(before) {
        if let Some(before) = before
            && is_near(voice, before.place, KEPT)
        {
            voice.place = before.place;
        }
    }
    for index in 0..voices.len() {
        let is_taken = |place: usize, voices: &[HeardVoice]| {
            let mut others = voices.iter().enumerate();
            others.any(|(other, voice)| other != index && voice.place == place)
        };
        // The one that was there before stays; of two newcomers the second moves.
        let moves = voices.iter().enumerate().any(|(other, voice)| {
            let is_later = match (before[index], before[other]) {
                (None, Some(_)) => true,
                (Some(_), None) => false,
                _ => index > other,
            };
            other != index && voice.place == voices[index].place && is_later
        });
        if !moves {
            continue;
        }
        let given_up = found
            .iter()
            .copied()
            .find(|place| is_near(&voices[index], *place, UNISON) && !is_taken(*place, voices));
        let other = other_company(&voices[index], places, UNISON)
            .filter(|place| matches!(sought, Sought::Free { .. }) && !is_taken(*place, voices));
        if let Some(place) = given_up.or(other) {
            voices[index].place = place;
        }
    }
}

/// The nearest place of the company that the voice's own place is not of, within `reach`.
fn other_company(voice: &HeardVoice, places: &[Place], reach: f64) -> Option<usize> {
    let own = places.get(voice.place)?.company;
    let all = places.iter().enumerate();
    all.filter(|(_, place)| place.company != own)
        .map(|(index, place)| {
            let cents = cents_between(voice.hertz.get(), place.hertz.get()).abs();
            (index, cents)
        })
        .filter(|(_, cents)| *cents <= reach)
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .map(|(index, _)| index)
}
