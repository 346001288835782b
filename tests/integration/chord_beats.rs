//! The beats that are reported of two voices almost in unison, against those of the sound.

use std::f64::consts::{PI, TAU};

use concento::analysis::chord::{ChordEar, ChordSound, Company, Place, Sought};
use concento::units::{Hertz, SampleRate};

use crate::tones::{Tone, noisy};

const RATE_HZ: u32 = 48_000;
/// Long enough for five beats of the slowest pair.
const SECONDS: f64 = 5.0;
/// Half the width of the window that lets the fundamentals pass and stops all other partials.
const HALF_S: f64 = 0.03;
/// A point of the envelope every so often, in seconds.
const STEP_S: f64 = 0.005;

/// How far the reported rate may lie from the counted one, in beats a second. A cent at 440 Hz
/// is a quarter of a beat, and steady tones are measured to a hundredth of a cent or two; the
/// crests themselves are counted to 0.01.
const BOUND_HZ: f64 = 0.02;

/// The level of what sounds within some 30 Hz of `hz`, squared, every [`STEP_S`].
fn envelope(samples: &[f32], hz: f64) -> Vec<f64> {
    let rate_hz = f64::from(RATE_HZ);
    let (half, step) = ((HALF_S * rate_hz) as usize, (STEP_S * rate_hz) as usize);
    let at = |middle: usize| {
        let (mut real, mut imaginary) = (0.0, 0.0);
        for (i, sample) in samples
            .iter()
            .enumerate()
            .take(middle + half)
            .skip(middle - half)
        {
            let away = (i as f64 - middle as f64) / half as f64;
            let weight = (0.5 * PI * away).cos().powi(2) * f64::from(*sample);
            let turn = TAU * hz * i as f64 / rate_hz;
            real += weight * turn.cos();
            imaginary += weight * turn.sin();
        }
        real * real + imaginary * imaginary
    };
    (half..samples.len() - half).step_by(step).map(at).collect()
}

/// Beats a second: the slope of a line through the moments at which the envelope is highest.
fn counted(envelope: &[f64]) -> f64 {
    let mean = envelope.iter().sum::<f64>() / envelope.len() as f64;
    let mut crests: Vec<(f64, f64)> = Vec::new();
    for (i, three) in envelope.windows(3).enumerate() {
        let [left, middle, right] = [three[0], three[1], three[2]];
        if middle > mean && middle > left && middle >= right {
            let shift = 0.5 * (left - right) / (left - 2.0 * middle + right);
            crests.push((crests.len() as f64, (i as f64 + 1.0 + shift) * STEP_S));
        }
    }
    assert!(crests.len() >= 5, "{} beats", crests.len());
    let count = crests.len() as f64;
    let (n, t) = crests.iter().fold((0.0, 0.0), |(n, t), crest| {
        (n + crest.0 / count, t + crest.1 / count)
    });
    let (over, under) = crests.iter().fold((0.0, 0.0), |(over, under), crest| {
        (
            over + (crest.0 - n) * (crest.1 - t),
            under + (crest.1 - t).powi(2),
        )
    });
    over / under
}

/// The rates that are reported while two voices sound near `hz`.
fn reported(samples: &[f32], hz: f64) -> Vec<f64> {
    let place = |company| Place {
        hertz: Hertz::new(hz).unwrap(),
        company,
    };
    let sought = Sought::Expected(vec![place(Company::Trumpets), place(Company::Others)]);
    let mut ear = ChordEar::new(SampleRate::new(RATE_HZ).unwrap(), sought);
    let mut rates = Vec::new();
    ear.push(samples.iter().copied(), |chord| {
        if chord.sound == ChordSound::Held {
            for (index, voice) in chord.voices.iter().enumerate() {
                let beating = voice.beating.unwrap_or_else(|| panic!("{chord:?}"));
                assert_eq!(beating.with, 1 - index);
                rates.push(beating.rate_hz);
            }
        }
    });
    rates
}

#[test]
fn beats_are_reported_as_often_as_the_sound_swells() {
    // (sought, the lower voice, cents to the upper one, its level).
    for (sought_hz, hz, cents, level) in [
        (440.0, 438.1, 5.0, 0.8),
        (440.0, 441.9, 8.0, 0.7),
        (293.7, 292.8, 12.0, 1.0),
        (587.3, 585.0, 15.0, 0.6),
        (554.4, 551.3, 20.0, 0.9),
        (330.0, 328.6, 20.0, 0.5),
    ] {
        let lower = Tone::steady(hz);
        let mut upper = Tone::steady(hz * f64::exp2(cents / 1200.0));
        for amplitude in &mut upper.partials {
            *amplitude *= level;
        }
        let deviation = lower.noise_deviation(40.0);
        let mut samples = noisy(lower.samples(RATE_HZ, SECONDS), 1, deviation);
        for (sample, other) in samples.iter_mut().zip(upper.samples(RATE_HZ, SECONDS)) {
            *sample += other;
        }
        let swells = counted(&envelope(&samples, sought_hz));
        // The measure itself: two steady tones beat as often as their pitches differ.
        assert!(
            (swells - (upper.hz - lower.hz)).abs() < 0.01,
            "{hz} {cents}: {swells}"
        );
        let rates = reported(&samples, sought_hz);
        assert!(rates.len() >= 40, "{hz} {cents}: {rates:?}");
        for rate in rates {
            assert!(
                (rate - swells).abs() < BOUND_HZ,
                "{hz} Hz and {cents} cents: {rate} reported, {swells} counted"
            );
        }
    }
}
