//! In which order the twelve notes come: out from the first along the chain of fifths.

use crate::tuning::{Chain, Temperament};
use crate::units::{Cents, NoteName};

/// Fifths whose difference from pure is less than this are alike.
const ALIKE: Cents = Cents::new(0.01);

/// The twelve names in rising order of fifths, so that the fifth that is left over lies between
/// the last and the first.
///
/// That is the chain as it stands. Only where a temperament closes and has a worse wolf inside
/// the chain, the chain is turned until the wolf is what is left.
pub(super) fn along_fifths(temperament: &Temperament, chain: Chain) -> Vec<NoteName> {
    let mut names: Vec<NoteName> = chain.notes().collect();
    if temperament.extends_along_the_chain() {
        return names;
    }
    let fifths = temperament.fifths_of(chain);
    let from_pure = |place: usize| fifths[place].from_pure.abs().get();
    let worst = (0..fifths.len()).max_by(|a, b| from_pure(*a).total_cmp(&from_pure(*b)));
    if let (Some(worst), Some(last)) = (worst, fifths.len().checked_sub(1))
        && fifths[worst].wolf
        && from_pure(worst) > from_pure(last) + ALIKE.get()
    {
        let count = names.len();
        names.rotate_left((worst + 1) % count);
    }
    names
}

/// Places of the names after `first`, each with the place its fifth or fourth comes from.
///
/// First as far as C to E, if the names have them, so that their third is closed early; then to
/// the flat end, then to the sharp one.
pub(super) fn outwards(names: &[NoteName], first: usize) -> Vec<(usize, usize)> {
    let place = |fifths: i32| names.iter().position(|name| name.fifths() == fifths);
    let third = match (place(0), place(4)) {
        (Some(c), Some(e)) if e == c + 4 => Some((c, e)),
        _ => None,
    };
    let (c, e) = third.unwrap_or((first, first));
    let flatwards = |from: usize, to: usize| (to..from).rev().map(|place| (place, place + 1));
    let sharpwards = |from: usize, to: usize| (from..to).map(|place| (place + 1, place));
    // What lies between the first note and the third comes before the rest.
    flatwards(first, c.min(first))
        .chain(sharpwards(first, e.max(first)))
        .chain(flatwards(c.min(first), 0))
        .chain(sharpwards(e.max(first), names.len() - 1))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(chain: &str, first: &str, expected: &str) {
        let chain: Chain = chain.parse().unwrap();
        let names: Vec<NoteName> = chain.notes().collect();
        let first: NoteName = first.parse().unwrap();
        let first = names.iter().position(|name| *name == first).unwrap();
        let order: Vec<String> = outwards(&names, first)
            .into_iter()
            .map(|(place, _)| names[place].ascii())
            .collect();
        assert_eq!(order.join(" "), expected);
    }

    #[test]
    fn c_to_e_is_closed_first() {
        check("Eb-G#", "A", "D G C E F Bb Eb B F# C# G#");
        check("Eb-G#", "C", "G D A E F Bb Eb B F# C# G#");
        check("Eb-G#", "F", "C G D A E Bb Eb B F# C# G#");
        check("Eb-G#", "B", "E A D G C F Bb Eb F# C# G#");
        check("Gb-B", "Gb", "Db Ab Eb Bb F C G D A E B");
        check("F#-A##", "F#", "C# G# D# A# E# B# F## C## G## D## A##");
    }
}
