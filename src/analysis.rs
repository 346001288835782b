//! From samples to pitch: one player's note as frequency, margin and confidence, or the
//! reason why there is none. Owns the FFT plans and their scratch space; knows no device,
//! clock or file.

mod reading;

pub use reading::{Motion, NoPitch, Pitch, Reading, Vibrato};
