//! From what is wanted to sound, without a click and without an error that grows.

use super::passage::{Component, Passage};
use super::spectrum::{MOST_PARTIALS, Timbre};
use crate::units::{Dbfs, Hertz, SampleRate, Seconds};

/// How long any change takes.
pub const RAMP: Seconds = Seconds::new(0.12);

/// The share of the sample rate no partial exceeds.
const BAND_LIMIT: f64 = 0.45;
/// Components nearer than this may add up to their sum for so long that the level is reckoned
/// as though they always did.
const BEATING_HZ: f64 = 4.0;
/// Weaker partials, relative to the strongest, are left out.
const FAINTEST: f64 = 1e-3;
/// Frames between exact phases.
const BLOCK: usize = 64;
/// Components computed side by side.
const LANES: usize = 8;

/// A tone that has to sound.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WantedTone {
    /// Its frequency.
    pub hertz: Hertz,
    /// From left (−1) to right (1).
    pub pan: f64,
}

/// What has to sound.
#[derive(Debug, Clone, PartialEq)]
pub struct Wanted {
    /// The tones; none is silence.
    pub tones: Vec<WantedTone>,
    /// What they sound like.
    pub timbre: Timbre,
    /// RMS level of all of them together, of the louder side. Where partials coincide or
    /// nearly do it is the level of the moments when they add up.
    pub level: Dbfs,
}

impl Wanted {
    /// Nothing.
    pub fn silence() -> Self {
        Self {
            tones: Vec::new(),
            timbre: Timbre::default(),
            level: Dbfs::SILENCE,
        }
    }
}

/// Renders a drone.
pub struct Synth {
    rate: SampleRate,
    /// The next frame.
    frame: u64,
    wanted: Wanted,
    current: Bank,
    /// What is on its way out.
    before: Option<Bank>,
}

struct Bank {
    passage: Passage,
    wanted: Wanted,
    lanes: Vec<Lanes>,
}

#[derive(Clone, Copy, Default)]
struct Lanes {
    re: [f32; LANES],
    im: [f32; LANES],
    step_re: [f32; LANES],
    step_im: [f32; LANES],
    left: [f32; LANES],
    right: [f32; LANES],
}

impl Synth {
    /// A silent drone at frame 0 of a stream of `rate`.
    pub fn new(rate: SampleRate) -> Self {
        Self {
            rate,
            frame: 0,
            wanted: Wanted::silence(),
            current: Bank::new(Passage::silence(), Wanted::silence()),
            before: None,
        }
    }

    /// What has to sound from now on. Changes that come faster than they can be heard are
    /// passed over but for the last.
    pub fn want(&mut self, wanted: Wanted) {
        self.wanted = wanted;
    }

    /// Whether nothing sounds and nothing is wanted.
    pub fn is_silent(&self) -> bool {
        self.before.is_none()
            && self.current.passage.components.is_empty()
            && self.wanted.tones.is_empty()
    }

    /// Renders the next frames, interleaved left and right; full scale is 1. Each passage that
    /// begins within them is told.
    pub fn render(&mut self, stereo: &mut [f32], mut told: impl FnMut(&Passage)) {
        for block in stereo.chunks_mut(2 * BLOCK) {
            self.change(&mut told);
            let frames = block.len() / 2;
            block.fill(0.0);
            let (first, passage) = (self.frame as f64, &self.current.passage);
            let last = (self.frame + frames as u64) as f64;
            let rising = (passage.risen(first), passage.risen(last));
            self.current.add_to(block, self.frame, rising);
            if let Some(before) = &mut self.before {
                before.add_to(block, self.frame, (1.0 - rising.0, 1.0 - rising.1));
                if rising.1 >= 1.0 {
                    self.before = None;
                }
            }
            self.frame += frames as u64;
        }
    }

    /// Begins what is wanted as soon as the last change is over.
    fn change(&mut self, told: &mut impl FnMut(&Passage)) {
        if self.before.is_some() || self.wanted == self.current.wanted {
            return;
        }
        let passage = Passage {
            from: self.frame,
            ramp: self.rate.frames_in(RAMP).get(),
            components: components(&self.wanted, self.rate),
        };
        told(&passage);
        let next = Bank::new(passage, self.wanted.clone());
        self.before = Some(std::mem::replace(&mut self.current, next));
    }
}

impl Bank {
    fn new(passage: Passage, wanted: Wanted) -> Self {
        let mut lanes = vec![Lanes::default(); passage.components.len().div_ceil(LANES)];
        for (n, component) in passage.components.iter().enumerate() {
            let (lanes, lane) = (&mut lanes[n / LANES], n % LANES);
            let (sin, cos) = (std::f64::consts::TAU * component.per_frame()).sin_cos();
            (lanes.step_re[lane], lanes.step_im[lane]) = (cos as f32, sin as f32);
            (lanes.left[lane], lanes.right[lane]) = component.amplitude;
        }
        Self {
            passage,
            wanted,
            lanes,
        }
    }

    /// Adds frames from `first` on, with a gain that goes from one value to another.
    fn add_to(&mut self, stereo: &mut [f32], first: u64, gain: (f64, f64)) {
        for (n, component) in self.passage.components.iter().enumerate() {
            let (lanes, lane) = (&mut self.lanes[n / LANES], n % LANES);
            let (sin, cos) = component.phase(first).sin_cos();
            (lanes.re[lane], lanes.im[lane]) = (cos as f32, sin as f32);
        }
        let slope = (gain.1 - gain.0) / (stereo.len() / 2).max(1) as f64;
        for (index, frame) in stereo.as_chunks_mut::<2>().0.iter_mut().enumerate() {
            let (mut left, mut right) = ([0.0_f32; LANES], [0.0_f32; LANES]);
            for lanes in &mut self.lanes {
                for lane in 0..LANES {
                    let (re, im) = (lanes.re[lane], lanes.im[lane]);
                    left[lane] += im * lanes.left[lane];
                    right[lane] += im * lanes.right[lane];
                    lanes.re[lane] = re * lanes.step_re[lane] - im * lanes.step_im[lane];
                    lanes.im[lane] = re * lanes.step_im[lane] + im * lanes.step_re[lane];
                }
            }
            let gain = (gain.0 + slope * index as f64) as f32;
            frame[0] += gain * left.iter().sum::<f32>();
            frame[1] += gain * right.iter().sum::<f32>();
        }
    }
}

/// The sinusoids of what is wanted, rising, at its level.
fn components(wanted: &Wanted, rate: SampleRate) -> Vec<Component> {
    struct Part {
        hz: f64,
        start: f64,
        sides: (f64, f64),
    }
    let mut parts: Vec<Part> = Vec::new();
    for tone in &wanted.tones {
        let hz = tone.hertz.get();
        let own: Vec<(f64, f64)> = (1..=MOST_PARTIALS)
            .map(|n| {
                (
                    n as f64 * hz,
                    wanted.timbre.amplitude(n, tone.hertz.times(n as f64)),
                )
            })
            .take_while(|(hz, _)| *hz < BAND_LIMIT * rate.hz())
            .collect();
        // Each tone as strong as the others.
        let norm = own.iter().map(|(_, a)| a * a).sum::<f64>().sqrt();
        let strongest = own.iter().map(|(_, a)| *a).fold(0.0, f64::max);
        // Constant power from side to side.
        let angle = std::f64::consts::FRAC_PI_4 * (1.0 + tone.pan.clamp(-1.0, 1.0));
        let own = own.into_iter().enumerate();
        let heard = own.filter(|(_, (_, a))| *a > FAINTEST * strongest);
        parts.extend(heard.map(|(index, (hz, amplitude))| {
            let n = (index + 1) as f64;
            Part {
                hz,
                // Peaks kept low: M. R. Schroeder, IEEE Trans. Inf. Theory 16 (1970), for a
                // flat spectrum; from memory.
                start: -0.5 * n * n / MOST_PARTIALS as f64,
                sides: (
                    amplitude / norm * angle.cos(),
                    amplitude / norm * angle.sin(),
                ),
            }
        }));
    }
    parts.sort_by(|a, b| a.hz.total_cmp(&b.hz));
    let (mut left, mut right) = (0.0_f64, 0.0_f64);
    for beating in parts.chunk_by(|a, b| b.hz - a.hz < BEATING_HZ) {
        left += beating.iter().map(|part| part.sides.0).sum::<f64>().powi(2);
        right += beating.iter().map(|part| part.sides.1).sum::<f64>().powi(2);
    }
    let rms = (0.5 * left.max(right)).sqrt();
    if rms <= 0.0 {
        return Vec::new();
    }
    let gain = 10_f64.powf(wanted.level.get() / 20.0) / rms;
    let component = |part: &Part| {
        let sides = ((gain * part.sides.0) as f32, (gain * part.sides.1) as f32);
        Component::new(part.hz / rate.hz(), part.start, sides)
    };
    parts.iter().map(component).collect()
}

#[cfg(test)]
mod tests;
