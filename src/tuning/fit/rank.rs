//! The sums: each temperament with the accidentals and the offset that leave least over.

use super::{Fit, HeardKey};
use crate::tuning::{Chain, PitchStandard, Temperament};
use crate::units::{Cents, Hertz, NoteName};

/// What a careful tuner leaves and a string or pipe moves meanwhile, one standard deviation
/// (common practice, no source).
const CRAFT_CENTS: f64 = 1.5;
/// The same again for each octave away from the middle one: octaves are stretched, and pipes of
/// another rank stand apart (a choice of this program).
const OCTAVE_CENTS: f64 = 1.0;
/// What a row of keys other than the usual one has to earn for each step it lies away.
const RARER: f64 = 0.5;

/// Every temperament with its best chain and offset, best first; those notes count that are
/// `used`, of which there must be one.
pub(super) fn rank(temperaments: &[Temperament], heard: &[HeardKey], used: &[bool]) -> Vec<Fit> {
    let weights: Vec<f64> = heard.iter().map(weight).collect();
    let mut fits: Vec<(f64, Fit)> = temperaments
        .iter()
        .filter_map(|temperament| {
            let laid = chains_of(temperament).map(|(chain, steps)| {
                let fit = lay(temperament, chain, heard, used, &weights);
                (fit.misfit + RARER * steps, fit)
            });
            laid.min_by(|a, b| a.0.total_cmp(&b.0))
        })
        .collect();
    // Stable, so that of two that are the same the one listed first stays first.
    fits.sort_by(|a, b| a.0.total_cmp(&b.0));
    fits.into_iter()
        .map(|(misfit, fit)| Fit { misfit, ..fit })
        .collect()
}

/// Twice the standard error of the common offset.
pub(super) fn level_margin(heard: &[HeardKey], used: &[bool], scale: f64) -> Cents {
    let sum: f64 = heard
        .iter()
        .zip(used)
        .filter(|(_, used)| **used)
        .map(|(heard, _)| weight(heard))
        .sum();
    Cents::new(2.0 * (scale / sum).sqrt())
}

/// The rows of keys a keyboard may have, with how many fifths each lies from the usual one.
fn chains_of(temperament: &Temperament) -> impl Iterator<Item = (Chain, f64)> {
    let firsts = if temperament.extends_along_the_chain() {
        // G flat to B, up to F to A sharp.
        -6..=-1
    } else {
        -3..=-3
    };
    firsts.filter_map(|first: i32| {
        let ends = (
            NoteName::from_fifths(first)?,
            NoteName::from_fifths(first + 11)?,
        );
        let chain = Chain::new(ends.0, ends.1).ok()?;
        Some((chain, f64::from((first + 3).abs())))
    })
}

/// The name a row of keys has for a key.
pub(super) fn name_in(chain: Chain, key: NoteName) -> NoteName {
    chain
        .notes()
        .find(|name| name.key() == key.key())
        .unwrap_or(key)
}

/// Where a key stands above A, within an octave of it.
pub(super) fn above_a(temperament: &Temperament, chain: Chain, key: NoteName) -> Cents {
    temperament.above_c(name_in(chain, key)) - temperament.above_c(NoteName::A)
}

/// The middle of all levels there are.
fn middle() -> Hertz {
    let middle = (PitchStandard::LOWEST_HZ * PitchStandard::HIGHEST_HZ).sqrt();
    Hertz::new(middle).expect("the middle of the levels is a frequency")
}

/// One over the variance expected of a note.
fn weight(heard: &HeardKey) -> f64 {
    // Middle C to the B above it lie within half an octave of its F sharp.
    let steps = heard.key.key() as f64 - NoteName::A.key() as f64;
    let home = middle().raised(Cents::new(100.0 * steps));
    let octaves = (heard.hertz.above(home).get() / 1200.0).round();
    let margin = heard.margin.get() / 2.0;
    1.0 / (margin * margin + CRAFT_CENTS.powi(2) + (OCTAVE_CENTS * octaves).powi(2))
}

fn lay(
    temperament: &Temperament,
    chain: Chain,
    heard: &[HeardKey],
    used: &[bool],
    weights: &[f64],
) -> Fit {
    // Where A would sound by each note alone, above the middle of all levels.
    let levels: Vec<Cents> = heard
        .iter()
        .map(|heard| heard.hertz.above(middle()) - above_a(temperament, chain, heard.key))
        .collect();
    let of_used = || {
        levels
            .iter()
            .zip(weights)
            .zip(used)
            .filter(|(_, used)| **used)
    };
    // Octaves do not matter: all levels are counted from one of them.
    let first = of_used()
        .next()
        .map_or(Cents::UNISON, |((level, _), _)| *level);
    let (mut sum, mut total) = (0.0, 0.0);
    for ((level, weight), _) in of_used() {
        sum += weight * (*level - first).nearest_octave().get();
        total += weight;
    }
    let offset = first + Cents::new(sum / total.max(f64::MIN_POSITIVE));
    let residuals: Vec<Cents> = levels
        .iter()
        .map(|level| (*level - offset).nearest_octave())
        .collect();
    let misfit: f64 = residuals
        .iter()
        .zip(weights)
        .zip(used)
        .filter(|(_, used)| **used)
        .map(|((residual, weight), _)| weight * residual.get().powi(2))
        .sum();
    Fit {
        temperament: temperament.clone(),
        chain,
        a4: middle().raised(offset.nearest_octave()),
        rms: Cents::new((misfit / total.max(f64::MIN_POSITIVE)).sqrt()),
        residuals,
        misfit,
    }
}
