//! Runs the chord ear over a recording, one update at a time.

use std::time::Instant;

use concento::analysis::chord::{
    CHORD_HOP, ChordEar, ChordSound, HeardChord, HeardVoice, VoiceStatus,
};
use concento::rehearsal::SoughtVoices;

use super::bare_ffts::BareFfts;
use super::pack::Chord;

/// Updates whose middle lies between these count, in seconds.
const FROM_S: f64 = 0.6;
const TO_S: f64 = 1.5;
/// And so far from the end, in seconds.
const INSIDE_S: f64 = 0.5;
/// A voice counts as shown from this confidence on.
const SURE: f64 = 0.5;

/// What is known beforehand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Mode {
    /// The voices.
    Expected,
    /// Who plays.
    Free,
}

impl Mode {
    /// The word for it.
    pub(crate) fn word(self) -> &'static str {
        match self {
            Self::Expected => "expected",
            Self::Free => "free",
        }
    }

    /// What is looked for in a chord.
    pub(crate) fn sought(self, chord: &Chord) -> SoughtVoices {
        match self {
            Self::Expected => SoughtVoices::expected(&chord.expected, &chord.tuning),
            Self::Free => chord.free.clone(),
        }
    }
}

/// What was heard at one moment, and how long it took.
pub(crate) struct Update {
    /// What was heard.
    pub(crate) chord: HeardChord,
    /// Seconds for it.
    pub(crate) cost_s: f64,
    /// Seconds for one bare FFT of the sound it is made of.
    pub(crate) bare_s: f64,
}

impl Update {
    /// The voices that are shown with a pitch of their own.
    pub(crate) fn shown(&self) -> Vec<&HeardVoice> {
        let voices = self.chord.voices.iter();
        voices
            .filter(|voice| voice.status == VoiceStatus::Ok && voice.confidence >= SURE)
            .collect()
    }

    /// Whether any voice at all is said to sound.
    pub(crate) fn says_anything(&self) -> bool {
        let voices = &self.chord.voices;
        voices
            .iter()
            .any(|voice| voice.status != VoiceStatus::Absent)
    }
}

/// All updates of a recording that count. `runs` times over, for the least time of each.
pub(crate) fn hear(chord: &Chord, sought: &SoughtVoices, runs: u8) -> Vec<Update> {
    let mut updates = once(chord, sought);
    for _ in 1..runs {
        for (update, again) in updates.iter_mut().zip(once(chord, sought)) {
            update.cost_s = update.cost_s.min(again.cost_s);
            update.bare_s = update.bare_s.min(again.bare_s);
        }
    }
    updates
}

fn once(chord: &Chord, sought: &SoughtVoices) -> Vec<Update> {
    let hop = chord.rate.frames_in(CHORD_HOP).get() as usize;
    let mut ear = ChordEar::new(chord.rate, sought.sought().clone());
    let mut bare: Option<BareFfts> = None;
    let mut updates = Vec::new();
    for (index, block) in chord.samples.chunks_exact(hop).enumerate() {
        let mut heard = None;
        let start = Instant::now();
        ear.push(block.iter().copied(), |chord| heard = Some(chord.clone()));
        let cost_s = start.elapsed().as_secs_f64();
        let Some(heard) = heard else { continue };
        let middle_s = heard.time.get();
        if !(FROM_S..=TO_S.min(chord.seconds() - INSIDE_S)).contains(&middle_s) {
            continue;
        }
        let length_s = 2.0 * (heard.available.get() - middle_s);
        let end = (index + 1) * hop;
        let length = ((length_s * chord.rate.hz()).round() as usize).min(end);
        let ffts = bare.get_or_insert_with(|| BareFfts::of(&[length]));
        let start = Instant::now();
        ffts.run(&chord.samples[..end]);
        let bare_s = start.elapsed().as_secs_f64();
        updates.push(Update {
            chord: heard,
            cost_s,
            bare_s,
        });
    }
    // Where nothing is held, nothing was measured.
    updates.retain(|update| update.chord.sound == ChordSound::Held);
    updates
}
