//! Beats between two tones at their nearest simple ratio.

use crate::units::{Cents, Hertz};

/// The pure ratios a pair of tones is measured against, within the octave, simplest first.
const RATIOS: [(u32, u32); 9] = [
    (1, 1),
    (2, 1),
    (3, 2),
    (4, 3),
    (5, 3),
    (5, 4),
    (6, 5),
    (8, 5),
    (7, 4),
];

/// How two tones beat.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Beat {
    /// The partial of the lower tone that meets the upper's.
    pub of_lower: u32,
    /// The partial of the upper tone that meets the lower's.
    pub of_upper: u32,
    /// Beats a second, signed: positive when the interval is wide of pure, negative when
    /// narrow.
    pub signed_hz: f64,
    /// How far the interval is from pure; positive is wide.
    pub cents: Cents,
}

impl Beat {
    /// Beats a second.
    pub fn rate_hz(&self) -> f64 {
        self.signed_hz.abs()
    }
}

/// The beats of two tones at their nearest simple ratio, or `None` where the interval lies
/// more than 50 cents from each of them. Compound intervals count (2:1 above a third is 5:2).
///
/// With the lower tone's partial m meeting the upper's partial n, the rate is
/// n f(upper) - m f(lower): definition.
pub fn beat_between(a: Hertz, b: Hertz) -> Option<Beat> {
    let (lower, upper) = if a <= b { (a, b) } else { (b, a) };
    let interval = upper.above(lower);
    let octaves = (interval.get() / 1200.0).floor().clamp(0.0, 8.0) as u32;
    RATIOS
        .into_iter()
        .flat_map(|(m, n)| [octaves, octaves.saturating_sub(1)].map(|o| lowest(m << o, n)))
        .map(|(m, n)| (m, n, interval - Cents::of_ratio(f64::from(m), f64::from(n))))
        .filter(|(_, _, cents)| cents.abs() <= Cents::new(50.0))
        .min_by(|x, y| x.2.abs().get().total_cmp(&y.2.abs().get()))
        .map(|(m, n, cents)| Beat {
            of_lower: m,
            of_upper: n,
            signed_hz: f64::from(n) * upper.get() - f64::from(m) * lower.get(),
            cents,
        })
}

fn lowest(m: u32, n: u32) -> (u32, u32) {
    let (mut a, mut b) = (m, n);
    while b != 0 {
        (a, b) = (b, a % b);
    }
    (m / a, n / a)
}
