//! Where sound comes from: the live input, a recording or a rendered scene, behind one trait.
//! Where it goes to: the live output. All of cpal is here; nothing else in the program touches it.
//!
//! A source delivers interleaved blocks stamped with their first frame and says in words a
//! musician can use when there is nothing to deliver. It knows nothing of pitch or screens.

pub mod capture;
pub mod device;
pub mod playback;
mod playhead;
pub mod quiet;
pub mod recording;
pub mod scene;

pub use playhead::Pace;

use std::time::Duration;

use serde::{Deserialize, Serialize};

use crate::units::{FramePosition, SampleRate, Seconds};

/// The shape of a stream.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct StreamFormat {
    /// What the stream is called: the device's or the file's name.
    pub name: String,
    /// Frames a second.
    pub rate: SampleRate,
    /// Channels in each frame, 1 to 32.
    pub channels: usize,
}

/// What a source is doing, for the screen.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub enum SourceState {
    /// Being opened.
    Opening,
    /// Delivering.
    Running,
    /// A live input that cannot be used now; it is tried again without being asked.
    Waiting(Fault),
    /// A recording or scene that has been played to its end.
    Ended,
}

/// Why a live input or output does not work.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, thiserror::Error)]
pub enum Fault {
    /// There is no input at all.
    #[error("no microphone found: connect one; it is taken up by itself")]
    NoDevice,
    /// There is no output at all.
    #[error("no loudspeaker found: connect one; it is taken up by itself")]
    NoLoudspeaker,
    /// The named input is not there.
    #[error("no input called '{0}': connect it, or see 'concento devices'")]
    NoSuchDevice(String),
    /// The named output is not there.
    #[error("no output called '{0}': connect it, or see 'concento devices'")]
    NoSuchOutput(String),
    /// Another program holds it.
    #[error("'{0}' is in use by another program: close that program")]
    Busy(String),
    /// It was working and has gone.
    #[error("'{0}' has gone: check its cable; it is taken up again by itself")]
    Lost(String),
    /// It is there and does nothing: its driver has not called for a while.
    #[error("'{0}' has stopped answering: waiting for it")]
    Stalled(String),
    /// The sound system refused for another reason.
    #[error("'{device}' cannot be opened ({reason}): trying again")]
    Refused {
        /// The device.
        device: String,
        /// The sound system's own words, on one line.
        reason: String,
    },
}

/// One step of a source.
#[derive(Debug)]
pub enum Delivery<'a> {
    /// The stream starts, or starts again after a fault: positions begin at zero again.
    Started(StreamFormat),
    /// Sound.
    Block {
        /// The place of the first frame. A jump means that blocks were lost in between.
        first: FramePosition,
        /// Interleaved samples, a whole number of frames; full scale is 1.
        samples: &'a [f32],
    },
    /// Nothing within the time allowed.
    Nothing,
    /// What the source is doing has changed.
    State(SourceState),
}

/// Something that delivers sound.
pub trait Source: Send {
    /// The next step, waiting no longer than `patience`. After `State(Ended)` a source only
    /// returns `Nothing`.
    fn next(&mut self, patience: Duration) -> Delivery<'_>;

    /// Blocks lost because the listener was too slow, since the start.
    fn blocks_lost(&self) -> u64 {
        0
    }

    /// How much sound waits behind what was delivered last; none where the source waits itself.
    fn waiting(&self) -> Seconds {
        Seconds::default()
    }

    /// Something the listener should know about the sound so far, such as a recording that is
    /// damaged in the middle. It may appear, or change, with any step.
    fn warning(&self) -> Option<&str> {
        None
    }
}
