//! What may be said of each voice: its pitch, its margin, and what it is merged with.

use super::belief::{Levels, odds, traits};
use super::ground::Ground;
use super::heard::{Beating, HeardVoice, VoiceStatus};
use super::margin::Support;
use super::span::{Span, WINDOWS};
use super::trail::{Trail, cents_between};
use crate::units::{Cents, Hertz};

/// A line is not held while it is so much weaker in one window than in the strongest, in power:
/// it has just begun, or has ended; and a sum of lines that several voices share.
const HELD: f64 = 0.03;
const HELD_SHARED: f64 = 0.004;
/// Lines that are looked at for this; the share of them that must be held; how near another
/// voice's line must be to count as shared, in bins; and how strong a line must be beside the
/// strongest, in power.
const HELD_LINES: usize = 8;
const MOSTLY: f64 = 0.6;
const SHARED: f64 = 3.0;
const AUDIBLE: f64 = 0.003;
/// Nearer than this to a multiple of a lower voice, and nearer than its margin, a voice has
/// no pitch of its own; in cents.
const MERGED: f64 = 3.0;
const HIGHEST_MULTIPLE: f64 = 12.0;
/// Voices nearer than this to each other beat, in cents.
const UNISON: f64 = 60.0;
/// One of them is clearly weaker below half the power of the other.
const TWICE: f64 = 2.0;

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
        if !is_absent && !is_held(span, trails, voice) {
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

/// Whether a voice sounds in all windows: whether most of the lines do that no other voice has
/// as well, and the lowest of them. One without such lines is held as long as there is sound at
/// its lines, whoever it belongs to.
fn is_held(span: &Span, trails: &[Trail], voice: usize) -> bool {
    let lines: Vec<(bool, [f64; WINDOWS])> = (1..=HELD_LINES)
        .map_while(|number| line_power(span, trails, voice, number as f64))
        .collect();
    let most = |power: &[f64]| power.iter().fold(0.0_f64, |a, b| a.max(*b));
    let holds = |power: &[f64], share: f64| power.iter().all(|p| *p >= share * most(power));
    let loudest = lines
        .iter()
        .fold(0.0_f64, |a, (_, power)| a.max(most(power)));
    let own: Vec<bool> = lines
        .iter()
        .filter(|(is_shared, power)| !is_shared && most(power) > AUDIBLE * loudest)
        .map(|(_, power)| holds(power, HELD))
        .collect();
    let Some(first) = own.first() else {
        // Lines that are shared swell as they beat.
        let sum: [f64; WINDOWS] =
            std::array::from_fn(|index| lines.iter().map(|(_, power)| power[index]).sum());
        return holds(&sum, HELD_SHARED);
    };
    let n_held = own.iter().filter(|is_held| **is_held).count();
    *first && n_held as f64 >= MOSTLY * own.len() as f64
}

/// The power at one line of a voice in each window, and whether another voice has it as well;
/// none beyond what was looked at.
fn line_power(
    span: &Span,
    trails: &[Trail],
    voice: usize,
    number: f64,
) -> Option<(bool, [f64; WINDOWS])> {
    let mut is_shared = false;
    let mut power = [0.0; WINDOWS];
    for (index, window) in span.windows.iter().enumerate() {
        let line_hz = number * trails[voice].hz_in(index);
        let bin = (line_hz / window.bin_hz).round() as usize;
        let around = window.power.get(bin.saturating_sub(1)..=bin + 1)?;
        power[index] = around.iter().fold(0.0_f64, |a, b| a.max(f64::from(*b)));
        is_shared |= trails.iter().enumerate().any(|(other, trail)| {
            let other_hz = trail.hz_in(index);
            let nearest = (line_hz / other_hz).round().max(1.0) * other_hz;
            other != voice && (nearest - line_hz).abs() < SHARED * window.bin_hz
        });
    }
    Some((is_shared, power))
}

/// Finds what each voice is merged with or beats with. `power` belongs to the voices.
fn merge(voices: &mut [HeardVoice], power: &[f64]) {
    let before = voices.to_vec();
    let sounds = |voice: &HeardVoice| voice.status != VoiceStatus::Absent;
    // Of two in unison the clearly weaker one is merged with the other, or else the later.
    let yields = |index: usize, other: usize| {
        if power[index].max(power[other]) > TWICE * power[index].min(power[other]) {
            power[index] < power[other]
        } else {
            before[index].place > before[other].place
                || before[index].place == before[other].place && index > other
        }
    };
    for (index, own) in before.iter().enumerate().filter(|(_, voice)| sounds(voice)) {
        let others = || {
            let all = before.iter().enumerate();
            all.filter(move |(other, voice)| *other != index && sounds(voice))
        };
        let nearest = others()
            .filter_map(|(other, voice)| {
                let multiple = (own.hertz.get() / voice.hertz.get()).round();
                let is_below = multiple > 1.0 || yields(index, other);
                let cents = cents_between(own.hertz.get(), multiple * voice.hertz.get()).abs();
                let can_be = (1.0..=HIGHEST_MULTIPLE).contains(&multiple) && is_below;
                can_be.then_some((other, multiple, cents))
            })
            .min_by(|a, b| a.2.total_cmp(&b.2));
        if let Some((with, multiple, cents)) = nearest
            && cents < MERGED.min(own.margin.get())
        {
            voices[index].hertz = before[with].hertz.times(multiple);
            voices[index].status = VoiceStatus::Merged {
                with,
                partial: multiple as u8,
            };
        }
        let beating = others()
            .map(|(other, voice)| (other, own.hertz.above(voice.hertz).abs().get()))
            .filter(|(_, cents)| *cents < UNISON)
            .min_by(|a, b| a.1.total_cmp(&b.1));
        voices[index].beating = beating.map(|(with, _)| Beating {
            with,
            rate_hz: (own.hertz.get() - before[with].hertz.get()).abs(),
        });
    }
}
