//! What is kept of a rehearsal, one entry for each line of its journal.

use super::{Decision, Note};
use crate::analysis::chord::{Beating, ChordSound, VoiceStatus};
use crate::analysis::{Motion, NoPitch};
use crate::rehearsal::{Ensemble, HeldChord, Trial, VoiceLabel};
use crate::tuning::Tuning;
use crate::units::{Celsius, Cents, Dbfs, Hertz, Seconds};

/// The stretch of time whose readings are kept together.
pub const SPAN: Seconds = Seconds::new(0.5);

/// One thing that happened. Times are on the rehearsal's clock.
#[derive(Debug, Clone, PartialEq)]
pub enum Entry {
    /// Who plays, and what is measured against: the first of all, and again whenever the
    /// players change.
    Seated {
        /// When.
        at: Seconds,
        /// Players and tuning.
        ensemble: Box<Ensemble>,
    },
    /// What is measured against has changed.
    Tuned {
        /// When.
        at: Seconds,
        /// The new tuning.
        tuning: Box<Tuning>,
    },
    /// What was heard within [`SPAN`].
    Heard(HeardSpan),
    /// A note has ended.
    Note(Note),
    /// A chord was held.
    Held {
        /// When.
        at: Seconds,
        /// The chord.
        chord: Box<HeldChord>,
    },
    /// A note of an exercise has ended.
    Tried(Box<Trial>),
    /// Something was agreed.
    Decided(Decision),
    /// The leader marked a moment.
    Marked(Mark),
    /// The room's temperature was read.
    Warmth {
        /// When.
        at: Seconds,
        /// How warm.
        celsius: Celsius,
    },
    /// The source failed; in its words.
    Fault {
        /// When.
        at: Seconds,
        /// What the status line said.
        text: String,
    },
    /// The source delivers, again or for the first time.
    Running {
        /// When.
        at: Seconds,
        /// The stream's name.
        source: String,
    },
    /// Blocks of sound were lost because the program was too slow.
    Lost {
        /// When.
        at: Seconds,
        /// All told since the start.
        blocks: u64,
    },
}

impl Entry {
    /// When it happened.
    pub fn at(&self) -> Seconds {
        match self {
            Self::Seated { at, .. }
            | Self::Tuned { at, .. }
            | Self::Held { at, .. }
            | Self::Warmth { at, .. }
            | Self::Fault { at, .. }
            | Self::Running { at, .. }
            | Self::Lost { at, .. } => *at,
            Self::Heard(span) => span.at,
            Self::Note(note) => note.ended,
            Self::Tried(trial) => trial.ended,
            Self::Decided(decision) => decision.at,
            Self::Marked(mark) => mark.at,
        }
    }
}

/// A moment to come back to.
#[derive(Debug, Clone, PartialEq)]
pub struct Mark {
    /// When.
    pub at: Seconds,
    /// A short remark; empty for none.
    pub text: String,
}

/// All channels over one [`SPAN`].
#[derive(Debug, Clone, PartialEq)]
pub struct HeardSpan {
    /// Its beginning.
    pub at: Seconds,
    /// The channels that were heard, in order; silent ones are left out.
    pub channels: Vec<HeardChannel>,
    /// The voices of shared channels, as last heard within the span.
    pub chords: Vec<HeardVoices>,
}

/// One channel over one [`SPAN`].
#[derive(Debug, Clone, PartialEq)]
pub struct HeardChannel {
    /// Its place in the ensemble, from 0.
    pub channel: usize,
    /// The loudest level.
    pub level: Dbfs,
    /// Whether full scale was reached.
    pub clipped: bool,
    /// A sample each tenth of a second; missing ones at the end were not heard.
    pub samples: Vec<Sample>,
    /// How the pitch moved, as of the last sample.
    pub motion: Option<Motion>,
}

/// One reading as it is kept.
pub type Sample = Result<Hertz, NoPitch>;

/// The voices of a shared channel.
#[derive(Debug, Clone, PartialEq)]
pub struct HeardVoices {
    /// Its place in the ensemble, from 0.
    pub channel: usize,
    /// What the chord did.
    pub sound: ChordSound,
    /// The stretch of sound that was measured.
    pub span: Seconds,
    /// The voices from low to high.
    pub voices: Vec<SampledVoice>,
}

/// One voice as it is kept.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SampledVoice {
    /// Stays the same as long as the voice is followed.
    pub identity: u32,
    /// What it was called.
    pub label: VoiceLabel,
    /// What else it may be, where that is not known.
    pub or_label: Option<VoiceLabel>,
    /// Where it stood.
    pub hertz: Hertz,
    /// To this distance, 19 times in 20.
    pub margin: Cents,
    /// What may be said of it.
    pub status: VoiceStatus,
    /// The voice almost in unison with it, by its position among the voices.
    pub beating: Option<Beating>,
    /// Whether it is known whose voice it is.
    pub is_named: bool,
}
