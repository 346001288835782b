//! What is told of a rehearsal, one piece a line.

use super::wire;
use crate::analysis::{Effort, Reading};
use crate::rehearsal::{Entry, HeardVoices, Update, Watched};
use crate::sound::{SourceState, StreamFormat};
use crate::units::Seconds;

/// One piece of what happens.
#[derive(Debug, Clone, PartialEq)]
pub enum News {
    /// It is now this moment on the rehearsal's clock.
    Now(Seconds),
    /// A reading of the channel at this place in the ensemble, from 0.
    Reading(usize, Reading),
    /// The voices of a shared channel, which the stream made available at this moment.
    Chord(Seconds, HeardVoices),
    /// What the source is doing has changed.
    State(SourceState),
    /// The stream starts, or starts again.
    Started(StreamFormat),
    /// Blocks lost since the start, all told.
    Lost(u64),
    /// So much is done for each second of sound.
    Effort(Effort),
    /// The held chord of this number is in use, or none is.
    InUse(Option<usize>),
    /// The file the rehearsal is kept in.
    Session(String),
    /// The present sitting began so long after the first; what came before is of earlier ones.
    SatDown(Seconds),
    /// Something was kept.
    Entry(Box<Entry>),
    /// Too many watch already.
    Full,
    /// The rehearsal has ended as it should.
    Ended,
}

/// How long a piece of news is good for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Lasting {
    /// For a moment: the next one of its kind follows at once.
    Fleeting,
    /// Until the next one of its kind.
    Present,
    /// For ever: whoever comes late is told all of them, in order.
    Kept,
}

impl News {
    /// The line it is told in, with its end, of a rehearsal that began at this date and time; none
    /// of what is not told.
    pub fn to_line(&self, begun: &str) -> Option<String> {
        wire::line(self, begun)
    }

    /// What it is to the rehearsal that is shown elsewhere, if it is anything to that.
    pub fn into_update(self) -> Option<Update> {
        Some(match self {
            Self::Now(_) | Self::Session(_) | Self::Full | Self::Ended => return None,
            Self::Reading(channel, reading) => Update::Reading(channel, reading),
            Self::Chord(available, chord) => Update::Watched(Watched::Chord(available, chord)),
            Self::State(state) => Update::State(state),
            Self::Started(format) => Update::Started(format),
            Self::Lost(blocks) => Update::Lost(blocks),
            Self::Effort(effort) => Update::Effort(effort),
            Self::InUse(number) => Update::Watched(Watched::InUse(number)),
            Self::SatDown(offset) => Update::Watched(Watched::SatDown(offset)),
            Self::Entry(entry) => Update::Recalled(entry),
        })
    }

    pub(super) fn lasting(&self) -> Lasting {
        match self {
            Self::Now(_) | Self::Reading(..) | Self::Chord(..) => Lasting::Fleeting,
            Self::State(_)
            | Self::Started(_)
            | Self::Lost(_)
            | Self::Effort(_)
            | Self::InUse(_)
            | Self::Session(_)
            | Self::Full
            | Self::Ended => Lasting::Present,
            Self::SatDown(_) | Self::Entry(_) => Lasting::Kept,
        }
    }
}

/// What kind of rehearsal it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub enum What {
    /// An ensemble that plays.
    Rehearsal,
    /// One player with a drone.
    Practice,
    /// An invented ensemble.
    Demo,
}

impl What {
    /// The word for people.
    pub fn word(self) -> &'static str {
        match self {
            Self::Rehearsal => "rehearsal",
            Self::Practice => "practice",
            Self::Demo => "demo",
        }
    }

    /// The command that began it.
    pub fn command(self) -> &'static str {
        match self {
            Self::Rehearsal => "rehearse",
            Self::Practice => "practise",
            Self::Demo => "demo",
        }
    }
}

/// Whose rehearsal it is: the first thing a reader is told.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sitting {
    /// What kind.
    pub what: What,
    /// The file it is kept in, if it is kept.
    pub session: Option<String>,
    /// When it began: local date and time (RFC 3339).
    pub begun: String,
    /// The number of its process.
    pub process: u32,
}
