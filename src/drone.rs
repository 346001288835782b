//! The tone one practises against: what it is made of, and its sound. Knows no device, file or
//! screen; the same frames are rendered whoever plays them.

mod passage;
mod pitches;
mod setting;
mod spectrum;
mod synth;
mod tone;

pub use passage::{Component, Passage};
pub use pitches::{Pitches, Sounding};
pub use setting::{CEILING, Drone, HIGHEST_CEILING, LOWEST_LEVEL, START_LEVEL};
pub use spectrum::Timbre;
pub use synth::{RAMP, Synth, Wanted, WantedTone};
pub use tone::{MOST_TONES, Tone, ToneError, Tones};
