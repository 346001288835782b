//! Which temperament and which level a keyboard stands in, by the pitches of some of its keys.
//!
//! Every temperament is laid through the measured notes with the one offset that suits it best;
//! what is left over ranks them. Says what cannot be told apart, which key would tell it, and
//! which note lies off by itself. Knows neither ears nor screens.

mod next;
mod rank;
#[cfg(test)]
mod tests;
mod usual;
mod words;

pub use usual::{UsualStandard, usual_standard};

use super::{Chain, PitchStandard, StandardError, Temperament};
use crate::units::{Cents, Hertz, NoteName};

/// The best candidate fits where its notes lie no farther off than this on average. A choice of
/// this program: a tuner's own inaccuracy, and that of pipes in a draught, is a cent or two
/// (common practice, no source).
const FITTING: Cents = Cents::new(4.0);
/// Candidates whose squared residuals, each against its own margin, add up to this much more than
/// the best one's are ruled out: a likelihood of 1 in 20.
const RULED_OUT: f64 = 6.0;
/// What is expected of a tuner weighs as much as so many notes.
const EXPECTED: f64 = 4.0;
/// With few notes little is known of how carefully this keyboard was tuned, so that they rule out
/// less: so many times as much, over the number of notes but one. Student's t widens in the same
/// manner.
const FEW: f64 = 4.0;
/// How far a single note must lie off before it is left out, where enough others agree.
const STRAY: Cents = Cents::new(10.0);
/// The same where only two or three others do, which are soon explained by some temperament.
const FAR_STRAY: Cents = Cents::new(35.0);

/// A key that was played, and what was heard.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeardKey {
    /// The key by either of its names, as it was asked for.
    pub key: NoteName,
    /// Its pitch, in any octave.
    pub hertz: Hertz,
    /// The true pitch lies within this distance about 19 times in 20.
    pub margin: Cents,
}

/// Notes that nothing can be said of.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum FitError {
    /// There are none.
    #[error("no note was measured: give at least one, such as A=415.3")]
    NoNotes,
    /// There is nothing to compare with.
    #[error("there is no temperament to compare with: name one that exists")]
    NoTemperaments,
}

/// One temperament laid through the notes.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    /// The temperament.
    pub temperament: Temperament,
    /// The accidentals that fit best; the usual ones where the notes do not tell.
    pub chain: Chain,
    /// Where A4 would sound.
    pub a4: Hertz,
    /// The weighted mean of the residuals, root of squares, without a note that lies off.
    pub rms: Cents,
    /// By how much each measured note is sharp of its place, in the order given.
    pub residuals: Vec<Cents>,
    /// The squared residuals, each against its own margin.
    pub(super) misfit: f64,
}

impl Fit {
    /// The level to write down, if `kept` keeps it: the note sounds then as on this keyboard.
    ///
    /// # Errors
    ///
    /// A4 lies outside 350 to 500 Hz.
    pub fn standard(&self, kept: NoteName) -> Result<PitchStandard, StandardError> {
        let by_a = self.temperament.above_c(kept) - self.temperament.above_c(NoteName::A);
        let steps = kept.key() as f64 - NoteName::A.key() as f64;
        let off = (by_a - Cents::new(100.0 * steps)).nearest_octave();
        Ok(PitchStandard::new(self.a4.raised(off).get())?.kept_by(kept))
    }
}

/// How sure a proposal is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// Fewer than three keys: they tell the level, and of the temperament hardly anything.
    LevelOnly,
    /// One temperament fits.
    Clear,
    /// So many fit alike, two or more.
    Alike(usize),
    /// Nothing fits; the first is only the nearest.
    Doubtful,
}

/// What the notes say, best first.
#[derive(Debug, Clone, PartialEq)]
pub struct Proposal {
    heard: Vec<HeardKey>,
    fits: Vec<Fit>,
    alike: usize,
    stray: Option<usize>,
    level_margin: Cents,
}

impl Proposal {
    /// Lays every one of `temperaments` through the notes that were `heard`.
    ///
    /// # Errors
    ///
    /// There are no notes or no temperaments.
    pub fn new(temperaments: &[Temperament], heard: &[HeardKey]) -> Result<Self, FitError> {
        if heard.is_empty() {
            return Err(FitError::NoNotes);
        }
        if temperaments.is_empty() {
            return Err(FitError::NoTemperaments);
        }
        let all: Vec<bool> = vec![true; heard.len()];
        let mut fits = rank::rank(temperaments, heard, &all);
        let mut used = all;
        let stray = stray_among(temperaments, heard, &fits);
        if let Some(off) = stray {
            used[off] = false;
            fits = rank::rank(temperaments, heard, &used);
        }
        let n_used = used.iter().filter(|used| **used).count();
        // What the best leaves over tells how carefully this keyboard was tuned: what was expected
        // beforehand and what is seen are put together as a scaled inverse chi-squared (textbook
        // Bayesian statistics, from memory).
        let freedom = (n_used as f64 - 1.0).max(1.0);
        let scale = (EXPECTED + fits[0].misfit) / (EXPECTED + freedom);
        let limit = fits[0].misfit + RULED_OUT * scale * (1.0 + FEW / freedom);
        let alike = fits.iter().take_while(|fit| fit.misfit < limit).count();
        let level_margin = rank::level_margin(heard, &used, scale);
        Ok(Self {
            heard: heard.to_vec(),
            fits,
            alike,
            stray,
            level_margin,
        })
    }

    /// The notes it rests on, in the order given.
    pub fn heard(&self) -> &[HeardKey] {
        &self.heard
    }

    /// Every temperament, the one that fits best first.
    pub fn fits(&self) -> &[Fit] {
        &self.fits
    }

    /// The one that fits best.
    pub fn best(&self) -> &Fit {
        // There is one for each temperament, and at least one of these.
        &self.fits[0]
    }

    /// Those which these notes cannot tell apart, the best one first; it alone where it is clear.
    pub fn alike(&self) -> &[Fit] {
        &self.fits[..self.alike]
    }

    /// The note that lies off by itself and was left out, by its place in [`Self::heard`].
    pub fn stray(&self) -> Option<usize> {
        self.stray
    }

    /// A4 lies within this distance about 19 times in 20, whichever of those alike it is.
    pub fn level_margin(&self) -> Cents {
        let (mut low, mut high) = (0.0_f64, 0.0_f64);
        for fit in self.alike() {
            let off = fit.a4.above(self.best().a4).get();
            low = low.min(off);
            high = high.max(off);
        }
        Cents::new(self.level_margin.get() + high.max(-low))
    }

    /// How sure it is.
    pub fn verdict(&self) -> Verdict {
        let n_used = self.n_keys() - usize::from(self.stray.is_some());
        if self.best().rms > FITTING {
            Verdict::Doubtful
        } else if n_used < 3 {
            Verdict::LevelOnly
        } else if self.alike > 1 {
            Verdict::Alike(self.alike)
        } else {
            Verdict::Clear
        }
    }

    /// The keys to play next, up to two, the most telling first: A, C and E, then those on which
    /// what fits differs most. Empty where no other key would tell more.
    pub fn next_keys(&self) -> Vec<NoteName> {
        next::keys(self)
    }

    /// How many different keys were heard.
    fn n_keys(&self) -> usize {
        let mut keys: Vec<usize> = self.heard.iter().map(|heard| heard.key.key()).collect();
        keys.sort_unstable();
        keys.dedup();
        keys.len()
    }
}

/// The one note without which the others agree, and agree much better than without any other.
fn stray_among(temperaments: &[Temperament], heard: &[HeardKey], fits: &[Fit]) -> Option<usize> {
    let is_far = |cents: &Cents| cents.abs() > STRAY;
    if heard.len() < 3 || fits[0].rms <= FITTING && !fits[0].residuals.iter().any(is_far) {
        return None;
    }
    let enough = if heard.len() > 4 { STRAY } else { FAR_STRAY };
    let without = |off: usize| {
        let used: Vec<bool> = (0..heard.len()).map(|note| note != off).collect();
        let rest = rank::rank(temperaments, heard, &used);
        let limit = rest[0].misfit + RULED_OUT;
        let mut alike = rest.iter().take_while(|fit| fit.misfit < limit);
        let agree = rest[0].rms <= FITTING
            && (0..heard.len()).all(|note| note == off || !is_far(&rest[0].residuals[note]));
        let is_stray = agree && alike.all(|fit| fit.residuals[off].abs() >= enough);
        is_stray.then_some((rest[0].misfit, off))
    };
    let mut strays: Vec<(f64, usize)> = (0..heard.len()).filter_map(without).collect();
    strays.sort_by(|a, b| a.0.total_cmp(&b.0));
    match strays[..] {
        [(_, only)] => Some(only),
        [(best, off), (next, _), ..] if best + RULED_OUT < next => Some(off),
        _ => None,
    }
}
