//! Sounds for measuring cost: each a second at 48 kHz that can be repeated.

use super::tones::{Tone, noise, noisy};

/// The rate of all of them, in hertz.
pub(crate) const RATE_HZ: u32 = 48_000;

/// What sounds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Sound {
    /// Nothing.
    Silence,
    /// A held C2 (65 Hz).
    Low,
    /// A held D4 (294 Hz).
    Mid,
    /// A held A5 (880 Hz).
    High,
    /// Breath: noise that falls off above about 1 kHz and swells four times a second.
    Breath,
    /// Eight notes a second, up and down from 98 to 784 Hz.
    Run,
}

impl Sound {
    /// All of them.
    pub(crate) const ALL: [Self; 6] = [
        Self::Silence,
        Self::Low,
        Self::Mid,
        Self::High,
        Self::Breath,
        Self::Run,
    ];

    /// The word for it.
    pub(crate) fn word(self) -> &'static str {
        match self {
            Self::Silence => "silence",
            Self::Low => "low",
            Self::Mid => "mid",
            Self::High => "high",
            Self::Breath => "breath",
            Self::Run => "run",
        }
    }

    /// One second of it.
    pub(crate) fn second(self) -> Vec<f32> {
        match self {
            Self::Silence => vec![0.0; RATE_HZ as usize],
            // Whole hertz, so that one second joins the next without a step.
            Self::Low => held(65.0, 1.0),
            Self::Mid => held(294.0, 1.0),
            Self::High => held(880.0, 1.0),
            Self::Breath => breath(),
            Self::Run => {
                let notes = [98.0, 147.0, 196.0, 294.0, 392.0, 587.0, 784.0, 294.0];
                notes.map(|hz| held(hz, 1.0 / 8.0)).concat()
            }
        }
    }
}

/// A note 50 dB above noise.
fn held(hz: f64, seconds: f64) -> Vec<f32> {
    let tone = Tone::steady(hz);
    let deviation = tone.noise_deviation(50.0);
    noisy(tone.samples(RATE_HZ, seconds), hz as u64, deviation)
}

fn breath() -> Vec<f32> {
    let mut smooth = 0.0;
    let rate_hz = f64::from(RATE_HZ);
    let fall = 1.0 - (-std::f64::consts::TAU * 1_000.0 / rate_hz).exp();
    (0..RATE_HZ)
        .zip(noise(5, 0.1))
        .map(|(i, white)| {
            smooth += fall * (f64::from(white) - smooth);
            let turn = 4.0 * std::f64::consts::TAU * f64::from(i) / rate_hz;
            (smooth * (0.6 + 0.4 * turn.sin())) as f32
        })
        .collect()
}
