//! How a pitch moves over a second: its centre, spread, drift and vibrato.

use std::collections::VecDeque;

use super::lately::distance;
use super::reading::{Motion, Vibrato};
use crate::units::{Cents, Hertz, Seconds};

/// The longest span looked at.
const SPAN_S: f64 = 1.0;
/// Readings from one measurement of the motion to the next: a twentieth of a second.
const EVERY: u32 = 5;
/// The shortest span that says anything.
const SHORTEST_S: f64 = 0.3;
/// Rates looked at for vibrato, in swings a second: common practice, no source; string and
/// choir vibrato lie near 5 to 6 (a 2018 study of unison choir singing gives 5.13).
const SLOWEST_HZ: f64 = 3.5;
const FASTEST_HZ: f64 = 8.5;
/// Steps in which rates are looked at, before the best is narrowed down.
const RATE_STEP_HZ: f64 = 0.5;
/// Vibrato must explain this share of what drift leaves.
const EXPLAINED: f64 = 0.6;
/// The smallest swing called vibrato, in cents to each side.
const SMALLEST_EXTENT: f64 = 4.0;
/// A vibrato is told only from a span of this many swings.
const SWINGS: f64 = 2.0;

/// The pitches of the note that sounds, over the last second.
#[derive(Debug)]
pub(super) struct Track {
    points: VecDeque<(f64, f64)>,
    /// What was said last, and how many readings ago.
    said: (Option<Motion>, u32),
}

impl Track {
    /// Room for a second of hops.
    pub(super) fn new(hops_per_second: usize) -> Self {
        Self {
            points: VecDeque::with_capacity(hops_per_second + 8),
            said: (None, 0),
        }
    }

    /// Begins a new note.
    pub(super) fn clear(&mut self) {
        self.points.clear();
        self.said = (None, 0);
    }

    /// Adds a reading and says how the pitch has moved.
    pub(super) fn add(&mut self, time: Seconds, hertz: Hertz) -> Option<Motion> {
        let cents = 1200.0 * hertz.get().log2();
        // A change of window moves the centre of what was analysed; time runs forward only.
        if self
            .points
            .back()
            .is_some_and(|(last, _)| *last >= time.get())
        {
            return self.said.0;
        }
        while self
            .points
            .front()
            .is_some_and(|(first, _)| time.get() - first > SPAN_S)
            || self.points.len() == self.points.capacity()
        {
            self.points.pop_front();
        }
        self.points.push_back((time.get(), cents));
        self.said.1 += 1;
        if self.said.1 >= EVERY || self.said.0.is_none() {
            self.said = (self.motion(), 0);
        }
        self.said.0
    }

    /// Whether a vibrato shows in the track now.
    pub(super) fn swings(&self) -> bool {
        self.said.0.is_some_and(|motion| motion.vibrato.is_some())
    }

    /// How far the pitch has moved within the last stretch of `span`.
    pub(super) fn range(&self, span: Seconds) -> Cents {
        let Some((now, _)) = self.points.back() else {
            return Cents::UNISON;
        };
        let recent = self
            .points
            .iter()
            .rev()
            .take_while(|(time, _)| now - time <= span.get());
        Cents::new(distance(recent.map(|(_, cents)| *cents)))
    }

    fn motion(&self) -> Option<Motion> {
        let (first, last) = (self.points.front()?, self.points.back()?);
        let span = last.0 - first.0;
        if span < SHORTEST_S {
            return None;
        }
        let middle = f64::midpoint(first.0, last.0);
        let line = Line::through(self.points.iter().map(|(t, c)| (t - middle, *c)))?;
        let mut motion = Motion {
            centre: hertz(line.level),
            spread: Cents::new(line.spread),
            drift_per_second: Cents::new(line.slope),
            vibrato: None,
            span: Seconds::new(span),
        };
        if let Some(swing) = self.swing(middle, span, &line) {
            motion.centre = hertz(swing.level);
            motion.drift_per_second = Cents::new(swing.slope);
            motion.vibrato = Some(Vibrato {
                rate_hz: swing.rate_hz,
                extent: Cents::new(swing.extent),
            });
        }
        Some(motion)
    }

    /// The best-fitting swing on top of a straight line, if there is one beyond doubt.
    fn swing(&self, middle: f64, span: f64, line: &Line) -> Option<Swing> {
        if line.residual < 0.5 * SMALLEST_EXTENT {
            return None;
        }
        // Every second reading is enough for the fastest vibrato.
        let points = || {
            let every_other = self.points.iter().step_by(2);
            every_other.map(|(t, c)| (t - middle, c - line.level))
        };
        let mut best: Option<(f64, Swing)> = None;
        let mut consider = |rate_hz: f64| {
            if let Some((left, swing)) = Swing::fit(points(), rate_hz)
                && best.is_none_or(|(least, _)| left < least)
            {
                best = Some((left, swing));
            }
            best.map(|(_, swing)| swing.rate_hz)
        };
        let slowest_hz = SLOWEST_HZ.max(SWINGS / span);
        let mut found = None;
        let mut rate_hz = slowest_hz;
        while rate_hz <= FASTEST_HZ {
            found = consider(rate_hz);
            rate_hz += RATE_STEP_HZ;
        }
        for nearer in [0.5, 0.25] {
            let middle_hz = found?;
            for step_hz in [-nearer * RATE_STEP_HZ, nearer * RATE_STEP_HZ] {
                found = consider((middle_hz + step_hz).clamp(slowest_hz, FASTEST_HZ));
            }
        }
        let (left, mut swing) = best?;
        let explained = 1.0 - left / line.residual.powi(2).max(1e-12);
        swing.level += line.level;
        (explained > EXPLAINED && swing.extent >= SMALLEST_EXTENT).then_some(swing)
    }
}

fn hertz(cents: f64) -> Hertz {
    // Cents here came from a frequency, so they lead back to one.
    Hertz::new((cents / 1200.0).exp2()).unwrap_or(Hertz::new(1.0).expect("1 Hz is a frequency"))
}

/// A straight line through the track.
struct Line {
    level: f64,
    slope: f64,
    /// Standard deviation about the mean.
    spread: f64,
    /// Standard deviation about the line.
    residual: f64,
}

impl Line {
    /// Least squares over points (time, cents), times counted from the middle.
    fn through(points: impl Iterator<Item = (f64, f64)> + Clone) -> Option<Self> {
        let n = points.clone().count() as f64;
        if n < 3.0 {
            return None;
        }
        let mean_t = points.clone().map(|p| p.0).sum::<f64>() / n;
        let mean_c = points.clone().map(|p| p.1).sum::<f64>() / n;
        let (mut tt, mut tc, mut cc) = (0.0, 0.0, 0.0);
        for (t, c) in points {
            tt += (t - mean_t).powi(2);
            tc += (t - mean_t) * (c - mean_c);
            cc += (c - mean_c).powi(2);
        }
        let slope = if tt > 0.0 { tc / tt } else { 0.0 };
        let residual = (cc - slope * tc).max(0.0);
        Some(Self {
            level: mean_c - slope * mean_t,
            slope,
            spread: (cc / n).sqrt(),
            residual: (residual / n).sqrt(),
        })
    }
}

/// A line with a sine on it.
#[derive(Debug, Clone, Copy)]
struct Swing {
    level: f64,
    slope: f64,
    extent: f64,
    rate_hz: f64,
}

impl Swing {
    /// Least squares of level, slope, sine and cosine at `rate_hz`; returns the mean squared
    /// error that is left.
    fn fit(points: impl Iterator<Item = (f64, f64)> + Clone, rate_hz: f64) -> Option<(f64, Self)> {
        let omega = std::f64::consts::TAU * rate_hz;
        let mut normal = [[0.0; 5]; 4];
        let mut squares = 0.0;
        let mut n = 0.0;
        for (t, c) in points {
            let basis = [1.0, t, (omega * t).sin(), (omega * t).cos()];
            for (i, row) in normal.iter_mut().enumerate() {
                for (j, cell) in row[..4].iter_mut().enumerate() {
                    *cell += basis[i] * basis[j];
                }
                row[4] += basis[i] * c;
            }
            squares += c * c;
            n += 1.0;
        }
        let right = normal.map(|row| row[4]);
        let solution = solve(normal)?;
        let fitted: f64 = solution.iter().zip(right).map(|(a, b)| a * b).sum();
        let left = ((squares - fitted) / n).max(0.0);
        let [level, slope, sine, cosine] = solution;
        Some((
            left,
            Self {
                level,
                slope,
                extent: sine.hypot(cosine),
                rate_hz,
            },
        ))
    }
}

/// Gaussian elimination with pivoting of a 4 by 4 system.
fn solve(mut m: [[f64; 5]; 4]) -> Option<[f64; 4]> {
    for column in 0..4 {
        let pivot =
            (column..4).max_by(|&a, &b| m[a][column].abs().total_cmp(&m[b][column].abs()))?;
        m.swap(column, pivot);
        if m[column][column].abs() < 1e-9 {
            return None;
        }
        for row in column + 1..4 {
            let factor = m[row][column] / m[column][column];
            let above = m[column];
            for (cell, up) in m[row].iter_mut().zip(above) {
                *cell -= factor * up;
            }
        }
    }
    let mut x = [0.0; 4];
    for row in (0..4).rev() {
        let known: f64 = (row + 1..4).map(|j| m[row][j] * x[j]).sum();
        x[row] = (m[row][4] - known) / m[row][row];
    }
    Some(x)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn track(cents: impl Fn(f64) -> f64) -> Motion {
        let mut track = Track::new(100);
        let mut motion = None;
        for hop in 0..150 {
            let t = f64::from(hop) * 0.01;
            let hertz = Hertz::new(440.0).unwrap().raised(Cents::new(cents(t)));
            motion = track.add(Seconds::new(t), hertz);
        }
        motion.unwrap()
    }

    fn centre_cents(motion: &Motion) -> f64 {
        motion.centre.above(Hertz::new(440.0).unwrap()).get()
    }

    #[test]
    fn a_still_note_has_no_motion() {
        let motion = track(|_| 7.0);
        assert!((centre_cents(&motion) - 7.0).abs() < 1e-6);
        assert!(motion.spread.get() < 1e-6 && motion.vibrato.is_none());
    }

    #[test]
    fn drift_is_told_in_cents_a_second() {
        let motion = track(|t| 5.0 * t);
        assert!((motion.drift_per_second.get() - 5.0).abs() < 1e-6);
        assert!(motion.vibrato.is_none());
    }

    #[test]
    fn vibrato_is_measured_about_its_centre() {
        let motion = track(|t| 3.0 + 15.0 * (std::f64::consts::TAU * 5.6 * t).sin());
        let vibrato = motion.vibrato.unwrap();
        assert!((vibrato.rate_hz - 5.6).abs() < 0.2, "{vibrato:?}");
        assert!((vibrato.extent.get() - 15.0).abs() < 0.5, "{vibrato:?}");
        assert!(
            (centre_cents(&motion) - 3.0).abs() < 0.5,
            "{}",
            centre_cents(&motion)
        );
    }

    #[test]
    fn slow_wander_is_no_vibrato() {
        let motion = track(|t| 10.0 * (std::f64::consts::TAU * 0.8 * t).sin());
        assert!(motion.vibrato.is_none());
    }
}
