//! Where a player sits: what is needed to make a note of what was taken down there.

use super::{Note, Taken};
use crate::rehearsal::{Channel, VoiceLabel};
use crate::tuning::Tuning;

/// Who was heard, and in what tuning.
#[derive(Debug, Clone, Copy)]
pub(in crate::rehearsal) struct Seat<'a> {
    pub(in crate::rehearsal) channel: usize,
    pub(in crate::rehearsal) player: &'a Channel,
    pub(in crate::rehearsal) tuning: &'a Tuning,
}

impl Seat<'_> {
    /// A note of the only player here.
    pub(in crate::rehearsal) fn alone(self, taken: Taken) -> Note {
        let note = self.tuning.place(taken.hertz).tempered.note;
        let label = VoiceLabel::of_player(self.player, taken.hertz, note, self.tuning);
        self.note(label, taken)
    }

    /// A note of one of several players.
    pub(in crate::rehearsal) fn note(self, label: VoiceLabel, taken: Taken) -> Note {
        Note {
            channel: self.channel,
            label,
            begun: taken.begun,
            ended: taken.ended,
            steady: taken.steady,
            hertz: taken.hertz,
            margin: taken.margin,
            spread: taken.spread,
            level: taken.level,
            goes_on: taken.goes_on,
            places: self.tuning.place(taken.hertz),
        }
    }
}
