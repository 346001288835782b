//! A rehearsal that goes on elsewhere, seen on a second screen: it is filled from outside like
//! a replay and keeps nothing, but what sounds comes as it sounds.

use super::recording::Recording;
use super::{Picture, Rehearsal, Shelf, StreamClock};
use crate::rehearsal::{Ensemble, Watched};
use crate::sound::SourceState;

impl Rehearsal {
    /// The same as a stand: entries come in as [`Update::Recalled`](crate::rehearsal::Update::Recalled), readings as they are
    /// heard, the rest as [`Update::Watched`](crate::rehearsal::Update::Watched); nothing is kept.
    pub fn watching(self) -> Self {
        let mut watching = self.replaying();
        watching.recording.is_watched = true;
        watching
    }

    /// Whether this is a stand.
    pub fn is_watched(&self) -> bool {
        self.recording.is_watched
    }

    pub(super) fn take_watched(&mut self, watched: Watched) {
        match watched {
            Watched::Anew => self.begin_anew(),
            Watched::SatDown(offset) => self.recording.chronicle.sit_down(offset),
            Watched::Chord(available, chord) => self.recall_chord(&chord, available),
            Watched::InUse(None) => self.release(),
            // A chord that is not here has given way meanwhile.
            Watched::InUse(Some(number)) => {
                self.recall(number);
            }
        }
    }

    fn begin_anew(&mut self) {
        let n_channels = self.ensemble.channels.len();
        self.recording = Recording::new(n_channels);
        self.recording.is_replay = true;
        self.recording.is_watched = true;
        self.live = Picture::new(n_channels);
        self.shelf = Shelf::default();
        self.frozen = None;
        self.clock = StreamClock::default();
        self.source = SourceState::Opening;
        self.format = None;
        self.blocks_lost = 0;
        self.rematch();
    }

    /// The players of `ensemble`; those that were hidden on this screen stay hidden, and those
    /// that were shown stay shown.
    pub(super) fn seen(&self, ensemble: &Ensemble) -> Ensemble {
        let mut seen = ensemble.clone();
        if self.recording.is_watched {
            for channel in &mut seen.channels {
                let mut before = self.ensemble.channels.iter();
                let same = before.find(|other| other.name == channel.name);
                channel.visible = same.map_or(channel.visible, |same| same.visible);
            }
        }
        seen
    }
}
