//! What a line of the journal says.

use serde::{Deserialize, Serialize};

use crate::rehearsal::{HeldChord, HeldVoice, Moment, Setting, VoiceLabel};
use crate::session::fields::Line;
use crate::units::{Cents, Hertz, NoteName};

/// One line.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub enum Record {
    /// A chord of the trumpets was held.
    Held(HeldRecord),
}

/// A chord as it sounded.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct HeldRecord {
    /// Local date and time with the distance from universal time (RFC 3339).
    #[serde(deserialize_with = "line")]
    pub at: String,
    /// The programme or the band.
    #[serde(deserialize_with = "line")]
    pub title: String,
    /// The A4 of the pitch standard.
    pub a4_hz: Hertz,
    /// The note that keeps this level.
    pub kept_by: NoteName,
    /// The temperament's name.
    #[serde(deserialize_with = "line")]
    pub temperament: String,
    /// The keyboard's accidentals.
    #[serde(deserialize_with = "line")]
    pub chain: String,
    /// The key of the trumpets.
    pub key: NoteName,
    /// The fundamental of their series.
    pub fundamental_hz: Hertz,
    /// The voices from low to high.
    pub voices: Vec<VoiceRecord>,
}

/// One voice of it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct VoiceRecord {
    /// A partial (`p8`) or a note.
    pub label: VoiceLabel,
    /// The channel it was heard on.
    #[serde(deserialize_with = "line")]
    pub channel: String,
    /// Where it stood.
    pub hz: Hertz,
    /// Standard deviation.
    pub spread_cents: Cents,
}

/// Text for one line of a terminal, as everywhere in files.
fn line<'de, D: serde::Deserializer<'de>>(deserializer: D) -> Result<String, D::Error> {
    Line::deserialize(deserializer).map(|line| line.0)
}

/// To a millionth of a hertz, as in the output for scripts.
fn rounded_hz(hertz: Hertz) -> Hertz {
    Hertz::new(rounded(hertz.get(), 1e6)).unwrap_or(hertz)
}

fn rounded(number: f64, parts: f64) -> f64 {
    (number * parts).round() / parts
}

impl HeldRecord {
    /// The record of `chord`, held at this local date and time.
    pub fn new(chord: &HeldChord, at: String) -> Self {
        let setting = &chord.setting;
        let voice = |voice: &HeldVoice| VoiceRecord {
            label: voice.label,
            channel: voice.channel.clone(),
            hz: rounded_hz(voice.hertz),
            spread_cents: Cents::new(rounded(voice.spread.get(), 1e3)),
        };
        Self {
            at,
            title: setting.title.clone(),
            a4_hz: setting.a4,
            kept_by: setting.kept_by,
            temperament: setting.temperament.clone(),
            chain: setting.chain.clone(),
            key: setting.key,
            fundamental_hz: rounded_hz(setting.fundamental),
            voices: chord.voices.iter().map(voice).collect(),
        }
    }

    /// The chord again; none where the record has no voices.
    pub fn chord(&self) -> Option<HeldChord> {
        let voice = |voice: &VoiceRecord| HeldVoice {
            label: voice.label,
            hertz: voice.hz,
            spread: voice.spread_cents,
            channel: voice.channel.clone(),
            or_label: None,
        };
        (!self.voices.is_empty()).then(|| HeldChord {
            voices: self.voices.iter().map(voice).collect(),
            setting: Setting {
                title: self.title.clone(),
                a4: self.a4_hz,
                kept_by: self.kept_by,
                temperament: self.temperament.clone(),
                chain: self.chain.clone(),
                key: self.key,
                fundamental: self.fundamental_hz,
            },
            moment: Moment::Earlier(self.at.clone()),
        })
    }
}
