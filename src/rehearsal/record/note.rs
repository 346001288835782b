//! One held note of one player.

use crate::rehearsal::VoiceLabel;
use crate::tuning::Placement;
use crate::units::{Cents, Dbfs, Hertz, Seconds};

/// A note that has ended, or a part of one that lasts very long.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Note {
    /// The channel's place in the ensemble, from 0; in a [`Chronicle`](super::Chronicle) the
    /// player's place among all of its players.
    pub channel: usize,
    /// What it is called: a trumpet's by its partial where one is near.
    pub label: VoiceLabel,
    /// Its onset.
    pub begun: Seconds,
    /// Its end.
    pub ended: Seconds,
    /// How much of it was steady: the part its pitch was measured over.
    pub steady: Seconds,
    /// Its pitch: the centre over the steady part, of a vibrato too.
    pub hertz: Hertz,
    /// The pitch is right to this distance, 19 times in 20.
    pub margin: Cents,
    /// Standard deviation about the centre over the steady part, vibrato included.
    pub spread: Cents,
    /// RMS level over the steady part.
    pub level: Dbfs,
    /// Whether it goes on with the note before it, and counts as one with it.
    pub goes_on: bool,
    /// Where it lay between both places, in the tuning of its time.
    pub places: Placement,
}

impl Note {
    /// How long it sounded.
    pub fn sounding(&self) -> Seconds {
        self.ended - self.begun
    }

    /// The middle of it.
    pub fn middle(&self) -> Seconds {
        Seconds::new(0.5 * (self.begun.get() + self.ended.get()))
    }
}
