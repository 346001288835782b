//! Statistics that a few odd values cannot pull: weighted medians, spreads and slopes.

/// A value and its weight.
pub(in crate::rehearsal) type Weighted = (f64, f64);

/// The weighted median of `values`, which are put in order; none of no weight.
pub(in crate::rehearsal) fn median(values: &mut [Weighted]) -> Option<f64> {
    values.sort_by(|a, b| a.0.total_cmp(&b.0));
    let total: f64 = values.iter().map(|(_, weight)| weight).sum();
    if total <= 0.0 {
        return None;
    }
    let mut below = 0.0;
    for (index, (value, weight)) in values.iter().enumerate() {
        below += weight;
        if below > 0.5 * total + 1e-12 * total {
            return Some(*value);
        }
        // Exactly half lies below: the middle between this value and the next of any weight.
        if (below - 0.5 * total).abs() <= 1e-12 * total {
            let next = values[index + 1..].iter().find(|(_, weight)| *weight > 0.0);
            return Some(next.map_or(*value, |(next, _)| 0.5 * (value + next)));
        }
    }
    values.last().map(|(value, _)| *value)
}

/// 1.4826 times the median distance from `middle`: the standard deviation of a normal
/// distribution (textbook).
pub(super) fn spread(values: &[Weighted], middle: f64) -> f64 {
    let mut distances: Vec<Weighted> = values
        .iter()
        .map(|(value, weight)| ((value - middle).abs(), *weight))
        .collect();
    1.4826 * median(&mut distances).unwrap_or(0.0)
}

/// The median of the slopes between any two of `points` that lie at least `least_apart` from
/// one another along x (Theil 1950, Sen 1968), each weighed by that distance; none with fewer
/// than six such pairs. Of many points every other is passed over.
pub(super) fn slope(points: &[(f64, f64)], least_apart: f64) -> Option<f64> {
    const MOST: usize = 160;
    let step = points.len().div_ceil(MOST).max(1);
    let points: Vec<(f64, f64)> = points.iter().copied().step_by(step).collect();
    let mut slopes = Vec::new();
    for (index, (x, y)) in points.iter().enumerate() {
        for (other_x, other_y) in &points[index + 1..] {
            let apart = other_x - x;
            if apart.abs() >= least_apart {
                slopes.push(((other_y - y) / apart, apart.abs()));
            }
        }
    }
    if slopes.len() < 6 {
        return None;
    }
    median(&mut slopes)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn plain(values: &[f64]) -> Vec<Weighted> {
        values.iter().map(|value| (*value, 1.0)).collect()
    }

    #[test]
    fn the_median_of_equal_weights_is_the_usual_one() {
        assert_eq!(median(&mut plain(&[3.0, 1.0, 2.0])), Some(2.0));
        assert_eq!(median(&mut plain(&[4.0, 1.0, 2.0, 3.0])), Some(2.5));
        assert_eq!(median(&mut []), None);
        assert_eq!(median(&mut [(1.0, 0.0)]), None);
        assert_eq!(median(&mut [(1.0, 1.0), (9.0, 3.0)]), Some(9.0));
    }

    #[test]
    fn a_third_of_odd_values_pulls_nothing() {
        let values = plain(&[1.0, 1.2, 0.8, 1.1, 0.9, 1.0, 90.0, 95.0, 99.0]);
        let middle = median(&mut values.clone()).unwrap();
        assert!((middle - 1.0).abs() < 0.21, "{middle}");
        assert!(spread(&values, middle) < 0.6);
    }

    #[test]
    fn a_slope_survives_strays() {
        let mut points: Vec<(f64, f64)> = (0..30)
            .map(|n| (f64::from(n), 0.5 * f64::from(n)))
            .collect();
        points[7].1 += 60.0;
        points[21].1 -= 40.0;
        assert!((slope(&points, 1.0).unwrap() - 0.5).abs() < 0.02);
        assert_eq!(slope(&points[..3], 1.0), None);
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn the_median_splits_the_weight(
            values in prop::collection::vec((-100.0..100.0_f64, 0.1..5.0_f64), 1..50),
        ) {
            let total: f64 = values.iter().map(|v| v.1).sum();
            let middle = median(&mut values.clone()).unwrap();
            let below: f64 = values.iter().filter(|v| v.0 < middle).map(|v| v.1).sum();
            let above: f64 = values.iter().filter(|v| v.0 > middle).map(|v| v.1).sum();
            prop_assert!(below <= 0.5 * total + 1e-9 && above <= 0.5 * total + 1e-9);
        }
    }
}
