//! The drone as another program measures it: A3 at 415 Hz of each sound, as `concento practise
//! --drone A3 --timbre NAME --write NAME.wav --seconds 12` saves it, 10 s from one second after its
//! beginning; a Blackman-Harris window, frequencies by the phases of both halves.

use std::f64::consts::TAU;

use concento::drone::{Synth, Timbre, Wanted, WantedTone};
use concento::units::{Dbfs, Hertz, SampleRate};

use crate::figures::rows;

const OPINION: &str = include_str!("../data/drone_by_scipy.csv");

/// How far a partial may be from where it belongs, in cents, and from what scipy says of its
/// strength, in decibels.
const FREQUENCY_CENTS: f64 = 0.01;
const STRENGTH_DB: f64 = 0.01;

/// Amplitude of a frequency over the last ten of eleven seconds, in decibels.
fn strength(sound: &[f32], hz: f64, rate_hz: f64) -> f64 {
    let (mut re, mut im) = (0.0, 0.0);
    let kept = &sound[2 * rate_hz as usize..];
    let n_frames = kept.len() as f64 / 2.0;
    for (n, frame) in kept.chunks_exact(2).enumerate() {
        let window = 0.5 - 0.5 * (TAU * n as f64 / n_frames).cos();
        let (sin, cos) = (TAU * (hz * n as f64 / rate_hz).fract()).sin_cos();
        re += window * f64::from(frame[0]) * cos;
        im += window * f64::from(frame[0]) * sin;
    }
    10.0 * (re * re + im * im).log10()
}

#[test]
fn scipy_finds_the_drone_as_it_is_meant_to_be() {
    let rate = SampleRate::new(48_000).unwrap();
    let mut checked = 0;
    for timbre in Timbre::ALL {
        let mut synth = Synth::new(rate);
        synth.want(Wanted {
            tones: vec![WantedTone {
                hertz: Hertz::new(207.5).unwrap(),
                pan: 0.0,
            }],
            timbre,
            level: Dbfs::new(-20.0),
        });
        let mut sound = vec![0.0; 2 * 11 * 48_000];
        synth.render(&mut sound, |_| {});
        let first = strength(&sound, 207.5, rate.hz());
        let columns = ["timbre", "partial", "hz", "db_relative_to_first"];
        let all = rows(OPINION, columns).into_iter();
        for row in all.filter(|row| row[0] == timbre.word()) {
            let number = |place: usize| row[place].parse::<f64>().unwrap();
            let (n, hz, db) = (number(1), number(2), number(3));
            let off: f64 = 1200.0 * (hz / (207.5 * n)).log2();
            assert!(off.abs() < FREQUENCY_CENTS, "{row:?}: {off} cents");
            let ours: f64 = strength(&sound, 207.5 * n, rate.hz()) - first;
            assert!((ours - db).abs() < STRENGTH_DB, "{row:?}: {ours} dB");
            checked += 1;
        }
    }
    assert_eq!(checked, 25);
}
