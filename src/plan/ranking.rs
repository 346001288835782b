//! The choices beside each other: all temperaments, the best fifth, anchor and accidentals.

use super::casting::Side;
use super::choice::Choice;
use super::measure::{Measures, Weights, error};
use super::piece::Programme;
use crate::tuning::{Chain, Comma, Fifths, Partial, Temperament, TemperamentError, Tempering};
use crate::units::{Cents, NoteName};

/// The partials a trumpet may tune by: the tonic, the fifth, the third and the second above it.
const ANCHORS: [u8; 4] = [8, 12, 10, 9];

/// Flattest notes of the keyboard chains that are tried: from G flat (to B) up to G (to B sharp).
const CHAINS: std::ops::RangeInclusive<i32> = -6..=1;

/// How finely the best fifth is told, in parts of a syntonic comma.
const FINENESS: u32 = 1_000_000;

/// A temperament and what it does.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ranked {
    /// Which of those given, counted from 0.
    pub temperament: usize,
    /// What it does to the programme.
    pub measures: Measures,
}

/// The regular meantone that leaves the programme nearest to pure.
#[derive(Debug, Clone, PartialEq)]
pub struct BestFraction {
    /// By which part of the syntonic comma each fifth is narrowed, 0 to 1/3.
    pub fraction: f64,
    /// What it does.
    pub measures: Measures,
}

/// An anchor and what it does.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RankedAnchor {
    /// The partial the trumpets tune by.
    pub partial: Partial,
    /// What it does.
    pub measures: Measures,
}

/// A choice of accidentals and what it does.
#[derive(Debug, Clone, PartialEq)]
pub struct RankedChain {
    /// The keyboard's keys.
    pub chain: Chain,
    /// How long notes sound that it has no key for, in quarter notes.
    pub missing_quarters: f64,
    /// Which notes those are, from the flattest.
    pub missing: Vec<NoteName>,
    /// What it does.
    pub measures: Measures,
}

impl Choice {
    /// The same with another temperament.
    pub fn in_temperament(&self, temperament: &Temperament) -> Self {
        Self {
            temperament: temperament.clone(),
            ..self.clone()
        }
    }

    /// The same with the trumpets tuned by another partial.
    pub fn anchored_on(&self, anchor: Partial) -> Self {
        Self {
            anchor,
            ..self.clone()
        }
    }

    /// The same with other keys.
    pub fn over_chain(&self, chain: Chain) -> Self {
        Self {
            chain,
            ..self.clone()
        }
    }
}

impl Programme {
    /// All `temperaments` in the rest of `choice`, the nearest to pure first. `each` is called
    /// after each of them.
    pub fn rank(
        &self,
        temperaments: &[Temperament],
        choice: &Choice,
        weights: &Weights,
        mut each: impl FnMut(),
    ) -> Vec<Ranked> {
        let mut ranked: Vec<Ranked> = temperaments
            .iter()
            .enumerate()
            .map(|(index, temperament)| {
                let measures = self.measure(&choice.in_temperament(temperament), weights);
                each();
                Ranked {
                    temperament: index,
                    measures,
                }
            })
            .collect();
        ranked.sort_by(|a, b| by_distance(&a.measures, &b.measures));
        ranked
    }

    /// The part of the syntonic comma by which the fifths of a regular meantone are best narrowed,
    /// found by golden section between none and a third. None without a meeting.
    pub fn best_fraction(&self, choice: &Choice, weights: &Weights) -> Option<BestFraction> {
        let of = |fraction: f64| choice_with(choice, fraction).ok();
        let distance = |fraction: f64| {
            of(fraction)
                .and_then(|choice| self.distance(&choice, weights))
                .map(Cents::get)
        };
        distance(0.0)?;
        let fraction = golden_section(
            |fraction| distance(fraction).unwrap_or(f64::INFINITY),
            0.0,
            1.0 / 3.0,
        );
        let measures = self.measure(&of(fraction)?, weights);
        Some(BestFraction { fraction, measures })
    }

    /// The partials the trumpets could tune by, the nearest to pure first. Empty without trumpets.
    pub fn anchors(&self, choice: &Choice, weights: &Weights) -> Vec<RankedAnchor> {
        if self.pieces().iter().all(|piece| piece.key().is_none()) {
            return Vec::new();
        }
        let mut anchors: Vec<RankedAnchor> = ANCHORS
            .into_iter()
            .filter_map(|number| Partial::new(number).ok())
            .map(|partial| RankedAnchor {
                partial,
                measures: self.measure(&choice.anchored_on(partial), weights),
            })
            .collect();
        anchors.sort_by(|a, b| by_distance(&a.measures, &b.measures));
        anchors
    }

    /// How far the trumpets as a whole would best be moved from where `choice` puts them, so that
    /// their meetings with others are nearest to pure, and how near they then are (RMS). None
    /// where they meet nobody.
    pub fn best_shift(&self, choice: &Choice) -> Option<(Cents, Cents)> {
        let (mut weight, mut sum, mut squares) = (0.0, 0.0, 0.0);
        for piece in self.pieces() {
            let places = piece.places(choice);
            for meeting in &piece.meetings {
                let sides = [meeting.lower, meeting.upper].map(|body| &piece.bodies[body]);
                // A bent note does not move with the tube.
                let [lower, upper] = sides.map(|body| body.partial.is_some());
                let trumpets = sides.map(|body| body.side == Side::Trumpets);
                if trumpets[0] == trumpets[1] || lower == upper {
                    continue;
                }
                let quarters = piece.score.bars.quarters(meeting.lasts);
                let error = error(meeting, places[meeting.lower], places[meeting.upper]).get();
                let error = if upper { error } else { -error };
                weight += quarters;
                sum += quarters * error;
                squares += quarters * error * error;
            }
        }
        if weight <= 0.0 {
            return None;
        }
        let mean = sum / weight;
        let left = (squares / weight - mean * mean).max(0.0).sqrt();
        Some((Cents::new(-mean), Cents::new(left)))
    }

    /// The keyboard's accidentals, those with the shortest missing notes first, then the nearest
    /// to pure, then the nearest to the usual ones. Empty without a keyboard.
    pub fn chains(&self, choice: &Choice, weights: &Weights) -> Vec<RankedChain> {
        let has_keyboard = self
            .pieces()
            .iter()
            .flat_map(super::Piece::players)
            .any(|player| player.side == Side::Keyboard);
        if !has_keyboard {
            return Vec::new();
        }
        let usual = Chain::usual().first().fifths();
        let mut chains: Vec<RankedChain> = CHAINS
            .filter_map(|first| {
                let (first, last) = (
                    NoteName::from_fifths(first)?,
                    NoteName::from_fifths(first + 11)?,
                );
                Chain::new(first, last).ok()
            })
            .map(|chain| {
                let missing: Vec<_> = self
                    .pieces()
                    .iter()
                    .flat_map(|piece| piece.missing_keys(chain))
                    .collect();
                let mut names: Vec<NoteName> =
                    missing.iter().map(|missing| missing.note.name()).collect();
                names.sort_by_key(|name| name.fifths());
                names.dedup();
                RankedChain {
                    chain,
                    missing_quarters: missing.iter().map(|missing| missing.quarters).sum(),
                    missing: names,
                    measures: self.measure(&choice.over_chain(chain), weights),
                }
            })
            .collect();
        chains.sort_by(|a, b| {
            a.missing_quarters
                .total_cmp(&b.missing_quarters)
                .then(by_distance(&a.measures, &b.measures))
                .then_with(|| {
                    let far = |chain: &RankedChain| (chain.chain.first().fifths() - usual).abs();
                    far(a).cmp(&far(b))
                })
        });
        chains
    }
}

/// The nearer to pure first, in whole ten-thousandths of a cent so that rounding decides nothing.
fn by_distance(a: &Measures, b: &Measures) -> std::cmp::Ordering {
    let rank = |measures: &Measures| {
        measures
            .weighted
            .map_or(f64::INFINITY, |cents| (cents.get() * 1e4).round())
    };
    rank(a).total_cmp(&rank(b))
}

/// `choice` in the regular meantone whose fifths are narrowed by `fraction` of the comma.
fn choice_with(choice: &Choice, fraction: f64) -> Result<Choice, TemperamentError> {
    let each = Tempering::Part {
        numerator: -(fraction * f64::from(FINENESS)).round() as i32,
        denominator: FINENESS,
        comma: Comma::Syntonic,
    };
    let temperament = Temperament::new("best", "Best regular meantone", Fifths::Regular { each })?;
    Ok(choice.in_temperament(&temperament))
}

/// Where `f`, which has one lowest place between `low` and `high`, is lowest, within a millionth:
/// golden section search (Kiefer, Proc. Amer. Math. Soc. 4, 502, 1953).
fn golden_section(f: impl Fn(f64) -> f64, low: f64, high: f64) -> f64 {
    let golden = (5.0_f64.sqrt() - 1.0) / 2.0;
    let (mut low, mut high) = (low, high);
    let mut inner = (high - golden * (high - low), low + golden * (high - low));
    let mut values = (f(inner.0), f(inner.1));
    while high - low > 1e-6 {
        if values.0 < values.1 {
            high = inner.1;
            inner = (high - golden * (high - low), inner.0);
            values = (f(inner.0), values.0);
        } else {
            low = inner.0;
            inner = (inner.1, low + golden * (high - low));
            values = (values.1, f(inner.1));
        }
    }
    f64::midpoint(low, high)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn golden_section_finds_the_lowest_place() {
        for lowest in [0.0, 0.1, 0.25, 1.0 / 3.0] {
            let found = golden_section(|x| (x - lowest).powi(2), 0.0, 1.0 / 3.0);
            assert!((found - lowest).abs() < 2e-6, "{found}");
        }
    }
}
