//! How far the device has played, for other threads.

use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use super::ring::Tally;
use crate::units::SampleRate;

/// What a device has taken of a [`Player`](super::Player)'s sound, as it stood after one of its
/// callbacks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Played {
    /// The number of the stream, which rises with each one that is opened; the first is 1.
    pub stream: u64,
    /// Frames a second.
    pub rate: SampleRate,
    /// Frames of the player that the device has taken since this stream started.
    pub frames: u64,
    /// Frames the device had to do without since it took the first one, because none were ready:
    /// silence but for a short fade. The frames after such a gap sound later by its length.
    pub missed: u64,
}

/// Tells what has been played, from any thread but a real-time one. Its clones tell the same.
#[derive(Debug, Clone, Default)]
pub struct PlaybackClock {
    /// The callback does not know of this lock: it only writes the tally.
    current: Arc<Mutex<Option<Current>>>,
}

#[derive(Debug)]
pub(super) struct Current {
    pub(super) stream: u64,
    pub(super) rate: SampleRate,
    pub(super) tally: Arc<Tally>,
}

impl PlaybackClock {
    /// What has been played of the present stream; none while no stream runs.
    ///
    /// The frames are those the device has *taken*; they are heard when its own buffer has been
    /// played, a few tens of milliseconds later. They count on in steps of one callback.
    pub fn now(&self) -> Option<Played> {
        let current = self.lock();
        let Current {
            stream,
            rate,
            tally,
        } = current.as_ref()?;
        let (frames, missed) = tally.played();
        Some(Played {
            stream: *stream,
            rate: *rate,
            frames,
            missed,
        })
    }

    pub(super) fn set(&self, current: Option<Current>) {
        *self.lock() = current;
    }

    fn lock(&self) -> MutexGuard<'_, Option<Current>> {
        self.current.lock().unwrap_or_else(PoisonError::into_inner)
    }
}
