//! The pitches of voices that are known to sound, by maximum evidence.

use super::evidence::{MOST_PARTIALS, subtract};
use super::ground::{Ground, lines_in};
use super::span::{Span, WINDOWS};
use super::trail::{Trail, cents_between};

/// How far from its place a voice is looked for, in cents.
const REACH: f64 = 60.0;
/// Lines up to here are looked at to part two voices in unison, in hertz.
const PARTED_HZ: f64 = 3000.0;
/// The highest lines that count for a pitch, in hertz.
pub(super) const HIGHEST_HZ: f64 = 5000.0;

/// One round of climbing: lines up to so many hertz, steps of so many cents, and whether the
/// voices may rise or fall.
#[derive(Debug, Clone, Copy)]
pub(super) struct Stage {
    pub(super) limit_hz: f64,
    pub(super) step: f64,
    pub(super) slopes: bool,
}

const fn stage(limit_hz: f64, step: f64, slopes: bool) -> Stage {
    Stage {
        limit_hz,
        step,
        slopes,
    }
}

/// From few lines and large steps to all lines and small ones.
const STAGES: [Stage; 6] = [
    stage(1800.0, 3.0, false),
    stage(1800.0, 1.5, false),
    stage(3000.0, 1.5, false),
    stage(3000.0, 0.7, true),
    stage(HIGHEST_HZ, 0.7, true),
    stage(HIGHEST_HZ, 0.25, true),
];

/// Finds the pitch of every voice from its place.
pub(super) fn find(span: &mut Span, trails: &mut [Trail], ground: &mut Ground) {
    let coarse_hz = first_limit(trails);
    for _ in 0..2 {
        for voice in 0..trails.len() {
            ground.set(span, trails, &[voice], coarse_hz);
            trails[voice] = sweep(span, &trails[voice], ground);
        }
    }
    untangle(span, trails, ground, 1.0);
    settle(span, trails, ground);
}

/// Looks afresh for every two voices that may have taken each other's lines: those an octave
/// apart, and from a `least` multiple of 1 also those in unison.
pub(super) fn untangle(span: &Span, trails: &mut [Trail], ground: &mut Ground, least: f64) {
    let coarse_hz = first_limit(trails);
    for upper in 0..trails.len() {
        for lower in 0..upper {
            if let Some(multiple) = collide(&trails[lower], &trails[upper], least) {
                // Two in unison part only higher up; their first partials may be weak as well.
                let limit_hz = if multiple > 1.0 {
                    coarse_hz
                } else {
                    coarse_hz.max(PARTED_HZ)
                };
                pair(span, trails, (lower, upper), limit_hz, ground);
            }
        }
    }
}

/// Measures voices that are about where they were found.
pub(super) fn settle(span: &mut Span, trails: &mut [Trail], ground: &mut Ground) {
    climb(span, trails, ground, &STAGES);
    doubt(span, trails);
    climb(span, trails, ground, &STAGES);
}

/// Lines that are looked at first: enough to find every voice, too few to lead astray.
fn first_limit(trails: &[Trail]) -> f64 {
    let highest = trails
        .iter()
        .map(|trail| trail.place_hz)
        .fold(0.0, f64::max);
    (2.2 * highest).max(900.0)
}

/// Climbs to the nearest maximum, voice by voice.
pub(super) fn climb(span: &Span, trails: &mut [Trail], ground: &mut Ground, stages: &[Stage]) {
    let least_hz = first_limit(trails);
    for stage in stages {
        for voice in 0..trails.len() {
            ground.set(span, trails, &[voice], stage.limit_hz.max(least_hz));
            let mut trail = trails[voice];
            let cents = ascend(stage.step, |by| ground.score(span, &trail.raised(by)));
            trail.cents = (trail.cents + cents).clamp(-1.2 * REACH, 1.2 * REACH);
            if stage.slopes {
                trail.slope += ascend(4.0 * stage.step, |by| {
                    let mut tilted = trail;
                    tilted.slope += by;
                    ground.score(span, &tilted)
                });
            }
            trails[voice] = trail;
        }
    }
}

/// Lets each window of each voice depart from its line, at a cost beyond `width` cents: what
/// wander a line cannot follow would otherwise look like a second voice.
pub(super) fn bend(
    span: &Span,
    trails: &mut [Trail],
    ground: &mut Ground,
    limit_hz: f64,
    width: f64,
) {
    for step in [2.0, 0.7] {
        for voice in 0..trails.len() {
            ground.set(span, trails, &[voice], limit_hz);
            for index in 0..WINDOWS {
                let line_hz = trails[voice].line_hz(index);
                let bend = trails[voice].bends[index];
                trails[voice].bends[index] += ascend(step, |by| {
                    let hz = line_hz * ((bend + by) / 1200.0).exp2();
                    ground.gain_in(span, index, hz, MOST_PARTIALS)
                        - 0.5 * ((bend + by) / width).powi(2)
                });
            }
        }
    }
}

/// How far from here the nearest maximum of `score` lies: in steps, then by a parabola.
pub(super) fn ascend(step: f64, mut score: impl FnMut(f64) -> f64) -> f64 {
    const MOST_STEPS: usize = 6;
    let mut at = 0.0;
    let (mut below, mut here, mut above) = (score(-step), score(0.0), score(step));
    for _ in 0..MOST_STEPS {
        if above > here && above >= below {
            at += step;
            (below, here) = (here, above);
            above = score(at + step);
        } else if below > here {
            at -= step;
            (above, here) = (here, below);
            below = score(at - step);
        } else {
            break;
        }
    }
    let curve = below - 2.0 * here + above;
    if curve < 0.0 && here >= below && here >= above {
        at += (0.5 * step * (below - above) / curve).clamp(-step, step);
    }
    at
}

/// The best place of one voice on a coarse grid.
fn sweep(span: &Span, trail: &Trail, ground: &mut Ground) -> Trail {
    best(grid(4.0).map(|cents| {
        let moved = trail.flat(cents);
        (ground.score(span, &moved), moved)
    }))
    .unwrap_or(*trail)
}

fn grid(step: f64) -> impl Iterator<Item = f64> {
    let steps = (REACH / step) as i32;
    (-steps..=steps).map(move |n| f64::from(n) * step)
}

fn best<T>(scored: impl Iterator<Item = (f64, T)>) -> Option<T> {
    scored
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, found)| found)
}

/// The multiple, 1 or 2, near which two voices stand so that they must be found together.
fn collide(a: &Trail, b: &Trail, least: f64) -> Option<f64> {
    let (low, high) = if a.hz() < b.hz() { (a, b) } else { (b, a) };
    let multiple = (high.hz() / low.hz()).round();
    let cents = cents_between(high.hz(), low.hz() * multiple).abs();
    ((least..=2.0).contains(&multiple) && cents < 70.0).then_some(multiple)
}

/// Two voices moved together over a grid.
fn pair(
    span: &Span,
    trails: &mut [Trail],
    (a, b): (usize, usize),
    limit_hz: f64,
    ground: &mut Ground,
) {
    ground.set(span, trails, &[a, b], limit_hz);
    let base = ground.evidence();
    let mut moved = trails.to_vec();
    let mut found: Option<(f64, Trail, Trail)> = None;
    for cents in grid(5.0) {
        moved[a] = trails[a].flat(cents);
        ground.set(span, &moved, &[b], limit_hz);
        let first = ground.evidence() - base + moved[a].prior();
        for cents in grid(5.0) {
            let second = trails[b].flat(cents);
            let score = first + ground.score(span, &second);
            if found.is_none_or(|found| score > found.0) {
                found = Some((score, moved[a], second));
            }
        }
    }
    if let Some((_, first, second)) = found {
        (trails[a], trails[b]) = (first, second);
    }
}

/// Trusts each bin by what the voices leave unexplained around it, over all windows: a line
/// that wanders, beats or echoes counts for less than one that behaves. (One step of
/// iteratively reweighted least squares, with a prior worth ten bins.)
fn doubt(span: &mut Span, trails: &[Trail]) {
    const HALF: usize = 4;
    const PRIOR_BINS: f32 = 10.0;
    const LEAST: f32 = 0.1;
    let n = span.windows[0].bins.len();
    let mut left = vec![0.0_f32; n];
    for (index, window) in span.windows.iter().enumerate() {
        let mut bins = window.bins.clone();
        subtract(&lines_in(span, trails, index, HIGHEST_HZ), &mut bins);
        for (left, (bin, trust)) in left.iter_mut().zip(bins.iter().zip(&window.trust)) {
            *left += bin.norm_sqr() * trust;
        }
    }
    for bin in 0..n {
        let (from, to) = (bin.saturating_sub(HALF), (bin + HALF + 1).min(n));
        let sum: f32 = left[from..to].iter().sum();
        let count = ((to - from) * WINDOWS) as f32;
        let doubt = ((PRIOR_BINS + sum) / (PRIOR_BINS + count)).max(LEAST);
        for window in &mut span.windows {
            window.trust[bin] /= doubt;
        }
    }
}
