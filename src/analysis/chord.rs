//! From one microphone to the voices of a chord: which sound, each voice's pitch with its
//! margin, and what cannot be told apart.

mod heard;

pub use heard::{Beating, ChordSound, Company, HeardChord, HeardVoice, Place, Sought, VoiceStatus};
