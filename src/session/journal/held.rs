//! A held chord, with all it was held in: it can be recalled without the rest of its session.

use serde::{Deserialize, Serialize};

use super::number::{Size, Time, rounded};
use crate::rehearsal::{HeldChord, HeldVoice, Moment, Setting, VoiceLabel};
use crate::session::fields::Line;
use crate::units::{Hertz, NoteName, Seconds};

/// A chord as it sounded.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(in crate::session) struct HeldRecord {
    /// Local date and time with the distance from universal time (RFC 3339).
    pub(in crate::session) at: Line,
    /// The moment on the sitting's clock; the first sessions did not have it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    time_s: Option<Time>,
    title: Line,
    a4_hz: Hertz,
    kept_by: NoteName,
    temperament: Line,
    chain: Line,
    key: NoteName,
    fundamental_hz: Hertz,
    /// From low to high.
    voices: Vec<VoiceRecord>,
}

/// One voice of it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct VoiceRecord {
    label: VoiceLabel,
    channel: Line,
    hz: Hertz,
    spread_cents: Size,
}

/// To a millionth of a hertz, as in the output for scripts.
fn rounded_hz(hertz: Hertz) -> Hertz {
    Hertz::new(rounded(hertz.get(), 1e6)).unwrap_or(hertz)
}

impl HeldRecord {
    /// The record of `chord`, held at this moment of this local date and time.
    pub(in crate::session) fn new(chord: &HeldChord, time: Option<Seconds>, at: &str) -> Self {
        let setting = &chord.setting;
        let voice = |voice: &HeldVoice| VoiceRecord {
            label: voice.label,
            channel: Line::tidied(&voice.channel),
            hz: rounded_hz(voice.hertz),
            spread_cents: voice.spread.into(),
        };
        Self {
            at: Line::tidied(at),
            time_s: time.map(Time::from),
            title: Line::tidied(&setting.title),
            a4_hz: setting.a4,
            kept_by: setting.kept_by,
            temperament: Line::tidied(&setting.temperament),
            chain: Line::tidied(&setting.chain),
            key: setting.key,
            fundamental_hz: rounded_hz(setting.fundamental),
            voices: chord.voices.iter().map(voice).collect(),
        }
    }

    /// The moment on the sitting's clock, if it is known.
    pub(in crate::session) fn time(&self) -> Option<Seconds> {
        Some(self.time_s?.get())
    }

    /// The chord again; none where the record has no voices.
    pub(in crate::session) fn chord(&self) -> Option<HeldChord> {
        let voice = |voice: &VoiceRecord| HeldVoice {
            label: voice.label,
            hertz: voice.hz,
            spread: voice.spread_cents.get(),
            channel: voice.channel.0.clone(),
            or_label: None,
        };
        (!self.voices.is_empty()).then(|| HeldChord {
            voices: self.voices.iter().map(voice).collect(),
            setting: Setting {
                title: self.title.0.clone(),
                a4: self.a4_hz,
                kept_by: self.kept_by,
                temperament: self.temperament.0.clone(),
                chain: self.chain.0.clone(),
                key: self.key,
                fundamental: self.fundamental_hz,
            },
            moment: match self.time() {
                Some(time) => Moment::Now(time),
                None => Moment::Earlier(self.at.0.clone()),
            },
        })
    }
}
