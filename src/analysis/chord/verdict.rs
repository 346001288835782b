//! What may be said of each voice: its pitch, its margin, and what it is merged with.

use super::belief::{Levels, odds, traits};
use super::ground::Ground;
use super::heard::{Beating, HeardVoice, VoiceStatus};
use super::margin::Support;
use super::span::{Span, WINDOWS};
use super::trail::{Trail, cents_between};
use crate::units::{Cents, Hertz};

/// A voice is not held while one of its windows is so much weaker than the strongest, in
/// power: it has just begun, or has ended.
const HELD: f64 = 0.02;
/// Lines that are looked at for this.
const HELD_LINES: usize = 6;
/// Nearer than this to a multiple of a lower voice, and nearer than its margin, a voice has
/// no pitch of its own; in cents.
const MERGED: f64 = 3.0;
const HIGHEST_MULTIPLE: f64 = 12.0;
/// Voices nearer than this to each other beat, in cents.
const UNISON: f64 = 60.0;

/// How strict a verdict is.
#[derive(Debug, Clone, Copy)]
pub(super) struct Strictness {
    /// The widest margin of a voice that is `ok`, in cents.
    pub(super) widest_ok: f64,
    /// Log odds beforehand that a voice sounds.
    pub(super) odds_before: f64,
    /// Whether a voice that is absent is told of.
    pub(super) tells_of_absent: bool,
    /// Log odds below which a voice is absent, and below which it is doubtful.
    pub(super) absent_below: f64,
    pub(super) doubtful_below: f64,
}

/// Of voices that were given: their cents are wanted, and they probably sound.
pub(super) const GIVEN: Strictness = Strictness {
    widest_ok: 6.0,
    odds_before: 3.0,
    tells_of_absent: true,
    absent_below: 0.0,
    doubtful_below: 1.0,
};

/// Of voices that were searched for: a rough pitch still tells which they are.
pub(super) const SEARCHED: Strictness = Strictness {
    widest_ok: 10.0,
    odds_before: 2.0,
    tells_of_absent: false,
    absent_below: -1.0,
    doubtful_below: 0.0,
};

/// The verdict on all voices that are held, from low to high, and how many are not.
pub(super) fn judge(
    span: &Span,
    trails: &[Trail],
    strictness: Strictness,
    ground: &mut Ground,
) -> (Vec<HeardVoice>, usize) {
    let levels = Levels::new(span, trails);
    let mut order: Vec<usize> = (0..trails.len()).collect();
    order.sort_by(|a, b| trails[*a].hz().total_cmp(&trails[*b].hz()));
    let mut voices = Vec::new();
    let mut power = Vec::new();
    let mut n_moving = 0;
    for voice in order {
        let likely = strictness.odds_before + odds(&traits(span, trails, voice, &levels, ground));
        let is_absent = likely < strictness.absent_below;
        if is_absent && !strictness.tells_of_absent {
            continue;
        }
        if !is_absent && !is_held(span, &trails[voice]) {
            n_moving += 1;
            continue;
        }
        let margin = Support::of(span, trails, voice, ground).margin();
        let hz = if is_absent {
            trails[voice].place_hz
        } else {
            trails[voice].hz()
        };
        let Ok(hertz) = Hertz::new(hz) else { continue };
        power.push(levels.level(voice));
        voices.push(HeardVoice {
            identity: 0,
            place: trails[voice].place,
            hertz,
            margin: Cents::new(margin),
            confidence: 1.0 / (1.0 + (-likely).exp()),
            status: if is_absent {
                VoiceStatus::Absent
            } else if margin <= strictness.widest_ok && likely >= strictness.doubtful_below {
                VoiceStatus::Ok
            } else {
                VoiceStatus::Doubtful
            },
            beating: None,
            is_named: true,
            or_place: None,
        });
    }
    merge(&mut voices, &power);
    (voices, n_moving)
}

/// Whether there is sound at the places of a voice's first lines in all windows, whoever it
/// belongs to: how overlapping lines share their power out within a beat says little.
fn is_held(span: &Span, trail: &Trail) -> bool {
    let power: [f64; WINDOWS] = std::array::from_fn(|index| {
        let window = &span.windows[index];
        let each = trail.hz_in(index) / window.bin_hz;
        (1..=HELD_LINES)
            .map(|number| (number as f64 * each).round() as usize)
            .take_while(|bin| bin + 1 < window.power.len())
            .map(|bin| {
                let around = &window.power[bin.saturating_sub(1)..=bin + 1];
                around.iter().fold(0.0_f64, |a, b| a.max(f64::from(*b)))
            })
            .sum()
    });
    let most = power.iter().fold(0.0_f64, |a, b| a.max(*b));
    power.iter().all(|power| *power >= HELD * most)
}

/// Finds what each voice is merged with or beats with. `power` belongs to the voices.
fn merge(voices: &mut [HeardVoice], power: &[f64]) {
    let sounds = |voice: &HeardVoice| voice.status != VoiceStatus::Absent;
    for index in 0..voices.len() {
        let own = voices[index];
        if !sounds(&own) {
            continue;
        }
        let nearest = voices
            .iter()
            .enumerate()
            .filter(|(other, voice)| *other != index && sounds(voice))
            .filter_map(|(other, voice)| {
                let multiple = (own.hertz.get() / voice.hertz.get()).round();
                // Of two in unison the weaker one is merged with the stronger.
                let is_below = multiple > 1.0 || power[other] > power[index];
                let cents = cents_between(own.hertz.get(), multiple * voice.hertz.get()).abs();
                let can_be = (1.0..=HIGHEST_MULTIPLE).contains(&multiple) && is_below;
                can_be.then_some((other, multiple, cents))
            })
            .min_by(|a, b| a.2.total_cmp(&b.2));
        if let Some((with, multiple, cents)) = nearest
            && cents < MERGED.min(own.margin.get())
        {
            voices[index].hertz = voices[with].hertz.times(multiple);
            voices[index].status = VoiceStatus::Merged {
                with,
                partial: multiple as u8,
            };
        }
        let beating = voices
            .iter()
            .enumerate()
            .filter(|(other, voice)| *other != index && sounds(voice))
            .map(|(other, voice)| (other, own.hertz.above(voice.hertz).abs().get()))
            .filter(|(_, cents)| *cents < UNISON)
            .min_by(|a, b| a.1.total_cmp(&b.1));
        voices[index].beating = beating.map(|(with, _)| Beating {
            with,
            rate_hz: (own.hertz.get() - voices[with].hertz.get()).abs(),
        });
    }
}
