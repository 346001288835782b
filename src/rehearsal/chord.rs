//! A shared channel as the screen shows it: the voices of its chord, followed one by one.

mod voice;

use super::{Pulse, SoughtVoices, VoiceLabel};
use crate::analysis::chord::{ChordSound, Company, HeardChord, HeardVoice, VoiceStatus};
use crate::tuning::Tuning;
use crate::units::Seconds;

pub use voice::{ChordVoice, Standing, Together};

/// How long a voice stays on the screen after it was last heard: two chords at five a second.
const LINGER: Seconds = Seconds::new(0.5);

/// How long it can still be held after that.
const REMEMBERED: Seconds = Seconds::new(2.0);

/// How long a channel may say nothing at all before it counts as unheard.
const PATIENCE: Seconds = Seconds::new(1.5);

/// What a shared channel has been doing.
#[derive(Debug, Clone, PartialEq)]
pub struct ChordState {
    sound: ChordSound,
    span: Seconds,
    heard_at: Seconds,
    quiet_since: Option<Seconds>,
    now: Seconds,
    voices: Vec<ChordVoice>,
}

impl ChordState {
    /// A channel nothing has been heard of.
    pub(super) fn new() -> Self {
        Self {
            sound: ChordSound::Silent,
            span: Seconds::new(0.0),
            heard_at: Seconds::new(f64::NEG_INFINITY),
            quiet_since: None,
            now: Seconds::new(0.0),
            voices: Vec::new(),
        }
    }

    /// Takes in a chord heard at `time` on the rehearsal's clock. Voices at places that are
    /// not among `names` are passed over.
    pub(super) fn hear(
        &mut self,
        chord: &HeardChord,
        time: Seconds,
        names: &SoughtVoices,
        tuning: &Tuning,
    ) {
        self.sound = chord.sound;
        self.span = chord.span;
        self.heard_at = time;
        self.quiet_since = match chord.sound {
            ChordSound::Silent => self.quiet_since.or(Some(time)),
            ChordSound::Settling | ChordSound::Held => None,
        };
        if chord.sound == ChordSound::Held {
            for heard in &chord.voices {
                self.hear_voice(heard, chord, time, names, tuning);
            }
            self.supersede(time);
            self.voices.sort_by(|a, b| {
                let hertz = |voice: &ChordVoice| voice.sounding.needle().hertz().get();
                hertz(a).total_cmp(&hertz(b))
            });
        }
        if time > self.now {
            self.tick(time);
        }
    }

    fn hear_voice(
        &mut self,
        heard: &HeardVoice,
        chord: &HeardChord,
        time: Seconds,
        names: &SoughtVoices,
        tuning: &Tuning,
    ) {
        let Some((label, or_label)) = called(heard, names) else {
            return;
        };
        let other = |position: usize| {
            let other = chord.voices.get(position)?;
            Some((other.identity, called(other, names)?.0))
        };
        let standing = match heard.status {
            VoiceStatus::Ok => Standing::Clear,
            VoiceStatus::Doubtful => Standing::Doubtful,
            VoiceStatus::Absent => Standing::Absent,
            VoiceStatus::Merged { with, partial } => match other(with) {
                Some((_, with)) => Standing::Merged { with, partial },
                None => Standing::Doubtful,
            },
        };
        let found = self
            .voices
            .iter()
            .position(|v| v.identity == heard.identity);
        let index = found.unwrap_or_else(|| {
            self.voices
                .push(ChordVoice::begin(heard, label, standing, tuning));
            self.voices.len() - 1
        });
        let voice = &mut self.voices[index];
        let elapsed = time - voice.heard_at;
        voice.label = label;
        voice.or_label = or_label;
        voice.go_on(heard, standing, time, tuning);
        let beating = heard
            .beating
            .and_then(|b| Some((other(b.with)?, b.rate_hz)));
        voice.together = beating.map(|((identity, with), rate_hz)| {
            let before = voice.together.filter(|before| before.identity == identity);
            let mut pulse = before.map_or(Pulse::new(rate_hz), |before| before.pulse);
            // Time passes in `tick`; here only the rate is drawn on.
            if elapsed.get().is_finite() {
                pulse.draw_to(rate_hz, elapsed);
            }
            Together {
                with,
                identity,
                pulse,
            }
        });
    }

    /// Takes away voices of before whose place another has taken, with the same name and
    /// another identity: the one heard at `time` is the one that sounds.
    fn supersede(&mut self, time: Seconds) {
        let sounding = self.voices.iter().filter(|voice| voice.heard_at == time);
        let labels: Vec<VoiceLabel> = sounding.map(|voice| voice.label).collect();
        self.voices
            .retain(|voice| voice.heard_at == time || !labels.contains(&voice.label));
    }

    /// Lets time pass.
    pub(super) fn tick(&mut self, now: Seconds) {
        let elapsed = now - self.now;
        self.now = now;
        self.voices
            .retain(|voice| now - voice.heard_at < REMEMBERED);
        for together in self.voices.iter_mut().filter_map(|v| v.together.as_mut()) {
            let rate = together.pulse.rate_hz();
            together.pulse.go_on(rate, elapsed);
        }
        if now - self.heard_at >= PATIENCE {
            self.sound = ChordSound::Silent;
            self.quiet_since = None;
        }
    }

    /// Forgets every voice that does not sound any more.
    pub(super) fn forget(&mut self) {
        let now = self.now;
        self.voices.retain(|voice| now - voice.heard_at < LINGER);
    }

    /// Measures what sounds against another tuning.
    pub(super) fn remeasure(&mut self, tuning: &Tuning) {
        for voice in &mut self.voices {
            voice.sounding.remeasure(tuning);
        }
    }

    /// The voices from low to high; none while the chord settles or rests.
    pub fn voices(&self) -> impl Iterator<Item = &ChordVoice> {
        let now = self.now;
        self.voices
            .iter()
            .filter(move |voice| now - voice.heard_at < LINGER)
    }

    /// Those and the ones heard within the last two seconds.
    pub(super) fn remembered(&self) -> impl Iterator<Item = &ChordVoice> {
        self.voices.iter()
    }

    /// What the channel is doing; none while nothing has been heard of it.
    pub fn sound(&self) -> Option<ChordSound> {
        (self.now - self.heard_at < PATIENCE).then_some(self.sound)
    }

    /// For how long nothing has sounded.
    pub fn quiet_for(&self) -> Option<Seconds> {
        self.quiet_since.map(|since| self.now - since)
    }

    /// How long a stretch of sound each pitch was measured over.
    pub fn span(&self) -> Seconds {
        self.span
    }
}

/// What a voice is called, and what else it may be called. A lone voice that may be a trumpet
/// goes by its partial whichever place seemed likelier, so that its name does not change to and
/// fro.
fn called(heard: &HeardVoice, names: &SoughtVoices) -> Option<(VoiceLabel, Option<VoiceLabel>)> {
    let label = names.label(heard.place)?;
    let is_lone = !heard.is_named && heard.beating.is_none();
    let other = heard.or_place.filter(|_| is_lone);
    let other = other.and_then(|place| names.label(place));
    Some(match other {
        Some(partial) if label.company() == Company::Others => (partial, Some(label)),
        other => (label, other),
    })
}

#[cfg(test)]
mod tests;
