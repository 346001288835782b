//! What was heard, as compact text: a channel's half second is
//! `3 -23 554.37 .41 - ~ = | 0.8 -1.2`.
//!
//! First the channel and its level, with `!` for full scale. Then the samples: hertz, or its
//! decimals alone where the whole part is that of the last number; `-` is silence, `~` noise,
//! `=` two notes. After the bar the motion: spread, drift a second, and of a vibrato its rate,
//! extent and centre.

use std::fmt::Write;

use crate::analysis::{Motion, NoPitch, Vibrato};
use crate::rehearsal::{HeardChannel, Sample};
use crate::units::{Cents, Dbfs, Hertz, Seconds};

use super::number::{Pitch, Size, rounded};
use super::setting::MOST_CHANNELS;

/// The most samples of a span.
const MOST_SAMPLES: usize = 50;

/// The span a motion is measured over, as far as is known afterwards.
const MOTION_SPAN: Seconds = Seconds::new(1.0);

/// A channel as text.
pub(super) fn channel_to_text(heard: &HeardChannel) -> String {
    let mut text = format!("{} {:.0}", heard.channel, rounded(heard.level.get(), 1.0));
    if heard.clipped {
        text.push('!');
    }
    let mut whole = None;
    for sample in heard.samples.iter().take(MOST_SAMPLES) {
        text.push(' ');
        match sample {
            Ok(hertz) => {
                let number = hertz_to_text(*hertz);
                let before = number.split('.').next().unwrap_or_default().to_owned();
                if whole.as_ref() == Some(&before) {
                    text.push_str(&number[before.len()..]);
                } else {
                    text.push_str(&number);
                }
                whole = Some(before);
            }
            Err(NoPitch::Silence) => text.push('-'),
            Err(NoPitch::Noise) => text.push('~'),
            Err(NoPitch::TwoNotes) => text.push('='),
            Err(NoPitch::Drone) => text.push('o'),
        }
    }
    if let Some(motion) = &heard.motion {
        let tenths = |number: f64| rounded(if number.is_finite() { number } else { 0.0 }, 10.0);
        // Writing to a string cannot fail.
        let _ = write!(
            text,
            " | {} {}",
            tenths(motion.spread.get()),
            tenths(motion.drift_per_second.get())
        );
        if let Some(vibrato) = &motion.vibrato {
            let centre = hertz_to_text(motion.centre);
            let (rate, extent) = (tenths(vibrato.rate_hz), tenths(vibrato.extent.get()));
            let _ = write!(text, " {rate} {extent} {centre}");
        }
    }
    text
}

/// Two decimals are a hundredth of a cent at A4; low notes have three.
pub(super) fn hertz_to_text(hertz: Hertz) -> String {
    let hz = hertz.get().clamp(1.0, 1e5);
    if hz < 128.0 {
        format!("{hz:.3}")
    } else {
        format!("{hz:.2}")
    }
}

/// A channel from its text; none if that cannot be read.
pub(super) fn channel_from_text(text: &str) -> Option<HeardChannel> {
    let (heard, motion) = match text.split_once(" | ") {
        Some((heard, motion)) => (heard, Some(motion)),
        None => (text, None),
    };
    let mut words = heard.split(' ');
    let channel = channel_number(words.next()?)?;
    let level = words.next()?;
    let (level, clipped) = match level.strip_suffix('!') {
        Some(level) => (level, true),
        None => (level, false),
    };
    let mut whole = "";
    let mut joined = String::new();
    let mut samples: Vec<Sample> = Vec::with_capacity(5);
    for word in words {
        if samples.len() == MOST_SAMPLES {
            return None;
        }
        samples.push(match word {
            "-" => Err(NoPitch::Silence),
            "~" => Err(NoPitch::Noise),
            "=" => Err(NoPitch::TwoNotes),
            "o" => Err(NoPitch::Drone),
            number if number.starts_with('.') => {
                joined.clear();
                joined.push_str(whole);
                joined.push_str(number);
                Ok(hertz(&joined)?)
            }
            number => {
                whole = number.split('.').next()?;
                Ok(hertz(number)?)
            }
        });
    }
    let motion = match motion {
        None => None,
        Some(motion) => Some(motion_from_text(motion, &samples)?),
    };
    Some(HeardChannel {
        channel,
        level: Dbfs::new(number(level)?),
        clipped,
        samples,
        motion,
    })
}

/// Where there is no vibrato the centre is the middle of the samples.
fn motion_from_text(text: &str, samples: &[Sample]) -> Option<Motion> {
    let mut words = text.split(' ');
    let mut next = || words.next();
    let spread = cents(next()?)?;
    let drift_per_second = cents(next()?)?;
    let (vibrato, centre) = match next() {
        None => {
            let pitches = samples.iter().filter_map(|sample| sample.ok());
            let (sum, count) = pitches.fold((0.0, 0.0), |(sum, count), hertz| {
                (sum + hertz.get().log2(), count + 1.0)
            });
            if count == 0.0 {
                return None;
            }
            (None, Hertz::new(f64::exp2(sum / count)).ok()?)
        }
        Some(rate) => {
            let rate_hz = number(rate).filter(|rate| (0.0..=100.0).contains(rate))?;
            let extent = cents(next()?)?;
            (Some(Vibrato { rate_hz, extent }), hertz(next()?)?)
        }
    };
    if next().is_some() {
        return None;
    }
    Some(Motion {
        centre,
        spread,
        drift_per_second,
        vibrato,
        span: MOTION_SPAN,
    })
}

pub(super) fn channel_number(word: &str) -> Option<usize> {
    word.parse().ok().filter(|number| *number < MOST_CHANNELS)
}

/// A plain decimal number, unlike what the standard library takes for one.
pub(super) fn number(word: &str) -> Option<f64> {
    let is_plain = word
        .bytes()
        .all(|byte| byte.is_ascii_digit() || byte == b'.' || byte == b'-');
    word.parse().ok().filter(|_| is_plain)
}

pub(super) fn hertz(word: &str) -> Option<Hertz> {
    Some(Pitch::try_from(number(word)?).ok()?.get())
}

pub(super) fn cents(word: &str) -> Option<Cents> {
    Some(Size::try_from(number(word)?).ok()?.get())
}
