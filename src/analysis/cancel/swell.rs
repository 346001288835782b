//! Beats as the microphone hears them: how the loudness of a partial that player and drone
//! share rises and falls.

use std::collections::VecDeque;

use rustfft::num_complex::Complex;

use super::group::Group;
use super::path::Path;

/// Hops that are kept: three seconds.
const KEPT: usize = 300;
/// Hops that are needed.
const NEEDED: usize = 120;
/// Hops a value is the mean of, so that neighbouring partials do not disturb.
const SMOOTHED: usize = 4;
/// Beats a second that are looked for.
const SLOWEST_HZ: f64 = 0.4;
const FASTEST_HZ: f64 = 12.0;
/// How much of all movement of the loudness must be one beat.
const LEAST_SHARE: f64 = 0.5;
/// How deep it must be, relative to the mean.
const LEAST_DEPTH: f64 = 0.02;
/// Another note is so far away, as a logarithm: 50 cents.
const ANOTHER: f64 = 0.029;
/// Hops a second.
const PER_SECOND: f64 = 100.0;
/// Hops from one count to the next.
const EVERY: usize = 20;

/// Listens for beats.
#[derive(Debug, Clone)]
pub(super) struct Swell {
    /// What each bundle's gain would be with the player in it, hop by hop.
    rows: VecDeque<Vec<Complex<f32>>>,
    row: Vec<Complex<f32>>,
    since: usize,
    rate_hz: Option<f64>,
    player: Option<f64>,
}

impl Swell {
    pub(super) fn new() -> Self {
        Self {
            rows: VecDeque::with_capacity(KEPT),
            row: Vec::new(),
            since: 0,
            rate_hz: None,
            player: None,
        }
    }

    pub(super) fn clear(&mut self) {
        self.rows.clear();
        self.row.clear();
        self.rate_hz = None;
    }

    /// Takes in a bundle of this hop.
    pub(super) fn take(&mut self, gain: Complex<f64>) {
        self.row.push(Complex::new(gain.re as f32, gain.im as f32));
    }

    /// Goes on to the next hop.
    pub(super) fn turn(&mut self) {
        let mut oldest = if self.rows.len() == KEPT {
            self.rows.pop_front().unwrap_or_default()
        } else {
            Vec::new()
        };
        oldest.clear();
        self.rows
            .push_back(std::mem::replace(&mut self.row, oldest));
        self.since += 1;
    }

    /// Listens to the bundle that a player at `player` hertz beats with most loudly.
    pub(super) fn choose(&mut self, player: Option<f64>, paths: &[Path], groups: &[Group]) {
        // What another note did says nothing about this one.
        let is_same = match (player, self.player) {
            (Some(now), Some(before)) => (now / before).ln().abs() < ANOTHER,
            _ => false,
        };
        if !is_same {
            self.rows.clear();
        }
        self.player = player;
        let noise = |place: usize| {
            let group = groups.iter().find(|group| place < group.end);
            group.map_or(0.0, Group::noise)
        };
        let near = |(place, path): (usize, &Path)| {
            let n = (path.hz / player?).round();
            let off = (path.hz - n * player?).abs();
            let is_near = (1.0..=16.0).contains(&n) && off <= FASTEST_HZ;
            is_near.then(|| (place, noise(place)))
        };
        let places = paths.iter().enumerate().filter_map(near);
        let chosen = places
            .max_by(|a, b| a.1.total_cmp(&b.1))
            .map(|(place, _)| place);
        if chosen.is_none() {
            self.rate_hz = None;
        } else if self.since >= EVERY {
            self.since = 0;
            self.rate_hz = chosen.and_then(|place| self.count(place));
        }
    }

    /// Beats a second; none where none are heard.
    pub(super) fn rate_hz(&self) -> Option<f64> {
        self.rate_hz
    }

    /// Counts the beats of a bundle.
    fn count(&self, place: usize) -> Option<f64> {
        let gains: Vec<Complex<f32>> = self
            .rows
            .iter()
            .rev()
            .map_while(|row| row.get(place).copied())
            .collect();
        if gains.len() < NEEDED {
            return None;
        }
        let loudness: Vec<f64> = gains
            .windows(SMOOTHED)
            .map(|hops| f64::from(hops.iter().sum::<Complex<f32>>().norm_sqr()))
            .collect();
        let n = loudness.len() as f64;
        let mean = loudness.iter().sum::<f64>() / n;
        // Half a turn of slow change is no beat: a straight line is taken off.
        let middle = 0.5 * (n - 1.0);
        let (mut slope, mut spread) = (0.0, 0.0);
        for (at, value) in loudness.iter().enumerate() {
            slope += (at as f64 - middle) * (value - mean);
            spread += (at as f64 - middle).powi(2);
        }
        let slope = slope / spread;
        let moving: Vec<f64> = loudness
            .iter()
            .enumerate()
            .map(|(at, value)| value - mean - slope * (at as f64 - middle))
            .collect();
        let all: f64 = moving.iter().map(|value| value * value).sum();
        if all <= (LEAST_DEPTH * mean).powi(2) * n {
            return None;
        }
        let power = |hz: f64| {
            let turn = Complex::from_polar(1.0, -std::f64::consts::TAU * hz / PER_SECOND);
            let (mut phasor, mut sum) = (Complex::new(1.0, 0.0), Complex::new(0.0, 0.0));
            for value in &moving {
                sum += phasor * *value;
                phasor *= turn;
            }
            2.0 * sum.norm_sqr() / n
        };
        let step = 0.05;
        let count = ((FASTEST_HZ - SLOWEST_HZ) / step) as usize;
        let rates = (0..=count).map(|k| SLOWEST_HZ + step * k as f64);
        let (rate, found) = rates
            .map(|hz| (hz, power(hz)))
            .max_by(|a, b| a.1.total_cmp(&b.1))?;
        if found < LEAST_SHARE * all || rate * n < PER_SECOND {
            return None;
        }
        let (left, right) = (power(rate - step), power(rate + step));
        let bend = left - 2.0 * found + right;
        let off = if bend < 0.0 {
            0.5 * (left - right) / bend
        } else {
            0.0
        };
        Some(rate + off * step)
    }
}
