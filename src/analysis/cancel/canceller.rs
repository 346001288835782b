//! Takes the drone out of what the microphone hears, hop by hop.

use std::collections::VecDeque;

use rustfft::num_complex::Complex;

use super::arrival::Arrival;
use super::clock::Clock;
use super::group::Group;
use super::path::Path;
use super::reference::Reference;
use super::swell::Swell;
use super::{HeardThrough, Leak};
use crate::analysis::{HOP, NoPitch, Reading};
use crate::drone::Passage;
use crate::units::{Dbfs, Hertz, SampleRate, Seconds};

/// What is left counts as quiet so far below the drone, in power: 28 dB. A player softer than
/// that is not heard.
const QUIET: f64 = 1.6e-3;
/// Of what is left, the share that stands still on the drone's frequencies, from which on it is
/// the drone's, or somebody who cannot be told from it.
const ON_DRONE: f64 = 0.5;
/// A note is near the drone if every partial lies so near to one of its own ...
const NEAR_HZ: f64 = 0.5;
/// ... or so many cents, if that is more. Then it must be louder than what a drone that is not
/// quite taken out leaves there.
const NEAR_CENTS: f64 = 5.0;
const LOUDER: f64 = 10.0 * QUIET;
/// ... and if it lies so near that no beat can be counted, nobody can tell it from a drone whose
/// way has changed ...
const ON_HZ: f64 = 0.25;
const ON_CENTS: f64 = 2.0;
/// ... unless it is louder than any change could make it: 20 dB.
const MUCH_LOUDER: f64 = 100.0;
/// What is left is mostly the drone's if so much of it keeps to the drone's frequencies.
const MOSTLY: f64 = 0.7;
/// The player's partials that are compared with the drone's.
const PARTIALS: usize = 6;
/// What stands still beside the drone for so long is taken to be a change of its way.
const CHANGED_S: f64 = 1.5;
/// ... for so long, if all of it changed alike: somebody turned a knob.
const TURNED_S: f64 = 0.3;
/// For so long it may have been a player after all.
const DOUBTED_S: f64 = 8.0;
/// After a change nothing is read for so long: the ear's window still holds it.
const CHANGE_S: f64 = 0.18;
/// ... and faint sounds are not trusted for so long.
const SETTLED_S: f64 = 1.2;
/// What is known so long after a change is what is gone back to, in seconds.
const RESTING_S: f64 = 0.5;
/// A note near the drone with every other partial is believed after so many hops.
const BELIEVED_HOPS: u32 = 40;
/// Over how many hops what is left is averaged: as long as the ear listens.
const LEFT_HOPS: usize = 9;
/// How fast the best depth is forgotten, in decibels a second.
const DEPTH_FORGOTTEN_DB: f64 = 0.2;
/// Ways that are remembered.
const MOST_REMEMBERED: usize = 400;
/// How well the ways are known before anything is read, in power.
const SURE: f64 = 0.03;
/// How much stronger than by chance a way must be to count as heard.
const HEARD: f64 = 12.0;
/// A way that counts as heard may become weaker by so much.
const STILL_HEARD: f64 = 4.0;

/// What is known of the stream that plays the drone.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Output {
    rate_hz: f64,
    /// The loudspeaker's frame with which the next hop's first sample was played.
    frame: f64,
    latency_s: Option<f64>,
}

/// Takes a known drone out of one channel.
pub struct Canceller {
    rate: SampleRate,
    hop: usize,
    waiting: Vec<f32>,
    output: Option<Output>,
    clock: Clock,
    /// The latency that was found last, in seconds.
    usual_s: Option<f64>,
    reference: Reference,
    paths: Vec<Path>,
    groups: Vec<Group>,
    told: VecDeque<Passage>,
    arrival: Option<Arrival>,
    remembered: VecDeque<Path>,
    is_heard: bool,
    /// Mean square of what is left, and of its part that stands still on the drone.
    left: f64,
    squares: [f64; LEFT_HOPS],
    still: f64,
    /// The same over a shorter time.
    lately: f64,
    drone: f64,
    /// What may be left of it by what is known.
    unsure: f64,
    /// How far below the drone that part lies when nobody plays.
    depth_db: f64,
    /// How long something has stood still on the drone, in seconds.
    standing_s: f64,
    /// How long ago a way was taken to have changed, in seconds, while that is in doubt.
    doubted_s: Option<f64>,
    /// Seconds since the last change of what is played.
    unchanged_s: f64,
    /// Readings in a row that lay near the drone with every other partial at least.
    near_hops: u32,
    swell: Swell,
    projections: Vec<Complex<f64>>,
}

impl Canceller {
    /// A canceller for a microphone at `rate`. It lets everything pass until it has been told of
    /// an output and of something that is played.
    pub fn new(rate: SampleRate) -> Self {
        let hop = rate.frames_in(HOP).get() as usize;
        Self {
            rate,
            hop,
            waiting: Vec::with_capacity(hop),
            output: None,
            clock: Clock::new(),
            usual_s: None,
            reference: Reference::new(rate.hz(), hop),
            paths: Vec::new(),
            groups: Vec::new(),
            told: VecDeque::new(),
            arrival: None,
            remembered: VecDeque::new(),
            is_heard: false,
            left: 0.0,
            squares: [0.0; LEFT_HOPS],
            still: 0.0,
            lately: 0.0,
            drone: 0.0,
            unsure: 0.0,
            depth_db: 0.0,
            standing_s: 0.0,
            doubted_s: None,
            unchanged_s: f64::INFINITY,
            near_hops: 0,
            swell: Swell::new(),
            projections: Vec::new(),
        }
    }

    /// The loudspeaker's stream of this rate gives out `frames` now, as the next sample comes
    /// in. To be told once for each stream of either side: from there on the clocks are
    /// followed by ear.
    pub fn begin(&mut self, rate: SampleRate, frames: f64) {
        self.output = Some(Output {
            rate_hz: rate.hz(),
            frame: frames - self.waiting.len() as f64 * rate.hz() / self.rate.hz(),
            latency_s: None,
        });
        self.clock = Clock::new();
        self.reference = Reference::new(rate.hz(), self.hop);
        self.told.clear();
        self.forget();
    }

    /// Nothing is known of the loudspeaker any more, or samples were lost.
    pub fn end(&mut self) {
        self.waiting.clear();
        self.output = None;
        self.told.clear();
        self.reference = Reference::new(self.rate.hz(), self.hop);
        self.forget();
    }

    fn forget(&mut self) {
        self.paths.clear();
        self.groups.clear();
        self.remembered.clear();
        self.arrival = None;
        self.is_heard = false;
        (self.left, self.still, self.drone, self.depth_db) = (0.0, 0.0, 0.0, 0.0);
        self.standing_s = 0.0;
        self.doubted_s = None;
        self.swell.clear();
    }

    /// What is played from some frame of the present stream on; in order.
    pub fn tell(&mut self, passage: Passage) {
        self.told.push_back(passage);
    }

    /// Takes samples, and hands on what is left of them without the drone, a hop at a time and
    /// so up to a hop later.
    pub fn take(
        &mut self,
        samples: impl IntoIterator<Item = f32>,
        mut each: impl FnMut(&mut Self, &[f32]),
    ) {
        for sample in samples {
            let sample = if sample.is_finite() { sample } else { 0.0 };
            self.waiting.push(sample);
            if self.waiting.len() == self.hop {
                let mut hop = std::mem::take(&mut self.waiting);
                self.cancel(&mut hop);
                each(self, &hop);
                hop.clear();
                self.waiting = hop;
            }
        }
    }

    fn hop_s(&self) -> f64 {
        self.hop as f64 / self.rate.hz()
    }

    fn cancel(&mut self, samples: &mut [f32]) {
        let Some(mut output) = self.output else {
            return;
        };
        let advance = output.rate_hz / self.rate.hz() * (1.0 + self.clock.skew());
        self.go_over(&output, advance);
        self.unchanged_s += self.hop_s();
        if !self.reference.changes(output.frame) && self.reference.settle() {
            self.match_paths();
        }
        if self.reference.is_silent() {
            self.clock.pass(self.hop_s());
        } else {
            let moved = self.subtract_and_learn(&output, advance, samples);
            output.frame += moved * output.rate_hz;
        }
        self.await_arrival(&mut output, advance, samples);
        output.frame += advance * self.hop as f64;
        self.output = Some(output);
    }

    /// Goes over to what is played by now, as far as its time has come.
    fn go_over(&mut self, output: &Output, advance: f64) {
        let end = output.frame + advance * self.hop as f64;
        while let Some(passage) = self.told.front() {
            if self.arrival.is_some() && passage.from as f64 > end {
                return;
            }
            if output.latency_s.is_none() && self.reference.is_silent() {
                // It must first be heard to arrive.
                let passage = self.told.pop_front();
                let sounding = passage.filter(|passage| !passage.components.is_empty());
                self.arrival =
                    sounding.map(|passage| Arrival::of(passage, output.rate_hz, self.hop));
                continue;
            }
            if passage.from as f64 > end {
                return;
            }
            self.unchanged_s = 0.0 - passage.ramp as f64 / output.rate_hz;
            self.reference.go_over(passage);
            self.told.pop_front();
            self.match_paths();
        }
    }

    /// Finds the way of each bundle among the present ones and those remembered.
    fn match_paths(&mut self) {
        let mut before = std::mem::take(&mut self.paths);
        for bundle in self.reference.bundles() {
            let near = |path: &Path| (path.hz - bundle.hz).abs() < 0.2;
            let path = match before.iter().position(near) {
                Some(place) => before.swap_remove(place),
                None => match self.remembered.iter().position(near) {
                    Some(place) => {
                        let path = self.remembered.remove(place);
                        path.map_or_else(|| Path::unknown(bundle.hz), Path::recalled)
                    }
                    None => Path::unknown(bundle.hz),
                },
            };
            self.paths.push(path);
        }
        self.groups = Group::of(self.reference.bundles(), &self.paths);
        self.remembered
            .extend(before.into_iter().filter(Path::is_known));
        while self.remembered.len() > MOST_REMEMBERED {
            self.remembered.pop_front();
        }
        self.swell.clear();
    }

    /// Takes the drone out of a hop and learns from what is left; gives how far the
    /// loudspeaker's clock has to be moved, in seconds.
    fn subtract_and_learn(&mut self, output: &Output, advance: f64, samples: &mut [f32]) -> f64 {
        self.reference.set(output.frame, advance);
        if self.is_heard {
            let gains = self.paths.iter().map(|path| (path.gain_before, path.gain));
            self.reference.subtract(gains, samples);
        }
        self.reference.project(samples, &mut self.projections);
        for group in &mut self.groups {
            group.hear(&self.reference, &self.projections);
            if !self.is_heard {
                group.hear_beside(&self.paths);
            }
            for place in 0..group.end - group.first {
                self.swell.take(group.alone(&self.paths, place));
            }
        }
        self.swell.turn();
        let moved = self.follow_clock();
        let bundles = self.reference.bundles();
        for group in &mut self.groups {
            let power: f64 = bundles[group.first..group.end]
                .iter()
                .map(|b| 2.0 * b.power)
                .sum();
            group.learn(&mut self.paths, power);
        }
        let (mut drone, mut chance) = (0.0, 0.0);
        let still: f64 = self.groups.iter().map(Group::standing).sum();
        self.lately = self.groups.iter().map(Group::lately).sum();
        for (path, bundle) in self.paths.iter().zip(bundles) {
            drone += bundle.power * path.gain.norm_sqr();
            chance += bundle.power * path.variance;
        }
        let square = samples.iter().map(|s| f64::from(*s).powi(2)).sum::<f64>() / self.hop as f64;
        self.squares.rotate_left(1);
        self.squares[LEFT_HOPS - 1] = square;
        self.left = self.squares.iter().sum::<f64>() / LEFT_HOPS as f64;
        (self.drone, self.still, self.unsure) = (drone, still, chance);
        // A player hides it, so what was best lately counts.
        let depth_db = 10.0 * (drone / still.max(1e-6 * drone).max(1e-30)).log10();
        self.depth_db = depth_db.max(self.depth_db - DEPTH_FORGOTTEN_DB * self.hop_s());
        if self.is_heard {
            let is_clear = self.paths.iter().all(Path::was_listened_for);
            self.is_heard = !is_clear || drone > STILL_HEARD * chance;
        } else {
            self.is_heard = self.paths.iter().all(Path::is_known) && drone > HEARD * chance;
        }
        self.doubt_paths();
        moved
    }

    /// What all ways have in common is the clocks' doing: it is taken out of what is heard.
    fn follow_clock(&mut self) -> f64 {
        self.clock.pass(self.hop_s());
        if !self.is_heard {
            return 0.0;
        }
        let (mut ahead, mut weight) = (0.0, 0.0);
        let bundles = self.reference.bundles();
        for group in &self.groups {
            let power: f64 = bundles[group.first..group.end]
                .iter()
                .map(|b| 2.0 * b.power)
                .sum();
            if let Some((product, square)) = group.turned(&self.paths, power) {
                ahead += product;
                weight += square;
            }
        }
        if weight <= 0.0 {
            return 0.0;
        }
        let ahead_s = ahead / weight;
        for group in &mut self.groups {
            group.turn_back(&self.paths, ahead_s);
        }
        // Noise of neighbouring hops goes together where a player holds a note.
        self.clock.correct(ahead_s, 4.0 / weight)
    }

    /// Whether something stands on the drone: a player who cannot be told from it, or another
    /// way than was known.
    fn doubt_paths(&mut self) {
        let stands = self.is_heard
            && self.still > QUIET * self.drone
            && self.still > ON_DRONE * self.left
            && self.unchanged_s > 0.0;
        self.standing_s = if stands {
            self.standing_s + self.hop_s()
        } else {
            (self.standing_s - self.hop_s()).max(0.0)
        };
        if stands && self.standing_s > TURNED_S && self.changed_alike() {
            self.take_over();
            self.paths.iter_mut().for_each(Path::rest);
            self.doubted_s = None;
            self.standing_s = 0.0;
            return;
        }
        if self.was_better_at_rest() {
            self.paths.iter_mut().for_each(Path::go_back);
            self.doubted_s = None;
            self.standing_s = 0.0;
            return;
        }
        if stands && self.standing_s > CHANGED_S {
            self.take_over();
            self.doubted_s = Some(0.0);
            self.standing_s = 0.0;
        }
        self.doubted_s = self.doubted_s.map(|age_s| age_s + self.hop_s());
        if self.doubted_s.is_some_and(|age_s| age_s > DOUBTED_S) {
            self.doubted_s = None;
        }
        if self.doubted_s.is_none()
            && self.left < QUIET * self.drone
            && self.unchanged_s > RESTING_S
        {
            self.paths.iter_mut().for_each(Path::rest);
        }
    }

    /// Takes what stands on the drone to be its way from now on.
    fn take_over(&mut self) {
        self.paths.iter_mut().for_each(Path::take_over);
        self.groups = Group::of(self.reference.bundles(), &self.paths);
    }

    /// Whether the ways as they were when nobody played explain what is heard far better: a
    /// player who was taken for a part of them has ended.
    fn was_better_at_rest(&self) -> bool {
        let (mut now, mut at_rest) = (0.0, 0.0);
        for (path, bundle) in self.paths.iter().zip(self.reference.bundles()) {
            let gain = path.at_rest.unwrap_or(path.gain);
            now += bundle.power * path.brief.norm_sqr();
            at_rest += bundle.power * (path.brief + path.gain - gain).norm_sqr();
        }
        now > 0.1 * QUIET * self.drone && at_rest < 0.25 * now
    }

    /// Whether all ways have changed by one factor.
    fn changed_alike(&self) -> bool {
        if self.paths.len() < 3 {
            return false;
        }
        let (mut product, mut square, mut all) = (Complex::new(0.0, 0.0), 0.0, 0.0);
        for (path, bundle) in self.paths.iter().zip(self.reference.bundles()) {
            let now = path.gain + path.still;
            product += path.gain.conj() * now * bundle.power;
            square += path.gain.norm_sqr() * bundle.power;
            all += path.still.norm_sqr() * bundle.power;
        }
        let factor = product / square;
        let mut unlike = 0.0;
        for (path, bundle) in self.paths.iter().zip(self.reference.bundles()) {
            let now = path.gain + path.still;
            unlike += (now - path.gain * factor).norm_sqr() * bundle.power;
        }
        unlike < 0.05 * all
    }

    fn await_arrival(&mut self, output: &mut Output, advance: f64, samples: &[f32]) {
        let Some(mut arrival) = self.arrival.take() else {
            return;
        };
        arrival.hear(samples, output.frame, advance);
        let arrived = arrival.judge();
        if arrived.is_none() && !arrival.is_over() {
            self.arrival = Some(arrival);
            return;
        }
        let mut paths = Vec::new();
        if let Some(arrived) = arrived {
            output.frame -= arrived.latency_s * output.rate_hz;
            output.latency_s = Some(arrived.latency_s);
            self.usual_s = output.latency_s;
            self.is_heard = true;
            paths = arrived.paths;
        } else {
            // Not heard, or not heard to begin: it is listened for all the same, as late as it
            // came the last time.
            output.frame -= self.usual_s.unwrap_or(0.0) * output.rate_hz;
            output.latency_s = self.usual_s;
        }
        self.reference.go_over(arrival.passage());
        self.unchanged_s = 0.0;
        self.remembered.extend(paths);
        self.match_paths();
    }

    /// What is known of the drone besides the player.
    pub fn heard(&self) -> HeardThrough {
        HeardThrough {
            leak: self.leak(),
            beats_hz: self.swell.rate_hz(),
        }
    }

    fn leak(&self) -> Leak {
        if self.output.is_none() {
            return Leak::Silent;
        }
        if self.arrival.is_some() {
            return Leak::Finding;
        }
        if self.reference.is_silent() {
            return Leak::Silent;
        }
        let is_sure = self.unsure < SURE * self.drone;
        let is_known = |path: &Path| path.was_listened_for() || path.is_known() && is_sure;
        if !self.paths.iter().all(is_known) {
            return Leak::Finding;
        }
        if !self.is_heard {
            return Leak::NotHeard;
        }
        Leak::Removed {
            latency: self
                .output
                .and_then(|output| output.latency_s)
                .map(Seconds::new),
            level: Dbfs::of_mean_square(self.drone),
            depth_db: self.depth_db,
        }
    }

    /// Judges a reading of what was left: the drone must never be read as the player. To be
    /// asked right after the hop the reading was made of.
    pub fn judge(&mut self, reading: &mut Reading) {
        let player = reading.pitch.ok().map(|pitch| pitch.hertz);
        self.swell
            .choose(player.map(Hertz::get), &self.paths, &self.groups);
        let shared = player.map_or(0.0, |player| self.shared(player));
        self.near_hops = if shared < 0.5 {
            self.near_hops.saturating_sub(2)
        } else {
            (self.near_hops + 1).min(2 * BELIEVED_HOPS)
        };
        let judged = match self.leak() {
            Leak::Silent | Leak::NotHeard | Leak::Headphones => None,
            Leak::Finding => Some(NoPitch::Noise),
            Leak::Removed { .. } if self.unchanged_s < CHANGE_S => Some(NoPitch::Noise),
            Leak::Removed { .. } => {
                let stands = self.still > ON_DRONE * self.left;
                let is_new = self.unchanged_s < SETTLED_S;
                let quiet = if is_new { LOUDER } else { QUIET };
                let is_faint = self.left < (quiet * self.drone).max(4.0 * self.unsure);
                let is_loud = self.left > LOUDER * self.drone;
                let is_elsewhere = is_loud && player.is_some() && shared < 0.5;
                let is_on = player.is_some_and(|player| self.is_on(player));
                if self.doubted_s.is_some() && !is_elsewhere {
                    Some(NoPitch::Drone)
                } else if is_faint {
                    Some(NoPitch::Silence)
                } else if stands
                    || is_on && self.left < MUCH_LOUDER * self.drone
                    || shared >= 0.5 && (!is_loud || self.lately > MOSTLY * self.left)
                {
                    Some(NoPitch::Drone)
                } else if is_loud {
                    // What is left of the drone when a loud player ends is soon over.
                    let is_believed = shared < 0.5 || self.near_hops > BELIEVED_HOPS;
                    (!is_believed).then_some(NoPitch::Noise)
                } else if player.is_none() {
                    // A drone that is not quite taken out yet has no pitch of a player's.
                    Some(NoPitch::Silence)
                } else {
                    None
                }
            }
        };
        let is_silent = reading.pitch == Err(NoPitch::Silence);
        if let Some(judged) = judged
            && (!is_silent || judged == NoPitch::Drone)
        {
            reading.motion = None;
            reading.pitch = Err(judged);
        }
    }

    /// Whether every partial of a note lies on one of the drone's.
    fn is_on(&self, hertz: Hertz) -> bool {
        self.share(hertz, ON_HZ, ON_CENTS) >= 1.0
    }

    /// The share of a note's partials that lie near one of the drone's.
    fn shared(&self, hertz: Hertz) -> f64 {
        self.share(hertz, NEAR_HZ, NEAR_CENTS)
    }

    /// The share of a note's partials whose fundamentals, so to speak, lie within that many hertz
    /// or cents of the drone's, whichever is more.
    fn share(&self, hertz: Hertz, within_hz: f64, within_cents: f64) -> f64 {
        let highest = self.paths.last().map_or(0.0, |path| path.hz);
        let within = within_hz.max(hertz.get() * within_cents * std::f64::consts::LN_2 / 1200.0);
        let partials = (1..=PARTIALS).map(|n| n as f64);
        let (mut near, mut all) = (0.0, 0.0);
        for n in partials.take_while(|n| n * hertz.get() <= highest + within) {
            all += 1.0;
            let off = |path: &Path| (path.hz - n * hertz.get()).abs();
            if self.paths.iter().any(|path| off(path) <= within * n) {
                near += 1.0;
            }
        }
        if all > 0.0 { near / all } else { 0.0 }
    }
}
