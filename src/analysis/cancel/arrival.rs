//! When a drone that has just begun arrives at the microphone, and how.

use rustfft::num_complex::Complex;

use super::path::Path;
use super::reference::Reference;
use crate::analysis::HOP;
use crate::drone::Passage;

/// The longest way that is looked for, in seconds: sound servers buffer up to two.
const LONGEST_S: f64 = 2.5;
/// What is played may be heard so long before its clock says so.
const EARLIEST_S: f64 = -0.1;
/// The drone must have been there for so long before it is judged, in seconds.
const STANDING_S: f64 = 0.2;
/// The strongest sinusoids are listened to.
const MOST_BUNDLES: usize = 16;
/// How much likelier the best moment must be than none, as a logarithm: noise alone reaches
/// about 30.
const LEAST_EVIDENCE: f64 = 100.0;
/// Hops that are taken together at the most.
const MOST_TOGETHER: usize = 8;
/// Hops from one judgement to the next.
const EVERY_HOPS: usize = 5;

/// A drone that begins.
pub(super) struct Arrival {
    passage: Passage,
    reference: Reference,
    from: f64,
    ramp: f64,
    rate_hz: f64,
    /// The strongest bundles, by their place.
    chosen: Vec<usize>,
    /// The loudspeaker's frame in the middle of each hop, without delay.
    frames: Vec<f64>,
    /// For each hop what each bundle's gain would be.
    heard: Vec<Vec<Complex<f64>>>,
    /// Hops that are taken together, so that neighbouring bundles do not disturb.
    together: usize,
}

/// What was found.
pub(super) struct Arrived {
    /// From the loudspeaker's clock to the microphone, in seconds.
    pub(super) latency_s: f64,
    /// The way of each bundle, as of that latency.
    pub(super) paths: Vec<Path>,
}

impl Arrival {
    /// Waits for `passage` of a loudspeaker of `rate_hz` frames a second.
    pub(super) fn of(passage: Passage, rate_hz: f64, hop: usize) -> Self {
        let mut reference = Reference::new(rate_hz, hop);
        // As though it had always been there: it is its rise that is looked for.
        reference.go_over(&Passage {
            from: 0,
            ramp: 1,
            components: passage.components.clone(),
        });
        let bundles = reference.bundles();
        let mut chosen: Vec<usize> = (0..bundles.len()).collect();
        chosen.sort_by(|a, b| bundles[*b].power.total_cmp(&bundles[*a].power));
        chosen.truncate(MOST_BUNDLES);
        let gaps = bundles.windows(2).map(|pair| pair[1].hz - pair[0].hz);
        let gap_hz = gaps.fold(f64::INFINITY, f64::min);
        let together = (1.0 / (gap_hz * HOP.get())).ceil() as usize;
        Self {
            from: passage.from as f64,
            ramp: passage.ramp as f64,
            rate_hz,
            passage,
            chosen,
            reference,
            frames: Vec::new(),
            heard: Vec::new(),
            together: together.clamp(1, MOST_TOGETHER),
        }
    }

    /// What is waited for.
    pub(super) fn passage(&self) -> &Passage {
        &self.passage
    }

    /// Takes in a hop whose first sample came when `frame` of the loudspeaker was being played.
    pub(super) fn hear(&mut self, samples: &[f32], frame: f64, advance: f64) {
        // What comes before it can be here says nothing.
        if frame < self.from + EARLIEST_S * self.rate_hz {
            return;
        }
        self.reference.set(frame, advance);
        let mut heard = Vec::with_capacity(self.reference.bundles().len());
        self.reference.project(samples, &mut heard);
        for (place, heard) in heard.iter_mut().enumerate() {
            let phasor = self.reference.phasor(place, place);
            *heard *= phasor.conj() / phasor.norm_sqr().max(1e-30);
        }
        self.heard.push(heard);
        self.frames
            .push(frame + 0.5 * advance * samples.len() as f64);
    }

    /// Whether it is useless to wait any longer.
    pub(super) fn is_over(&self) -> bool {
        let end = self.from + (LONGEST_S + STANDING_S) * self.rate_hz + self.ramp;
        self.frames.last().is_some_and(|last| *last > end)
    }

    /// Judges what has been heard, every few hops.
    pub(super) fn judge(&self) -> Option<Arrived> {
        if !self.frames.len().is_multiple_of(EVERY_HOPS) {
            return None;
        }
        let last = self.frames.last()?;
        let standing = STANDING_S * self.rate_hz;
        let step = 0.25 * 0.01 * self.rate_hz;
        let mut best: Option<(f64, f64)> = None;
        let mut delay = EARLIEST_S * self.rate_hz;
        while self.from + delay + self.ramp + standing <= *last && delay <= LONGEST_S * self.rate_hz
        {
            let evidence = self.evidence(delay);
            if best.is_none_or(|(found, _)| evidence > found) {
                best = Some((evidence, delay));
            }
            delay += step;
        }
        let (evidence, delay) = best?;
        // At the edge of what can be judged yet it may be still better further on.
        let is_inside = self.from + delay + self.ramp + standing + 2.0 * step <= *last;
        (evidence > LEAST_EVIDENCE && is_inside).then(|| self.arrived(delay))
    }

    fn risen(&self, frame: f64, delay: f64) -> f64 {
        let along = ((frame - delay - self.from) / self.ramp).clamp(0.0, 1.0);
        0.5 - 0.5 * (std::f64::consts::PI * along).cos()
    }

    /// How much likelier it is that the drone came `delay` frames late than not at all.
    fn evidence(&self, delay: f64) -> f64 {
        // Hops that are taken together say the same thing several times.
        let n = self.frames.len() as f64 / self.together as f64;
        let fits = self.chosen.iter().map(|bundle| {
            let (_, left, all) = self.fit(*bundle, delay);
            if all > 0.0 {
                n * (all / left.max(1e-9 * all)).ln()
            } else {
                0.0
            }
        });
        fits.sum()
    }

    /// The gain with which a bundle has risen, and the squares about that and about nothing but
    /// a mean.
    fn fit(&self, bundle: usize, delay: f64) -> (Complex<f64>, f64, f64) {
        let zero = Complex::new(0.0, 0.0);
        let (mut rise, mut rise_sq, mut n) = (0.0, 0.0, 0.0);
        let (mut sum, mut square, mut product) = (zero, 0.0, zero);
        let hops = self.frames.windows(self.together);
        for (frames, heard) in hops.zip(self.heard.windows(self.together)) {
            let share = 1.0 / self.together as f64;
            let risen = frames.iter().map(|f| self.risen(*f, delay)).sum::<f64>() * share;
            let heard = heard.iter().map(|hop| hop[bundle]).sum::<Complex<f64>>() * share;
            n += 1.0;
            rise += risen;
            rise_sq += risen * risen;
            sum += heard;
            square += heard.norm_sqr();
            product += heard * risen;
        }
        if n < 2.0 {
            return (zero, 0.0, 0.0);
        }
        let spread = rise_sq - rise * rise / n;
        let all = square - sum.norm_sqr() / n;
        if spread < 1e-6 {
            return (zero, all, all);
        }
        let gain = (product - sum * (rise / n)) / spread;
        (gain, all - gain.norm_sqr() * spread, all)
    }

    fn arrived(&self, delay: f64) -> Arrived {
        let latency_s = delay / self.rate_hz;
        let standing = self
            .frames
            .iter()
            .filter(|frame| self.risen(**frame, delay) > 0.99);
        let hops = standing.count() as u32;
        let bundles = self.reference.bundles().iter().enumerate();
        let paths = bundles.map(|(place, bundle)| {
            let (gain, left, _) = self.fit(place, delay);
            let turn = std::f64::consts::TAU * bundle.hz * latency_s;
            let noise = left / self.frames.len() as f64;
            Path::measured(
                bundle.hz,
                gain * Complex::from_polar(1.0, turn),
                noise,
                hops,
            )
        });
        Arrived {
            latency_s,
            paths: paths.collect(),
        }
    }
}
