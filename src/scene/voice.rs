//! One sounding note: a bank of turning phasors, one for each partial.
//!
//! The phase of the first partial is counted in turns in double precision and never wrapped;
//! every control block sets the phasors anew from it, so a steady note is exact to far below
//! 0.001 cents however long it lasts. Within a block each phasor only multiplies by a fixed
//! step, which costs four multiplications a sample and partial. The step is rounded to single
//! precision: at a block's end a phasor is off by some 1e-5 radians at most, -100 dB.

use std::f64::consts::TAU;

use super::Sound;
use super::timeline::{Event, Player};
use crate::units::Hertz;

/// Partials computed side by side.
const LANES: usize = 8;

/// The share of the sample rate no partial exceeds.
const BAND_LIMIT: f64 = 0.45;

/// A sounding note of a player.
#[derive(Debug, Clone)]
pub(super) struct Voice {
    /// The note's number in the player's part.
    pub(super) event: usize,
    /// Frames since it began.
    pub(super) elapsed: u64,
    /// Turns of the first partial since it began.
    turns: f64,
    partials: Vec<Part>,
    /// Whether the partials are exact multiples of the first.
    harmonic: bool,
    lanes: Vec<Lanes>,
}

/// One partial.
#[derive(Debug, Clone)]
struct Part {
    /// Multiple of the first partial's frequency.
    ratio: f64,
    /// Phase at the start, as a unit phasor.
    start: (f64, f64),
    /// Amplitude when soft and when loud; the squares of each add up to 2.
    soft: f64,
    loud: f64,
    /// Rate of decay in nepers a second.
    decay: f64,
}

/// Phasors and their steps.
#[derive(Debug, Clone, Copy, Default)]
struct Lanes {
    re: [f32; LANES],
    im: [f32; LANES],
    step_re: [f32; LANES],
    step_im: [f32; LANES],
}

/// What a voice does during one control block.
#[derive(Debug, Clone, Copy)]
pub(super) struct Motion {
    /// Pitch in the middle of the block.
    pub(super) hz: Hertz,
    /// Amplitude (RMS) at the block's start and end.
    pub(super) rms: (f64, f64),
    /// Soft (0) to loud (1).
    pub(super) loud: f64,
}

impl Voice {
    /// A voice for `event` of `player`, whose scene lasts `until_s`. It has as many partials
    /// as stay below 0.45 of the rate at the highest pitch it may reach; a note that is
    /// itself above that stays silent.
    pub(super) fn new(player: &Player, event: usize, rate_hz: f64, until_s: f64) -> Self {
        let note = &player.events[event];
        let highest = note.highest(player, until_s).get();
        let sound = player.sound;
        let n_partials = (1..=sound.most_partials())
            .take_while(|n| sound.partial_ratio(*n) * highest < BAND_LIMIT * rate_hz)
            .count();
        let mut partials: Vec<Part> = (1..=n_partials)
            .map(|n| part(sound, n, n_partials, note))
            .collect();
        level(&mut partials, |part| &mut part.soft);
        level(&mut partials, |part| &mut part.loud);
        Self {
            event,
            elapsed: 0,
            turns: 0.0,
            harmonic: sound.inharmonicity() == 0.0,
            lanes: vec![Lanes::default(); n_partials.div_ceil(LANES)],
            partials,
        }
    }

    /// Adds one control block to `out`.
    pub(super) fn add_to(&mut self, out: &mut [f32], rate_hz: f64, motion: Motion) {
        let elapsed_s = self.elapsed as f64 / rate_hz;
        let step_turns = motion.hz.get() / rate_hz;
        self.set(elapsed_s, step_turns, rate_hz, motion.loud);
        let slope = (motion.rms.1 - motion.rms.0) / out.len() as f64;
        for (index, sample) in out.iter_mut().enumerate() {
            let gain = motion.rms.0 + slope * index as f64;
            *sample += gain as f32 * self.turn();
        }
        self.turns += step_turns * out.len() as f64;
        self.elapsed += out.len() as u64;
    }

    /// Sets every phasor and its step for a block.
    fn set(&mut self, elapsed_s: f64, step_turns: f64, rate_hz: f64, loud: f64) {
        let mix = |part: &Part| part.soft + loud * (part.loud - part.soft);
        let power: f64 = self.partials.iter().map(|part| mix(part).powi(2)).sum();
        // Between soft and loud the level must not sag.
        let scale = (2.0 / power.max(1e-12)).sqrt();
        let first = (turn(self.turns), turn(step_turns));
        let mut harmonic = first;
        for (index, part) in self.partials.iter().enumerate() {
            let (phase, step) = if self.harmonic {
                let these = harmonic;
                harmonic = (times(these.0, first.0), times(these.1, first.1));
                these
            } else {
                (
                    turn((self.turns * part.ratio).fract()),
                    turn(step_turns * part.ratio),
                )
            };
            let amplitude = scale * mix(part) * (-part.decay * elapsed_s).exp();
            let (re, im) = times(phase, part.start);
            let fade = (-part.decay / rate_hz).exp();
            let lanes = &mut self.lanes[index / LANES];
            let lane = index % LANES;
            lanes.re[lane] = (amplitude * re) as f32;
            lanes.im[lane] = (amplitude * im) as f32;
            lanes.step_re[lane] = (fade * step.0) as f32;
            lanes.step_im[lane] = (fade * step.1) as f32;
        }
    }

    /// The next sample: all phasors move on by one step.
    fn turn(&mut self) -> f32 {
        let mut sum = [0.0_f32; LANES];
        for lanes in &mut self.lanes {
            for (lane, sum) in sum.iter_mut().enumerate() {
                let (re, im) = (lanes.re[lane], lanes.im[lane]);
                let (step_re, step_im) = (lanes.step_re[lane], lanes.step_im[lane]);
                *sum += im;
                lanes.re[lane] = re * step_re - im * step_im;
                lanes.im[lane] = re * step_im + im * step_re;
            }
        }
        sum.iter().sum()
    }
}

fn part(sound: Sound, n: usize, n_partials: usize, note: &Event) -> Part {
    let ratio = sound.partial_ratio(n);
    let base = note.pitch.base;
    let hz = base.times(ratio);
    // Phases that keep the peaks low: M. R. Schroeder, "Synthesis of low-peak-factor signals
    // and binary sequences with low autocorrelation", IEEE Trans. Inf. Theory 16 (1970), for
    // a flat spectrum; from memory.
    let start_turns = -0.5 * (n * n) as f64 / n_partials as f64;
    Part {
        ratio,
        start: turn(start_turns),
        soft: sound.amplitude(n, hz, 0.0),
        loud: sound.amplitude(n, hz, 1.0),
        decay: sound
            .decay_s(n, base.get())
            .map_or(0.0, |seconds| 1_000_f64.ln() / seconds),
    }
}

/// Scales amplitudes so that together they have an RMS of 1.
fn level(partials: &mut [Part], amplitude: impl Fn(&mut Part) -> &mut f64) {
    let power: f64 = partials
        .iter_mut()
        .map(|part| amplitude(part).powi(2))
        .sum();
    let scale = (2.0 / power.max(1e-12)).sqrt();
    for part in partials {
        *amplitude(part) *= scale;
    }
}

/// A unit phasor `turns` turns round.
fn turn(turns: f64) -> (f64, f64) {
    let (sin, cos) = (TAU * turns.fract()).sin_cos();
    (cos, sin)
}

fn times(a: (f64, f64), b: (f64, f64)) -> (f64, f64) {
    (a.0 * b.0 - a.1 * b.1, a.0 * b.1 + a.1 * b.0)
}
