//! Two notes that are tuned to each other, and how they beat.

use crate::tuning::{Beat, Ratio, Scale, beat_between};
use crate::units::{Cents, Hertz, Note};

/// Slower beats than this cannot be told from none: a string dies away within one. A choice of
/// this program.
const STILL_HZ: f64 = 0.05;

/// A note and where it has to stand.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sounded {
    /// The note.
    pub note: Note,
    /// Its frequency.
    pub hertz: Hertz,
}

impl Sounded {
    /// Where `scale` has `note`.
    pub fn of(scale: &Scale, note: Note) -> Self {
        Self {
            note,
            hertz: scale.frequency(note),
        }
    }
}

/// On which side of pure an interval lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sense {
    /// Narrower than pure.
    Narrow,
    /// Wider than pure.
    Wide,
}

impl Sense {
    /// In the trade's word.
    pub fn word(self) -> &'static str {
        match self {
            Self::Narrow => "narrow",
            Self::Wide => "wide",
        }
    }
}

/// An interval between two notes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pair {
    /// The lower note.
    pub lower: Sounded,
    /// The upper note.
    pub upper: Sounded,
    /// The pure interval it is measured against, upper to lower.
    pub ratio: Ratio,
    /// Beats a second: partial `ratio.under()` of the upper less partial `ratio.over()` of the
    /// lower. Negative is narrow.
    pub signed_hz: f64,
    /// How far the interval is from pure; negative is narrow.
    pub from_pure: Cents,
}

impl Pair {
    /// The interval between two notes, or none where it lies near no pure one.
    pub fn new(scale: &Scale, lower: Note, upper: Note) -> Option<Self> {
        let [lower, upper] = [lower, upper].map(|note| Sounded::of(scale, note));
        let beat: Beat = beat_between(lower.hertz, upper.hertz)?;
        Some(Self {
            lower,
            upper,
            ratio: Ratio::new(beat.of_lower, beat.of_upper),
            signed_hz: beat.signed_hz,
            from_pure: beat.cents,
        })
    }

    /// Beats a second.
    pub fn rate_hz(&self) -> f64 {
        self.signed_hz.abs()
    }

    /// On which side of pure it lies, or none where no beat is heard.
    pub fn sense(&self) -> Option<Sense> {
        if self.rate_hz() < STILL_HZ {
            None
        } else if self.signed_hz < 0.0 {
            Some(Sense::Narrow)
        } else {
            Some(Sense::Wide)
        }
    }
}
