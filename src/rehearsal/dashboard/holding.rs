//! The chords that are held in a rehearsal, and which of them is in use.

use super::Rehearsal;
use crate::rehearsal::{
    Channel, ChordNote, Entry, Family, HeldChord, HeldVoice, Moment, Purity, Setting, Shelf,
};
use crate::units::Seconds;

/// Why no chord was held.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum NothingHeld {
    /// No channel can bring a trumpet.
    #[error("no trumpets in this ensemble: its file says which inputs have them")]
    NoTrumpets,
    /// None sounds or has just sounded.
    #[error("no trumpet sounds or has just sounded: nothing held")]
    Silence,
}

impl Rehearsal {
    /// Holds the trumpets' chord as it sounds, or has just sounded, and takes it into use.
    ///
    /// # Errors
    ///
    /// No trumpet sounds or has just sounded; nothing has changed.
    pub fn hold(&mut self) -> Result<(usize, &HeldChord), NothingHeld> {
        let picture = self.picture();
        let voices = picture.trumpets(&self.ensemble, &self.tunings);
        if voices.is_empty() {
            let mut channels = self.ensemble.channels.iter();
            // Of a room that is heard as one player nobody knows what is a trumpet.
            let brings = |channel: &Channel| {
                let family = channel.instrument.family;
                family == Family::Trumpets || channel.is_shared() && family.has_trumpets()
            };
            return Err(if channels.any(brings) {
                NothingHeld::Silence
            } else {
                NothingHeld::NoTrumpets
            });
        }
        let chord = HeldChord {
            voices,
            setting: Setting::new(&self.ensemble.title, self.tuning()),
            moment: Moment::Now(self.now),
        };
        self.recording.keep(Entry::Held {
            at: self.now,
            chord: Box::new(chord.clone()),
        });
        let number = self.shelf.put(chord);
        self.recall(number);
        self.shelf.current().ok_or(NothingHeld::Silence)
    }

    /// Takes the held chord of this number into use; says whether there is one.
    pub fn recall(&mut self, number: usize) -> bool {
        let found = self.shelf.recall(number);
        self.rematch();
        found
    }

    /// Takes the next held chord into use; says its number.
    pub fn recall_next(&mut self) -> Option<usize> {
        let number = self.shelf.recall_next();
        self.rematch();
        number
    }

    /// Uses no held chord; all stay on the shelf.
    pub fn release(&mut self) {
        self.shelf.release();
        self.rematch();
    }

    /// Puts a chord of an earlier rehearsal on the shelf without using it.
    pub fn shelve(&mut self, chord: HeldChord) {
        self.shelf.put(chord);
    }

    /// The held chords.
    pub fn shelf(&self) -> &Shelf {
        &self.shelf
    }

    /// For how long the chord in use has been held, if it is one of this rehearsal.
    pub fn held_for(&self) -> Option<Seconds> {
        match self.shelf.current()?.1.moment {
            Moment::Now(since) => Some(self.now - since),
            Moment::Earlier(_) => None,
        }
    }

    /// How pure the chord in use is, its voices being trumpets that bend from where they stood.
    pub fn held_purity(&self) -> Option<Purity> {
        let (_, chord) = self.shelf.current()?;
        let note = |voice: &HeldVoice| {
            let off = voice.hertz.above(voice.label.frequency(self.tuning()));
            ChordNote {
                hertz: voice.hertz,
                partial: voice.label.partial(),
                reach: Family::Trumpets.reach().after(off),
            }
        };
        let notes: Vec<ChordNote> = chord.voices.iter().map(note).collect();
        Purity::of(&notes)
    }
}
