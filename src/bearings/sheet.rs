//! The tuner's sheet: every step from the first note to the fifth that is left over.

use super::course::{Course, has_pure_thirds};
use super::pair::{Pair, Sounded};
use crate::tuning::{Chain, PitchStandard, Scale, Temperament};
use crate::units::{Hertz, NoteName};

/// A sheet that cannot be made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum SheetError {
    /// The note to begin with is none of the keys.
    #[error(
        "the keys {chain:#} have no {name:#} to begin with: name another note with --from, or other keys with --chain"
    )]
    NoSuchKey {
        /// The note that was asked for.
        name: NoteName,
        /// The keys there are.
        chain: Chain,
    },
    /// There are no pure thirds to tune by.
    #[error(
        "its major thirds are not pure, so nothing can be tuned by them: leave out --thirds, or take quarter-comma"
    )]
    ThirdsNotPure,
}

/// By which intervals the notes are found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Method {
    /// Fifths and fourths, each at its own beat.
    #[default]
    Fifths,
    /// Pure major thirds first, with the fifths between them shared out.
    Thirds,
}

/// An end of an interval.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum End {
    /// The lower note.
    Lower,
    /// The upper note.
    Upper,
}

/// What is done in a step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Deed {
    /// A note is taken over from fork or pipe.
    Take(Sounded),
    /// One end of an interval is tuned to the other.
    Tune {
        /// The interval as it has to be.
        pair: Pair,
        /// The end that is tuned; the other one stands already.
        tuned: End,
    },
    /// An interval that has come about is listened to.
    Check {
        /// The interval as it has to be.
        pair: Pair,
        /// Whether it is the first third that comes about.
        is_first: bool,
    },
    /// The fifth (or its fourth) between the last note and the first: it is not tuned.
    Leave {
        /// The interval as it falls out.
        pair: Pair,
        /// Whether it is too far from pure to be used.
        is_wolf: bool,
    },
}

impl Deed {
    /// The interval that sounds, if it is one.
    pub fn pair(&self) -> Option<&Pair> {
        match self {
            Self::Take(_) => None,
            Self::Tune { pair, .. } | Self::Check { pair, .. } | Self::Leave { pair, .. } => {
                Some(pair)
            }
        }
    }

    /// The note that is brought to its place, if one is.
    pub fn tuned(&self) -> Option<Sounded> {
        match self {
            Self::Take(note) => Some(*note),
            Self::Tune { pair, tuned } => Some(match tuned {
                End::Lower => pair.lower,
                End::Upper => pair.upper,
            }),
            Self::Check { .. } | Self::Leave { .. } => None,
        }
    }

    /// The note another one is tuned to.
    pub fn standing(&self) -> Option<Sounded> {
        match self {
            Self::Tune { pair, tuned } => Some(match tuned {
                End::Lower => pair.upper,
                End::Upper => pair.lower,
            }),
            Self::Take(_) | Self::Check { .. } | Self::Leave { .. } => None,
        }
    }
}

/// A step of the sheet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// Counted from 1.
    pub number: usize,
    /// What is done.
    pub deed: Deed,
}

/// The tuner's sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct Sheet {
    scale: Scale,
    standard: PitchStandard,
    method: Method,
    steps: Vec<Step>,
}

impl Sheet {
    /// The sheet of a temperament, begun `from` a note or from the one the standard keeps.
    pub fn new(
        temperament: &Temperament,
        chain: Chain,
        standard: PitchStandard,
        from: Option<NoteName>,
        method: Method,
    ) -> Result<Self, SheetError> {
        let scale = Scale::new(temperament, chain, standard);
        let steps = Course::new(&scale).steps(from.unwrap_or(standard.kept()), method)?;
        Ok(Self {
            scale,
            standard,
            method,
            steps,
        })
    }

    /// Its steps in order.
    pub fn steps(&self) -> &[Step] {
        &self.steps
    }

    /// What the notes are placed by.
    pub fn scale(&self) -> &Scale {
        &self.scale
    }

    /// The level that was asked for.
    pub fn standard(&self) -> PitchStandard {
        self.standard
    }

    /// By which intervals the notes are found.
    pub fn method(&self) -> Method {
        self.method
    }

    /// Where A4 comes to stand: not at the standard's level where another note keeps that.
    pub fn a4(&self) -> Hertz {
        self.scale.frequency(NoteName::A.in_octave(4))
    }

    /// Whether all major thirds of the chain are pure.
    pub fn has_pure_thirds(&self) -> bool {
        has_pure_thirds(&self.scale)
    }

    /// The fifth that is left over, if there is one near enough to be called a fifth.
    pub fn left_over(&self) -> Option<(&Pair, bool)> {
        self.steps.iter().find_map(|step| match &step.deed {
            Deed::Leave { pair, is_wolf } => Some((pair, *is_wolf)),
            _ => None,
        })
    }
}
