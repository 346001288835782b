//! News for the rehearsal from whatever listens.

use super::{Entry, HeardVoices, Loudspeaker, Survey};
use crate::analysis::cancel::HeardThrough;
use crate::analysis::chord::HeardChord;
use crate::analysis::{Effort, Reading};
use crate::sound::{SourceState, StreamFormat};
use crate::units::Seconds;

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
    /// What is wrong with a recording that is heard, in a sentence; anew when there is more.
    Damaged(String),
    /// So much is done for each second of sound from now on.
    Effort(Effort),
    /// How a drone arrives at the microphone.
    Through(HeardThrough),
    /// What the loudspeaker is doing has changed.
    Loudspeaker(Loudspeaker),
    /// What was found about all notes together, as [`take_survey_order`](super::Rehearsal) asked.
    Surveyed(Box<Survey>),
    /// An entry of a journal that is replayed. Of [`Entry::Heard`] only the voices of chords
    /// count: the samples come as readings, spread over their time.
    Recalled(Box<Entry>),
    /// What a stand is told of the rehearsal it watches, beyond news and entries.
    Watched(Watched),
}

/// What is no entry of a rehearsal and no news of its sound, and is seen on its screen.
#[derive(Debug, Clone, PartialEq)]
pub enum Watched {
    /// All is told from the beginning now: what was known before is forgotten.
    Anew,
    /// The present sitting began so long after the first one.
    SatDown(Seconds),
    /// The voices of a shared channel, which the stream made available at this moment.
    Chord(Seconds, HeardVoices),
    /// The held chord of this number is in use, or none is.
    InUse(Option<usize>),
}
