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

#[cfg(test)]
mod tests {
    use crate::rehearsal::tests::{held_chord, reading, rehearsal};
    use crate::rehearsal::{Entry, Rehearsal, Update, Watched};
    use crate::sound::{Fault, SourceState};
    use crate::units::Seconds;

    fn seated(names: &[&str]) -> Update {
        Update::Recalled(Box::new(Entry::Seated {
            at: Seconds::default(),
            ensemble: Box::new(rehearsal(names).ensemble().clone()),
        }))
    }

    fn stand() -> Rehearsal {
        let mut stand = rehearsal(&["Input 1"]).watching();
        stand.take(Update::Watched(Watched::Anew));
        stand.take(seated(&["Trumpet I", "Violin I"]));
        stand
    }

    fn held() -> Update {
        Update::Recalled(Box::new(Entry::Held {
            at: Seconds::default(),
            chord: Box::new(held_chord(&[(8, 0.0)])),
        }))
    }

    #[test]
    fn what_sounds_stands_on_the_clock_of_the_screen() {
        let mut stand = stand();
        // The stream has run for an hour longer than the rehearsal.
        for hop in 0..50 {
            let at = Seconds::new(10.0 + 0.01 * f64::from(hop));
            stand.tick(at);
            let mut heard = reading(415.0);
            heard.available = Seconds::new(3_600.0) + at;
            stand.take(Update::Reading(0, heard));
        }
        assert!(stand.parts().next().unwrap().state.sounding().is_some());
        stand.tick(Seconds::new(12.0));
        assert!(stand.parts().next().unwrap().state.sounding().is_none());
        assert!(stand.take_entries().is_empty());
    }

    #[test]
    fn players_hidden_here_stay_hidden_when_it_comes_back() {
        let mut stand = stand();
        stand.set_visible(0, false);
        stand.take(held());
        stand.take(Update::Watched(Watched::InUse(Some(1))));
        assert!(stand.shelf().current().is_some());
        stand.take(Update::Watched(Watched::Anew));
        assert!(stand.shelf().current().is_none());
        assert!(stand.chronicle().held().is_empty());
        stand.take(seated(&["Violin I", "Trumpet I", "Organ"]));
        let shown: Vec<&str> = stand
            .parts()
            .map(|part| part.channel.name.as_str())
            .collect();
        assert_eq!(shown, ["Violin I", "Organ"]);
        assert!(stand.is_watched() && stand.is_replay());
    }

    #[test]
    fn a_held_chord_is_used_as_on_the_first_screen() {
        let mut stand = stand();
        stand.take(held());
        assert!(stand.shelf().current().is_none());
        stand.take(Update::Watched(Watched::InUse(Some(7))));
        assert!(stand.shelf().current().is_none());
        stand.take(Update::Watched(Watched::InUse(Some(1))));
        assert_eq!(stand.shelf().current().map(|(number, _)| number), Some(1));
        stand.take(Update::Watched(Watched::InUse(None)));
        assert!(stand.shelf().current().is_none());
    }

    #[test]
    fn a_fault_that_is_recorded_does_not_end_the_fault() {
        let mut stand = stand();
        let waiting = SourceState::Waiting(Fault::NoDevice);
        stand.take(Update::State(waiting.clone()));
        stand.take(Update::Recalled(Box::new(Entry::Fault {
            at: Seconds::default(),
            text: Fault::NoDevice.to_string(),
        })));
        assert_eq!(stand.source(), &waiting);
    }
}
