//! Which key to play next.

use super::rank::{above_a, name_in};
use super::{Fit, Proposal};
use crate::tuning::Chain;
use crate::units::{Cents, NoteName};

/// What tells a level from a fifth, and a third from a fifth, before anything else is known.
const FIRST: [&str; 3] = ["A", "C", "E"];
/// Below this, a key hardly helps to tell two candidates apart: less than a tuner leaves.
const TELLING: Cents = Cents::new(1.0);

/// Up to two keys: see [`Proposal::next_keys`].
pub(super) fn keys(proposal: &Proposal) -> Vec<NoteName> {
    let heard = |key: NoteName| proposal.heard().iter().any(|h| h.key.key() == key.key());
    let first: Vec<NoteName> = FIRST
        .iter()
        .filter_map(|name| name.parse().ok())
        .filter(|key| !heard(*key))
        .take(2)
        .collect();
    if !first.is_empty() {
        return first;
    }
    let left: Vec<NoteName> = Chain::usual().notes().filter(|key| !heard(*key)).collect();
    let pairs = pairs(proposal.alike());
    let Some(most) = most_telling(&left, &pairs) else {
        return Vec::new();
    };
    // The second is for those which the first leaves together.
    let together: Vec<(&Fit, &Fit)> = pairs
        .iter()
        .filter(|(a, b)| apart(a, b, most) < TELLING)
        .copied()
        .collect();
    let rest: Vec<NoteName> = left.into_iter().filter(|key| *key != most).collect();
    let next = most_telling(&rest, &together).or_else(|| most_telling(&rest, &pairs));
    std::iter::once(most).chain(next).collect()
}

fn pairs(fits: &[Fit]) -> Vec<(&Fit, &Fit)> {
    let mut pairs = Vec::new();
    for (at, a) in fits.iter().enumerate() {
        pairs.extend(fits[at + 1..].iter().map(|b| (a, b)));
    }
    pairs
}

/// The key with the greatest distance between any two of a pair, if it tells them apart.
fn most_telling(keys: &[NoteName], pairs: &[(&Fit, &Fit)]) -> Option<NoteName> {
    let spread = |key: NoteName| {
        let distances = pairs.iter().map(|(a, b)| apart(a, b, key).get());
        distances.fold(0.0, f64::max)
    };
    keys.iter()
        .map(|key| (spread(*key), *key))
        .filter(|(spread, _)| *spread >= TELLING.get())
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, key)| key)
}

/// How far apart two candidates put a key.
fn apart(a: &Fit, b: &Fit, key: NoteName) -> Cents {
    let place = |fit: &Fit| above_a(&fit.temperament, fit.chain, name_in(fit.chain, key));
    (place(a) - place(b) + a.a4.above(b.a4))
        .nearest_octave()
        .abs()
}
