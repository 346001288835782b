//! The ear against tones whose pitch is exactly known.

use realfft::RealFftPlanner;

mod disturbed;
mod effort;

use super::spectrum::Spectrum;
use super::tones::{Tone, mixed, noise};
use super::{Estimator, NoPitch, Reading};
use crate::units::{FramePosition, Hertz, SampleRate};

const RATE: u32 = 48_000;

fn hear(samples: &[f32], rate: u32) -> Vec<Reading> {
    let mut estimator = Estimator::new(SampleRate::new(rate).unwrap());
    let mut readings = Vec::new();
    estimator.push(samples.iter().copied(), |reading| readings.push(*reading));
    readings
}

fn cents_off(reading: &Reading, hz: f64) -> Option<f64> {
    let truth = Hertz::new(hz).unwrap();
    reading
        .pitch
        .ok()
        .map(|pitch| pitch.hertz.above(truth).get())
}

/// The worst error in cents from `from_s` on; a reading without pitch counts as infinite.
fn worst(readings: &[Reading], hz: f64, from_s: f64) -> f64 {
    let errors = readings
        .iter()
        .filter(|r| r.available.get() >= from_s)
        .map(|r| cents_off(r, hz).map_or(f64::INFINITY, f64::abs));
    errors.fold(0.0, f64::max)
}

#[test]
fn the_spectrum_equals_a_plain_discrete_fourier_transform() {
    let rate = SampleRate::new(RATE).unwrap();
    let mut spectrum = Spectrum::new(2048, rate, &mut RealFftPlanner::new());
    let samples = mixed(
        &Tone::steady(523.0, -6.0).samples(48_000.0, 0.05),
        &noise(3, 0.01, 2400),
    );
    spectrum.transform(&samples);
    let window = &samples[samples.len() - 2048..];
    for bin in [5, 22, 23, 45, 100, 300] {
        let (mut re, mut im) = (0.0, 0.0);
        for (i, s) in window.iter().enumerate() {
            let turn = std::f64::consts::TAU * i as f64 / 2048.0;
            let value = f64::from(*s) * (0.5 - 0.5 * turn.cos());
            re += value * (turn * f64::from(bin)).cos();
            im -= value * (turn * f64::from(bin)).sin();
        }
        let plain = (re * re + im * im) * (4.0 / 2048.0_f64).powi(2);
        let fast = f64::from(spectrum.power()[bin as usize]);
        // Single precision: 1e-7 of the strongest bin (about 0.01) at the root.
        assert!(
            (fast.sqrt() - plain.sqrt()).abs() < 1e-6,
            "bin {bin}: {fast} against {plain}"
        );
    }
}

#[test]
fn steady_notes_of_every_register_are_read_to_a_fifth_of_a_cent() {
    // From the double bass's E1 to the trumpet's d''', dull and bright.
    for hz in [
        41.2, 55.3, 73.4, 98.0, 146.8, 220.7, 349.2, 440.0, 659.3, 880.0, 1174.7,
    ] {
        for slope_db in [-12.0, -6.0, -1.0] {
            let readings = hear(&Tone::steady(hz, slope_db).samples(48_000.0, 0.6), RATE);
            let worst = worst(&readings, hz, 0.3);
            // Below G1 only seven periods fill the longest window and neighbours touch.
            let allowed = if hz < 49.0 { 0.5 } else { 0.2 };
            assert!(
                worst < allowed,
                "{hz} Hz at {slope_db} dB an octave: {worst} cents off"
            );
        }
    }
}

#[test]
fn any_sample_rate_reads_the_same() {
    for rate in [8_000, 11_025, 22_050, 44_100, 96_000, 192_000] {
        for hz in [65.4, 311.1, 622.3] {
            let readings = hear(&Tone::steady(hz, -6.0).samples(f64::from(rate), 0.6), rate);
            let worst = worst(&readings, hz, 0.3);
            assert!(worst < 0.3, "{hz} Hz at {rate}: {worst} cents off");
        }
    }
}

#[test]
fn a_weak_or_missing_fundamental_does_not_move_the_octave() {
    for hz in [41.2, 58.3, 87.3, 130.8] {
        for down_db in [25.0, 60.0] {
            let mut tone = Tone::steady(hz, -3.0);
            tone.partials[0] *= 10_f64.powf(-down_db / 20.0);
            let readings = hear(&tone.samples(48_000.0, 0.8), RATE);
            let worst = worst(&readings, hz, 0.35);
            assert!(
                worst < 0.5,
                "{hz} Hz, fundamental {down_db} dB down: {worst} cents off"
            );
        }
    }
}

#[test]
fn strong_even_partials_do_not_raise_the_octave() {
    // An organ stop whose even partials stand 14 dB above the odd ones.
    let mut tone = Tone::steady(98.0, -4.0);
    for odd in tone.partials.iter_mut().step_by(2) {
        *odd *= 0.2;
    }
    let readings = hear(&tone.samples(48_000.0, 0.8), RATE);
    assert!(worst(&readings, 98.0, 0.35) < 0.3);
}

#[test]
fn a_note_is_read_within_ten_cents_150_ms_after_its_onset() {
    for hz in [116.5, 164.8, 293.7, 440.0, 587.3, 1046.5] {
        let tone = Tone {
            onset_s: 0.3,
            ..Tone::steady(hz, -6.0)
        };
        let floor = noise(7, 3e-5, 48_000);
        let readings = hear(&mixed(&tone.samples(48_000.0, 1.0), &floor), RATE);
        let worst = worst(&readings, hz, 0.45);
        assert!(worst < 10.0, "{hz} Hz: {worst} cents off");
    }
}

#[test]
fn silence_and_noise_have_no_pitch() {
    let readings = hear(&vec![0.0; 24_000], RATE);
    assert_eq!(readings.len(), 50);
    assert!(readings.iter().all(|r| r.pitch == Err(NoPitch::Silence)));
    for (seed, deviation) in [(1, 0.1), (2, 0.003)] {
        let readings = hear(&noise(seed, deviation, 96_000), RATE);
        let pitched = readings.iter().filter(|r| r.pitch.is_ok()).count();
        assert!(
            pitched <= 2,
            "{pitched} of 200 readings of noise have a pitch"
        );
    }
}

#[test]
fn samples_that_are_no_numbers_do_no_harm() {
    let mut samples = Tone::steady(440.0, -6.0).samples(48_000.0, 1.0);
    samples[10_000] = f32::NAN;
    samples[10_001] = f32::INFINITY;
    samples[10_002] = f32::NEG_INFINITY;
    samples[10_003] = 1e30;
    let readings = hear(&samples, RATE);
    for reading in &readings {
        assert!(reading.level.get().is_finite());
        if let Ok(pitch) = reading.pitch {
            assert!(pitch.hertz.get().is_finite() && pitch.margin.get().is_finite());
            assert!((0.0..=1.0).contains(&pitch.confidence));
        }
    }
    assert!(worst(&readings, 440.0, 0.5) < 0.2);
}

#[test]
fn noise_moves_a_reading_no_more_than_theory_allows() {
    // Cramer-Rao bound of a harmonic tone in white noise: var(w) >= 24 s^2 / (N^3 sum k^2 A^2)
    // in (rad/sample)^2 for the N samples of the window that measures. A Hann window alone
    // costs 1.53 of it in deviation; the mean over hops wins some of that back.
    for (hz, samples) in [
        (98.0, 8192.0_f64),
        (196.0, 4096.0),
        (330.0, 4096.0),
        (880.0, 4096.0),
    ] {
        let tone = Tone::steady(hz, -6.0);
        let clean = tone.samples(48_000.0, 3.0);
        let power: f64 = tone.partials.iter().map(|a| a * a / 2.0).sum();
        let sum: f64 = (1..)
            .zip(&tone.partials)
            .map(|(k, a)| (f64::from(k) * a).powi(2))
            .sum();
        let mut squares = Vec::new();
        for (seed, snr_db) in (1..).zip([10.0, 15.0, 20.0, 25.0, 30.0, 35.0]) {
            let deviation = power.sqrt() * 10_f64.powf(-snr_db / 20.0);
            let bound = (24.0 * deviation.powi(2) / (samples.powi(3) * sum)).sqrt();
            let bound_cents = 1200.0 / 2_f64.ln() * bound * 48_000.0 / (std::f64::consts::TAU * hz);
            let floor = noise(seed, deviation, clean.len());
            let readings = hear(&mixed(&clean, &floor), RATE);
            squares.extend(readings.iter().filter(|r| r.time.get() > 0.5).map(|r| {
                let off = cents_off(r, hz).expect("a clear note in noise is heard");
                (off / bound_cents).powi(2)
            }));
        }
        let ratio = (squares.iter().sum::<f64>() / squares.len() as f64).sqrt();
        assert!(ratio < 1.6, "{hz} Hz: {ratio} times the bound");
    }
}

#[test]
fn a_plucked_string_is_read_by_its_first_partial() {
    for (hz, b) in [(110.0, 1e-4), (196.0, 5e-4)] {
        let tone = Tone {
            inharmonicity: b,
            ..Tone::steady(hz, -4.0)
        };
        let readings = hear(&tone.samples(48_000.0, 0.8), RATE);
        assert!(
            worst(&readings, hz, 0.4) < 1.0,
            "{hz}: {}",
            worst(&readings, hz, 0.4)
        );
        let found = readings.last().unwrap().pitch.unwrap().inharmonicity;
        assert!((found / b - 1.0).abs() < 0.2, "B is {found}, not {b}");
    }
}

#[test]
fn vibrato_is_followed_and_told_with_its_centre() {
    // 15 cents to each side, 5.5 times a second.
    let cents = |t: f64| 15.0 * (34.558 * t).sin();
    let swing = |hz: f64, t: f64| hz * (0.015 / 1.731_2 * (34.558 * t).sin()).exp();
    for hz in [65.4, 146.8, 392.0, 880.0] {
        let tone = Tone {
            hz: swing,
            ..Tone::steady(hz, -6.0)
        };
        let readings = hear(&tone.samples(48_000.0, 2.0), RATE);
        let motion = readings.last().unwrap().motion.unwrap();
        let vibrato = motion
            .vibrato
            .expect("15 cents at 5.5 swings a second are a vibrato");
        assert!((vibrato.rate_hz - 5.5).abs() < 0.3, "{vibrato:?}");
        assert!((vibrato.extent.get() - 15.0).abs() < 4.0, "{vibrato:?}");
        let centre = motion.centre.above(Hertz::new(hz).unwrap()).get();
        assert!(centre.abs() < 0.5, "{hz} Hz: centre {centre} cents off");
        let mut off: Vec<f64> = readings
            .iter()
            .filter(|r| r.time.get() > 0.7)
            .map(|r| (cents_off(r, hz).expect("it is heard") - cents(r.time.get())).abs())
            .collect();
        off.sort_by(f64::total_cmp);
        let median = off[off.len() / 2];
        assert!(median < 2.5, "{hz} Hz: {median} cents beside the swing");
    }
}

#[test]
fn a_drift_is_read_at_its_time() {
    // 5 cents a second: 50 ms of lag would be a quarter of a cent.
    let rise = |hz: f64, t: f64| hz * (5.0 / 1731.234 * t).exp();
    for hz in [65.4, 220.0, 880.0] {
        let tone = Tone {
            hz: rise,
            ..Tone::steady(hz, -6.0)
        };
        for reading in hear(&tone.samples(48_000.0, 2.0), RATE) {
            if reading.time.get() > 0.3 {
                let off = cents_off(&reading, hz).unwrap() - 5.0 * reading.time.get();
                assert!(off.abs() < 0.25, "{hz} Hz: {off} cents late");
            }
        }
    }
}

#[test]
fn two_notes_at_once_are_noticed_and_not_invented_away() {
    for (a, b) in [(293.7, 440.0), (261.6, 415.3), (220.0, 247.0)] {
        let both = mixed(
            &Tone::steady(a, -6.0).samples(48_000.0, 1.5),
            &Tone::steady(b, -6.0).samples(48_000.0, 1.5),
        );
        let last = hear(&both, RATE).split_off(100);
        let noticed = last
            .iter()
            .filter(|r| r.pitch == Err(NoPitch::TwoNotes))
            .count();
        assert!(
            noticed > 45,
            "{a} and {b}: noticed in {noticed} of {}",
            last.len()
        );
    }
}

#[test]
fn a_neighbour_fifteen_decibels_down_does_not_disturb() {
    let neighbour: Vec<f32> = Tone::steady(349.2, -6.0)
        .samples(48_000.0, 1.5)
        .iter()
        .map(|s| s * 10_f32.powf(-15.0 / 20.0))
        .collect();
    let own = Tone::steady(440.0, -6.0).samples(48_000.0, 1.5);
    let readings = hear(&mixed(&own, &neighbour), RATE);
    assert!(worst(&readings, 440.0, 0.3) < 1.0);
}

#[test]
fn after_a_gap_the_ear_starts_afresh() {
    let samples = Tone::steady(440.0, -6.0).samples(48_000.0, 0.5);
    let mut estimator = Estimator::new(SampleRate::new(RATE).unwrap());
    estimator.push(samples.iter().copied(), |_| {});
    estimator.restart(FramePosition::new(96_000));
    let mut first = None;
    estimator.push(vec![0.0; 480], |reading| first = Some(*reading));
    let first = first.unwrap();
    assert_eq!(first.pitch, Err(NoPitch::Silence));
    assert!((first.available.get() - 2.01).abs() < 1e-9);
}
