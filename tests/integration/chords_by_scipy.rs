//! Chords whose pitches another program found too, by another method: see
//! `tests/chords/second_opinion.py`, which also gives the formula of the sound.

use std::f64::consts::{PI, TAU};

use concento::analysis::chord::{ChordEar, Company, HeardChord, Place, Sought, VoiceStatus};
use concento::units::{Hertz, SampleRate};

use crate::figures::rows;

const CASES: &str = include_str!("../data/chord_cases.csv");
const OPINION: &str = include_str!("../data/chord_second_opinion.csv");

const RATE_HZ: u32 = 48_000;
const SECONDS: f64 = 2.2;
/// The middle of the second that the other program measured.
const MIDDLE_S: f64 = 1.025;

/// How far the two may differ, in cents. The other one fits the whole second at once, where the
/// bend and the decay of a note are known to be smooth, and finds the truth to 0.001 cents. This
/// one looks through five short windows that owe nothing to either, and takes each as steady:
/// what a wander of half a cent does within 0.35 s is left in its pitch. Most of these voices
/// agree to 0.01 cents; the bound is not quite twice the worst, an upper voice between the
/// partials of three others.
const BOUND: f64 = 0.15;

/// A voice, as a row of the table has it.
struct Voice {
    sought_hz: f64,
    hz: f64,
    level: f64,
    partials: u32,
    fall: f64,
    phase: f64,
    decay_s: f64,
    wander_cents: f64,
    wander_hz: f64,
    noise: f64,
}

/// The voices of each case, in the order of the table.
fn cases() -> Vec<(String, Vec<Voice>)> {
    let mut cases: Vec<(String, Vec<Voice>)> = Vec::new();
    let columns = [
        "case",
        "sought_hz",
        "hz",
        "level",
        "partials",
        "fall",
        "phase",
        "decay_s",
        "wander_cents",
        "wander_hz",
        "noise",
    ];
    for [case, numbers @ ..] in rows(CASES, columns) {
        let [
            sought_hz,
            hz,
            level,
            partials,
            fall,
            phase,
            decay_s,
            wander_cents,
            wander_hz,
            noise,
        ] = numbers.map(|text| text.parse::<f64>().unwrap());
        let voice = Voice {
            sought_hz,
            hz,
            level,
            partials: partials as u32,
            fall,
            phase,
            decay_s,
            wander_cents,
            wander_hz,
            noise,
        };
        match cases.last_mut() {
            Some((name, voices)) if *name == case => voices.push(voice),
            _ => cases.push((case, vec![voice])),
        }
    }
    cases
}

impl Voice {
    /// Cents above its middle pitch; `place` is its number within the case, from 1.
    fn cents(&self, place: usize, time_s: f64) -> f64 {
        self.wander_cents * (TAU * self.wander_hz * time_s + place as f64).sin()
    }

    /// The mean pitch over the second that is measured.
    fn true_hz(&self, place: usize) -> f64 {
        let (mut sum, mut weights) = (0.0, 0.0);
        for step in -500..=500 {
            let away_s = f64::from(step) / 1000.0;
            let weight = (PI * away_s).cos().powi(2);
            sum += weight * self.cents(place, MIDDLE_S + away_s);
            weights += weight;
        }
        self.hz * (sum / weights / 1200.0).exp2()
    }

    /// Adds its sound and its noise to `samples`.
    fn sound(&self, place: usize, samples: &mut [f64]) {
        let rate_hz = f64::from(RATE_HZ);
        let (mut turns, mut random) = (0.0, place as u32);
        for (i, sample) in samples.iter_mut().enumerate() {
            let time_s = i as f64 / rate_hz;
            for n in (1..=self.partials).map(f64::from) {
                let fading = (-time_s * (1.0 + 0.2 * (n - 1.0)) / self.decay_s).exp();
                let turn = TAU * n * turns + n * n * self.phase;
                *sample += self.level * n.powf(-self.fall) * fading * turn.sin();
            }
            turns += self.hz * (self.cents(place, time_s) / 1200.0).exp2() / rate_hz;
            random = random.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            *sample += self.noise * (2.0 * f64::from(random) / 2_f64.powi(32) - 1.0);
        }
    }
}

/// What is heard of these voices over the second that the other program measured.
fn hear(voices: &[Voice]) -> HeardChord {
    let mut samples = vec![0.0; (f64::from(RATE_HZ) * SECONDS).round() as usize];
    for (place, voice) in (1..).zip(voices) {
        voice.sound(place, &mut samples);
    }
    let place = |voice: &Voice| Place {
        hertz: Hertz::new(voice.sought_hz).unwrap(),
        company: Company::Others,
    };
    let sought = Sought::Expected(voices.iter().map(place).collect());
    let mut ear = ChordEar::new(SampleRate::new(RATE_HZ).unwrap(), sought);
    let mut heard = None;
    ear.push(samples.iter().map(|s| *s as f32), |chord| {
        if (chord.time.get() - MIDDLE_S).abs() < 0.01 {
            heard = Some(chord.clone());
        }
    });
    heard.unwrap_or_else(|| panic!("no update has its middle at {MIDDLE_S} s"))
}

#[test]
fn the_voices_of_chords_are_where_a_least_squares_fit_finds_them() {
    let opinion = rows(OPINION, ["case", "voice", "true_hz", "scipy_hz"]);
    let mut opinion = opinion.iter();
    let mut faults = Vec::new();
    let cases = cases();
    assert_eq!(cases.len(), 12);
    for (case, voices) in cases {
        let chord = hear(&voices);
        assert_eq!(chord.voices.len(), voices.len(), "{case}: {chord:?}");
        let mut found: Vec<(f64, f64)> = Vec::new();
        for (place, voice) in (1..).zip(&voices) {
            let [name, number, true_hz, scipy_hz] = opinion.next().unwrap();
            assert_eq!((name, number), (&case, &place.to_string()));
            let true_hz: f64 = true_hz.parse().unwrap();
            // Both programs must mean the same sound.
            assert!(
                (voice.true_hz(place) - true_hz).abs() < 1e-3,
                "{case} {place}"
            );
            found.push((voice.sought_hz, scipy_hz.parse().unwrap()));
        }
        // Of voices sought at one place neither program knows which is which.
        found.sort_by(|a, b| a.1.total_cmp(&b.1));
        for (voice, (_, scipy_hz)) in chord.voices.iter().zip(&found) {
            let cents = 1200.0 * (voice.hertz.get() / scipy_hz).log2();
            let allowed = BOUND.min(voice.margin.get());
            if voice.status != VoiceStatus::Ok || cents.abs() > allowed {
                faults.push(format!(
                    "{case}: {} at {:.3} Hz, {cents:+.3} cents from {scipy_hz}, allowed {allowed:.2}",
                    voice.status.word(),
                    voice.hertz.get(),
                ));
            }
        }
    }
    assert!(opinion.next().is_none(), "no case belongs to the last rows");
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}
