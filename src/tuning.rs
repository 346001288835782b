//! Where a note belongs: temperaments, the pitch standard, the trumpets' series, and the
//! deviation of a sounding frequency from each. Knows no audio, screen or file.

mod air;
mod beats;
mod chain;
mod fit;
mod intervals;
mod placement;
mod ratio;
mod scale;
mod series;
mod standard;
mod temperament;

pub use air::{rise_of_winds, speed_of_sound};
pub use beats::{Beat, beat_between};
pub use chain::{Chain, ChainError};
pub use fit::{Fit, FitError, HeardKey, Proposal, UsualStandard, Verdict, usual_standard};
pub use intervals::KeyInterval;
pub use placement::{PartialPlace, Placement, TemperedPlace, Tuning};
pub use ratio::{OfPure, Ratio, Ratios};
pub use scale::{Scale, ScaleNote};
pub use series::{Anchor, HIGHEST_PARTIAL, Partial, Series, SeriesError};
pub use standard::{PitchStandard, StandardError};
pub use temperament::{Comma, Fifths, Temperament, TemperamentError, Tempering};
