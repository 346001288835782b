//! Which reported pitch belongs to which true one.

/// A reported pitch farther than this from a true one is another note, in cents.
pub(crate) const REACH: f64 = 25.0;

/// How many cents `hz` lies above `base_hz`.
pub(crate) fn cents_above(hz: f64, base_hz: f64) -> f64 {
    1200.0 * (hz / base_hz).log2()
}

/// Pairs of (reported, true) by their positions: as many as can be within [`REACH`], each of
/// either at most once, and among all such ways the one with the fewest cents in sum.
pub(crate) fn matched(reported_hz: &[f64], true_hz: &[f64]) -> Vec<(usize, usize)> {
    let mut best = Way::default();
    extend(reported_hz, true_hz, Way::default(), 0, &mut best);
    best.pairs
}

#[derive(Debug, Clone, Default)]
struct Way {
    pairs: Vec<(usize, usize)>,
    cents: f64,
}

/// Tries every way for the reported pitches from `from` on. There are at most eight.
fn extend(reported_hz: &[f64], true_hz: &[f64], way: Way, from: usize, best: &mut Way) {
    let Some(hz) = reported_hz.get(from) else {
        let (longer, equal) = (
            way.pairs.len() > best.pairs.len(),
            way.pairs.len() == best.pairs.len(),
        );
        if longer || (equal && way.cents < best.cents) {
            *best = way;
        }
        return;
    };
    for (index, target_hz) in true_hz.iter().enumerate() {
        let cents = cents_above(*hz, *target_hz).abs();
        if cents <= REACH && way.pairs.iter().all(|(_, taken)| *taken != index) {
            let mut longer = way.clone();
            longer.pairs.push((from, index));
            longer.cents += cents;
            extend(reported_hz, true_hz, longer, from + 1, best);
        }
    }
    extend(reported_hz, true_hz, way, from + 1, best);
}
