//! Which partials of two strings are listened to: those they share and those each has for itself.

use super::Wanted;
use crate::units::SampleRate;

/// Partials of each string that are listened to at the most.
const MOST_OWN: usize = 5;
/// The highest partial that is tried.
const HIGHEST: u32 = 9;
/// Nearer than this a partial of the other string disturbs.
const APART_HZ: f64 = 38.0;
/// The highest frequency that is listened to.
const CEILING_HZ: f64 = 4_000.0;

/// Whose a band is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Role {
    /// The lower string's, for itself.
    Lower,
    /// The upper string's, for itself.
    Upper,
    /// Both have a partial here.
    Shared,
}

/// A frequency to listen to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Band {
    pub(super) role: Role,
    /// The partial's number; of a shared one the lower string's.
    pub(super) partial: u32,
    pub(super) centre_hz: f64,
}

/// What is listened to.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Sought {
    pub(super) wanted: Wanted,
    pub(super) bands: Vec<Band>,
}

impl Sought {
    pub(super) fn new(wanted: Wanted, rate: SampleRate) -> Self {
        let ceiling = CEILING_HZ.min(0.45 * rate.hz());
        let bands = match wanted {
            Wanted::One(hertz) => own(Role::Upper, hertz.get(), None, ceiling),
            Wanted::Two {
                lower,
                upper,
                ratio,
            } => {
                let (lower, upper) = (lower.get(), upper.get());
                let (of_lower, of_upper) = (f64::from(ratio.over()), f64::from(ratio.under()));
                let mut bands = own(Role::Lower, lower, Some(upper), ceiling);
                bands.extend(own(Role::Upper, upper, Some(lower), ceiling));
                bands.push(Band {
                    role: Role::Shared,
                    partial: ratio.over(),
                    centre_hz: f64::midpoint(of_lower * lower, of_upper * upper),
                });
                bands
            }
        };
        Self { wanted, bands }
    }
}

/// The partials of `hz` that no partial of `other` disturbs.
fn own(role: Role, hz: f64, other: Option<f64>, ceiling: f64) -> Vec<Band> {
    (1..=HIGHEST)
        .map(|partial| (partial, f64::from(partial) * hz))
        .filter(|(_, centre)| *centre < ceiling)
        .filter(|(_, centre)| {
            other.is_none_or(|other| {
                let nearest = (centre / other).round().max(1.0) * other;
                (centre - nearest).abs() >= APART_HZ
            })
        })
        .take(MOST_OWN)
        .map(|(partial, centre_hz)| Band {
            role,
            partial,
            centre_hz,
        })
        .collect()
}
