//! From one microphone to the voices of a chord: which sound, each voice's pitch with its
//! margin, and what cannot be told apart.

mod belief;
mod candidates;
mod ear;
mod ears;
mod evidence;
mod follow;
mod ground;
mod heard;
mod margin;
mod pitches;
mod search;
mod span;
mod system;
#[cfg(test)]
mod tests;
mod trail;
mod verdict;
mod window;

pub use ear::{CHORD_HOP, ChordEar, MOST_VOICES};
pub use ears::{ChordEars, SharedChannel};
pub use heard::{Beating, ChordSound, Company, HeardChord, HeardVoice, Place, Sought, VoiceStatus};
