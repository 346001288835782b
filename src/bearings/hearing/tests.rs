//! Strings made up with stiffness, decay and noise, at many rates, against what was made.

use std::f64::consts::TAU;

use super::*;

const RATE: u32 = 24_000;

/// A string that is struck.
#[derive(Clone, Copy)]
struct Struck {
    hz: f64,
    stiffness: f64,
    at_s: f64,
    /// Seconds in which its lowest partial falls to a third; higher ones fall faster.
    decay_s: f64,
    gain: f64,
    /// Hertz a second, as when its pin is turned.
    rises: f64,
}

impl Struck {
    fn new(hz: f64) -> Self {
        Self {
            hz,
            stiffness: 2e-5,
            at_s: 0.3,
            decay_s: 1.5,
            gain: 0.1,
            rises: 0.0,
        }
    }

    fn partial(&self, number: u32) -> f64 {
        let k = f64::from(number);
        k * self.hz * (1.0 + self.stiffness * k * k).sqrt()
    }

    /// Adds it to the sound, up to its eighth partial.
    fn sound(&self, sound: &mut [f64]) {
        let begin = (self.at_s * f64::from(RATE)) as usize;
        for number in 1..=8 {
            let k = f64::from(number);
            let fall = (0.7 + 0.3 * k) / self.decay_s;
            for (n, value) in sound.iter_mut().skip(begin).enumerate() {
                let since = n as f64 / f64::from(RATE);
                let gain =
                    self.gain / k.powf(0.8) * (-since * fall).exp() * (since * 400.0).min(1.0);
                let turns = self.partial(number) * since + k * self.rises * since * since / 2.0;
                *value += gain * (TAU * turns + 1.7 * k).sin();
            }
        }
    }
}

/// The last thing heard in `length_s` of these strings in noise of that height.
fn heard(wanted: Wanted, strings: &[Struck], noise: f64, length_s: f64) -> Heard {
    let mut random = fastrand::Rng::with_seed(7);
    let mut sound: Vec<f64> = (0..(length_s * f64::from(RATE)) as usize)
        .map(|_| noise * (random.f64() - 0.5))
        .collect();
    for string in strings {
        string.sound(&mut sound);
    }
    let mut last = Heard::Quiet;
    let rate = SampleRate::new(RATE).unwrap();
    let samples = sound.into_iter().map(|value| value as f32);
    Hearing::new(wanted, rate).push(samples, |heard| last = heard);
    last
}

fn wanted(lower: f64, (over, under): (u32, u32)) -> Wanted {
    let ratio = Ratio::new(over, under);
    let lower = Hertz::new(lower).unwrap();
    Wanted::Two {
        lower,
        upper: ratio.place(lower),
        ratio,
    }
}

/// Two strings that beat so, the second stiffer than the first.
fn beating(lower: f64, (m, n): (u32, u32), signed_hz: f64) -> [Struck; 2] {
    let low = Struck::new(lower);
    let mut high = Struck::new(lower * f64::from(m) / f64::from(n));
    high.stiffness = 3e-5;
    high.hz *= (low.partial(m) + signed_hz) / high.partial(n);
    [low, high]
}

/// Lower strings and intervals of a sheet.
const PAIRS: [(f64, (u32, u32)); 5] = [
    (185.2, (3, 2)),
    (207.5, (4, 3)),
    (165.3, (5, 4)),
    (310.0, (4, 3)),
    (207.5, (2, 1)),
];

#[derive(Default)]
struct Score {
    all: usize,
    counted: usize,
    within: usize,
    proved: usize,
    errors_hz: Vec<f64>,
}

/// Counts how well these rates are told; a wrong side is never let pass.
fn score(noise: f64, length_s: f64, rates: &[f64], change: impl Fn(&mut [Struck; 2])) -> Score {
    let mut score = Score::default();
    for (lower, ratio) in PAIRS {
        for signed_hz in rates.iter().flat_map(|rate| [*rate, -rate]) {
            let mut strings = beating(lower, ratio, signed_hz);
            change(&mut strings);
            let found = heard(wanted(lower, ratio), &strings, noise, length_s);
            let of = format!("{ratio:?} at {lower} beating {signed_hz}: {found:?}");
            score.all += 1;
            let Heard::Both { upper, beats, .. } = found else {
                continue;
            };
            if let Some(place) = upper {
                let off = 1200.0 * (place.hertz.get() / strings[1].partial(1)).log2();
                assert!(off.abs() < 1.0, "{off} cents: {of}");
            }
            if let Beats::Counted {
                rate_hz,
                margin_hz,
                sense,
            } = beats
            {
                let error = (rate_hz - signed_hz.abs()).abs();
                score.counted += 1;
                score.within += usize::from(error <= margin_hz);
                score.errors_hz.push(error);
                if let Some(sense) = sense {
                    assert_eq!(sense == Sense::Wide, signed_hz > 0.0, "{of}");
                    score.proved += 1;
                }
            }
        }
    }
    score.errors_hz.sort_by(f64::total_cmp);
    score
}

impl Score {
    fn check(&self, counted: usize, proved: usize, worst_hz: f64) {
        let worst = self.errors_hz.last().copied().unwrap_or(0.0);
        let told = format!(
            "{} of {} counted, {} within their margin, {} proved, worst {worst:.3}",
            self.counted, self.all, self.within, self.proved
        );
        println!("{told}");
        assert!(self.counted >= counted && self.proved >= proved, "{told}");
        assert!(20 * self.within >= 19 * self.counted, "{told}");
        assert!(worst <= worst_hz, "{told}");
    }
}

const RATES: [f64; 7] = [0.3, 0.6, 1.2, 2.5, 5.0, 8.0, 12.0];

#[test]
fn beats_are_counted_in_a_quiet_room() {
    // 70 pairs; noise 46 dB below the strings.
    // Within a second the slowest is not told from none in all of them.
    score(0.003, 1.3, &RATES, |_| {}).check(68, 68, 0.06);
    score(0.003, 2.8, &RATES, |_| {}).check(70, 70, 0.02);
}

#[test]
fn beats_are_counted_in_noise() {
    // 20 dB more of it.
    score(0.03, 2.5, &RATES, |_| {}).check(66, 66, 0.2);
}

#[test]
fn strings_that_are_unlike_and_struck_in_turn_are_counted() {
    let unlike = |strings: &mut [Struck; 2]| {
        strings[0].gain *= 0.4;
        strings[1].decay_s = 0.8;
        strings[1].at_s = 0.5;
    };
    score(0.003, 2.5, &RATES, unlike).check(66, 60, 0.1);
}

#[test]
fn a_stiff_piano_is_counted_by_what_really_beats() {
    let stiff = |strings: &mut [Struck; 2]| {
        // The shared partial stays where it was.
        for (string, stiffness) in strings.iter_mut().zip([2e-4, 3e-4]) {
            string.stiffness = stiffness;
        }
    };
    // Rates change with the stiffness, so only that nothing is wrongly proved is of interest.
    let sides =
        |strings: &[Struck; 2], (m, n): (u32, u32)| strings[1].partial(n) - strings[0].partial(m);
    for (lower, ratio) in PAIRS {
        for signed_hz in [-4.0, -1.5, 1.5, 4.0] {
            let mut strings = beating(lower, ratio, signed_hz);
            stiff(&mut strings);
            let truth = sides(&strings, ratio);
            let found = heard(wanted(lower, ratio), &strings, 0.003, 2.5);
            let Heard::Both { beats, .. } = found else {
                panic!("both sound: {found:?}")
            };
            let Beats::Counted {
                rate_hz,
                margin_hz,
                sense,
            } = beats
            else {
                panic!("{ratio:?} beats {truth}: {found:?}")
            };
            assert!(
                (rate_hz - truth.abs()).abs() <= margin_hz.max(0.1),
                "{truth}: {found:?}"
            );
            assert!(
                sense.is_none_or(|sense| (sense == Sense::Wide) == (truth > 0.0)),
                "{truth}: {found:?}"
            );
        }
    }
}

#[test]
fn a_pure_interval_has_no_beat() {
    for (lower, ratio) in PAIRS {
        let found = heard(
            wanted(lower, ratio),
            &beating(lower, ratio, 0.0),
            0.003,
            2.8,
        );
        let Heard::Both {
            beats: Beats::Still { within_hz },
            is_sure_of_both,
            ..
        } = found
        else {
            panic!("{ratio:?}: {found:?}")
        };
        assert!(within_hz < 0.35, "{ratio:?}: {found:?}");
        // Nothing in an octave tells whether the upper string sounds.
        assert_eq!(is_sure_of_both, ratio != (2, 1));
    }
}

#[test]
fn one_string_alone_is_told_and_where_it_lies() {
    for (lower, ratio) in PAIRS {
        let strings = beating(lower, ratio, 2.0);
        for (string, end) in strings.into_iter().zip([End::Lower, End::Upper]) {
            let found = heard(wanted(lower, ratio), &[string], 0.003, 2.0);
            if let (
                Heard::Both {
                    is_sure_of_both: false,
                    ..
                },
                (2, 1),
                End::Lower,
            ) = (found, ratio, end)
            {
                continue;
            }
            let Heard::One { end: told, place } = found else {
                panic!("{ratio:?} {end:?}: {found:?}")
            };
            assert_eq!(told, end, "{ratio:?}: {found:?}");
            let off = 1200.0 * (place.hertz.get() / string.partial(1)).log2();
            assert!(
                off.abs() < place.margin.get().max(0.3),
                "{ratio:?}: {off} {found:?}"
            );
        }
    }
}

#[test]
fn a_string_far_from_its_place_is_still_told() {
    for cents in [-60.0, -25.0, 25.0, 60.0] {
        let lower = 207.5;
        let strings = [lower, lower * 4.0 / 3.0 * 2_f64.powf(cents / 1200.0)].map(Struck::new);
        let found = heard(wanted(lower, (4, 3)), &strings, 0.003, 2.0);
        let Heard::Both {
            upper: Some(place), ..
        } = found
        else {
            panic!("{cents}: {found:?}")
        };
        assert!(
            (place.from_target.get() - cents).abs() < 1.0,
            "{cents}: {found:?}"
        );
    }
}

#[test]
fn while_a_pin_is_turned_the_figure_follows() {
    // Three beats a second become one within two seconds.
    let mut strings = beating(207.5, (4, 3), 3.0);
    strings[1].rises = -1.0 / 3.0;
    let found = heard(wanted(207.5, (4, 3)), &strings, 0.003, 2.3);
    let Heard::Both {
        upper: Some(place), ..
    } = found
    else {
        panic!("{found:?}")
    };
    let now = strings[1].partial(1) - 2.0 / 3.0;
    let off = 1200.0 * (place.hertz.get() / now).log2();
    // It looks back over the whole of it.
    assert!((0.0..4.0).contains(&off), "{off} {found:?}");
}

#[test]
fn noise_other_notes_and_nothing_are_quiet() {
    let pair = wanted(207.5, (4, 3));
    assert_eq!(heard(pair, &[], 0.0, 1.0), Heard::Quiet);
    for length_s in [0.8, 1.0, 1.3, 1.7, 2.2, 3.0] {
        assert_eq!(heard(pair, &[], 0.1, length_s), Heard::Quiet, "{length_s}");
    }
    assert_eq!(heard(pair, &[Struck::new(240.0)], 0.003, 2.0), Heard::Quiet);
    assert_eq!(
        heard(pair, &beating(207.5, (4, 3), 2.0), 0.003, 0.6),
        Heard::Quiet
    );
}

#[test]
fn a_note_that_is_taken_over_is_measured() {
    let alone = Wanted::One(Hertz::new(415.0).unwrap());
    let Heard::One { place, .. } = heard(alone, &[Struck::new(416.0)], 0.003, 2.0) else {
        panic!("a string sounds")
    };
    assert!((place.from_target.get() - 4.17).abs() < 0.3, "{place:?}");
}

#[test]
fn unfit_samples_are_silence() {
    let mut last = None;
    let rate = SampleRate::new(RATE).unwrap();
    let samples = (0..RATE).map(|n| if n % 3 == 0 { f32::NAN } else { f32::INFINITY });
    Hearing::new(wanted(200.0, (3, 2)), rate).push(samples, |heard| last = Some(heard));
    assert_eq!(last, Some(Heard::Quiet));
}
