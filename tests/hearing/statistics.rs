//! Medians, percentiles and means of lists that may be empty.

/// The value below which `share` (0 to 1) of `values` lie, on straight lines between them.
pub(crate) fn quantile(values: impl IntoIterator<Item = f64>, share: f64) -> Option<f64> {
    let mut sorted: Vec<f64> = values.into_iter().collect();
    sorted.sort_by(f64::total_cmp);
    let last = sorted.len().checked_sub(1)?;
    let place = share * last as f64;
    let below = place as usize;
    let above = (below + 1).min(last);
    Some(sorted[below] + (sorted[above] - sorted[below]) * (place - below as f64))
}

/// The middle value.
pub(crate) fn median(values: impl IntoIterator<Item = f64>) -> Option<f64> {
    quantile(values, 0.5)
}

/// The mean of (value, weight).
pub(crate) fn weighted_mean(values: impl IntoIterator<Item = (f64, f64)>) -> Option<f64> {
    let (mut sum, mut weights) = (0.0, 0.0);
    for (value, weight) in values {
        sum += value * weight;
        weights += weight;
    }
    (weights > 0.0).then(|| sum / weights)
}

/// The mean.
pub(crate) fn mean(values: impl IntoIterator<Item = f64>) -> Option<f64> {
    weighted_mean(values.into_iter().map(|value| (value, 1.0)))
}

/// The root of the mean square.
pub(crate) fn root_mean_square(values: impl IntoIterator<Item = f64>) -> Option<f64> {
    mean(values.into_iter().map(|value| value * value)).map(f64::sqrt)
}
