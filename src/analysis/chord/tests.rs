//! Chords of exactly known pitch, from sound to voices.

use proptest::prelude::*;

use super::*;
use crate::analysis::tones::{Tone, mixed, noise};
use crate::units::{FramePosition, Frames, Hertz, SampleRate};

const RATE: u32 = 48_000;
const FUNDAMENTAL_HZ: f64 = 69.3;

fn rate() -> SampleRate {
    SampleRate::new(RATE).unwrap()
}

fn place(hz: f64, company: Company) -> Place {
    Place {
        hertz: Hertz::new(hz).unwrap(),
        company,
    }
}

fn partial(number: u8) -> Place {
    place(FUNDAMENTAL_HZ * f64::from(number), Company::Trumpets)
}

fn all_partials() -> Sought {
    Sought::Free {
        places: (3..=16).map(partial).collect(),
        most: 8,
    }
}

fn raised(hz: f64, cents: f64) -> f64 {
    hz * (cents / 1200.0).exp2()
}

/// A steady voice at a level in decibels; the partials of each have phases of their own.
fn voice(hz: f64, level_db: f64, seconds: f64) -> Vec<f32> {
    let gain = 10_f32.powf(level_db as f32 / 20.0);
    let samples = Tone::steady(hz, -8.0).samples(f64::from(RATE), seconds);
    samples.into_iter().map(|sample| gain * sample).collect()
}

/// Voices at their levels over a little noise.
fn sound(voices: &[(f64, f64)], seconds: f64, seed: u64) -> Vec<f32> {
    let count = (f64::from(RATE) * seconds) as usize;
    let start = noise(seed, 2e-4, count);
    voices.iter().fold(start, |sum, (hz, level_db)| {
        mixed(&sum, &voice(*hz, *level_db, seconds))
    })
}

fn hear(samples: &[f32], sought: Sought) -> Vec<HeardChord> {
    let mut heard = Vec::new();
    ChordEar::new(rate(), sought).push(samples.iter().copied(), |chord| heard.push(chord.clone()));
    heard
}

/// The last chord of a sound.
fn last(samples: &[f32], sought: Sought) -> HeardChord {
    hear(samples, sought).pop().unwrap()
}

fn off(voice: &HeardVoice, hz: f64) -> f64 {
    voice.hertz.above(Hertz::new(hz).unwrap()).get()
}

#[test]
fn a_known_chord_is_measured_to_a_tenth_of_a_cent() {
    let true_hz = [
        raised(8.0 * FUNDAMENTAL_HZ, 7.0),
        raised(10.0 * FUNDAMENTAL_HZ, -9.0),
        raised(12.0 * FUNDAMENTAL_HZ, 3.0),
    ];
    let samples = sound(&true_hz.map(|hz| (hz, 0.0)), 1.6, 1);
    let sought = Sought::Expected(vec![partial(8), partial(10), partial(12)]);
    let chord = last(&samples, sought);
    assert_eq!(chord.sound, ChordSound::Held);
    assert_eq!(chord.voices.len(), 3);
    for (voice, hz) in chord.voices.iter().zip(true_hz) {
        assert_eq!(voice.status, VoiceStatus::Ok);
        assert!(off(voice, hz).abs() < 0.1, "{voice:?} at {hz}");
        assert!(off(voice, hz).abs() <= voice.margin.get());
    }
}

#[test]
fn an_expected_voice_that_is_silent_is_absent() {
    let samples = sound(&[(554.4, 0.0), (831.6, -3.0)], 1.6, 2);
    let sought = Sought::Expected(vec![partial(8), partial(11), partial(12)]);
    let chord = last(&samples, sought);
    let status: Vec<VoiceStatus> = chord.voices.iter().map(|voice| voice.status).collect();
    assert_eq!(
        status,
        [VoiceStatus::Ok, VoiceStatus::Absent, VoiceStatus::Ok]
    );
    assert_eq!(chord.voices[1].hertz, partial(11).hertz);
}

#[test]
fn nothing_is_said_of_a_chord_until_the_span_holds_it_alone() {
    let (first, second) = ([554.4, 693.0], [623.7, 762.3]);
    let mut samples = sound(&first.map(|hz| (hz, 0.0)), 2.0, 3);
    samples.extend(sound(&second.map(|hz| (hz, 0.0)), 2.0, 4));
    let second_only = Sought::Expected(vec![partial(9), partial(11)]);
    for sought in [all_partials(), second_only] {
        let mut n_second = 0;
        for chord in hear(&samples, sought) {
            let (begins, ends) = (chord.time.get() - 0.475, chord.time.get() + 0.475);
            let sounding = chord
                .voices
                .iter()
                .filter(|voice| voice.status != VoiceStatus::Absent);
            let voices: Vec<&HeardVoice> = sounding.collect();
            // The faint edge of a window may reach into the other chord and does no harm.
            if begins < 1.8 && ends > 2.2 {
                let mixed = voices.iter().filter(|voice| {
                    let near = |hz: &f64| off(voice, *hz).abs() < 0.5;
                    !first.iter().any(near) || ends > 2.3
                });
                assert_eq!(mixed.count(), 0, "{chord:?}");
            }
            let near = |voice: &HeardVoice, hz: &f64| off(voice, *hz).abs() < 0.5;
            if begins > 2.0 {
                let all = voices.iter().all(|v| second.iter().any(|hz| near(v, hz)));
                assert!(all, "{chord:?}");
                n_second += voices.len();
            }
        }
        assert!(n_second >= 10, "{n_second}");
    }
}

#[test]
fn voices_keep_their_identity_while_they_move() {
    let mut ear = ChordEar::new(rate(), all_partials());
    let glide = Tone {
        hz: |hz, t| hz * (6.0 * t / 1200.0).exp2(),
        ..Tone::steady(554.4, -8.0)
    };
    let still = voice(693.0, 0.0, 6.0);
    let samples = mixed(&glide.samples(f64::from(RATE), 6.0), &still);
    let mut seen: Vec<Vec<u32>> = Vec::new();
    ear.push(samples, |chord| {
        if chord.sound == ChordSound::Held {
            seen.push(chord.voices.iter().map(|voice| voice.identity).collect());
        }
    });
    assert!(seen.len() > 25);
    assert!(seen.iter().all(|ids| *ids == seen[0]), "{seen:?}");
    assert_eq!(seen[0].len(), 2);
}

#[test]
fn two_voices_a_few_cents_apart_are_told_apart_and_beat() {
    let both = vec![
        place(415.0, Company::Trumpets),
        place(415.0, Company::Others),
    ];
    let (low, high) = (415.0, raised(415.0, 8.0));
    let samples = sound(&[(low, 0.0), (high, -2.0)], 2.0, 5);
    let chord = last(&samples, Sought::Expected(both));
    assert_eq!(chord.voices.len(), 2);
    assert!(off(&chord.voices[0], low).abs() < 0.5, "{chord:?}");
    assert!(off(&chord.voices[1], high).abs() < 0.5, "{chord:?}");
    for voice in &chord.voices {
        assert_eq!(voice.status, VoiceStatus::Ok);
        let rate_hz = voice.beating.unwrap().rate_hz;
        assert!((rate_hz - (high - low)).abs() < 0.15, "{rate_hz}");
        // Both entered at once: nobody can say which is the trumpet.
        assert!(!voice.is_named);
    }
}

#[test]
fn a_unison_parts_by_its_upper_partials_where_the_first_are_weak() {
    for cents in [10.0, 20.0, 30.0] {
        let (low, high) = (raised(440.5, -cents / 2.0), raised(440.5, cents / 2.0));
        let mut weak = Tone::steady(high, -6.0);
        weak.partials[0] *= 0.1;
        weak.partials[1] *= 0.1;
        let samples = mixed(
            &sound(&[(low, 0.0)], 1.6, 12),
            &weak.samples(f64::from(RATE), 1.6),
        );
        let sought = Sought::Expected(vec![
            place(440.0, Company::Trumpets),
            place(440.0, Company::Others),
        ]);
        let chord = last(&samples, sought);
        for (voice, hz) in chord.voices.iter().zip([low, high]) {
            assert_eq!(voice.status, VoiceStatus::Ok, "{cents}: {chord:?}");
            assert!(off(voice, hz).abs() < 0.5, "{cents}: {chord:?}");
        }
    }
}

#[test]
fn one_who_was_there_before_keeps_the_name() {
    let places = vec![
        place(415.0, Company::Trumpets),
        place(405.0, Company::Others),
    ];
    let sought = Sought::Free { places, most: 2 };
    let mut samples = sound(&[(415.4, 0.0)], 2.5, 6);
    samples.extend(sound(&[(415.4, 0.0), (411.0, -1.0)], 3.0, 7));
    let chord = last(&samples, sought);
    assert_eq!(chord.voices.len(), 2, "{chord:?}");
    assert!(chord.voices.iter().all(|voice| voice.is_named), "{chord:?}");
    assert_eq!(chord.voices[1].place, 0);
    assert_eq!(chord.voices[0].place, 1);
}

#[test]
fn where_both_may_stand_a_newcomer_takes_nobodys_identity() {
    // The eighth partial and the tonic are one frequency: nothing tells whose voice it is.
    for cents in [-20.0, -12.0, 12.0, 20.0, 30.0] {
        let places = vec![
            place(554.4, Company::Trumpets),
            place(554.4, Company::Others),
        ];
        let sought = Sought::Free { places, most: 4 };
        let newcomer = raised(554.6, cents);
        let mut samples = sound(&[(554.6, 0.0)], 2.5, 13);
        samples.extend(sound(&[(554.6, 0.0), (newcomer, -1.0)], 3.0, 14));
        let mut first = None;
        let mut n_pairs = 0;
        for chord in hear(&samples, sought) {
            for voice in &chord.voices {
                if off(voice, 554.6).abs() < 2.0 {
                    assert_eq!(*first.get_or_insert(voice.identity), voice.identity);
                } else {
                    assert_ne!(Some(voice.identity), first, "{cents}: {chord:?}");
                }
                assert!(!voice.is_named && voice.or_place.is_some());
            }
            if let [a, b] = &chord.voices[..] {
                assert_ne!(a.place, b.place, "{cents}: {chord:?}");
                n_pairs += 1;
            }
        }
        assert!(n_pairs >= 8, "{cents}: {n_pairs}");
    }
}

#[test]
fn voices_beyond_what_the_sound_can_hold_are_absent() {
    let rate = SampleRate::new(8_000).unwrap();
    let samples = Tone::steady(440.0, -8.0).samples(8_000.0, 1.6);
    let sought = Sought::Expected(vec![
        place(440.0, Company::Others),
        place(3_990.0, Company::Others),
        place(4_000.0, Company::Others),
        place(9_000.0, Company::Others),
    ]);
    let mut heard = None;
    ChordEar::new(rate, sought).push(samples, |chord| heard = Some(chord.clone()));
    let status: Vec<VoiceStatus> = heard.unwrap().voices.iter().map(|v| v.status).collect();
    assert_eq!(status[0], VoiceStatus::Ok);
    assert!(
        status[1..]
            .iter()
            .all(|status| *status == VoiceStatus::Absent)
    );
}

#[test]
fn no_chord_is_put_together_from_two() {
    let mut rng = fastrand::Rng::with_seed(5);
    for seed in 0..10 {
        let mut numbers: Vec<u8> = (4..=13).collect();
        rng.shuffle(&mut numbers);
        let chord = |numbers: &[u8]| -> Vec<(f64, f64)> {
            let hz = numbers.iter().map(|n| f64::from(*n) * FUNDAMENTAL_HZ);
            hz.map(|hz| (hz, 0.0)).collect()
        };
        let (first, second) = (chord(&numbers[..3]), chord(&numbers[3..6]));
        let mut samples = sound(&first, 2.0, seed);
        samples.extend(sound(&second, 2.0, seed + 100));
        for heard in hear(&samples, all_partials()) {
            let sounds = |chord: &[(f64, f64)]| {
                let clear = heard
                    .voices
                    .iter()
                    .filter(|voice| voice.status == VoiceStatus::Ok);
                clear
                    .filter(|voice| chord.iter().any(|(hz, _)| off(voice, *hz).abs() < 25.0))
                    .count()
            };
            assert!(
                sounds(&first) == 0 || sounds(&second) == 0,
                "{numbers:?}: {heard:?}"
            );
        }
    }
}

#[test]
fn a_voice_on_a_partial_of_a_lower_one_is_merged_with_it() {
    // Six exact octaves with two seeds each: never an invented pitch of its own.
    for (seed, number) in (10..).zip([4, 5, 6, 4, 5, 6]) {
        let low = raised(FUNDAMENTAL_HZ * f64::from(number), 4.0);
        let samples = sound(&[(low, 0.0), (2.0 * low, -4.0)], 1.6, seed);
        let sought = Sought::Expected(vec![partial(number), partial(2 * number)]);
        let chord = last(&samples, sought);
        let upper = chord.voices[1];
        match upper.status {
            VoiceStatus::Merged { with, partial } => {
                assert_eq!((with, partial), (0, 2));
                assert_eq!(upper.hertz, chord.voices[0].hertz.times(2.0));
            }
            // Beside it by less than its margin, and never shown as sure.
            _ => assert_ne!(upper.status, VoiceStatus::Ok, "{chord:?}"),
        }
    }
}

#[test]
fn silence_and_noise_have_no_voices() {
    let silent = last(&vec![0.0; 96_000], all_partials());
    assert_eq!(silent.sound, ChordSound::Silent);
    assert!(silent.voices.is_empty());
    for chord in hear(&noise(8, 0.05, 144_000), all_partials()) {
        assert!(chord.voices.is_empty(), "{chord:?}");
    }
}

#[test]
fn what_is_no_number_counts_as_silence() {
    let mut samples = sound(&[(554.4, 0.0)], 2.0, 9);
    for sample in samples.iter_mut().skip(1_000).step_by(9_000) {
        *sample = f32::NAN;
    }
    samples[500] = f32::INFINITY;
    let chord = last(&samples, all_partials());
    assert_eq!(chord.voices.len(), 1, "{chord:?}");
    assert!(off(&chord.voices[0], 554.4).abs() < 1.0);
}

#[test]
fn after_a_gap_listening_starts_afresh() {
    let samples = sound(&[(554.4, 0.0)], 2.0, 11);
    let mut ears = ChordEars::new(rate(), 2);
    ears.listen_to([SharedChannel {
        index: 5,
        input: 1,
        sought: all_partials(),
    }]);
    let stereo: Vec<f32> = samples.iter().flat_map(|sample| [0.0, *sample]).collect();
    let mut heard = Vec::new();
    ears.hear(FramePosition::START, &stereo, |index, chord| {
        assert_eq!(index, 5);
        heard.push(chord.sound);
    });
    assert_eq!(heard.last(), Some(&ChordSound::Held));
    heard.clear();
    let later = FramePosition::START + Frames::new(200_000);
    ears.hear(later, &stereo[..2 * 9_600], |_, chord| {
        assert!(chord.time.get() > 200_000.0 / 48_000.0 - 1.0);
        heard.push(chord.sound);
    });
    assert_eq!(heard, [ChordSound::Settling]);
}

#[test]
fn an_input_the_stream_lacks_is_passed_over() {
    let mut ears = ChordEars::new(rate(), 1);
    ears.listen_to([SharedChannel {
        index: 0,
        input: 1,
        sought: all_partials(),
    }]);
    ears.hear(FramePosition::START, &vec![0.1; 48_000], |_, _| {
        panic!("nobody listens")
    });
}

#[test]
fn every_sample_rate_hears_the_same() {
    for rate_hz in [8_000_u32, 44_100, 96_000, 192_000] {
        let tones = [554.4, 693.0].map(|hz| {
            let tone = Tone::steady(hz, -8.0);
            tone.samples(f64::from(rate_hz), 1.6)
        });
        let mut heard = None;
        let rate = SampleRate::new(rate_hz).unwrap();
        ChordEar::new(rate, all_partials()).push(mixed(&tones[0], &tones[1]), |chord| {
            heard = Some(chord.clone());
        });
        let voices = heard.unwrap().voices;
        assert_eq!(voices.len(), 2, "{rate_hz}: {voices:?}");
        assert!(off(&voices[0], 554.4).abs() < 0.2, "{rate_hz}: {voices:?}");
        assert!(off(&voices[1], 693.0).abs() < 0.2, "{rate_hz}: {voices:?}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig {
        failure_persistence: None,
        cases: 24,
        // Whoever builds hears the same chords: about one in 1,500 is measured wrong (a fourth
        // partial below the eighth and the twelfth, 13 cents off), see DEVELOPERS.md.
        rng_seed: proptest::test_runner::RngSeed::Fixed(1_685),
        ..ProptestConfig::default()
    })]
    /// Any subset of the partials 3 to 16, each detuned and at its own level, over noise.
    #[test]
    fn any_chord_of_partials_is_measured_and_found(
        numbers in proptest::sample::subsequence((3_u8..=16).collect::<Vec<_>>(), 1..=5),
        detuned in proptest::collection::vec(-15.0..15.0_f64, 5),
        levels in proptest::collection::vec(-6.0..6.0_f64, 5),
        seed in any::<u64>(),
    ) {
        let voices: Vec<(f64, f64)> = numbers
            .iter()
            .zip(detuned.iter().zip(&levels))
            .map(|(n, (cents, level))| (raised(FUNDAMENTAL_HZ * f64::from(*n), *cents), *level))
            .collect();
        let samples = sound(&voices, 1.4, seed);
        let places: Vec<Place> = numbers.iter().map(|number| partial(*number)).collect();
        let chord = last(&samples, Sought::Expected(places));
        for heard in chord.voices.iter().filter(|voice| voice.status == VoiceStatus::Ok) {
            let true_hz = voices[heard.place].0;
            // Steady tones: what is called ok is right to a cent.
            prop_assert!(off(heard, true_hz).abs() < 1.0, "{heard:?} {true_hz} {numbers:?}");
        }
        // Who stands clear of every multiple of the others is never doubted.
        for (index, (hz, _)) in voices.iter().enumerate() {
            let is_clear = voices.iter().enumerate().all(|(other, (low, _))| {
                let multiple = (hz / low).round();
                let cents = 1200.0 * (hz / (low * multiple.max(1.0))).log2();
                other == index || cents.abs() > 40.0
            });
            if is_clear {
                let heard = chord.voices.iter().find(|voice| voice.place == index);
                prop_assert_eq!(heard.map(|voice| voice.status), Some(VoiceStatus::Ok));
            }
        }
        let found = last(&samples, all_partials());
        for heard in &found.voices {
            let is_true = voices.iter().any(|(hz, _)| off(heard, *hz).abs() < 25.0);
            prop_assert!(is_true, "{heard:?} is none of {voices:?}");
        }
    }
}
