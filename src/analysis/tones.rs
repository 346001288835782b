//! Tones of exactly known pitch, for the tests.

use std::f64::consts::TAU;

/// A tone made of sines.
#[derive(Clone)]
pub(super) struct Tone {
    /// Frequency of the first partial at a moment, in hertz.
    pub(super) hz: fn(f64, f64) -> f64,
    /// What `hz` is given besides the time.
    pub(super) base_hz: f64,
    /// Amplitudes of the partials from the first.
    pub(super) partials: Vec<f64>,
    /// Inharmonicity coefficient.
    pub(super) inharmonicity: f64,
    /// Silence before the tone, in seconds.
    pub(super) onset_s: f64,
}

impl Tone {
    /// A steady tone with partials falling by `slope_db` an octave.
    pub(super) fn steady(base_hz: f64, slope_db: f64) -> Self {
        let count = ((7_000.0 / base_hz) as usize).clamp(1, 30);
        let partials = (1..=count)
            .map(|n| 0.1 * 10_f64.powf(slope_db * (n as f64).log2() / 20.0))
            .collect();
        Self {
            hz: |hz, _| hz,
            base_hz,
            partials,
            inharmonicity: 0.0,
            onset_s: 0.0,
        }
    }

    /// The tone's sound at `rate`.
    pub(super) fn samples(&self, rate: f64, seconds: f64) -> Vec<f32> {
        let mut phase = 0.0;
        let mut out = Vec::new();
        for i in 0..(rate * seconds) as usize {
            let t = i as f64 / rate - self.onset_s;
            if t < 0.0 {
                out.push(0.0);
                continue;
            }
            let mut sum = 0.0;
            for (n, amplitude) in (1..).zip(&self.partials) {
                let n = f64::from(n);
                let b = self.inharmonicity;
                let stretch = n * ((1.0 + b * n * n) / (1.0 + b)).sqrt();
                if stretch * self.base_hz < 0.45 * rate {
                    // Phases differ between partials so that the crests do not pile up.
                    sum += amplitude * (phase * stretch + n * n).sin();
                }
            }
            phase += TAU * (self.hz)(self.base_hz, t) / rate;
            out.push(sum as f32);
        }
        out
    }
}

/// White noise of a given standard deviation (12 uniform numbers make a normal one).
pub(super) fn noise(seed: u64, deviation: f64, count: usize) -> Vec<f32> {
    let mut rng = fastrand::Rng::with_seed(seed);
    (0..count)
        .map(|_| (deviation * ((0..12).map(|_| rng.f64()).sum::<f64>() - 6.0)) as f32)
        .collect()
}

/// Two sounds at once.
pub(super) fn mixed(a: &[f32], b: &[f32]) -> Vec<f32> {
    assert_eq!(a.len(), b.len());
    a.iter().zip(b).map(|(a, b)| a + b).collect()
}
