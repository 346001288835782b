//! Beats between two tones at their nearest simple ratio.

use super::Ratio;
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
        .flat_map(|(m, n)| [octaves, octaves.saturating_sub(1)].map(|o| Ratio::new(m << o, n)))
        .map(|ratio| (ratio, interval - ratio.cents()))
        .filter(|(_, cents)| cents.abs() <= Cents::new(50.0))
        .min_by(|x, y| x.1.abs().get().total_cmp(&y.1.abs().get()))
        .map(|(ratio, cents)| Beat {
            of_lower: ratio.over(),
            of_upper: ratio.under(),
            signed_hz: ratio.beats_hz(upper, lower),
            cents,
        })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(lower_hz: f64, upper_hz: f64, expected: Option<(u32, u32, f64)>) {
        let beat = beat_between(Hertz::new(lower_hz).unwrap(), Hertz::new(upper_hz).unwrap());
        match (beat, expected) {
            (None, None) => {}
            (Some(beat), Some((m, n, hz))) => {
                assert_eq!((beat.of_lower, beat.of_upper), (m, n), "{beat:?}");
                assert!((beat.signed_hz - hz).abs() < 1e-9, "{beat:?}");
                assert_eq!(beat.cents.get() > 0.0, hz > 0.0);
            }
            _ => panic!("{lower_hz} {upper_hz}: {beat:?}"),
        }
    }

    #[test]
    fn the_nearest_simple_ratio_beats() {
        check(440.0, 441.0, Some((1, 1, 1.0)));
        check(200.0, 299.0, Some((3, 2, -2.0)));
        check(200.0, 401.0, Some((2, 1, 1.0)));
        check(200.0, 399.0, Some((2, 1, -1.0)));
        // Compounds: a tenth, a twelfth, two octaves and a fifth.
        check(200.0, 501.0, Some((5, 2, 2.0)));
        check(200.0, 601.0, Some((3, 1, 1.0)));
        check(200.0, 1199.0, Some((6, 1, -1.0)));
        // A tempered tone and a tritone are near no simple ratio.
        check(440.0, 493.883, None);
        check(440.0, 622.254, None);
    }

    #[test]
    fn the_order_of_the_tones_does_not_matter() {
        let (low, high) = (Hertz::new(220.0).unwrap(), Hertz::new(277.0).unwrap());
        assert_eq!(beat_between(low, high), beat_between(high, low));
    }
}
