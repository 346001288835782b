//! The fifths and major thirds of a keyboard, and which of them are wolves.

use super::temperament::pure_fifth;
use super::{Chain, Temperament};
use crate::units::{Cents, NoteName};

/// A fifth farther than this from pure is called a wolf: a rule of this program. The fifth
/// left over in sixth-comma (16.0 wide) is one, half a comma (10.8) is not.
const WOLF_FIFTH: Cents = Cents::new(12.0);

/// A major third farther than this from pure is called a wolf: a rule of this program. The
/// Pythagorean third (21.5 wide) is none, the diminished fourth of sixth-comma (26.7) is.
const WOLF_THIRD: Cents = Cents::new(25.0);

/// An interval between two keys.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct KeyInterval {
    /// The lower note.
    pub low: NoteName,
    /// The upper note. Across the ends of a chain its spelling is not that of the interval:
    /// B to E flat is played as a third.
    pub high: NoteName,
    /// From one to the other, within the octave.
    pub size: Cents,
    /// How far it is wider than pure; negative is narrower.
    pub from_pure: Cents,
    /// Whether it is too far from pure to be used as what it is.
    pub wolf: bool,
}

impl Temperament {
    /// The fifths of a chain in its order. On twelve keys the last one is what is left over
    /// between the chain's ends; a longer chain has no such fifth.
    pub fn fifths_of(&self, chain: Chain) -> Vec<KeyInterval> {
        self.intervals(chain, 1, pure_fifth(), WOLF_FIFTH)
    }

    /// The major thirds of a chain, four fifths up each, in the order of fifths. On twelve
    /// keys the last four reach across the chain's ends.
    pub fn major_thirds_of(&self, chain: Chain) -> Vec<KeyInterval> {
        self.intervals(chain, 4, Cents::of_ratio(5.0, 4.0), WOLF_THIRD)
    }

    fn intervals(
        &self,
        chain: Chain,
        fifths: usize,
        pure: Cents,
        wolf_beyond: Cents,
    ) -> Vec<KeyInterval> {
        let names: Vec<NoteName> = chain.notes().collect();
        let count = if names.len() == 12 {
            12
        } else {
            names.len() - fifths
        };
        (0..count)
            .map(|i| {
                let (low, high) = (names[i], names[(i + fifths) % names.len()]);
                let size = (self.above_c(high) - self.above_c(low)).within_octave();
                let from_pure = size - pure;
                KeyInterval {
                    low,
                    high,
                    size,
                    from_pure,
                    wolf: from_pure.abs() > wolf_beyond,
                }
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tuning::Fifths;

    fn regular(each: &str) -> Temperament {
        let each = each.parse().unwrap();
        Temperament::new("regular", "Regular", Fifths::Regular { each }).unwrap()
    }

    #[test]
    fn twelve_keys_of_quarter_comma_leave_one_wolf_fifth_and_four_wolf_thirds() {
        let quarter = regular("-1/4 SC");
        let fifths = quarter.fifths_of(Chain::usual());
        assert_eq!(fifths.len(), 12);
        let wolves: Vec<_> = fifths.iter().filter(|fifth| fifth.wolf).collect();
        assert_eq!(wolves.len(), 1);
        assert_eq!(
            (wolves[0].low.ascii(), wolves[0].high.ascii()),
            ("G#".into(), "Eb".into())
        );
        // 35.682 wide: what eleven fifths of 3/2 less a quarter of 81/80 leave of the circle.
        assert!((wolves[0].from_pure.get() - 35.682).abs() < 0.001);
        let thirds = quarter.major_thirds_of(Chain::usual());
        let low: Vec<_> = thirds
            .iter()
            .filter(|t| t.wolf)
            .map(|t| t.low.ascii())
            .collect();
        assert_eq!(low, ["B", "F#", "C#", "G#"]);
        assert!(
            thirds
                .iter()
                .take(8)
                .all(|third| third.from_pure.abs().get() < 1e-9)
        );
    }

    #[test]
    fn a_longer_chain_leaves_nothing_over() {
        let chain: Chain = "Ab-D#".parse().unwrap();
        let sixth = regular("-1/6 SC");
        assert_eq!(sixth.fifths_of(chain).len(), 13);
        assert_eq!(sixth.major_thirds_of(chain).len(), 10);
        assert!(sixth.fifths_of(chain).iter().all(|fifth| !fifth.wolf));
    }
}
