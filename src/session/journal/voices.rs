//! The voices of a shared channel as compact text:
//! `2 held 1; #17 p8 553.12 0.4 ok; #18 A4/p12 440.00 1.2 doubtful ? b0:1.3`.
//!
//! First the channel, what the chord did and how long a stretch was measured. Then each voice:
//! its identity, what it is called and what else it may be, hertz, margin in cents, status
//! (`merged:0:3` is on partial 3 of voice 0), `?` where it is not known whose voice it is, and
//! the voice it beats with and how often.

use std::fmt::Write;

use super::heard::{cents, channel_number, hertz, hertz_to_text, number};
use super::number::rounded;
use crate::analysis::chord::{Beating, ChordSound, VoiceStatus};
use crate::rehearsal::{HeardVoices, SampledVoice};
use crate::units::Seconds;

/// The most voices of a chord.
const MOST_VOICES: usize = 32;

/// A chord as text.
pub(super) fn voices_to_text(heard: &HeardVoices) -> String {
    let sound = match heard.sound {
        ChordSound::Silent => "silent",
        ChordSound::Settling => "settling",
        ChordSound::Held => "held",
    };
    let span = rounded(heard.span.get(), 1e3);
    let mut text = format!("{} {sound} {span}", heard.channel);
    for voice in heard.voices.iter().take(MOST_VOICES) {
        // Writing to a string cannot fail.
        let _ = write!(text, "; #{} {:#}", voice.identity, voice.label);
        if let Some(other) = voice.or_label {
            let _ = write!(text, "/{other:#}");
        }
        let margin = rounded(voice.margin.get().clamp(-1e5, 1e5), 100.0);
        let _ = write!(text, " {} {margin} ", hertz_to_text(voice.hertz));
        let _ = match voice.status {
            VoiceStatus::Merged { with, partial } => write!(text, "merged:{with}:{partial}"),
            status => write!(text, "{}", status.word()),
        };
        if !voice.is_named {
            text.push_str(" ?");
        }
        if let Some(Beating { with, rate_hz }) = voice.beating {
            let _ = write!(text, " b{with}:{}", rounded(rate_hz, 100.0));
        }
    }
    text
}

/// A chord from its text; none if that cannot be read.
pub(super) fn voices_from_text(text: &str) -> Option<HeardVoices> {
    let mut parts = text.split("; ");
    let mut head = parts.next()?.split(' ');
    let channel = channel_number(head.next()?)?;
    let sound = match head.next()? {
        "silent" => ChordSound::Silent,
        "settling" => ChordSound::Settling,
        "held" => ChordSound::Held,
        _ => return None,
    };
    let span = number(head.next()?).filter(|span| (0.0..=60.0).contains(span))?;
    if head.next().is_some() {
        return None;
    }
    let voices: Option<Vec<SampledVoice>> = parts.map(voice_from_text).collect();
    let voices = voices?;
    let fits = |voice: &SampledVoice| {
        let merged = match voice.status {
            VoiceStatus::Merged { with, .. } => with,
            _ => 0,
        };
        let beating = voice.beating.map_or(0, |beating| beating.with);
        merged < voices.len() && beating < voices.len()
    };
    (voices.len() <= MOST_VOICES && voices.iter().all(fits)).then_some(HeardVoices {
        channel,
        sound,
        span: Seconds::new(span),
        voices,
    })
}

fn voice_from_text(text: &str) -> Option<SampledVoice> {
    let mut words = text.split(' ').peekable();
    let identity = words.next()?.strip_prefix('#')?.parse().ok()?;
    let label = words.next()?;
    let (label, or_label) = match label.split_once('/') {
        Some((label, other)) => (label, Some(other.parse().ok()?)),
        None => (label, None),
    };
    let label = label.parse().ok()?;
    let hertz = hertz(words.next()?)?;
    let margin = cents(words.next()?)?;
    let status = match words.next()? {
        "ok" => VoiceStatus::Ok,
        "doubtful" => VoiceStatus::Doubtful,
        "absent" => VoiceStatus::Absent,
        other => {
            let (with, partial) = other.strip_prefix("merged:")?.split_once(':')?;
            VoiceStatus::Merged {
                with: with.parse().ok()?,
                partial: partial.parse().ok()?,
            }
        }
    };
    let is_named = words.next_if_eq(&"?").is_none();
    let beating = match words.next() {
        None => None,
        Some(word) => {
            let (with, rate) = word.strip_prefix('b')?.split_once(':')?;
            Some(Beating {
                with: with.parse().ok()?,
                rate_hz: number(rate).filter(|rate| (0.0..=1e3).contains(rate))?,
            })
        }
    };
    words.next().is_none().then_some(SampledVoice {
        identity,
        label,
        or_label,
        hertz,
        margin,
        status,
        beating,
        is_named,
    })
}
