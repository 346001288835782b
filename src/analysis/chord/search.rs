//! Which voices sound: proposed one by one, each where it adds most to the evidence, doubted
//! one by one, and then proposed once more where the first look may have been too strict.

use super::belief::{Levels, odds, traits};
use super::candidates::{Candidate, candidates, far, nearest};
use super::ground::Ground;
use super::heard::{Company, Place};
use super::pitches::{Stage, bend, climb, untangle};
use super::span::Span;
use super::trail::{Trail, cents_between};

/// Voices nearer than this to each other, in cents, need two companies.
const UNISON: f64 = 60.0;
/// Lines that are looked at in the search, in hertz.
const LIMIT_HZ: f64 = 3000.0;
/// How far windows may depart from a line of pitch, in cents.
const BEND: f64 = 3.0;

/// The gain a voice must bring in the first search; what its fundamental must bring before
/// the gain counts fully; and the least share that counts.
const LEAST_GAIN: f64 = 20.0;
const FULL_FUNDAMENTAL: f64 = 60.0;
const LEAST_FUNDAMENTAL: f64 = 5.0;
/// Voices proposed beyond the most that may sound, so that doubt has a choice.
const SPARE: usize = 3;
/// Second proposals: the gain they must bring, how many are tried, and how often.
const LEAST_GAIN_AGAIN: f64 = 5.0;
const TRIED_AGAIN: usize = 8;
const ROUNDS_AGAIN: usize = 3;
/// Log odds at which a voice is kept.
const KEPT: f64 = 0.4;
/// Log odds beforehand: of a voice that sounded a moment ago, no more than [`SAME`] cents away;
/// of trumpets, which have few places and are seldom mistaken; and of the weaker of two almost
/// in unison, which wander can feign.
const FOLLOWED: f64 = 1.0;
const SAME: f64 = 25.0;
const TRUMPETS: f64 = 1.4;
const WEAKER_TWIN: f64 = -1.7;

/// A search over `places` for `most` voices at the utmost.
pub(super) struct Search<'a> {
    span: &'a Span,
    places: &'a [Place],
    most: usize,
    /// Pitches of voices that sounded a moment ago.
    followed: &'a [f64],
    candidates: Vec<Candidate>,
}

impl<'a> Search<'a> {
    pub(super) fn new(
        span: &'a Span,
        places: &'a [Place],
        most: usize,
        followed: &'a [f64],
    ) -> Self {
        Self {
            span,
            places,
            most,
            followed,
            candidates: candidates(span, places),
        }
    }

    /// The voices that sound, in no order.
    pub(super) fn find(&self, ground: &mut Ground) -> Vec<Trail> {
        let mut voices = self.propose(ground);
        untangle(self.span, &mut voices, ground, 2.0);
        self.refine(&mut voices, [1.5, 0.5], ground);
        self.doubt(&mut voices, ground);
        self.propose_again(&mut voices, ground);
        untangle(self.span, &mut voices, ground, 2.0);
        self.put_in_place(&mut voices);
        voices
    }

    /// Gives every voice the place nearest to it, and two almost in unison a place of each
    /// company where that is possible: whichever way round the distances are less.
    fn put_in_place(&self, voices: &mut [Trail]) {
        for voice in voices.iter_mut() {
            if let Some(place) = nearest(self.places, voice.hz()) {
                self.place_at(voice, place);
            }
        }
        for a in 1..voices.len() {
            for b in 0..a {
                let (hz, other_hz) = (voices[a].hz(), voices[b].hz());
                if far(hz, other_hz, UNISON) {
                    continue;
                }
                let of = |company: Company, hz: f64| {
                    let places = self.places.iter().enumerate();
                    places
                        .filter(|(_, place)| place.company == company)
                        .map(|(index, place)| (index, cents_between(hz, place.hertz.get()).abs()))
                        .min_by(|a, b| a.1.total_cmp(&b.1))
                };
                let way = |first: Company, second: Company| {
                    let (first, second) = (of(first, hz)?, of(second, other_hz)?);
                    (first.1.max(second.1) < UNISON).then_some((first, second))
                };
                let ways = [
                    way(Company::Trumpets, Company::Others),
                    way(Company::Others, Company::Trumpets),
                ];
                let nearer = ways.into_iter().flatten().min_by(|x, y| {
                    let sum = |way: &((usize, f64), (usize, f64))| way.0.1 + way.1.1;
                    sum(x).total_cmp(&sum(y))
                });
                if let Some((first, second)) = nearer {
                    self.place_at(&mut voices[a], first.0);
                    self.place_at(&mut voices[b], second.0);
                }
            }
        }
    }

    fn place_at(&self, voice: &mut Trail, place: usize) {
        let hz = voice.hz();
        voice.place = place;
        voice.place_hz = self.places[place].hertz.get();
        voice.cents = cents_between(hz, voice.place_hz);
    }

    /// The voices that sounded a moment ago, and then others one by one, the strongest first.
    fn propose(&self, ground: &mut Ground) -> Vec<Trail> {
        let mut voices: Vec<Trail> = Vec::new();
        let mut tried: Vec<f64> = Vec::new();
        for hz in self.followed {
            if let Some(place) = nearest(self.places, *hz) {
                let place_hz = self.places[place].hertz.get();
                voices.push(Trail::at(place, place_hz).raised(cents_between(*hz, place_hz)));
            }
        }
        self.refine(&mut voices, [3.0, 1.0], ground);
        while voices.len() < self.most + SPARE {
            ground.set(self.span, &voices, &[], LIMIT_HZ);
            let found = self
                .candidates
                .iter()
                .filter(|candidate| tried.iter().all(|hz| far(*hz, candidate.hz, 1.0)))
                .filter_map(|candidate| self.best_near(candidate, &voices, ground, true))
                .max_by(|a, b| a.0.total_cmp(&b.0));
            let Some((_, trail)) = found.filter(|(gain, _)| *gain > LEAST_GAIN) else {
                break;
            };
            let around = if self.most_near(trail.hz()) < 2 {
                15.0
            } else {
                1.0
            };
            let taken = self.candidates.iter().map(|candidate| candidate.hz);
            tried.extend(taken.filter(|hz| !far(*hz, trail.hz(), around)));
            tried.push(trail.hz());
            voices.push(trail);
            self.refine(&mut voices, [3.0, 1.0], ground);
        }
        voices
    }

    /// Where near `candidate` a voice would gain most, and how much.
    fn best_near(
        &self,
        candidate: &Candidate,
        voices: &[Trail],
        ground: &mut Ground,
        by_fundamental: bool,
    ) -> Option<(f64, Trail)> {
        const ALONE: [f64; 7] = [-12.0, -8.0, -4.0, 0.0, 4.0, 8.0, 12.0];
        const BESIDE: [f64; 8] = [-30.0, -20.0, -12.0, -7.0, 7.0, 12.0, 20.0, 30.0];
        let near = voices.iter().filter(|v| !far(v.hz(), candidate.hz, UNISON));
        let near = near.count();
        if near >= self.most_near(candidate.hz) {
            return None;
        }
        let place_hz = self.places[candidate.place].hertz.get();
        let start = cents_between(candidate.hz, place_hz);
        let offsets: &[f64] = if near > 0 { &BESIDE } else { &ALONE };
        offsets
            .iter()
            .map(|offset| {
                let trail = Trail::at(candidate.place, place_hz).raised(start + offset);
                let mut gain = ground.gain(self.span, &trail);
                if by_fundamental {
                    let first = ground.gain_of_lines(self.span, &trail, 1);
                    gain *= (first.max(LEAST_FUNDAMENTAL) / FULL_FUNDAMENTAL).min(1.0);
                }
                (gain, trail)
            })
            .max_by(|a, b| a.0.total_cmp(&b.0))
    }

    /// Leaves out the least likely voice as long as it is unlikely.
    fn doubt(&self, voices: &mut Vec<Trail>, ground: &mut Ground) {
        while !voices.is_empty() {
            let levels = Levels::new(self.span, voices);
            let worst = (0..voices.len())
                .map(|voice| (self.odds(voices, voice, &levels, ground), voice))
                .min_by(|a, b| a.0.total_cmp(&b.0));
            let Some((worst_odds, voice)) = worst else {
                break;
            };
            if worst_odds >= KEPT && voices.len() <= self.most {
                break;
            }
            voices.remove(voice);
            self.refine(voices, [1.5, 0.5], ground);
        }
    }

    /// What the first search passed over because something lower explained it as well.
    fn propose_again(&self, voices: &mut Vec<Trail>, ground: &mut Ground) {
        for _ in 0..ROUNDS_AGAIN {
            if voices.len() >= self.most {
                break;
            }
            ground.set(self.span, voices, &[], LIMIT_HZ);
            let mut found: Vec<(f64, Trail)> = self
                .candidates
                .iter()
                .filter_map(|candidate| self.best_near(candidate, voices, ground, false))
                .filter(|(gain, _)| *gain > LEAST_GAIN_AGAIN)
                .collect();
            found.sort_by(|a, b| b.0.total_cmp(&a.0));
            let likeliest = found
                .into_iter()
                .take(TRIED_AGAIN)
                .map(|(_, trail)| {
                    let mut with = voices.clone();
                    with.push(trail);
                    self.refine(&mut with, [2.0, 0.7], ground);
                    let levels = Levels::new(self.span, &with);
                    let last = with.len() - 1;
                    (self.odds(&with, last, &levels, ground), with)
                })
                .max_by(|a, b| a.0.total_cmp(&b.0));
            let Some((_, with)) = likeliest.filter(|(likely, _)| *likely >= KEPT) else {
                break;
            };
            *voices = with;
            self.doubt(voices, ground);
        }
    }

    /// The log odds that a voice sounds.
    fn odds(&self, voices: &[Trail], voice: usize, levels: &Levels, ground: &mut Ground) -> f64 {
        let hz = voices[voice].hz();
        let mut likely = odds(&traits(self.span, voices, voice, levels, ground));
        if self.followed.iter().any(|before| !far(*before, hz, SAME)) {
            likely += FOLLOWED;
        }
        if self.places[voices[voice].place].company == Company::Trumpets {
            likely += TRUMPETS;
        }
        let is_weaker_twin = voices.iter().enumerate().any(|(other, trail)| {
            other != voice
                && !far(trail.hz(), hz, UNISON)
                && levels.level(other) > levels.level(voice)
        });
        if is_weaker_twin {
            likely += WEAKER_TWIN;
        }
        likely
    }

    fn refine(&self, voices: &mut [Trail], steps: [f64; 2], ground: &mut Ground) {
        let stages = steps.map(|step| Stage {
            limit_hz: LIMIT_HZ,
            step,
            slopes: false,
        });
        climb(self.span, voices, ground, &stages);
        bend(self.span, voices, ground, LIMIT_HZ, BEND);
    }

    /// The most voices that can stand within a unison's reach of `hz`.
    fn most_near(&self, hz: f64) -> usize {
        let stands = |company| {
            self.places
                .iter()
                .any(|place| place.company == company && !far(place.hertz.get(), hz, UNISON))
        };
        let both = stands(Company::Trumpets) && stands(Company::Others);
        if both { 2 } else { 1 }
    }
}
