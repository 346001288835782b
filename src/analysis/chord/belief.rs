//! How sure it is that a voice sounds, and is not a partial of another.
//!
//! A logistic model of nine traits. Its weights were found by logistic regression on the
//! voices that the search proposes in chords of recorded notes whose true voices are known.

use super::evidence::MOST_PARTIALS;
use super::ground::{Ground, lines_in};
use super::pitches::HIGHEST_HZ;
use super::span::{Span, WINDOWS};
use super::trail::{Trail, cents_between};

/// A voice this near a multiple of a lower one may be no more than its partial.
const ON_A_MULTIPLE: f64 = 40.0;
const HIGHEST_MULTIPLE: f64 = 12.0;
/// A line counts as strong so far above the floor, in power.
const STRONG: f64 = 10.0;
/// Lines among which strong ones are counted.
const COUNTED: usize = 8;
/// Lines of which the strongest is a voice's level.
const LEVEL_LINES: usize = 4;
/// Two lines nearer than this many bins share their power.
const SHARED: f64 = 3.0;

const CONSTANT: f64 = -9.83;
const WEIGHTS: [f64; 9] = [
    1.595, 0.13, 0.0789, -1.918, -0.0146, 0.0292, -0.321, 0.527, 0.0814,
];

/// The powers of all lines of all voices, as the mean of the windows.
pub(super) struct Levels {
    /// For each voice the power of each line.
    lines: Vec<Vec<f64>>,
    /// Power of the noise by bins.
    floor: Vec<f64>,
    bin_hz: f64,
}

impl Levels {
    pub(super) fn new(span: &Span, trails: &[Trail]) -> Self {
        let mut lines: Vec<Vec<f64>> = vec![Vec::new(); trails.len()];
        let mut count = vec![0; trails.len()];
        for index in 0..WINDOWS {
            count.fill(0);
            for line in lines_in(span, trails, index, HIGHEST_HZ) {
                let (own, number) = (&mut lines[line.voice], &mut count[line.voice]);
                if own.len() <= *number {
                    own.push(0.0);
                }
                own[*number] += line.power() / WINDOWS as f64;
                *number += 1;
            }
        }
        Self {
            lines,
            floor: span.mean_floor(),
            bin_hz: span.bin_hz(),
        }
    }

    fn floor_at(&self, hz: f64) -> f64 {
        let bin = (hz / self.bin_hz).round() as usize;
        self.floor[bin.min(self.floor.len() - 1)]
    }

    /// The strongest of the first lines of a voice.
    pub(super) fn level(&self, voice: usize) -> f64 {
        self.lines[voice]
            .iter()
            .take(LEVEL_LINES)
            .fold(0.0, |a, b| a.max(*b))
    }
}

fn decibels(power: f64) -> f64 {
    10.0 * power.max(1e-16).log10()
}

/// The traits of one voice among all.
pub(super) fn traits(
    span: &Span,
    trails: &[Trail],
    voice: usize,
    levels: &Levels,
    ground: &mut Ground,
) -> [f64; 9] {
    let own = trails[voice];
    let hz = own.hz();
    ground.set(span, trails, &[voice], HIGHEST_HZ);
    let gain = ground.gain_of_lines(span, &own, MOST_PARTIALS);
    let first = ground.gain_of_lines(span, &own, 1);
    let lines = &levels.lines[voice];
    let fundamental = decibels(lines.first().copied().unwrap_or(0.0));
    let level = decibels(levels.level(voice));
    let loudest = (0..trails.len()).fold(0.0_f64, |a, v| a.max(levels.level(v)));
    let below = trails
        .iter()
        .enumerate()
        .filter(|(other, _)| *other != voice)
        .filter_map(|(other, trail)| {
            let multiple = (hz / trail.hz()).round();
            let cents = cents_between(hz, multiple * trail.hz()).abs();
            ((2.0..=HIGHEST_MULTIPLE).contains(&multiple) && cents < ON_A_MULTIPLE).then_some((
                other,
                multiple as usize,
                cents,
            ))
        })
        .min_by(|a, b| a.2.total_cmp(&b.2));
    // How far it stands out from the lower voice's neighbouring partials.
    let excess = below.map_or(0.0, |(other, multiple, _)| {
        let neighbours: Vec<f64> = [multiple - 2, multiple]
            .iter()
            .filter_map(|line| levels.lines[other].get(*line))
            .map(|power| decibels(*power))
            .collect();
        let mean = neighbours.iter().sum::<f64>() / neighbours.len().max(1) as f64;
        if neighbours.is_empty() {
            0.0
        } else {
            fundamental - mean
        }
    });
    let is_shared = |line_hz: f64| {
        trails.iter().enumerate().any(|(other, trail)| {
            let number = (line_hz / trail.hz()).round();
            other != voice
                && (1.0..=MOST_PARTIALS as f64).contains(&number)
                && (line_hz - number * trail.hz()).abs() < SHARED * levels.bin_hz
        })
    };
    let numbered = || {
        let places = (1..=lines.len()).map(|number| number as f64 * hz);
        places.zip(lines)
    };
    let unshared = numbered().filter(|(hz, _)| !is_shared(*hz)).count();
    let strong = numbered()
        .take(COUNTED)
        .filter(|(hz, power)| **power > STRONG * levels.floor_at(*hz))
        .count();
    [
        gain.max(1.0).ln(),
        first.max(1.0).ln(),
        level - decibels(loudest),
        f64::from(u8::from(below.is_some())),
        below.map_or(ON_A_MULTIPLE, |(.., cents)| cents),
        excess,
        (unshared as f64 + 1.0).ln(),
        strong as f64,
        fundamental - level,
    ]
}

/// The log odds that the voice sounds.
pub(super) fn odds(traits: &[f64; 9]) -> f64 {
    let weighted = traits
        .iter()
        .zip(WEIGHTS)
        .map(|(value, weight)| value * weight);
    CONSTANT + weighted.sum::<f64>()
}
