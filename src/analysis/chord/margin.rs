//! How far a voice's pitch can be trusted.

use super::evidence::MOST_PARTIALS;
use super::ground::Ground;
use super::pitches::{HIGHEST_HZ, ascend};
use super::span::{Span, WINDOWS};
use super::trail::Trail;

/// How far a voice is moved to see what the evidence loses, in cents.
const NEAREST: i32 = 6;
const FARTHEST: i32 = 40;
/// The lines that must agree with all of them, and how far they may lie off, in cents.
const FIRST_LINES: usize = 3;
const FIRST_REACH: i32 = 30;

/// The things that tell how good a pitch is.
#[derive(Debug, Clone, Copy)]
pub(super) struct Support {
    /// What the evidence loses where the voice is moved to the best place 6 to 40 cents away.
    pub(super) reserve: f64,
    /// How far from the pitch its first three lines alone would put it, in cents.
    pub(super) dissent: f64,
    /// How much the windows differ from one line of pitch, as a standard deviation in cents.
    pub(super) unrest: f64,
}

impl Support {
    /// The support of one voice among all.
    pub(super) fn of(span: &Span, trails: &[Trail], voice: usize, ground: &mut Ground) -> Self {
        let own = trails[voice];
        ground.set(span, trails, &[voice], HIGHEST_HZ);
        let here = ground.gain(span, &own);
        let elsewhere = (NEAREST..=FARTHEST)
            .step_by(2)
            .flat_map(|cents| [cents, -cents])
            .map(|cents| ground.gain(span, &own.raised(f64::from(cents))))
            .fold(f64::NEG_INFINITY, f64::max);
        let dissent = (-FIRST_REACH..=FIRST_REACH)
            .map(f64::from)
            .map(|cents| {
                let gain = ground.gain_of_lines(span, &own.raised(cents), FIRST_LINES);
                (gain - 0.5 * (cents / 20.0).powi(2), cents)
            })
            .max_by(|a, b| a.0.total_cmp(&b.0))
            .map_or(0.0, |(_, cents)| cents.abs());
        let departures: [f64; WINDOWS] =
            std::array::from_fn(|index| departure(span, &own, index, ground));
        let unrest = (departures.iter().map(|c| c * c).sum::<f64>() / WINDOWS as f64).sqrt();
        Self {
            reserve: here - elsewhere,
            dissent,
            unrest,
        }
    }

    /// The distance in cents within which the true pitch lies about 19 times in 20: by
    /// regression of the logarithm of the error on chords of recorded notes.
    pub(super) fn margin(&self) -> f64 {
        let log = 3.06 - 0.535 * self.reserve.max(1.0).ln()
            + 0.42 * (self.dissent + 0.3).ln()
            + 0.246 * (self.unrest + 0.5).ln();
        2.8 * log.exp()
    }
}

/// How far from the line of pitch one window by itself would put the voice, in cents.
fn departure(span: &Span, trail: &Trail, index: usize, ground: &mut Ground) -> f64 {
    const LOOSE: f64 = 15.0;
    let line_hz = trail.line_hz(index);
    ascend(2.0, |cents| {
        let hz = line_hz * (cents / 1200.0).exp2();
        ground.gain_in(span, index, hz, MOST_PARTIALS) - 0.5 * (cents / LOOSE).powi(2)
    })
}
