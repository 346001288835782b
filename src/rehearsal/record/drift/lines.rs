//! From notes to lines: where each player's pitch lay over time, apart from the habits that
//! belong to single notes.

use std::collections::BTreeMap;

use super::{DriftLine, DriftPoint};
use crate::rehearsal::record::robust::{self, Weighted};
use crate::units::{Cents, Seconds};

/// One point of a line for each stretch of this length in which there are notes.
const STEP_S: f64 = 30.0;
/// A point rests on the notes up to so far before and after its middle.
const REACH_S: f64 = 45.0;
/// Rounds of taking habits and movement in turn, at the most; fewer where a round changes no
/// habit by as much as this any more.
const ROUNDS: usize = 12;
const SETTLED_CENTS: f64 = 0.02;

/// One note as evidence of the pitch: cents above the reference at a moment.
#[derive(Debug, Clone, Copy)]
pub(super) struct Evidence {
    pub(super) time_s: f64,
    pub(super) cents: f64,
    pub(super) weight: f64,
    /// Which pitch of the player it is: each has a habit of its own.
    pub(super) pitch: u32,
    /// Whether the habit of this pitch helps to say where the line lies.
    pub(super) counts: bool,
}

/// The line of one player: cents are parted into a movement that all pitches share and a habit
/// of each pitch, by medians in turn (Tukey's median polish). A pitch heard once has hardly a
/// habit, one heard often its own.
pub(super) fn line_of(evidence: &[Evidence]) -> DriftLine {
    let mut habits: BTreeMap<u32, f64> = evidence.iter().map(|e| (e.pitch, 0.0)).collect();
    let mut movement = curve(evidence, |_| 0.0);
    for _ in 0..ROUNDS {
        let before = habits.clone();
        let mut by_pitch: BTreeMap<u32, Vec<Weighted>> = BTreeMap::new();
        for note in evidence {
            let off = note.cents - at(&movement, note.time_s);
            by_pitch
                .entry(note.pitch)
                .or_default()
                .push((off, note.weight));
        }
        for (pitch, mut offs) in by_pitch {
            let known = offs.len() as f64 / (offs.len() as f64 + 0.5);
            let habit = robust::median(&mut offs).unwrap_or(0.0);
            habits.insert(pitch, known * habit);
        }
        // The habits that count are none on the whole; the rest is where the line lies.
        let own = evidence.iter().filter(|note| note.counts);
        let mut own: Vec<Weighted> = own.map(|note| (habits[&note.pitch], note.weight)).collect();
        let common = robust::median(&mut own).unwrap_or(0.0);
        for habit in habits.values_mut() {
            *habit -= common;
        }
        movement = curve(evidence, |note| habits[&note.pitch]);
        let changes = habits
            .iter()
            .map(|(pitch, habit)| (habit - before[pitch]).abs());
        if changes.fold(0.0, f64::max) < SETTLED_CENTS {
            break;
        }
    }
    DriftLine { points: movement }
}

/// The medians over time of what is left beside the habits. A point stands at the mean moment
/// of its notes, so that a steady movement is not drawn in at the ends.
fn curve(evidence: &[Evidence], habit: impl Fn(&Evidence) -> f64) -> Vec<DriftPoint> {
    // Only stretches in which there are notes: however late a note claims to be, there are no
    // more points than notes.
    let mut steps: Vec<u64> = evidence.iter().map(|note| step(note.time_s)).collect();
    steps.dedup();
    let mut points = Vec::new();
    for step in steps {
        let from = step as f64 * STEP_S;
        let to = from + STEP_S;
        let within = |from: f64, to: f64| {
            let first = evidence.partition_point(|note| note.time_s < from);
            let end = evidence.partition_point(|note| note.time_s < to);
            &evidence[first..end]
        };
        if within(from, to).is_empty() {
            continue;
        }
        let middle = 0.5 * (from + to);
        let near = within(middle - REACH_S, middle + REACH_S);
        let weigh = |note: &Evidence| {
            let far = (note.time_s - middle).abs() / REACH_S;
            note.weight * (1.0 - far).max(0.05)
        };
        let mut values: Vec<Weighted> = near
            .iter()
            .map(|note| (note.cents - habit(note), weigh(note)))
            .collect();
        let Some(cents) = robust::median(&mut values) else {
            continue;
        };
        let weights: f64 = near.iter().map(&weigh).sum();
        let squares: f64 = near.iter().map(|note| weigh(note).powi(2)).sum();
        let moments: f64 = near.iter().map(|note| weigh(note) * note.time_s).sum();
        // A median of normal values strays 1.2533 times as far as their mean (textbook); the
        // notes count by their weights (Kish's effective number).
        let n_effective = weights * weights / squares.max(1e-12);
        let stray = 1.2533 * robust::spread(&values, cents).max(0.3) / n_effective.sqrt();
        points.push(DriftPoint {
            at: Seconds::new(moments / weights.max(1e-12)),
            cents: Cents::new(cents),
            margin: Cents::new(1.96 * stray),
            count: near.len(),
        });
    }
    points
}

/// Which stretch a moment lies in.
fn step(time_s: f64) -> u64 {
    (time_s / STEP_S) as u64
}

/// The movement at a moment: between two points on the line through them, beyond the ends as
/// at the ends.
pub(super) fn at(points: &[DriftPoint], time_s: f64) -> f64 {
    let next = points.partition_point(|point| point.at.get() <= time_s);
    match (next.checked_sub(1).map(|n| points[n]), points.get(next)) {
        (None, None) => 0.0,
        (Some(only), None) => only.cents.get(),
        (None, Some(only)) => only.cents.get(),
        (Some(before), Some(after)) => {
            let length = (after.at - before.at).get().max(1e-9);
            let through = (time_s - before.at.get()) / length;
            before.cents.get() + through * (after.cents - before.cents).get()
        }
    }
}

/// All players' lines in one: the movement they share, each having a level of its own that
/// does not count (median polish again). Where some are silent the others stand for all.
pub(super) fn together(lines: &[&DriftLine]) -> DriftLine {
    let step = |point: &DriftPoint| step(point.at.get());
    let mut steps: BTreeMap<u64, Vec<(usize, DriftPoint)>> = BTreeMap::new();
    for (index, line) in lines.iter().enumerate() {
        for point in &line.points {
            steps.entry(step(point)).or_default().push((index, *point));
        }
    }
    let mut levels = vec![0.0; lines.len()];
    let mut shared: BTreeMap<u64, f64> = BTreeMap::new();
    for _ in 0..ROUNDS {
        for (step, points) in &steps {
            let mut values: Vec<Weighted> = points
                .iter()
                .map(|(index, point)| (point.cents.get() - levels[*index], trust(point)))
                .collect();
            shared.insert(*step, robust::median(&mut values).unwrap_or(0.0));
        }
        for (index, line) in lines.iter().enumerate() {
            let off = |p: &DriftPoint| (p.cents.get() - shared[&step(p)], trust(p));
            let mut offs: Vec<Weighted> = line.points.iter().map(off).collect();
            levels[index] = robust::median(&mut offs).unwrap_or(0.0);
        }
        // The levels are none on the whole: the ensemble lies where most of it lies.
        let mut common: Vec<Weighted> = lines
            .iter()
            .zip(&levels)
            .map(|(line, level)| (*level, line.points.len() as f64))
            .collect();
        let common = robust::median(&mut common).unwrap_or(0.0);
        for level in &mut levels {
            *level -= common;
        }
    }
    let point = |(step, points): (&u64, &Vec<(usize, DriftPoint)>)| {
        let weights: f64 = points.iter().map(|(_, point)| trust(point)).sum();
        let moments = points
            .iter()
            .map(|(_, point)| trust(point) * point.at.get());
        let values: Vec<Weighted> = points
            .iter()
            .map(|(index, point)| (point.cents.get() - levels[*index], trust(point)))
            .collect();
        let cents = shared[step];
        let stray = robust::spread(&values, cents) / (points.len() as f64).sqrt();
        let best = points
            .iter()
            .map(|(_, p)| p.margin.get())
            .fold(f64::INFINITY, f64::min);
        DriftPoint {
            at: Seconds::new(moments.sum::<f64>() / weights.max(1e-12)),
            cents: Cents::new(cents),
            margin: Cents::new(best.max(1.96 * stray)),
            count: points.iter().map(|(_, point)| point.count).sum(),
        }
    };
    DriftLine {
        points: steps.iter().map(point).collect(),
    }
}

/// How much a point counts for beside those of other players: none for much more than others.
fn trust(point: &DriftPoint) -> f64 {
    1.0 / point.margin.get().max(1.0)
}
