//! From samples to pitch: one player's note as frequency, margin and confidence, or the
//! reason why there is none. Owns the FFT plans and their scratch space; knows no device,
//! clock or file.
//!
//! The path of one hop: `spectrum` takes three windows that end at the same moment,
//! `peaks` interpolates their peaks, `comb` finds the fundamental that explains them
//! best, `choice` settles between the windows and over time, `fit` measures the pitch
//! from all partials together, `company` notices a second note, `unrest` hands a moving pitch
//! to a shorter window, `held` tells a note from a voice that speaks, `smoothing` averages a
//! few hops, and `motion` follows the pitch over a second. `dynamics` tells strokes and fading
//! from the level. `cancel` takes a known drone out of the sound before all that. `effort` says how
//! much of it is done where the machine cannot do all.

pub mod cancel;
mod choice;
pub mod chord;
mod comb;
mod company;
mod dynamics;
mod ears;
mod effort;
mod estimator;
mod fit;
mod held;
mod lately;
mod motion;
mod offset;
mod peaks;
mod reading;
mod smoothing;
mod spectrum;
#[cfg(test)]
mod tests;
#[cfg(test)]
mod tones;
mod unrest;

pub use ears::Ears;
pub use effort::Effort;
pub use estimator::{Estimator, HOP, window_lengths};
pub use reading::{Motion, NoPitch, Pitch, Reading, Vibrato};
