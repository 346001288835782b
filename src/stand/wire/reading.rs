//! A reading as compact text: `3 12.340 -23.4 554.3712 0.42 0.98 | 2.1 -0.5 1 554.3 5.5 20.1`.
//!
//! First the channel, the moment the stream made it available and its level, with `!` for full
//! scale. Then hertz, margin in cents and confidence; or `-` for silence, `~` for noise, `=` for
//! two notes, `o` for the drone, as in a session file. After the bar the motion: spread, drift a
//! second, the span it was measured over and its centre, and of a vibrato its rate and extent.

use std::fmt::Write;

use crate::analysis::{Motion, NoPitch, Pitch, Reading, Vibrato};
use crate::session::{cents, channel_number, hertz, number, seconds};
use crate::units::{Cents, Dbfs, Seconds};

/// A reading of the channel at this place as text.
pub(super) fn reading_to_text(channel: usize, reading: &Reading) -> String {
    let available = reading.available.get().clamp(0.0, 999_999.0);
    let level = bounded(reading.level.get(), 999.0);
    let mut text = format!("{channel} {available:.3} {level:.1}");
    if reading.clipped {
        text.push('!');
    }
    match reading.pitch {
        Ok(pitch) => {
            let hz = pitch.hertz.get().clamp(1.0, 1e5);
            let margin = bounded(pitch.margin.get(), 1e4);
            // Rounded down: what was not sure must not become so on the way.
            let confidence = (bounded(pitch.confidence, 1.0) * 1e3).floor() / 1e3;
            // Writing to a string cannot fail.
            let _ = write!(text, " {hz:.4} {margin:.2} {confidence}");
        }
        Err(NoPitch::Silence) => text.push_str(" -"),
        Err(NoPitch::Noise) => text.push_str(" ~"),
        Err(NoPitch::TwoNotes) => text.push_str(" ="),
        Err(NoPitch::Drone) => text.push_str(" o"),
    }
    if let Some(motion) = &reading.motion {
        let spread = bounded(motion.spread.get(), 1e4);
        let drift = bounded(motion.drift_per_second.get(), 1e4);
        let span = bounded(motion.span.get(), 60.0);
        let centre = motion.centre.get().clamp(1.0, 1e5);
        let _ = write!(text, " | {spread:.1} {drift:.1} {span:.2} {centre:.4}");
        if let Some(vibrato) = &motion.vibrato {
            let rate = bounded(vibrato.rate_hz, 100.0);
            let extent = bounded(vibrato.extent.get(), 1e4);
            let _ = write!(text, " {rate:.2} {extent:.1}");
        }
    }
    text
}

fn bounded(number: f64, most: f64) -> f64 {
    if number.is_nan() {
        0.0
    } else {
        number.clamp(-most, most)
    }
}

/// The same back; none if it cannot be read.
pub(super) fn reading_from_text(text: &str) -> Option<(usize, Reading)> {
    let (heard, motion) = match text.split_once(" | ") {
        Some((heard, motion)) => (heard, Some(motion)),
        None => (text, None),
    };
    let mut words = heard.split(' ');
    let channel = channel_number(words.next()?)?;
    let available = seconds(words.next()?)?;
    let level = words.next()?;
    let (level, clipped) = match level.strip_suffix('!') {
        Some(level) => (level, true),
        None => (level, false),
    };
    let level = number(level).filter(|level| level.abs() <= 999.0)?;
    let pitch = match words.next()? {
        "-" => Err(NoPitch::Silence),
        "~" => Err(NoPitch::Noise),
        "=" => Err(NoPitch::TwoNotes),
        "o" => Err(NoPitch::Drone),
        hz => Ok(Pitch {
            hertz: hertz(hz)?,
            margin: size(words.next()?)?,
            confidence: number(words.next()?).filter(|sure| (0.0..=1.0).contains(sure))?,
            // Nothing on the screen comes of it.
            inharmonicity: 0.0,
        }),
    };
    let motion = match motion {
        None => None,
        Some(motion) => Some(motion_from_text(motion)?),
    };
    words.next().is_none().then_some((
        channel,
        Reading {
            time: available,
            available,
            level: Dbfs::new(level),
            clipped,
            pitch,
            motion,
        },
    ))
}

fn motion_from_text(text: &str) -> Option<Motion> {
    let mut words = text.split(' ');
    let spread = size(words.next()?)?;
    let drift_per_second = cents(words.next()?)?;
    let span = number(words.next()?).filter(|span| (0.0..=60.0).contains(span))?;
    let centre = hertz(words.next()?)?;
    let vibrato = match words.next() {
        None => None,
        Some(rate) => Some(Vibrato {
            rate_hz: number(rate).filter(|rate| (0.0..=100.0).contains(rate))?,
            extent: size(words.next()?)?,
        }),
    };
    words.next().is_none().then_some(Motion {
        centre,
        spread,
        drift_per_second,
        vibrato,
        span: Seconds::new(span),
    })
}

/// An interval without a direction.
fn size(word: &str) -> Option<Cents> {
    cents(word).filter(|cents| cents.get() >= 0.0)
}
