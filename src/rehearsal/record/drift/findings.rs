//! What lines say: who moved, by how much and since when.

use super::lines::at;
use super::{DriftLine, Finding};
use crate::units::{Cents, Seconds};

/// Movements below this are not told: what an attentive player notices of two notes one after
/// the other (common practice, no source).
const LEAST_CENTS: f64 = 3.0;
/// A line needs so many points, and so long, to tell a movement.
const FEWEST_POINTS: usize = 4;
const SHORTEST_S: f64 = 90.0;

/// A movement of a line.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Movement {
    cents: f64,
    since_s: f64,
}

/// What the lines say. Players' lines are told of against the ensemble's.
pub(super) fn findings(
    ensemble: &DriftLine,
    series: &DriftLine,
    players: &[(usize, &DriftLine)],
) -> Vec<Finding> {
    let lines = [ensemble, series].into_iter();
    let is_long = |line: &DriftLine| points_of(line).is_some();
    if !lines
        .chain(players.iter().map(|(_, line)| *line))
        .any(is_long)
    {
        return vec![Finding::TooEarly];
    }
    let mut found = Vec::new();
    if let Some(moved) = points_of(ensemble).and_then(|points| movement(&points)) {
        found.push(Finding::Everyone {
            cents: Cents::new(moved.cents),
            since: Seconds::new(moved.since_s),
        });
    }
    let against = |line: &DriftLine| {
        let points = points_of(line)?;
        let beside = |p: &(f64, f64, f64)| (p.0, p.1 - at(&ensemble.points, p.0), p.2);
        movement(&points.iter().map(beside).collect::<Vec<_>>())
    };
    if let Some(moved) = against(series)
        && !ensemble.points.is_empty()
    {
        found.push(Finding::Series {
            cents: Cents::new(moved.cents),
            since: Seconds::new(moved.since_s),
        });
    }
    // Of two nobody can say which one moved.
    let mut single: Vec<Finding> = Vec::new();
    if players.len() > 2 {
        for (player, line) in players {
            if let Some(moved) = against(line) {
                single.push(Finding::One {
                    player: *player,
                    cents: Cents::new(moved.cents),
                    since: Seconds::new(moved.since_s),
                });
            }
        }
    }
    let size = |finding: &Finding| match finding {
        Finding::One { cents, .. } => cents.abs().get(),
        _ => 0.0,
    };
    single.sort_by(|a, b| size(b).total_cmp(&size(a)));
    found.extend(single);
    if found.is_empty() {
        found.push(Finding::Still);
    }
    found
}

/// Time, cents and margin of a line that is long enough.
fn points_of(line: &DriftLine) -> Option<Vec<(f64, f64, f64)>> {
    let (first, last) = (line.start()?, line.end()?);
    let is_long = line.points.len() >= FEWEST_POINTS && (last.at - first.at).get() >= SHORTEST_S;
    let point = |p: &super::DriftPoint| (p.at.get(), p.cents.get(), p.margin.get());
    is_long.then(|| line.points.iter().map(point).collect())
}

/// The movement of a line that stood, then moved, and perhaps stood again: the least squares
/// over all moments at which it may have begun and ended. None where the line hardly moved,
/// or no more than it wanders.
fn movement(points: &[(f64, f64, f64)]) -> Option<Movement> {
    let most = 60;
    let step = points.len().div_ceil(most).max(1);
    let times: Vec<f64> = points.iter().step_by(step).map(|p| p.0).collect();
    let mut best: Option<(f64, Movement)> = None;
    for (index, begin) in times.iter().enumerate() {
        for end in &times[index + 1..] {
            let ramp = |time: f64| ((time - begin) / (end - begin)).clamp(0.0, 1.0);
            let (mut n, mut x, mut y, mut xx, mut xy) = (0.0, 0.0, 0.0, 0.0, 0.0);
            for (time, cents, margin) in points {
                let weight = 1.0 / margin.max(0.5).powi(2);
                let along = ramp(*time);
                n += weight;
                x += weight * along;
                y += weight * cents;
                xx += weight * along * along;
                xy += weight * along * cents;
            }
            let spread = n * xx - x * x;
            if spread <= 1e-12 {
                continue;
            }
            let cents = (n * xy - x * y) / spread;
            let level = (y - cents * x) / n;
            let misses = points.iter().map(|(time, value, margin)| {
                let off = value - level - cents * ramp(*time);
                (off / margin.max(0.5)).powi(2)
            });
            let misses: f64 = misses.sum();
            if best.is_none_or(|(least, _)| misses < least - 1e-9) {
                let moved = Movement {
                    cents,
                    since_s: *begin,
                };
                best = Some((misses, moved));
            }
        }
    }
    let (_, moved) = best?;
    // Both ends must agree that it moved, by more than they are unsure of.
    let ends = |points: &[(f64, f64, f64)]| {
        let n = points.len() as f64;
        let cents = points.iter().map(|p| p.1).sum::<f64>() / n;
        let margin = points.iter().map(|p| p.2).sum::<f64>() / n;
        (cents, margin)
    };
    let few = (points.len() / 4).clamp(1, 4);
    let (start, start_margin) = ends(&points[..few]);
    let (end, end_margin) = ends(&points[points.len() - few..]);
    let least = LEAST_CENTS.max(start_margin.hypot(end_margin));
    let is_told = moved.cents.abs() >= LEAST_CENTS
        && (end - start).abs() >= 0.6 * moved.cents.abs()
        && (end - start).abs() >= 0.7 * least;
    is_told.then_some(moved)
}
