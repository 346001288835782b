//! Thins out what is heard to what is kept: ten samples a second and channel.

use super::{Entry, HeardChannel, HeardSpan, HeardVoices, SPAN, Sample, SampledVoice};
use crate::analysis::Reading;
use crate::analysis::chord::{HeardChord, HeardVoice};
use crate::rehearsal::SoughtVoices;
use crate::units::{Dbfs, Seconds};

/// Samples of a span.
const SAMPLES: usize = 5;

/// Collects the readings of the present span.
#[derive(Debug, Clone)]
pub(in crate::rehearsal) struct Scribe {
    /// Which span it is, counted from the start of the clock.
    span: u64,
    channels: Vec<Option<HeardChannel>>,
    chords: Vec<Option<HeardVoices>>,
}

impl Scribe {
    pub(in crate::rehearsal) fn new(n_channels: usize) -> Self {
        Self {
            span: 0,
            channels: vec![None; n_channels],
            chords: vec![None; n_channels],
        }
    }

    /// Takes in a reading of a channel that is heard as one player, or of which only the
    /// level counts.
    pub(in crate::rehearsal) fn hear(
        &mut self,
        channel: usize,
        reading: &Reading,
        time: Seconds,
        out: &mut Vec<Entry>,
    ) {
        self.turn(time, out);
        let Some(place) = self.channels.get_mut(channel) else {
            return;
        };
        let heard = place.get_or_insert_with(|| HeardChannel {
            channel,
            level: Dbfs::SILENCE,
            clipped: false,
            samples: Vec::with_capacity(SAMPLES),
            motion: None,
        });
        if heard.level < reading.level {
            heard.level = reading.level;
        }
        heard.clipped |= reading.clipped;
        let within = (time.get() - self.span as f64 * SPAN.get()) / SPAN.get();
        let index = ((within * SAMPLES as f64) as usize).min(SAMPLES - 1);
        let sample: Sample = reading.pitch.map(|pitch| pitch.hertz);
        // The last reading of a tenth stands for it; a tenth without one repeats the one before.
        while heard.samples.len() <= index {
            heard.samples.push(sample);
        }
        heard.samples[index] = sample;
        heard.motion = reading.motion;
    }

    /// Takes in the voices of a shared channel.
    pub(in crate::rehearsal) fn hear_chord(
        &mut self,
        channel: usize,
        chord: &HeardChord,
        names: &SoughtVoices,
        time: Seconds,
        out: &mut Vec<Entry>,
    ) {
        self.turn(time, out);
        let Some(place) = self.chords.get_mut(channel) else {
            return;
        };
        *place = Some(HeardVoices::of(channel, chord, names));
    }

    /// Closes the present span if `time` lies beyond it.
    pub(in crate::rehearsal) fn turn(&mut self, time: Seconds, out: &mut Vec<Entry>) {
        let span = (time.get() / SPAN.get()).max(0.0) as u64;
        // A reading that comes late counts into the present span: none is opened twice.
        if span <= self.span {
            return;
        }
        let at = Seconds::new(self.span as f64 * SPAN.get());
        self.span = span;
        let is_silent = |heard: &HeardChannel| {
            use crate::analysis::NoPitch::Silence;
            heard.samples.iter().all(|sample| *sample == Err(Silence))
        };
        let channels = self.channels.iter_mut().filter_map(Option::take);
        let channels: Vec<HeardChannel> = channels.filter(|heard| !is_silent(heard)).collect();
        let chords: Vec<HeardVoices> = self.chords.iter_mut().filter_map(Option::take).collect();
        let has_voices = chords.iter().any(|chord| !chord.voices.is_empty());
        if !channels.is_empty() || has_voices {
            out.push(Entry::Heard(HeardSpan {
                at,
                channels,
                chords,
            }));
        }
    }
}

impl HeardVoices {
    /// The voices of a chord by their names.
    pub fn of(channel: usize, chord: &HeardChord, names: &SoughtVoices) -> Self {
        let voice = |voice: &HeardVoice| {
            Some(SampledVoice {
                identity: voice.identity,
                label: names.label(voice.place)?,
                or_label: voice.or_place.and_then(|place| names.label(place)),
                hertz: voice.hertz,
                margin: voice.margin,
                status: voice.status,
                beating: voice.beating,
                is_named: voice.is_named,
            })
        };
        Self {
            channel,
            sound: chord.sound,
            span: chord.span,
            voices: chord.voices.iter().filter_map(voice).collect(),
        }
    }
}
