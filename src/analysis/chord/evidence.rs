//! How well a set of voices explains one window.
//!
//! Each voice is a row of lines at the multiples of its pitch. Lines that overlap share their
//! bins out by least squares (variable projection: Golub and Pereyra 1973, from memory), with a
//! weak prior on their power, so that the evidence of different numbers of voices can be
//! compared.

use rustfft::num_complex::Complex;

use super::system::{MOST_LINES, REACH, amplitudes, evidence, shape};
use super::window::Window;

/// Lines of one voice that are looked at.
pub(super) const MOST_PARTIALS: usize = 24;

/// The voices that are held still while one is moved, with the evidence of each cluster.
#[derive(Debug, Default, Clone)]
pub(super) struct Background {
    /// Places of all lines in bins, rising.
    lines: Vec<f64>,
    clusters: Vec<Cluster>,
    /// The lines of a moving voice with those they touch.
    together: Vec<f64>,
}

/// Lines that overlap, as a range of all lines.
#[derive(Debug, Clone, Copy)]
struct Cluster {
    from: usize,
    to: usize,
    evidence: f64,
}

/// The place of each line of a voice, in bins; none where even the first lies too high.
fn lines_of(hz: f64, highest_hz: f64, most: usize, window: &Window) -> impl Iterator<Item = f64> {
    let top = highest_hz.min((window.power.len() as f64 - REACH - 2.0) * window.bin_hz);
    let each = hz / window.bin_hz;
    let count = ((top / hz) as usize).min(most);
    (1..=count).map(move |n| n as f64 * each)
}

/// The ends of clusters among rising places of lines; a longer chain is cut where it has
/// become too long to be solved.
fn clusters(places: &[f64]) -> impl Iterator<Item = (usize, usize)> {
    let mut from = 0;
    (1..=places.len()).filter_map(move |to| {
        let ends = to == places.len()
            || places[to] - places[to - 1] > 2.0 * REACH
            || to - from == MOST_LINES;
        ends.then(|| (std::mem::replace(&mut from, to), to))
    })
}

impl Background {
    /// The lines of voices at `pitches` up to `highest_hz`.
    pub(super) fn set(&mut self, window: &Window, pitches: &[f64], highest_hz: f64) {
        self.lines.clear();
        for hz in pitches {
            let own = lines_of(*hz, highest_hz, MOST_PARTIALS, window);
            self.lines.extend(own);
        }
        self.lines.sort_unstable_by(f64::total_cmp);
        self.clusters.clear();
        let found = clusters(&self.lines).map(|(from, to)| Cluster {
            from,
            to,
            evidence: evidence(window, &self.lines[from..to]),
        });
        self.clusters.extend(found);
    }

    /// The evidence of all of it.
    pub(super) fn evidence(&self) -> f64 {
        self.clusters.iter().map(|cluster| cluster.evidence).sum()
    }

    /// What the first `most_lines` lines of a voice at `hz` add to the evidence.
    pub(super) fn gain(
        &mut self,
        window: &Window,
        hz: f64,
        highest_hz: f64,
        most_lines: usize,
    ) -> f64 {
        let mut gain = 0.0;
        let mut own = lines_of(hz, highest_hz, most_lines, window).peekable();
        let mut next = 0;
        let mut together = std::mem::take(&mut self.together);
        while let Some(line) = own.next() {
            together.clear();
            together.push(line);
            let mut high = line;
            while self
                .clusters
                .get(next)
                .is_some_and(|cluster| self.lines[cluster.to - 1] < line - 2.0 * REACH)
            {
                next += 1;
            }
            loop {
                if let Some(cluster) = self.clusters.get(next)
                    && self.lines[cluster.from] <= high + 2.0 * REACH
                    && cluster.to - cluster.from + together.len() <= MOST_LINES
                {
                    together.extend_from_slice(&self.lines[cluster.from..cluster.to]);
                    gain -= cluster.evidence;
                    high = high.max(self.lines[cluster.to - 1]);
                    next += 1;
                } else if let Some(&another) = own.peek()
                    && another <= high + 2.0 * REACH
                    && together.len() < MOST_LINES
                {
                    together.push(another);
                    high = high.max(another);
                    own.next();
                } else {
                    break;
                }
            }
            together.sort_unstable_by(f64::total_cmp);
            gain += evidence(window, &together);
        }
        self.together = together;
        gain
    }
}

/// One line as it was found.
#[derive(Debug, Clone, Copy)]
pub(super) struct Line {
    /// The voice it belongs to.
    pub(super) voice: usize,
    /// Its place in bins.
    pub(super) place: f64,
    /// Its complex amplitude.
    pub(super) amplitude: [f64; 2],
}

impl Line {
    /// The square of its amplitude.
    pub(super) fn power(&self) -> f64 {
        self.amplitude[0].powi(2) + self.amplitude[1].powi(2)
    }
}

/// Every line of all voices of `pitches`, explained together; rising.
pub(super) fn explain(window: &Window, pitches: &[f64], highest_hz: f64) -> Vec<Line> {
    let mut lines: Vec<Line> = Vec::new();
    for (voice, hz) in pitches.iter().enumerate() {
        let own = lines_of(*hz, highest_hz, MOST_PARTIALS, window);
        lines.extend(own.map(|place| Line {
            voice,
            place,
            amplitude: [0.0; 2],
        }));
    }
    lines.sort_unstable_by(|a, b| a.place.total_cmp(&b.place));
    let places: Vec<f64> = lines.iter().map(|line| line.place).collect();
    for (from, to) in clusters(&places) {
        let found = amplitudes(window, &places[from..to]);
        for (line, amplitude) in lines[from..to].iter_mut().zip(found) {
            line.amplitude = amplitude;
        }
    }
    lines
}

/// Takes `lines` out of the bins.
pub(super) fn subtract(lines: &[Line], bins: &mut [Complex<f32>]) {
    for line in lines {
        let from = (line.place - REACH).ceil().max(1.0) as usize;
        let to = ((line.place + REACH).floor() as usize).min(bins.len() - 1);
        for (bin, value) in bins.iter_mut().enumerate().take(to + 1).skip(from) {
            let at = shape(bin as f64 - line.place);
            let [re, im] = line.amplitude;
            *value -= Complex::new((at * re) as f32, (at * im) as f32);
        }
    }
}
