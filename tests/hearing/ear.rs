//! Runs the estimator over samples and holds its readings against the truth.

use concento::analysis::{Estimator, Reading};
use concento::units::SampleRate;

/// The rate of the tones made here, in hertz.
pub(crate) const RATE_HZ: u32 = 48_000;
/// An error beyond this is a wrong note, in cents.
pub(crate) const GROSS: f64 = 50.0;

/// The rate of the tones made here.
pub(crate) fn rate() -> SampleRate {
    SampleRate::new(RATE_HZ).expect("48 kHz is a usable rate")
}

/// All readings of `samples`.
pub(crate) fn hear(samples: &[f32], rate: SampleRate) -> Vec<Reading> {
    let mut readings = Vec::new();
    Estimator::new(rate).push(samples.iter().copied(), |reading| readings.push(*reading));
    readings
}

/// How many cents the reading lies above `hz`; none without pitch.
pub(crate) fn cents_above(reading: &Reading, hz: f64) -> Option<f64> {
    let pitch = reading.pitch.ok()?;
    Some(1200.0 * (pitch.hertz.get() / hz).log2())
}

/// The time from a note's onset to the first of three readings in a row within `tolerance`
/// cents of the truth, counted at the moment a live program could show it, in seconds.
pub(crate) fn latency_s(
    readings: &[Reading],
    onset_s: f64,
    tolerance: f64,
    truth_hz: impl Fn(f64) -> f64,
) -> Option<f64> {
    let near = |reading: &Reading| {
        cents_above(reading, truth_hz(reading.time.get())).is_some_and(|c| c.abs() <= tolerance)
    };
    let near: Vec<bool> = readings.iter().map(near).collect();
    let runs = near.windows(3).take(readings.len().saturating_sub(3));
    readings
        .iter()
        .zip(runs)
        .find(|(reading, run)| {
            reading.available.get() > onset_s && run.iter().all(|within| *within)
        })
        .map(|(reading, _)| reading.available.get() - onset_s)
}
