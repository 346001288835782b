//! The ear of a machine that has too much to do: fewer readings, none of them worse.

use super::super::tones::Tone;
use super::{RATE, cents_off, worst};
use crate::analysis::{Effort, Estimator, HOP, Reading};
use crate::units::{Hertz, SampleRate};

fn hear(samples: &[f32], effort: Effort) -> Vec<Reading> {
    let mut estimator = Estimator::new(SampleRate::new(RATE).unwrap());
    estimator.spend(effort);
    let mut readings = Vec::new();
    estimator.push(samples.iter().copied(), |reading| readings.push(*reading));
    readings
}

#[test]
fn readings_come_as_often_as_the_effort_says() {
    let samples = Tone::steady(220.0, -6.0).samples(f64::from(RATE), 1.0);
    for effort in Effort::ALL {
        let readings = hear(&samples, effort);
        let apart = HOP.get() * f64::from(effort.stride());
        assert_eq!(readings.len(), (1.0 / apart) as usize, "{effort:?}");
        for pair in readings.windows(2) {
            let step = (pair[1].available - pair[0].available).get();
            assert!((step - apart).abs() < 1e-9, "{effort:?}: {step}");
        }
    }
}

#[test]
fn a_still_note_is_found_as_soon_and_as_well_within_two_readings() {
    for hz in [65.4, 116.5, 233.1, 415.3, 698.5] {
        let samples = Tone::steady(hz, -5.0).samples(f64::from(RATE), 1.2);
        let first = |readings: &[Reading]| {
            let found = readings.iter().find(|r| r.pitch.is_ok());
            found.map(|r| r.available.get()).unwrap()
        };
        let full = first(&hear(&samples, Effort::Full));
        for effort in Effort::ALL {
            let readings = hear(&samples, effort);
            let apart = HOP.get() * f64::from(effort.stride());
            let late = first(&readings) - full;
            assert!(
                late < 2.0 * apart + 1e-9,
                "{hz} Hz {effort:?}: {late} s late"
            );
            assert!(worst(&readings, hz, 0.5) < 0.2, "{hz} Hz {effort:?}");
        }
    }
}

#[test]
fn a_vibrato_stays_a_note_and_is_told_with_its_rate() {
    // 40 cents to each side, 5.5 swings a second.
    let swing = |hz: f64, t: f64| hz * (40.0 / 1200.0 * (34.558 * t).sin()).exp2();
    let tone = Tone {
        hz: swing,
        ..Tone::steady(440.0, -6.0)
    };
    let samples = tone.samples(f64::from(RATE), 2.0);
    for effort in Effort::ALL {
        let readings = hear(&samples, effort);
        let late: Vec<&Reading> = readings
            .iter()
            .filter(|r| r.available.get() > 0.6)
            .collect();
        let pitched = late.iter().filter(|r| r.pitch.is_ok()).count();
        assert!(
            pitched * 20 > late.len() * 19,
            "{effort:?}: {pitched} of {}",
            late.len()
        );
        let last = late.last().and_then(|r| r.motion).unwrap();
        let vibrato = last.vibrato.unwrap();
        assert!(
            (vibrato.rate_hz - 5.5).abs() < 0.15,
            "{effort:?}: {vibrato:?}"
        );
        let centre = last.centre.above(Hertz::new(440.0).unwrap()).get();
        assert!(centre.abs() < 3.0, "{effort:?}: centre {centre}");
    }
}

#[test]
fn clipping_between_two_readings_is_told() {
    let mut samples = Tone::steady(220.0, -6.0).samples(f64::from(RATE), 1.0);
    // 5 ms into a hop that has no reading of its own.
    samples[24_000 + 240] = 1.0;
    for effort in Effort::ALL {
        let clipped = hear(&samples, effort).iter().filter(|r| r.clipped).count();
        assert_eq!(clipped, 1, "{effort:?}");
    }
}

#[test]
fn changing_the_effort_in_the_middle_of_a_note_does_not_break_it() {
    let samples = Tone::steady(311.1, -6.0).samples(f64::from(RATE), 3.0);
    let mut estimator = Estimator::new(SampleRate::new(RATE).unwrap());
    for (n, piece) in samples.chunks(12_000).enumerate() {
        estimator.spend(Effort::ALL[n % Effort::ALL.len()]);
        estimator.push(piece.iter().copied(), |reading| {
            if reading.available.get() > 0.3 {
                let off = cents_off(reading, 311.1).expect("a note at every reading");
                assert!(off.abs() < 0.2, "{off} at {:?}", reading.available);
            }
        });
    }
}
