//! The ear where something disturbs: rooms, hum, drums, breath, clipping, speech.

use std::f64::consts::TAU;

use super::super::tones::{Tone, mixed, noise};
use super::{RATE, cents_off, hear, worst};
use crate::analysis::Reading;

const PITCHES_HZ: [f64; 5] = [65.4, 116.5, 233.1, 415.3, 698.5];

fn note(hz: f64, seconds: f64) -> Vec<f32> {
    Tone::steady(hz, -5.0).samples(48_000.0, seconds)
}

fn scaled(samples: &[f32], by: f64) -> Vec<f32> {
    samples.iter().map(|s| s * by as f32).collect()
}

fn level_of(samples: &[f32]) -> f64 {
    let squares: f64 = samples.iter().map(|s| f64::from(*s).powi(2)).sum();
    (squares / samples.len() as f64).sqrt()
}

fn decibels(db: f64) -> f64 {
    10_f64.powf(db / 20.0)
}

/// The median of |error| in cents from `from_s` on.
fn median(readings: &[Reading], hz: f64, from_s: f64) -> f64 {
    let mut errors: Vec<f64> = readings
        .iter()
        .filter(|r| r.available.get() >= from_s)
        .map(|r| cents_off(r, hz).map_or(f64::INFINITY, f64::abs))
        .collect();
    errors.sort_by(f64::total_cmp);
    errors[errors.len() / 2]
}

#[test]
fn an_echoing_room_moves_a_note_by_a_quarter_of_a_cent() {
    // Echoes at random times, falling by 60 dB in 1.8 s, half as strong together as the
    // direct sound.
    let mut rng = fastrand::Rng::with_seed(5);
    let echoes: Vec<(usize, f32)> = (0..300)
        .map(|_| {
            let at_s = 0.01 + 1.2 * rng.f64();
            let strength = 0.05 * decibels(-60.0 * at_s / 1.8);
            let sign = if rng.bool() { 1.0 } else { -1.0 };
            ((at_s * 48_000.0) as usize, (strength * sign) as f32)
        })
        .collect();
    for hz in PITCHES_HZ {
        let dry = note(hz, 2.0);
        let mut wet = dry.clone();
        for (late, strength) in &echoes {
            for (to, from) in wet[*late..].iter_mut().zip(&dry) {
                *to += from * strength;
            }
        }
        let off = median(&hear(&wet, RATE), hz, 0.5);
        assert!(off < 0.25, "{hz} Hz: {off} cents");
    }
}

#[test]
fn quiet_playing_is_heard() {
    for hz in PITCHES_HZ {
        let own = note(hz, 1.0);
        let quiet = scaled(&own, decibels(-60.0) / level_of(&own));
        let floor = noise(3, decibels(-85.0), quiet.len());
        let off = worst(&hear(&mixed(&quiet, &floor), RATE), hz, 0.4);
        assert!(off < 1.0, "{hz} Hz: {off} cents");
    }
}

#[test]
fn clipping_and_direct_current_do_not_move_the_pitch() {
    for hz in PITCHES_HZ {
        let own = note(hz, 1.0);
        let peak = own.iter().fold(0.0_f32, |peak, s| peak.max(s.abs()));
        let clipped: Vec<f32> = own
            .iter()
            .map(|s| (s / peak * 4.0).clamp(-1.0, 1.0))
            .collect();
        let off = worst(&hear(&clipped, RATE), hz, 0.4);
        assert!(off < 1.0, "{hz} Hz clipped by 12 dB: {off} cents");
        let shifted: Vec<f32> = own.iter().map(|s| s / peak * 0.5 + 0.4).collect();
        let off = worst(&hear(&shifted, RATE), hz, 0.4);
        assert!(off < 0.5, "{hz} Hz on direct current: {off} cents");
    }
}

#[test]
fn hum_of_the_mains_does_not_take_the_note() {
    for mains_hz in [50.0, 60.0] {
        // 350 and 420 Hz stand on partials of the mains.
        for hz in [82.4, 196.0, 350.0, 420.0, 698.5] {
            let own = note(hz, 1.2);
            let hum: Vec<f32> = (0..own.len())
                .map(|i| {
                    let t = i as f64 / 48_000.0;
                    let sum: f64 = [1.0, 2.0, 3.0, 4.0, 5.0, 7.0]
                        .iter()
                        .map(|k| (TAU * mains_hz * k * t + k).sin() / k)
                        .sum();
                    sum as f32
                })
                .collect();
            let hum = scaled(&hum, level_of(&own) * decibels(-20.0) / level_of(&hum));
            // The hum sounds before the note does.
            let mut sound = hum.clone();
            for (to, from) in sound[24_000..].iter_mut().zip(&own) {
                *to += from;
            }
            let off = worst(&hear(&sound, RATE), hz, 0.9);
            assert!(off < 3.0, "{hz} Hz over {mains_hz} Hz: {off} cents");
        }
    }
}

#[test]
fn a_drum_stroke_interrupts_for_a_moment() {
    let stroke: Vec<f32> = noise(9, 1.0, 14_400)
        .iter()
        .enumerate()
        .map(|(i, n)| {
            let t = i as f64 / 48_000.0;
            // A skin sinks in pitch as it is let go.
            let turns = 90.0 * t - 1.2 * (-t / 0.02).exp();
            let skin = (TAU * turns).sin() * (-t / 0.06).exp();
            (0.4 * skin + 0.15 * f64::from(*n) * (-t / 0.03).exp()) as f32
        })
        .collect();
    for hz in PITCHES_HZ {
        let mut sound = note(hz, 2.0);
        for (to, from) in sound[48_000..].iter_mut().zip(&stroke) {
            *to += from;
        }
        let readings = hear(&sound, RATE);
        let wrong = readings
            .iter()
            .filter(|r| r.available.get() > 0.4)
            .filter_map(|r| cents_off(r, hz))
            .filter(|off| off.abs() > 50.0)
            .count();
        // While the skin is louder than the note its own pitch may show for a moment.
        assert!(wrong <= 2, "{hz} Hz: {wrong} wrong readings at the stroke");
        assert!(worst(&readings, hz, 1.5) < 1.0, "{hz} Hz after the stroke");
    }
}

#[test]
fn breath_and_bow_noise_leave_the_octave_alone() {
    for hz in PITCHES_HZ {
        let own = note(hz, 1.5);
        let breath = noise(4, level_of(&own) * decibels(-12.0), own.len());
        let off = worst(&hear(&mixed(&own, &breath), RATE), hz, 0.5);
        assert!(off < 5.0, "{hz} Hz: {off} cents");
    }
}

#[test]
fn a_plucked_note_is_read_while_it_fades() {
    for hz in [65.4, 98.0, 196.0, 440.0] {
        let mut sound = vec![0.0; 9_600];
        let tone = Tone {
            inharmonicity: 1e-4,
            ..Tone::steady(hz, -6.0)
        };
        let ring = tone.samples(48_000.0, 1.0);
        sound.extend(ring.iter().enumerate().map(|(i, s)| {
            let t = i as f32 / 48_000.0;
            s * (-t / 0.25).exp()
        }));
        let floor = noise(8, 1e-4, sound.len());
        let readings = hear(&mixed(&sound, &floor), RATE);
        let held: Vec<Reading> = readings
            .into_iter()
            .filter(|r| r.available.get() < 0.9)
            .collect();
        let off = worst(&held, hz, 0.45);
        assert!(off < 1.0, "{hz} Hz: {off} cents");
    }
}

#[test]
fn a_note_that_dies_away_keeps_its_octave() {
    // The odd partials die first, as the fundamental of a bass string does when the bow leaves.
    for hz in [49.0, 98.0, 233.1] {
        let evens = Tone::steady(2.0 * hz, -5.0).samples(48_000.0, 2.5);
        let sound: Vec<f32> = note(hz, 2.5)
            .iter()
            .zip(&evens)
            .enumerate()
            .map(|(i, (all, evens))| {
                let t = (i as f64 / 48_000.0 - 1.0).max(0.0);
                let (odd, even) = ((-t / 0.05).exp(), (-t / 0.3).exp());
                all * odd as f32 + 0.3 * evens * (even - odd) as f32
            })
            .collect();
        let floor = noise(6, 1e-5, sound.len());
        let up = hear(&mixed(&sound, &floor), RATE)
            .iter()
            .filter(|r| r.available.get() > 0.5)
            .filter_map(|r| cents_off(r, hz))
            .filter(|off| off.abs() > 600.0)
            .count();
        assert_eq!(up, 0, "{hz} Hz: readings an octave off as it dies away");
    }
}

/// Vowels of a falling and rising voice, with formants, breath and pauses.
fn spoken() -> Vec<f32> {
    let mut rng = fastrand::Rng::with_seed(21);
    let mut out = Vec::new();
    for _ in 0..24 {
        let start_hz = 105.0 + 60.0 * rng.f64();
        // Three to nine semitones a second, mostly falling.
        let slope = (3.0 + 6.0 * rng.f64()) * if rng.f64() < 0.7 { -1.0 } else { 1.0 };
        let length_s = 0.12 + 0.15 * rng.f64();
        let formants = [
            300.0 + 500.0 * rng.f64(),
            1000.0 + 1200.0 * rng.f64(),
            2600.0,
        ];
        let count = (length_s * 48_000.0) as usize;
        let breath = noise(rng.u64(..), 0.01, count);
        let mut phase = 0.0;
        let mut jitter = 0.0;
        for (i, breath) in breath.iter().enumerate() {
            let t = i as f64 / 48_000.0;
            let hz = start_hz * (slope * t / 12.0).exp2() * (1.0 + jitter);
            let before = phase;
            phase += TAU * hz / 48_000.0;
            // The folds never close twice at the same distance: one per cent.
            if (phase / TAU).floor() > (before / TAU).floor() {
                jitter = 0.02 * (rng.f64() - 0.5) * 3_f64.sqrt();
            }
            let voice: f64 = (1..30)
                .map(f64::from)
                .map(|n| {
                    let gain: f64 = formants
                        .iter()
                        .map(|f| 1.0 / (1.0 + ((n * hz - f) / 120.0).powi(2)))
                        .sum();
                    gain * (n * phase).sin() / n.sqrt()
                })
                .sum();
            let swell = (std::f64::consts::PI * t / length_s).sin();
            out.push((0.1 * voice * swell) as f32 + breath);
        }
        let pause = (0.03 + 0.08 * rng.f64()) * 48_000.0;
        out.extend(noise(rng.u64(..), 0.01, pause as usize));
    }
    out
}

#[test]
fn spoken_words_are_no_notes() {
    let readings = hear(&spoken(), RATE);
    let pitched = readings.iter().filter(|r| r.pitch.is_ok()).count();
    assert!(
        pitched * 8 < readings.len(),
        "{pitched} of {} readings of speech have a pitch",
        readings.len()
    );
}
