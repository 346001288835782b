//! Strings made up with stiffness, decay and noise, at many rates, against what was made.

use std::f64::consts::TAU;

use super::*;

const RATE: u32 = 48_000;

/// A string that is struck.
#[derive(Clone, Copy)]
struct Struck {
    hz: f64,
    stiffness: f64,
    at_s: f64,
    /// Seconds in which its lowest partial falls to a third; higher ones fall faster.
    decay_s: f64,
    gain: f64,
}

impl Struck {
    fn new(hz: f64) -> Self {
        Self {
            hz,
            stiffness: 2e-5,
            at_s: 0.3,
            decay_s: 1.5,
            gain: 0.1,
        }
    }

    fn partial(&self, number: u32) -> f64 {
        let k = f64::from(number);
        k * self.hz * (1.0 + self.stiffness * k * k).sqrt()
    }

    fn sample(&self, time: f64) -> f64 {
        let since = time - self.at_s;
        if since < 0.0 {
            return 0.0;
        }
        (1..=10)
            .map(|number| {
                let k = f64::from(number);
                let fallen = (-since * (0.7 + 0.3 * k) / self.decay_s).exp();
                let gain = self.gain / k.powf(0.8) * fallen * (1.0 - (-since * 400.0).exp());
                gain * (TAU * self.partial(number) * since + 1.7 * k).sin()
            })
            .sum()
    }
}

/// The last thing heard at `at_s`.
fn heard(wanted: Wanted, strings: &[Struck], noise: f64, at_s: f64) -> Heard {
    let mut random = fastrand::Rng::with_seed(7);
    let frames = (at_s * f64::from(RATE)) as usize;
    let sound = (0..frames).map(|n| {
        let time = n as f64 / f64::from(RATE);
        let strings: f64 = strings.iter().map(|s| s.sample(time)).sum();
        (strings + noise * (random.f64() - 0.5)) as f32
    });
    let mut last = Heard::Quiet;
    let rate = SampleRate::new(RATE).unwrap();
    Hearing::new(wanted, rate).push(sound, |heard| last = heard);
    last
}

fn wanted(lower: f64, upper: f64, ratio: (u32, u32)) -> Wanted {
    Wanted::Two {
        lower: Hertz::new(lower).unwrap(),
        upper: Hertz::new(upper).unwrap(),
        ratio: Ratio::new(ratio.0, ratio.1),
    }
}

/// Lower strings of the intervals of a sheet.
const PAIRS: [(f64, (u32, u32)); 6] = [
    (185.2, (3, 2)),
    (207.5, (4, 3)),
    (165.3, (5, 4)),
    (247.5, (5, 4)),
    (310.0, (4, 3)),
    (207.5, (2, 1)),
];

/// Signed beats, and the strings that make them.
fn beating(lower: f64, (m, n): (u32, u32), signed_hz: f64) -> (f64, [Struck; 2]) {
    let low = Struck::new(lower);
    let mut high = Struck::new(lower * f64::from(m) / f64::from(n));
    high.stiffness = 3e-5;
    // The upper string's shared partial, moved to where it makes the beats.
    let wanted = low.partial(m) + signed_hz;
    high.hz *= wanted / high.partial(n);
    (high.hz, [low, high])
}

struct Score {
    worst_hz: f64,
    within: usize,
    proved: usize,
    counted: usize,
    all: usize,
}

fn score(noise: f64, at_s: f64, rates: &[f64]) -> Score {
    let mut score = Score {
        worst_hz: 0.0,
        within: 0,
        proved: 0,
        counted: 0,
        all: 0,
    };
    for (lower, ratio) in PAIRS {
        for rate in rates.iter().flat_map(|rate| [*rate, -rate]) {
            let (upper, strings) = beating(lower, ratio, rate);
            // It is sought where it is pure: a few cents from where it sounds.
            let pure = lower * f64::from(ratio.0) / f64::from(ratio.1);
            let found = heard(wanted(lower, pure, ratio), &strings, noise, at_s);
            score.all += 1;
            let of = format!("{ratio:?} at {lower} beating {rate}: {found:?}");
            let Heard::Both {
                upper: place,
                beats,
                ..
            } = found
            else {
                println!("not both: {of}");
                continue;
            };
            if let Some(place) = place {
                let truth = strings[1].partial(1);
                let off = 1200.0 * (place.hertz.get() / truth).log2();
                assert!(off.abs() < 1.5, "{off} cents: {of} {upper}");
            }
            let Beats::Counted {
                rate_hz,
                margin_hz,
                sense,
            } = beats
            else {
                println!("not counted: {of}");
                continue;
            };
            score.counted += 1;
            let error = (rate_hz - rate.abs()).abs();
            if error > margin_hz {
                println!("outside {error}: {of}");
            }
            score.within += usize::from(error <= margin_hz);
            score.worst_hz = score.worst_hz.max(error);
            if let Some(sense) = sense {
                score.proved += 1;
                assert_eq!(sense == Sense::Wide, rate > 0.0, "{of}");
            }
        }
    }
    println!(
        "noise {noise} after {at_s} s: worst {:.3}, within {} counted {} of {}, proved {}",
        score.worst_hz, score.within, score.counted, score.all, score.proved
    );
    score
}

#[test]
fn beats_are_counted() {
    let rates = [0.3, 0.5, 0.8, 1.2, 1.7, 2.5, 4.0, 6.0, 9.0, 12.0];
    for noise in [0.0001, 0.003, 0.02] {
        for at_s in [1.3, 2.0, 3.0] {
            score(noise, at_s, &rates);
        }
    }
}
