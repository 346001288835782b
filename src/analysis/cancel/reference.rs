//! The drone as it was played: its sinusoids at each hop.

use rustfft::num_complex::Complex;

use crate::drone::{Component, Passage};

/// Sinusoids nearer than this are one: they would need a minute to come apart.
const TOGETHER_HZ: f64 = 0.02;
/// Components computed side by side.
const LANES: usize = 8;

/// A sinusoid of what is played, on its way from one strength to another.
#[derive(Debug, Clone, Copy)]
struct Part {
    component: Component,
    hz: f64,
    before: f64,
    after: f64,
}

/// Sinusoids of one frequency.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Bundle {
    /// The frequency, by the loudspeaker's clock.
    pub(super) hz: f64,
    /// Mean square of what is played of them, when it is fully there.
    pub(super) power: f64,
    first: usize,
    end: usize,
}

/// What is played, as far as the microphone has heard it.
pub(super) struct Reference {
    /// Frames a second of the loudspeaker.
    rate_hz: f64,
    hop: usize,
    passage: Passage,
    parts: Vec<Part>,
    bundles: Vec<Bundle>,
    /// For each frame of the hop and lane: cosine and sine of all parts.
    phasors: Vec<([f32; LANES], [f32; LANES])>,
    /// Strength of each part at the hop's start and end.
    strengths: Vec<(f64, f64)>,
    /// Phase of each part in the middle of the hop.
    phases: Vec<f64>,
    /// One pair for each part, while it is worked on.
    scratch: Vec<(Complex<f64>, Complex<f64>)>,
}

impl Reference {
    /// Silence, for a loudspeaker of `rate_hz` frames a second.
    pub(super) fn new(rate_hz: f64, hop: usize) -> Self {
        Self {
            rate_hz,
            hop,
            passage: Passage::silence(),
            parts: Vec::new(),
            bundles: Vec::new(),
            phasors: Vec::new(),
            strengths: Vec::new(),
            phases: Vec::new(),
            scratch: Vec::new(),
        }
    }

    /// The bundles, rising.
    pub(super) fn bundles(&self) -> &[Bundle] {
        &self.bundles
    }

    /// Whether nothing sounds, nor fades.
    pub(super) fn is_silent(&self) -> bool {
        self.parts.is_empty()
    }

    /// Whether a change is under way at a frame of the loudspeaker.
    pub(super) fn changes(&self, frame: f64) -> bool {
        frame < (self.passage.from + self.passage.ramp) as f64
    }

    /// Goes over to the next passage. What the last one left is taken to be fully there.
    pub(super) fn go_over(&mut self, passage: &Passage) {
        self.settle();
        for part in &mut self.parts {
            part.before = part.after;
            part.after = 0.0;
        }
        for component in &passage.components {
            let same = |part: &&mut Part| {
                part.component.step == component.step && part.component.start == component.start
            };
            match self.parts.iter_mut().find(same) {
                Some(part) => part.after = component.mono(),
                None => self.parts.push(Part {
                    component: *component,
                    hz: component.per_frame() * self.rate_hz,
                    before: 0.0,
                    after: component.mono(),
                }),
            }
        }
        self.passage = passage.clone();
        self.gather();
    }

    /// Lets go of what has faded, once the last change is over; says whether anything went.
    pub(super) fn settle(&mut self) -> bool {
        let before = self.parts.len();
        self.parts.retain(|part| part.after != 0.0);
        let went = self.parts.len() != before;
        if went {
            self.gather();
        }
        went
    }

    fn gather(&mut self) {
        self.parts.sort_by(|a, b| a.hz.total_cmp(&b.hz));
        self.bundles.clear();
        let mut first = 0;
        for parts in self.parts.chunk_by(|a, b| b.hz - a.hz < TOGETHER_HZ) {
            let strength = |part: &Part| part.before.max(part.after).powi(2);
            let power: f64 = parts.iter().map(strength).sum();
            let hz: f64 = parts.iter().map(|part| part.hz * strength(part)).sum();
            self.bundles.push(Bundle {
                hz: hz / power,
                power: 0.5 * power,
                first,
                end: first + parts.len(),
            });
            first += parts.len();
        }
    }

    /// Sets the phasors of a hop whose first sample was played at `frame` of the loudspeaker,
    /// each sample `advance` frames after the other.
    pub(super) fn set(&mut self, frame: f64, advance: f64) {
        let blocks = self.parts.len().div_ceil(LANES);
        self.phasors
            .resize(blocks * self.hop, ([0.0; LANES], [0.0; LANES]));
        self.strengths.clear();
        self.phases.clear();
        let middle = frame + 0.5 * advance * self.hop as f64;
        let (first, last) = (
            self.passage.risen(frame),
            self.passage.risen(frame + advance * self.hop as f64),
        );
        for part in &self.parts {
            let at = |risen: f64| part.before + (part.after - part.before) * risen;
            self.strengths.push((at(first), at(last)));
            self.phases.push(part.component.phase_at(middle));
        }
        for (block, parts) in self.parts.chunks(LANES).enumerate() {
            let (mut re, mut im) = ([0.0_f32; LANES], [0.0_f32; LANES]);
            let (mut step_re, mut step_im) = ([0.0_f32; LANES], [0.0_f32; LANES]);
            for (lane, part) in parts.iter().enumerate() {
                let (sin, cos) = part.component.phase_at(frame).sin_cos();
                (re[lane], im[lane]) = (cos as f32, sin as f32);
                let step = std::f64::consts::TAU * part.component.per_frame() * advance;
                let (sin, cos) = step.sin_cos();
                (step_re[lane], step_im[lane]) = (cos as f32, sin as f32);
            }
            let room = &mut self.phasors[block * self.hop..(block + 1) * self.hop];
            for slot in room {
                *slot = (re, im);
                for lane in 0..LANES {
                    let (r, i) = (re[lane], im[lane]);
                    re[lane] = r * step_re[lane] - i * step_im[lane];
                    im[lane] = r * step_im[lane] + i * step_re[lane];
                }
            }
        }
    }

    /// Takes from `samples` what comes of the reference by ways that go from one gain to
    /// another during the hop; one pair for each bundle.
    pub(super) fn subtract(
        &mut self,
        gains: impl IntoIterator<Item = (Complex<f64>, Complex<f64>)>,
        samples: &mut [f32],
    ) {
        self.scratch.clear();
        for (bundle, (from, to)) in self.bundles.iter().zip(gains) {
            for (start, end) in &self.strengths[bundle.first..bundle.end] {
                self.scratch.push((from * start, to * end));
            }
        }
        let each = 1.0 / self.hop as f64;
        for (block, gains) in self.scratch.chunks(LANES).enumerate() {
            // What is heard is the imaginary part of gain times phasor: sines are played.
            let (mut a, mut b) = ([0.0_f32; LANES], [0.0_f32; LANES]);
            let (mut da, mut db) = ([0.0_f32; LANES], [0.0_f32; LANES]);
            for (lane, (from, to)) in gains.iter().enumerate() {
                (a[lane], b[lane]) = (from.re as f32, from.im as f32);
                let slope = (to - from) * each;
                (da[lane], db[lane]) = (slope.re as f32, slope.im as f32);
            }
            let phasors = &self.phasors[block * self.hop..];
            for (sample, (cos, sin)) in samples.iter_mut().zip(phasors) {
                let mut sum = [0.0_f32; LANES];
                for lane in 0..LANES {
                    sum[lane] = a[lane] * sin[lane] + b[lane] * cos[lane];
                    a[lane] += da[lane];
                    b[lane] += db[lane];
                }
                *sample -= sum.iter().sum::<f32>();
            }
        }
    }

    /// What of `samples` each bundle's sinusoid could be: amplitude and phase against its first
    /// part.
    pub(super) fn project(&mut self, samples: &[f32], out: &mut Vec<Complex<f64>>) {
        out.clear();
        self.scratch.clear();
        for block in 0..self.parts.len().div_ceil(LANES) {
            let (mut re, mut im) = ([0.0_f32; LANES], [0.0_f32; LANES]);
            let phasors = &self.phasors[block * self.hop..];
            for (sample, (cos, sin)) in samples.iter().zip(phasors) {
                for lane in 0..LANES {
                    re[lane] += sample * sin[lane];
                    im[lane] += sample * cos[lane];
                }
            }
            let found = |lane: usize| Complex::new(re[lane].into(), im[lane].into());
            let none = Complex::new(0.0, 0.0);
            self.scratch
                .extend((0..LANES).map(|lane| (found(lane), none)));
        }
        let share = 2.0 / self.hop as f64;
        out.extend(
            self.bundles
                .iter()
                .map(|bundle| self.scratch[bundle.first].0 * share),
        );
    }

    /// The sinusoid of a bundle in the middle of the hop that was set: its amplitude, with its
    /// phase against the first part of bundle `beside`.
    pub(super) fn phasor(&self, bundle: usize, beside: usize) -> Complex<f64> {
        let first = self.phases[self.bundles[beside].first];
        let Bundle {
            first: from, end, ..
        } = self.bundles[bundle];
        let parts = self.strengths[from..end]
            .iter()
            .zip(&self.phases[from..end]);
        parts
            .map(|((start, end), phase)| Complex::from_polar(0.5 * (start + end), phase - first))
            .sum()
    }
}
