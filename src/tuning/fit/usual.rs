//! The levels that are usual.

use crate::units::{Cents, Hertz};

/// A level that musicians have a name for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct UsualStandard {
    /// A4 in hertz.
    pub a4_hz: f64,
    /// What it is called.
    pub name: &'static str,
}

const fn of(a4_hz: f64, name: &'static str) -> UsualStandard {
    UsualStandard { a4_hz, name }
}

/// Common practice but for the last two: 440 Hz by ISO 16:1975; 435 Hz, France 1859, from memory.
const USUAL: [UsualStandard; 9] = [
    of(392.0, "French opera pitch"),
    of(415.0, "Cammerton, the usual low pitch"),
    of(430.0, "classical pitch"),
    of(442.0, "modern orchestral pitch"),
    of(460.0, "a low Chorton"),
    of(465.0, "Cornet-ton, mezzo punto"),
    of(466.0, "Chorton"),
    of(440.0, "standard pitch of today"),
    of(435.0, "diapason normal"),
];

/// The usual level nearest to `a4`, and how far `a4` lies above it.
pub fn usual_standard(a4: Hertz) -> (UsualStandard, Cents) {
    let above = |usual: &UsualStandard| {
        Hertz::new(usual.a4_hz).map_or(Cents::new(f64::INFINITY), |hertz| a4.above(hertz))
    };
    let nearest = USUAL
        .iter()
        .min_by(|a, b| above(a).abs().get().total_cmp(&above(b).abs().get()))
        .unwrap_or(&USUAL[0]);
    (*nearest, above(nearest))
}
