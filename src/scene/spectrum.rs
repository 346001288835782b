//! What each kind of instrument sounds like: its partials, its noise and its unsteadiness.
//!
//! The figures are chosen by ear and from memory of published spectra. They are to be
//! plausible for a pitch estimator (weak fundamentals, formants, bow noise), no more.

use serde::{Deserialize, Serialize};

use crate::units::Hertz;

/// A kind of sound.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Sound {
    /// Natural trumpet, sackbut, cornett.
    Brass,
    /// Gut strings under a bow.
    Bowed,
    /// Dulcian, bassoon, shawm: a double reed with a weak fundamental.
    Reed,
    /// Flue pipes: steady to the last digit.
    Organ,
    /// Harpsichord, lute: stiff strings that die away.
    Plucked,
    /// A singer on an open vowel.
    Voice,
}

/// How a sound begins, ends and wavers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Manner {
    /// Time to build up, in seconds.
    pub(super) attack_s: f64,
    /// Time to die after the note, in seconds.
    pub(super) release_s: f64,
    /// RMS of the slow random movement of the pitch, in cents.
    pub(super) wander_cents: f64,
    /// RMS of the slow random movement of the level, in decibels.
    pub(super) shimmer_db: f64,
    /// How far below its place a note begins, in cents, and how fast it gets there.
    pub(super) scoop_cents: f64,
    pub(super) scoop_s: f64,
    /// Breath or bow noise relative to the note, in decibels.
    pub(super) noise_db: f64,
    /// The same at the very start, where tongue, bow or quill are heard.
    pub(super) onset_noise_db: f64,
}

impl Sound {
    /// How it begins, ends and wavers.
    pub(super) fn manner(self) -> Manner {
        let manner = |attack_s, release_s, wander_cents, shimmer_db| Manner {
            attack_s,
            release_s,
            wander_cents,
            shimmer_db,
            scoop_cents: 0.0,
            scoop_s: 0.05,
            noise_db: -40.0,
            onset_noise_db: -26.0,
        };
        match self {
            Self::Brass => Manner {
                scoop_cents: 8.0,
                scoop_s: 0.03,
                ..manner(0.045, 0.09, 1.2, 0.2)
            },
            Self::Bowed => Manner {
                noise_db: -34.0,
                onset_noise_db: -20.0,
                ..manner(0.08, 0.12, 1.3, 0.3)
            },
            Self::Reed => manner(0.04, 0.07, 1.1, 0.2),
            Self::Organ => Manner {
                noise_db: -46.0,
                onset_noise_db: -24.0,
                ..manner(0.06, 0.05, 0.0, 0.0)
            },
            Self::Plucked => Manner {
                noise_db: -120.0,
                onset_noise_db: -22.0,
                ..manner(0.002, 0.06, 0.0, 0.0)
            },
            Self::Voice => Manner {
                scoop_cents: 25.0,
                scoop_s: 0.06,
                ..manner(0.09, 0.12, 2.0, 0.3)
            },
        }
    }

    /// The most partials it is given.
    pub(super) fn most_partials(self) -> usize {
        match self {
            Self::Organ => 16,
            Self::Brass | Self::Bowed | Self::Plucked | Self::Voice => 32,
            Self::Reed => 40,
        }
    }

    /// Stiffness B: partial n lies at n sqrt((1 + B n^2) / (1 + B)) times the first one.
    pub(super) fn inharmonicity(self) -> f64 {
        match self {
            Self::Plucked => 5e-5,
            Self::Brass | Self::Bowed | Self::Reed | Self::Organ | Self::Voice => 0.0,
        }
    }

    /// Where partial `n` lies as a multiple of the first.
    pub(super) fn partial_ratio(self, n: usize) -> f64 {
        let b = self.inharmonicity();
        let n = n as f64;
        n * ((1.0 + b * n * n) / (1.0 + b)).sqrt()
    }

    /// Time in which partial `n` of a note at `hz` dies away by 60 dB, in seconds; `None`
    /// for sounds that are kept up.
    pub(super) fn decay_s(self, n: usize, hz: f64) -> Option<f64> {
        match self {
            // Long in the bass, short in the treble, and shorter for higher partials.
            Self::Plucked => Some(9.0 * (110.0 / hz).sqrt() / (1.0 + 0.12 * (n - 1) as f64)),
            Self::Brass | Self::Bowed | Self::Reed | Self::Organ | Self::Voice => None,
        }
    }

    /// Relative amplitude of partial `n`, sounding at `hz`, when played softly (0) to
    /// loudly (1). Never zero for the first partial.
    pub(crate) fn amplitude(self, n: usize, hz: Hertz, loud: f64) -> f64 {
        let hz = hz.get();
        let n_f = n as f64;
        match self {
            // Even up to a limit that climbs with loudness, then falling steeply.
            Self::Brass => {
                let limit = 900.0 + 1_900.0 * loud;
                let low = (hz / 500.0).min(1.0).sqrt();
                low / (1.0 + (hz / limit).powi(4)).sqrt()
            }
            // A sawtooth coloured by a body.
            Self::Bowed => {
                let tilt = n_f.powf(1.1 - 0.3 * loud);
                let body = 1.0
                    + 0.5 * hump(hz, 280.0, 0.25)
                    + 0.5 * hump(hz, 480.0, 0.25)
                    + 1.0 * hump(hz, 2_600.0, 0.5);
                body / tilt / (1.0 + (hz / 5_000.0).powi(4)).sqrt()
            }
            Self::Reed => {
                let formants = 0.12
                    + hump(hz, 480.0, 0.45)
                    + (0.25 + 0.3 * loud) * hump(hz, 1_200.0, 0.35)
                    + 0.1 * loud * hump(hz, 2_500.0, 0.4);
                formants / (1.0 + (hz / 3_500.0).powi(4)).sqrt()
            }
            // An open principal with a little less of the even partials.
            Self::Organ => {
                let even = if n.is_multiple_of(2) { 0.6 } else { 1.0 };
                even / n_f.powf(1.5)
            }
            // Plucked at about a seventh of the string.
            Self::Plucked => {
                let place = (std::f64::consts::PI * n_f * 0.137).sin().abs();
                (place + 0.02) / n_f.powf(1.0 - 0.3 * loud)
            }
            Self::Voice => {
                let vowel = 0.15
                    + hump(hz, 680.0, 0.35)
                    + 0.6 * hump(hz, 1_120.0, 0.25)
                    + (0.1 + 0.2 * loud) * hump(hz, 2_700.0, 0.2);
                vowel / n_f.powf(0.9 - 0.3 * loud)
            }
        }
    }
}

/// A resonance at `centre`, `width` octaves wide (standard deviation).
fn hump(hz: f64, centre: f64, width: f64) -> f64 {
    let octaves = (hz / centre).log2() / width;
    (-0.5 * octaves * octaves).exp()
}
