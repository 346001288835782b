//! Ways of sinusoids that lie so close to one another that a hop cannot tell them apart: what is
//! heard of one tells something about all, and time takes them apart.

use rustfft::num_complex::Complex;

use super::path::Path;
use super::reference::{Bundle, Reference};

/// Sinusoids nearer than this to the next are learnt together.
const CLOSE_HZ: f64 = 25.0;
/// The most that are learnt together.
const MOST: usize = 8;
/// How alike the ways of two frequencies are that lie so far apart.
const ALIKE_HZ: f64 = 1.0;
/// How much of itself a gain may change by from one hop to the next.
const RESTLESS: f64 = 0.003;
/// The same when it has just been found, going down from there; what other groups add to a hop
/// goes on longer than the filter believes.
const YOUNG: f64 = 0.02;
const YOUNG_HOPS: f64 = 200.0;
/// An unknown gain may be so much more than what is heard first, in power.
const UNKNOWN: f64 = 30.0;
/// What of all that is heard may come from other groups while it is learnt, in power.
const STRAY: f64 = 0.03;
/// Over how many hops the noise is averaged.
const NOISE_HOPS: f64 = 25.0;
/// Over how many hops what stands still beside the known gain is averaged.
const STILL_HOPS: f64 = 30.0;
/// ... and over how many the last moments are.
const BRIEF_HOPS: f64 = 3.0;
/// Between the two.
const LATELY_HOPS: f64 = 10.0;
/// How fast what was loud is forgotten from hop to hop, in power.
const LOUD_KEPT: f64 = 0.5;
/// What is heard beside a gain is in doubt from here on, relative to it (power) ...
const DOUBTFUL: f64 = 1.6e-3;
/// ... if so much of it stands still.
const STANDS: f64 = 0.3;
/// ... and more is heard than the gains could be off, in power.
const UNEXPECTED: f64 = 8.0;
/// Less of what is played says nothing, in power.
const LEAST_PRESENCE: f64 = 0.02;

/// Some neighbouring paths: a Kalman filter whose states are their gains and whose measurement
/// is what a hop holds at their common place (R. E. Kalman, J. Basic Eng. 82 (1960), from
/// memory).
#[derive(Debug, Clone)]
pub(super) struct Group {
    /// The paths, by place.
    pub(super) first: usize,
    pub(super) end: usize,
    /// The strongest of them.
    strongest: usize,
    /// Covariance of the gains, row by row.
    covariance: Vec<Complex<f64>>,
    /// Mean square of what is heard and not understood.
    noise: f64,
    /// What is played in this hop.
    phasors: Vec<Complex<f64>>,
    /// What is heard of it in this hop.
    heard: Complex<f64>,
    /// What of that stands still, and the square of the loudest of late.
    still: Complex<f64>,
    /// The same over a shorter time.
    lately: Complex<f64>,
    loud: f64,
    scratch: Vec<Complex<f64>>,
}

impl Group {
    /// The groups of all `paths`, one for each bundle.
    pub(super) fn of(bundles: &[Bundle], paths: &[Path]) -> Vec<Self> {
        let mut groups = Vec::new();
        let mut first = 0;
        while first < bundles.len() {
            let mut end = first + 1;
            while end < bundles.len()
                && end - first < MOST
                && bundles[end].hz - bundles[end - 1].hz < CLOSE_HZ
            {
                end += 1;
            }
            groups.push(Self::new(first, end, bundles, paths));
            first = end;
        }
        groups
    }

    fn new(first: usize, end: usize, bundles: &[Bundle], paths: &[Path]) -> Self {
        let strongest = (first..end)
            .max_by(|a, b| bundles[*a].power.total_cmp(&bundles[*b].power))
            .unwrap_or(first);
        let n = end - first;
        let mut group = Self {
            first,
            end,
            strongest,
            covariance: vec![Complex::new(0.0, 0.0); n * n],
            noise: 0.0,
            phasors: Vec::with_capacity(n),
            heard: Complex::new(0.0, 0.0),
            still: Complex::new(0.0, 0.0),
            lately: Complex::new(0.0, 0.0),
            loud: 0.0,
            scratch: Vec::with_capacity(n),
        };
        for (place, path) in paths[first..end].iter().enumerate() {
            group.covariance[place * n + place] = Complex::new(path.variance, 0.0);
        }
        group
    }

    /// Takes in what is played in a hop and what is heard at the place of the strongest.
    pub(super) fn hear(&mut self, reference: &Reference, projections: &[Complex<f64>]) {
        self.phasors.clear();
        let places = self.first..self.end;
        self.phasors
            .extend(places.map(|place| reference.phasor(place, self.strongest)));
        self.heard = projections[self.strongest];
    }

    /// The same for sound from which the known gains have not been taken.
    pub(super) fn hear_beside(&mut self, paths: &[Path]) {
        self.heard -= self.known(paths);
    }

    /// What the known gains make of what is played.
    fn known(&self, paths: &[Path]) -> Complex<f64> {
        let own = &paths[self.first..self.end];
        own.iter()
            .zip(&self.phasors)
            .map(|(path, h)| path.gain * h)
            .sum()
    }

    fn power(&self) -> f64 {
        self.phasors.iter().map(Complex::norm_sqr).sum()
    }

    /// What the clock's being ahead would turn, and how surely: the product with what is heard
    /// and the square over the noise, in seconds.
    pub(super) fn turned(&self, paths: &[Path], power: f64) -> Option<(f64, f64)> {
        let own = &paths[self.first..self.end];
        if !own.iter().all(Path::is_known) || self.power() < LEAST_PRESENCE * power {
            return None;
        }
        let known = self.known(paths);
        let noise = self.noise.max(self.heard.norm_sqr());
        // None is known better than this to stand for all.
        let noise = noise + (0.01 * known.norm()).powi(2);
        if noise <= 0.0 {
            return None;
        }
        let omega = std::f64::consts::TAU * paths[self.strongest].hz;
        let product = omega * (self.heard * known.conj()).im / noise;
        Some((product, (omega * known.norm()).powi(2) / noise))
    }

    /// Takes from what is heard what the clock has turned.
    pub(super) fn turn_back(&mut self, paths: &[Path], ahead_s: f64) {
        let omega = std::f64::consts::TAU * paths[self.strongest].hz;
        self.heard -= Complex::new(0.0, omega * ahead_s) * self.known(paths);
    }

    /// What of all that is heard each path's gain would account for alone, by place in the
    /// group.
    pub(super) fn alone(&self, paths: &[Path], place: usize) -> Complex<f64> {
        let power = self.power().max(1e-30);
        paths[self.first + place].gain + self.heard * self.phasors[place].conj() / power
    }

    /// Learns from the hop; `power` is the sum of squares of all amplitudes when all is there.
    pub(super) fn learn(&mut self, paths: &mut [Path], power: f64) {
        let known = self.known(paths);
        let own = &mut paths[self.first..self.end];
        for path in own.iter_mut() {
            path.gain_before = path.gain;
        }
        let now = self.power();
        if now < LEAST_PRESENCE * power {
            return;
        }
        let n = own.len();
        let square = self.heard.norm_sqr();
        let age = own.iter().map(|path| path.age).min().unwrap_or(0);
        if age == 0 {
            self.begin(own, UNKNOWN * square / now);
        }
        self.still += (self.heard - self.still) / STILL_HOPS;
        self.loud = (self.loud * LOUD_KEPT).max(square);
        self.still = within(self.still, self.loud);
        self.lately += (self.heard - self.lately) / LATELY_HOPS;
        self.lately = within(self.lately, self.loud);
        let own_powers = own.iter().zip(&self.phasors);
        let (mut still, mut gains) = (0.0, 0.0);
        for (path, h) in own_powers {
            still += h.norm_sqr() * path.still.norm_sqr();
            gains += h.norm_sqr() * path.gain.norm_sqr();
        }
        for (path, h) in own.iter_mut().zip(&self.phasors) {
            let alone = self.heard * h.conj() / now;
            path.still += (alone - path.still) * ((now / power).min(1.0) / STILL_HOPS);
            path.brief += (alone - path.brief) / BRIEF_HOPS;
            // Nothing stands that is louder than all there is now.
            path.loud = (path.loud * LOUD_KEPT).max(alone.norm_sqr());
            path.still = within(path.still, path.loud);
            path.brief = within(path.brief, path.loud);
            path.age = path.age.saturating_add(1);
        }
        for (place, path) in own.iter().enumerate() {
            let young = YOUNG * (1.0 - f64::from(path.age) / YOUNG_HOPS).max(0.0);
            self.covariance[place * n + place] += (young.max(RESTLESS) * path.gain.norm()).powi(2);
        }
        // P h*, and h P h*.
        self.scratch.clear();
        for row in 0..n {
            let products = self.phasors.iter().enumerate();
            let sum = products.map(|(column, h)| self.covariance[row * n + column] * h.conj());
            self.scratch.push(sum.sum());
        }
        let expected: f64 = self
            .phasors
            .iter()
            .zip(&self.scratch)
            .map(|(h, p)| (h * p).re)
            .sum();
        let unexpected = (square - expected).max(0.0);
        let share = (1.0 / NOISE_HOPS).max(1.0 / f64::from(age + 1));
        self.noise += (unexpected - self.noise) * share;
        // A sound that begins must not be believed before the mean has noticed it.
        let mut noise = self.noise.max(unexpected);
        let is_known = own.iter().all(Path::is_known);
        if !is_known {
            noise = noise.max(STRAY * (known + self.heard).norm_sqr());
        }
        // What stands still beside it may be a player on the very same pitch, who must not be
        // taken for the way.
        let is_in_doubt = own.iter().all(Path::was_listened_for)
            && square > UNEXPECTED * expected
            && still > DOUBTFUL * gains
            && still > STANDS * noise;
        let sum = expected + noise;
        if is_in_doubt || sum <= 0.0 {
            return;
        }
        for (path, p) in own.iter_mut().zip(&self.scratch) {
            path.gain += p * (self.heard / sum);
        }
        for row in 0..n {
            for column in 0..n {
                let less = self.scratch[row] * self.scratch[column].conj() / sum;
                self.covariance[row * n + column] -= less;
            }
        }
        for (place, path) in own.iter_mut().enumerate() {
            let variance = &mut self.covariance[place * n + place];
            // Rounding must not make it negative.
            *variance = Complex::new(variance.re.max(1e-8 * path.gain.norm_sqr()), 0.0);
            path.variance = variance.re;
        }
    }

    /// Nothing is known of some of the ways yet, but that close ones are alike.
    fn begin(&mut self, own: &[Path], variance: f64) {
        let n = own.len();
        for row in 0..n {
            for column in 0..n {
                if own[row].age > 0 || own[column].age > 0 {
                    continue;
                }
                let apart = (own[row].hz - own[column].hz).abs() / ALIKE_HZ;
                self.covariance[row * n + column] = Complex::new(variance * (-apart).exp(), 0.0);
            }
        }
    }

    /// Mean square of what stands still beside what is known.
    pub(super) fn standing(&self) -> f64 {
        0.5 * self.still.norm_sqr()
    }

    /// The same of the last tenth of a second.
    pub(super) fn lately(&self) -> f64 {
        0.5 * self.lately.norm_sqr()
    }

    /// Mean square of what is heard beside the gains.
    pub(super) fn noise(&self) -> f64 {
        self.noise
    }
}

/// The same phasor, with a square of `most` at most.
fn within(phasor: Complex<f64>, most: f64) -> Complex<f64> {
    let square = phasor.norm_sqr();
    if square > most {
        phasor * (most / square).sqrt()
    } else {
        phasor
    }
}
