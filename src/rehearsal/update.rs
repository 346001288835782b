//! News for the rehearsal from whatever listens.

use super::{Entry, Loudspeaker};
use crate::analysis::Reading;
use crate::analysis::cancel::HeardThrough;
use crate::analysis::chord::HeardChord;
use crate::sound::{SourceState, StreamFormat};

/// One piece of news.
#[derive(Debug, Clone, PartialEq)]
pub enum Update {
    /// A reading of the channel at this place in the ensemble, from 0.
    Reading(usize, Reading),
    /// The voices of the channel at this place in the ensemble, from 0.
    Chord(usize, HeardChord),
    /// What the source is doing has changed.
    State(SourceState),
    /// The stream starts, or starts again.
    Started(StreamFormat),
    /// Blocks lost since the start, all told.
    Lost(u64),
    /// How a drone arrives at the microphone.
    Through(HeardThrough),
    /// What the loudspeaker is doing has changed.
    Loudspeaker(Loudspeaker),
    /// An entry of a journal that is replayed. Of [`Entry::Heard`] only the voices of chords
    /// count: the samples come as readings, spread over their time.
    Recalled(Box<Entry>),
}
