//! Readings become notes: where one begins and ends, which part of it is steady, and where it
//! stood there.
//!
//! All thresholds are times, so that samples kept in a journal make the same notes as the
//! readings they were taken from, a little less exactly.

use std::collections::VecDeque;

use super::robust;
use crate::analysis::{Pitch, Reading};
use crate::rehearsal::sure::{LINGER, sure_pitch};
use crate::units::{Cents, Dbfs, Hertz, Seconds};

/// A pause up to here is a change of bow, or a moment the ear was unsure.
const PAUSE_S: f64 = 0.15;
/// A blip in a ratio of octaves or twelfths up to here is the ear's, not the player's.
const BLIP_S: f64 = 0.25;
/// How far a pitch must move from where the note stands to be another one at once.
const ANOTHER_CENTS: f64 = 80.0;
/// How far when it keeps still there: the narrowest semitone of a temperament that is played
/// is 63 cents (third-comma), and the widest vibrato that is does not keep still.
const STEP_CENTS: f64 = 40.0;
/// How long and how still.
const STILL_S: f64 = 0.12;
const STILL_CENTS: f64 = 15.0;
/// Readings of another note must agree so well.
const AGREEING_CENTS: f64 = 50.0;
/// Over this time it is told where a note stands now.
const NOW_S: f64 = 0.3;

/// What a note is given to speak, and to end.
const ATTACK_S: f64 = 0.1;
const RELEASE_S: f64 = 0.06;
/// Half the time over which the pitch is averaged to see where it is steady: with a whole
/// swing of a vibrato in it.
const SMOOTHING_S: f64 = 0.1;
/// How far the averaged pitch may wander in the steady part.
const STEADY_CENTS: f64 = 12.0;
/// A shorter steady part stands for nothing.
const SHORTEST_S: f64 = 0.15;
/// A note that lasts longer is told in parts.
const LONGEST_S: f64 = 20.0;
/// The same in an exercise, whose notes are held for two minutes at the most.
const LONGEST_HELD_S: f64 = 300.0;

/// One reading of a note.
#[derive(Debug, Clone, Copy)]
struct Point {
    time_s: f64,
    /// Above the note's first pitch.
    cents: f64,
    margin: f64,
    power: f64,
}

/// A note while it sounds.
#[derive(Debug, Clone)]
struct Open {
    begun_s: f64,
    origin: Hertz,
    points: Vec<Point>,
    goes_on: bool,
}

/// Where a note stood, in no tuning yet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::rehearsal) struct Taken {
    pub(in crate::rehearsal) begun: Seconds,
    pub(in crate::rehearsal) ended: Seconds,
    /// Length of the steady part.
    pub(in crate::rehearsal) steady: Seconds,
    pub(in crate::rehearsal) hertz: Hertz,
    /// Trend over the steady part, in cents a second; none of a voice in a chord.
    pub(in crate::rehearsal) drift_per_second: Option<Cents>,
    pub(in crate::rehearsal) margin: Cents,
    pub(in crate::rehearsal) spread: Cents,
    pub(in crate::rehearsal) level: Dbfs,
    pub(in crate::rehearsal) goes_on: bool,
}

/// Takes down the notes of one channel.
#[derive(Debug, Clone)]
pub(in crate::rehearsal) struct NoteTaker {
    pause_s: f64,
    longest_s: f64,
    /// What sounds then is not over, though nothing of it was sure.
    excused_s: f64,
    current: Option<Open>,
    /// What sounded just before, in case it goes on after a blip.
    before: Option<Open>,
    /// Readings of what may be another note.
    other: Vec<(Hertz, Point)>,
}

impl Default for NoteTaker {
    fn default() -> Self {
        Self {
            pause_s: PAUSE_S,
            longest_s: LONGEST_S,
            excused_s: f64::NEG_INFINITY,
            current: None,
            before: None,
            other: Vec::new(),
        }
    }
}

impl NoteTaker {
    /// One for exercises: a note lasts as long as it stands on the screen, and is told whole.
    pub(in crate::rehearsal) fn for_exercises() -> Self {
        Self {
            pause_s: LINGER.get(),
            longest_s: LONGEST_HELD_S,
            ..Self::default()
        }
    }

    /// What sounds is not over at `time`, though it cannot be heard.
    pub(in crate::rehearsal) fn excuse(&mut self, time: Seconds) {
        self.excused_s = time.get();
    }

    /// The onset of the note that sounds and where it stands now. What may be a blip of the ear
    /// is passed over.
    pub(in crate::rehearsal) fn sounding(&self) -> Option<(Seconds, Hertz)> {
        let open = self.open()?;
        let hertz = open.origin.raised(Cents::new(open.stands()));
        Some((Seconds::new(open.begun_s), hertz))
    }

    /// The same note as if it ended now; none before it has been steady.
    pub(in crate::rehearsal) fn so_far(&self) -> Option<Taken> {
        self.open()?.measure()
    }

    /// The end of a note that is not told yet because another may be a blip in it.
    pub(in crate::rehearsal) fn before_ended(&self) -> Option<Seconds> {
        self.before.as_ref().map(|open| Seconds::new(open.last_s()))
    }

    fn open(&self) -> Option<&Open> {
        let current = self.current.as_ref();
        let is_blip = current.is_none_or(Open::may_be_blip);
        self.before.as_ref().filter(|_| is_blip).or(current)
    }

    /// Takes in a reading made at `time`; gives the notes that are over.
    pub(in crate::rehearsal) fn hear(&mut self, reading: &Reading, time: Seconds) -> Vec<Taken> {
        let pitch = sure_pitch(reading);
        let mut over = self.pass(time);
        if let Some(pitch) = pitch {
            self.follow(pitch, reading.level, time.get(), &mut over);
        }
        over
    }

    /// Lets time pass; gives the notes that are over.
    pub(in crate::rehearsal) fn pass(&mut self, time: Seconds) -> Vec<Taken> {
        let mut over = Vec::new();
        let now_s = time.get();
        let (pause_s, excused_s) = (self.pause_s, self.excused_s);
        let is_silent = |open: &Open| now_s - open.last_s().max(excused_s) > pause_s;
        if self
            .other
            .last()
            .is_some_and(|(_, p)| now_s - p.time_s > pause_s)
        {
            self.other.clear();
        }
        if self.current.as_ref().is_some_and(is_silent) && self.other.is_empty() {
            self.close(&mut over);
        }
        let waits = self.current.as_ref().is_some_and(Open::may_be_blip);
        if !waits && self.before.as_ref().is_some_and(is_silent) {
            over.extend(self.before.take().and_then(|open| open.measure()));
        }
        over
    }

    /// Ends whatever sounds.
    pub(in crate::rehearsal) fn finish(&mut self) -> Vec<Taken> {
        let mut over = Vec::new();
        self.close(&mut over);
        over.extend(self.before.take().and_then(|open| open.measure()));
        self.other.clear();
        over
    }

    fn follow(&mut self, pitch: Pitch, level: Dbfs, time_s: f64, over: &mut Vec<Taken>) {
        let point = |origin: Hertz| Point {
            time_s,
            cents: pitch.hertz.above(origin).get(),
            margin: pitch.margin.get(),
            power: 10_f64.powf(level.get() / 10.0),
        };
        let off = self.current.as_ref().map(|open| {
            let now = open.stands();
            (open.origin, pitch.hertz.above(open.origin).get() - now)
        });
        if let Some((origin, off)) = off
            && off.abs() < STEP_CENTS
        {
            self.spare_swing();
            self.other.clear();
            if let Some(open) = &mut self.current {
                open.points.push(point(origin));
                if time_s - open.begun_s >= self.longest_s {
                    let rest = Open {
                        begun_s: time_s,
                        origin,
                        points: Vec::new(),
                        goes_on: true,
                    };
                    let whole = std::mem::replace(open, rest);
                    over.extend(self.before.take().and_then(|open| open.measure()));
                    over.extend(whole.measure());
                }
            }
            return;
        }
        // Beside the note that sounds, or in silence.
        let agrees =
            |(hertz, _): &(Hertz, Point)| pitch.hertz.above(*hertz).get().abs() <= AGREEING_CENTS;
        if !self.other.last().is_some_and(agrees) {
            self.spare_swing();
            self.other.clear();
        }
        self.other.push((pitch.hertz, point(pitch.hertz)));
        let lasting = time_s - self.other[0].1.time_s;
        let count = self.other.len();
        let is_heard_out = count >= 3 || count >= 2 && lasting >= 0.09;
        let is_far = off.is_none_or(|(_, off)| off.abs() >= ANOTHER_CENTS);
        let is_other = if is_far {
            is_heard_out
        } else {
            is_heard_out && lasting >= STILL_S && self.keeps_still()
        };
        if is_other {
            self.begin_other(over);
        }
    }

    /// What swung away and back belongs to the note: a wide vibrato.
    fn spare_swing(&mut self) {
        let Some(open) = &mut self.current else {
            return;
        };
        let stands = open.stands();
        for (hertz, point) in &self.other {
            let cents = hertz.above(open.origin).get();
            if (cents - stands).abs() < ANOTHER_CENTS {
                open.points.push(Point { cents, ..*point });
            }
        }
    }

    fn keeps_still(&self) -> bool {
        let Some((last, latest)) = self.other.last() else {
            return false;
        };
        let recent = self.other.iter().rev();
        let recent = recent.take_while(|(_, p)| latest.time_s - p.time_s <= STILL_S + 1e-9);
        let cents = recent.map(|(hertz, _)| hertz.above(*last).get());
        let (low, high) = cents.fold((0.0_f64, 0.0_f64), |(low, high), c| {
            (low.min(c), high.max(c))
        });
        high - low <= STILL_CENTS
    }

    /// The other note takes over, or what sounded before goes on.
    fn begin_other(&mut self, over: &mut Vec<Taken>) {
        let other = std::mem::take(&mut self.other);
        let Some((origin, first)) = other.first().copied() else {
            return;
        };
        let points = other.into_iter().map(|(hertz, point)| Point {
            cents: hertz.above(origin).get(),
            ..point
        });
        let mut open = Open {
            begun_s: first.time_s,
            origin,
            points: points.collect(),
            goes_on: false,
        };
        // Back where it was before a blip?
        let blip_ended = self.current.as_ref().map(Open::last_s);
        if let (Some(before), Some(blip_ended)) = (&self.before, blip_ended) {
            let same = open.origin.above(before.origin).get() - before.stands();
            let is_blip = self.current.as_ref().is_some_and(Open::may_be_blip);
            if is_blip && same.abs() < STEP_CENTS && open.begun_s - blip_ended <= self.pause_s {
                if let Some(mut before) = self.before.take() {
                    before.go_on_with(&open);
                    open = before;
                }
                self.current = Some(open);
                return;
            }
        }
        self.close(over);
        self.current = Some(open);
    }

    /// The note that sounds is over; it may still go on after a blip.
    fn close(&mut self, over: &mut Vec<Taken>) {
        if let Some(open) = self.current.take() {
            over.extend(self.before.take().and_then(|open| open.measure()));
            self.before = Some(open);
        }
    }
}

impl Open {
    fn last_s(&self) -> f64 {
        self.points
            .last()
            .map_or(self.begun_s, |point| point.time_s)
    }

    /// Where it stands now, above its origin.
    fn stands(&self) -> f64 {
        let from_s = self.last_s() - NOW_S;
        let recent = self
            .points
            .iter()
            .rev()
            .take_while(|point| point.time_s >= from_s);
        let mut cents: Vec<robust::Weighted> = recent.map(|point| (point.cents, 1.0)).collect();
        robust::median(&mut cents).unwrap_or(0.0)
    }

    /// Whether it is so short that it may be the ear's own.
    fn may_be_blip(&self) -> bool {
        !self.goes_on && self.last_s() - self.begun_s < BLIP_S
    }

    fn go_on_with(&mut self, other: &Self) {
        let above = other.origin.above(self.origin).get();
        self.points.extend(other.points.iter().map(|point| Point {
            cents: point.cents + above,
            ..*point
        }));
    }

    /// The note by its steady part; none where nothing of it was steady.
    fn measure(&self) -> Option<Taken> {
        let begun_s = self.begun_s + if self.goes_on { 0.0 } else { ATTACK_S };
        let ended_s = self.last_s() - RELEASE_S;
        let points = &self.points;
        let first = points.partition_point(|point| point.time_s < begun_s);
        let last = points.partition_point(|point| point.time_s <= ended_s);
        let steady = steady_part(points.get(first..last)?)?;
        let length_s = steady[steady.len() - 1].time_s - steady[0].time_s;
        let (centre, drift) = line(steady)?;
        let plain: Vec<robust::Weighted> = steady.iter().map(|p| (p.cents, 1.0)).collect();
        let mean_square = plain.iter().map(|(c, _)| (c - centre).powi(2)).sum::<f64>();
        // The deviation of a swing is that of all of it, but a stray reading must not count.
        let spread = (mean_square / plain.len() as f64)
            .sqrt()
            .min(1.5 * robust::spread(&plain, centre).max(0.05));
        let mut margins: Vec<robust::Weighted> = steady.iter().map(|p| (p.margin, 1.0)).collect();
        let margin = robust::median(&mut margins)?;
        // What the readings have in common does not average out; what differs between them
        // does, as one in ten is independent of the one before.
        let n_independent = (length_s / 0.1).max(1.0);
        let scatter = 1.96 * spread / n_independent.sqrt();
        let power = steady.iter().map(|p| p.power).sum::<f64>() / steady.len() as f64;
        Some(Taken {
            begun: Seconds::new(self.begun_s),
            ended: Seconds::new(self.last_s()),
            steady: Seconds::new(length_s),
            hertz: self.origin.raised(Cents::new(centre)),
            drift_per_second: Some(Cents::new(drift)),
            margin: Cents::new((0.5 * margin).hypot(0.5 * scatter)),
            spread: Cents::new(spread),
            level: Dbfs::new(10.0 * power.max(1e-14).log10()),
            goes_on: self.goes_on,
        })
    }
}

/// The longest stretch in which the averaged pitch stays within [`STEADY_CENTS`]; the later of
/// two as long.
fn steady_part(points: &[Point]) -> Option<&[Point]> {
    // Twice, as one mean leaves a sixth of a wide vibrato.
    let times: Vec<f64> = points.iter().map(|point| point.time_s).collect();
    let cents: Vec<f64> = points.iter().map(|point| point.cents).collect();
    let smooth = smoothed(&times, &smoothed(&times, &cents));
    let (mut best, mut from) = ((0, 0), 0);
    let mut best_s = 0.0;
    // Where the lowest and the highest of what is looked at stand, and what may follow them:
    // long notes have tens of thousands of points.
    let (mut lows, mut highs) = (VecDeque::new(), VecDeque::new());
    for (to, value) in smooth.iter().enumerate() {
        while lows.back().is_some_and(|at: &usize| smooth[*at] >= *value) {
            lows.pop_back();
        }
        while highs.back().is_some_and(|at: &usize| smooth[*at] <= *value) {
            highs.pop_back();
        }
        lows.push_back(to);
        highs.push_back(to);
        while let (Some(low), Some(high)) = (lows.front(), highs.front()) {
            if smooth[*high] - smooth[*low] <= STEADY_CENTS {
                break;
            }
            from += 1;
            lows.pop_front_if(|at| *at < from);
            highs.pop_front_if(|at| *at < from);
        }
        let length_s = points[to].time_s - points[from].time_s;
        if length_s >= best_s {
            best_s = length_s;
            best = (from, to);
        }
    }
    let steady = points.get(best.0..=best.1)?;
    (best_s >= SHORTEST_S).then_some(steady)
}

/// Each value as the mean over [`SMOOTHING_S`] before and after, as far as there is that much
/// on both sides.
fn smoothed(times: &[f64], values: &[f64]) -> Vec<f64> {
    let Some((first, last)) = times.first().zip(times.last()) else {
        return Vec::new();
    };
    let mut sums = vec![0.0];
    for value in values {
        sums.push(sums[sums.len() - 1] + value);
    }
    let mean = |time: &f64| {
        let reach = SMOOTHING_S.min(time - first).min(last - time) + 1e-9;
        let from = times.partition_point(|other| *other < time - reach);
        let to = times.partition_point(|other| *other <= time + reach);
        (sums[to] - sums[from]) / (to - from) as f64
    };
    times.iter().map(mean).collect()
}

/// The middle of a steady part and its trend a second, by a mean and a regression that taper
/// off towards both ends, so that it does not matter where a vibrato is cut; without the
/// strays.
fn line(points: &[Point]) -> Option<(f64, f64)> {
    let mut plain: Vec<robust::Weighted> = points.iter().map(|p| (p.cents, 1.0)).collect();
    let middle = robust::median(&mut plain)?;
    let limit = (4.0 * robust::spread(&plain, middle)).max(8.0);
    let (first, last) = (points.first()?.time_s, points.last()?.time_s);
    let length = (last - first).max(1e-6);
    let kept = points.iter().filter(|p| (p.cents - middle).abs() <= limit);
    let weighed: Vec<(f64, f64, f64)> = kept
        .map(|point| {
            let through = (point.time_s - first) / length;
            let weight = 0.02 + (std::f64::consts::PI * through).sin().powi(2);
            (weight, point.time_s, point.cents)
        })
        .collect();
    let sum = |of: &dyn Fn(f64, f64) -> f64| -> f64 {
        weighed.iter().map(|(w, t, c)| w * of(*t, *c)).sum()
    };
    let weights = sum(&|_, _| 1.0);
    if weights <= 0.0 {
        return None;
    }
    let time = sum(&|t, _| t) / weights;
    let centre = sum(&|_, c| c) / weights;
    let along = sum(&|t, c| (t - time) * (c - centre));
    let around = sum(&|t, _| (t - time).powi(2));
    let slope = if around > 0.0 { along / around } else { 0.0 };
    Some((centre, slope))
}

#[cfg(test)]
mod tests;
