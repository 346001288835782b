//! The steady part of a note: where it stood, without the attack and without what led there.

use super::TracePoint;
use crate::units::{Cents, Hertz, Seconds};

/// What a note is given to speak and settle.
const ATTACK: Seconds = Seconds::new(0.3);
/// No more than this is looked back at.
const LONGEST: Seconds = Seconds::new(4.0);
/// The end of the note that tells where it stands.
const SEED: Seconds = Seconds::new(0.5);
/// Fewer points than this stand for nothing: a quarter of a second of a solo channel.
const FEWEST: usize = 6;
/// How far from where it stands at the end a pitch may lie and still belong to it.
const WITHIN: Cents = Cents::new(10.0);
/// Points in a row that must lie farther off before the part is said to begin after them.
const STRAYING: usize = 3;

/// A note's place by the median over its steady part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct SteadyPart {
    /// The median.
    pub(super) hertz: Hertz,
    /// Standard deviation by the median of the distances (1.4826 times it for a normal
    /// distribution: textbook).
    pub(super) spread: Cents,
}

impl SteadyPart {
    /// The steady part at the end of a note that began at `begun` and was last heard at
    /// `ended`; none while it is too young.
    pub(super) fn of(
        points: impl Iterator<Item = TracePoint>,
        begun: Seconds,
        ended: Seconds,
    ) -> Option<Self> {
        let earliest = (begun + ATTACK).get().max((ended - LONGEST).get());
        let points: Vec<TracePoint> = points
            .filter(|point| point.time.get() >= earliest && point.time <= ended)
            .collect();
        if points.len() < FEWEST {
            return None;
        }
        let seed_from = ended - SEED;
        let late = points
            .iter()
            .filter(|point| point.time >= seed_from)
            .count();
        let seed = median(&points[points.len() - late.max(FEWEST)..]);
        let mut astray = 0;
        let mut first = points.len() - late.max(FEWEST);
        for index in (0..first).rev() {
            if points[index].hertz.above(seed).abs() <= WITHIN {
                astray = 0;
                first = index;
            } else {
                astray += 1;
                if astray == STRAYING {
                    break;
                }
            }
        }
        Some(Self::over(&points[first..]))
    }

    /// All of `points`, of which there is at least one.
    fn over(points: &[TracePoint]) -> Self {
        let hertz = median(points);
        let distances = points
            .iter()
            .map(|point| point.hertz.above(hertz).abs().get());
        Self {
            hertz,
            spread: Cents::new(1.4826 * middle(distances.collect())),
        }
    }

    /// The steady part of measurements that are means already, such as those of a chord's
    /// voice: the last `LONGEST` of them.
    pub(super) fn of_means(points: impl Iterator<Item = TracePoint>) -> Option<Self> {
        let points: Vec<TracePoint> = points.collect();
        let ended = points.last()?.time;
        let from = points.partition_point(|point| point.time < ended - LONGEST);
        Some(Self::over(&points[from..]))
    }
}

/// The middle of the pitches of `points`, of which there is at least one.
fn median(points: &[TracePoint]) -> Hertz {
    let first = points[0].hertz;
    let above = points.iter().map(|point| point.hertz.above(first).get());
    first.raised(Cents::new(middle(above.collect())))
}

/// The middle of `numbers`, 0 of none.
fn middle(mut numbers: Vec<f64>) -> f64 {
    numbers.sort_by(f64::total_cmp);
    let half = numbers.len() / 2;
    match numbers.len() {
        0 => 0.0,
        count if count % 2 == 1 => numbers[half],
        _ => 0.5 * (numbers[half - 1] + numbers[half]),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const SPACING_S: f64 = 0.04;

    /// A note of `seconds` that lies `cents` above 500 Hz.
    fn note(seconds: f64, cents: impl Fn(f64) -> f64) -> Vec<TracePoint> {
        let base = Hertz::new(500.0).unwrap();
        (0..(seconds / SPACING_S).round() as u32)
            .map(|n| {
                let time = SPACING_S * f64::from(n);
                TracePoint {
                    time: Seconds::new(time),
                    hertz: base.raised(Cents::new(cents(time))),
                }
            })
            .collect()
    }

    fn steady(points: &[TracePoint]) -> Option<(f64, f64)> {
        let ended = points.last()?.time;
        let part = SteadyPart::of(points.iter().copied(), points[0].time, ended)?;
        let base = Hertz::new(500.0).unwrap();
        Some((part.hertz.above(base).get(), part.spread.get()))
    }

    #[test]
    fn the_attack_is_left_out() {
        let points = note(1.0, |time| if time < 0.28 { -60.0 } else { 3.0 });
        let (cents, spread) = steady(&points).unwrap();
        assert!((cents - 3.0).abs() < 1e-9 && spread < 1e-9);
        assert_eq!(steady(&note(0.4, |_| 0.0)), None, "too young");
    }

    #[test]
    fn a_bent_note_stands_where_it_was_bent_to() {
        // On the partial for two seconds, then bent down by 30, and there for one more.
        let points = note(4.0, |time| (-30.0 * (time - 2.0)).clamp(-30.0, 0.0));
        let (cents, spread) = steady(&points).unwrap();
        assert!((-30.1..-27.0).contains(&cents), "{cents}");
        assert!(spread < 3.0, "{spread}");
    }

    #[test]
    fn a_swing_is_held_at_its_centre() {
        let points = note(3.0, |time| {
            15.0 * (std::f64::consts::TAU * 5.3 * time).sin()
        });
        let (cents, _) = steady(&points).unwrap();
        assert!(cents.abs() < 5.0, "{cents}");
    }

    #[test]
    fn one_stray_point_breaks_nothing() {
        let points = note(
            3.0,
            |time| if (time - 1.0).abs() < 0.01 { 70.0 } else { 1.0 },
        );
        assert!((steady(&points).unwrap().0 - 1.0).abs() < 1e-9);
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn the_place_lies_among_the_points(
            cents in prop::collection::vec(-80.0..80.0_f64, 1..200), attack in 0.0..2.0,
        ) {
            let points: Vec<TracePoint> = cents.iter().enumerate().map(|(n, cents)| TracePoint {
                time: Seconds::new(SPACING_S * n as f64),
                hertz: Hertz::new(500.0).unwrap().raised(Cents::new(*cents)),
            }).collect();
            let ended = points[points.len() - 1].time;
            let begun = Seconds::new(attack);
            if let Some(part) = SteadyPart::of(points.iter().copied(), begun, ended) {
                let base = Hertz::new(500.0).unwrap();
                let place = part.hertz.above(base).get();
                let lowest = cents.iter().copied().fold(f64::INFINITY, f64::min);
                let highest = cents.iter().copied().fold(f64::NEG_INFINITY, f64::max);
                prop_assert!(lowest - 1e-6 <= place && place <= highest + 1e-6);
                prop_assert!(part.spread.get() >= 0.0);
            }
        }
    }
}
