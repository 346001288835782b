//! Pitches that may be voices: peaks near a place.

use super::heard::{Company, Place};
use super::span::Span;
use super::trail::cents_between;

/// How far from its place a voice may stand, in cents.
const REACH: f64 = 48.0;
/// Peaks nearer than this are one candidate.
const APART: f64 = 12.0;
/// A peak counts so far above the floor, and so far above the strongest of its own
/// multiples, in power.
const OVER_FLOOR: f64 = 10.0;
const UNDER_STRONGEST: f64 = 6.3e-4;
/// Below this a fundamental may be too weak to be a peak, in hertz.
const WEAK_BELOW_HZ: f64 = 200.0;

/// A pitch that may be a voice.
#[derive(Debug, Clone, Copy)]
pub(super) struct Candidate {
    pub(super) hz: f64,
    pub(super) place: usize,
}

/// Whether two frequencies lie at least so many cents apart.
pub(super) fn far(hz: f64, other_hz: f64, cents: f64) -> bool {
    cents_between(hz, other_hz).abs() >= cents
}

/// The place nearest to `hz`, if one is near.
pub(super) fn nearest(places: &[Place], hz: f64) -> Option<usize> {
    places
        .iter()
        .enumerate()
        .map(|(index, place)| (index, cents_between(hz, place.hertz.get()).abs()))
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .filter(|(_, cents)| *cents <= REACH)
        .map(|(index, _)| index)
}

/// Peaks near a place that can be a fundamental; and low fundamentals that are no peaks
/// themselves, but whose multiples are.
pub(super) fn candidates(span: &Span, places: &[Place]) -> Vec<Candidate> {
    let peaks = span.peaks();
    let strongest = |hz: f64| {
        peaks
            .iter()
            .filter(|peak| {
                let number = (peak.hz / hz).round();
                (1.0..=12.0).contains(&number) && !far(peak.hz, number * hz, 25.0)
            })
            .fold(0.0_f64, |most, peak| most.max(peak.power))
    };
    let sounds = |hz: f64| {
        peaks
            .iter()
            .any(|peak| (peak.hz - hz).abs() < 0.6 * span.bin_hz() + 0.006 * hz)
    };
    let mut found: Vec<Candidate> = Vec::new();
    let mut add = |hz: f64, weak: bool| {
        if let Some(place) = nearest(places, hz)
            && (!weak || places[place].company == Company::Others)
            && found.iter().all(|other| far(other.hz, hz, APART))
        {
            found.push(Candidate { hz, place });
        }
    };
    for peak in &peaks {
        if peak.power > OVER_FLOOR * peak.floor && peak.power > UNDER_STRONGEST * strongest(peak.hz)
        {
            add(peak.hz, false);
        }
    }
    for peak in &peaks {
        for number in [2.0, 3.0] {
            let hz = peak.hz / number;
            if hz < WEAK_BELOW_HZ
                && [2.0, 3.0, 5.0].iter().all(|n| sounds(n * hz))
                && (sounds(4.0 * hz) || sounds(7.0 * hz))
            {
                add(hz, true);
            }
        }
    }
    found
}
