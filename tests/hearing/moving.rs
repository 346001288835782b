//! Tones whose pitch moves in a known way: vibrato and drift.

use std::f64::consts::TAU;
use std::io::Write;

use concento::analysis::Reading;

use super::columns::{Table, number, percent, section};
use super::ear::{RATE_HZ, cents_above, hear, rate};
use super::statistics::{mean, median, quantile};
use super::tones::{Tone, noisy};

const PITCHES_HZ: [f64; 6] = [65.4, 98.0, 196.0, 293.7, 440.0, 880.0];
/// Signal over noise in decibels.
const SNR_DB: f64 = 50.0;
/// Length of each tone, and from when on it is read, in seconds.
const LENGTH_S: f64 = 5.0;
const SETTLED_S: f64 = 1.2;
/// Vibrato: swings a second, and cents to each side.
const SWINGS_HZ: f64 = 5.5;
const EXTENT: f64 = 15.0;
/// Drift in cents a second.
const DRIFT: f64 = 5.0;

/// Prints both tables.
pub(crate) fn print(out: &mut dyn Write) -> anyhow::Result<()> {
    vibrato(out)?;
    drift(out)
}

fn readings(tone: &Tone) -> Vec<Reading> {
    let samples = tone.samples(RATE_HZ, LENGTH_S);
    let samples = noisy(samples, tone.hz as u64, tone.noise_deviation(SNR_DB));
    let mut readings = hear(&samples, rate());
    readings.retain(|reading| reading.time.get() > SETTLED_S);
    readings
}

/// Errors in cents against the pitch at the stated moment.
fn errors(tone: &Tone, readings: &[Reading]) -> Vec<f64> {
    let error = |reading: &Reading| cents_above(reading, tone.hz_at(reading.time.get()));
    readings.iter().filter_map(error).collect()
}

fn vibrato(out: &mut dyn Write) -> anyhow::Result<()> {
    section(
        out,
        "Vibrato",
        &format!(
            "{SWINGS_HZ} swings a second, {EXTENT} cents to each side, {SNR_DB} dB over \
             noise. track: readings against the pitch at their stated time; centre: what is \
             said of the last second against the true centre; told: share of readings that \
             come with a vibrato; swing and rate: what is then said of it (medians)."
        ),
    )?;
    let mut table = Table::new(&[
        "pitch",
        "voiced %",
        "track median c",
        "p95 c",
        "centre median c",
        "p95 c",
        "told %",
        "swing c",
        "rate Hz",
    ]);
    for hz in PITCHES_HZ {
        let tone = Tone {
            cents: |time_s| EXTENT * (TAU * SWINGS_HZ * time_s).sin(),
            ..Tone::steady(hz)
        };
        let readings = readings(&tone);
        let track = errors(&tone, &readings);
        let motions = || readings.iter().filter_map(|reading| reading.motion);
        let centres = || motions().map(|m| (1200.0 * (m.centre.get() / hz).log2()).abs());
        let told = || motions().filter_map(|motion| motion.vibrato);
        let share = |count: usize| Some(count as f64 / readings.len().max(1) as f64);
        table.row([
            format!("{hz} Hz"),
            percent(share(track.len())),
            number(median(track.iter().map(|c| c.abs())), 2),
            number(quantile(track.iter().map(|c| c.abs()), 0.95), 2),
            number(median(centres()), 2),
            number(quantile(centres(), 0.95), 2),
            percent(share(told().count())),
            number(median(told().map(|v| v.extent.get())), 1),
            number(median(told().map(|v| v.rate_hz)), 2),
        ]);
    }
    writeln!(out, "{table}")?;
    Ok(())
}

fn drift(out: &mut dyn Write) -> anyhow::Result<()> {
    section(
        out,
        "Drift",
        &format!(
            "Rising by {DRIFT} cents a second, {SNR_DB} dB over noise. behind: how long ago \
             the tone had the pitch that a reading says, at the moment it is there; of that, \
             half the window is known from its stated time, and the rest is its error (+ is \
             late). told: the drift that is said of the last second (median)."
        ),
    )?;
    let mut table = Table::new(&[
        "pitch",
        "behind ms",
        "half window ms",
        "error ms",
        "track median c",
        "told c/s",
    ]);
    for hz in PITCHES_HZ {
        let tone = Tone {
            cents: |time_s| DRIFT * time_s,
            ..Tone::steady(hz)
        };
        let readings = readings(&tone);
        let track = errors(&tone, &readings);
        let pitched = || readings.iter().filter(|reading| reading.pitch.is_ok());
        let half_ms = mean(pitched().map(|r| 1000.0 * (r.available.get() - r.time.get())));
        let error_ms = median(track.iter().map(|error| -1000.0 * error / DRIFT));
        let behind_ms = median(pitched().filter_map(|reading| {
            let now_hz = tone.hz_at(reading.available.get());
            Some(-1000.0 * cents_above(reading, now_hz)? / DRIFT)
        }));
        let told = readings.iter().filter_map(|reading| reading.motion);
        table.row([
            format!("{hz} Hz"),
            number(behind_ms, 1),
            number(half_ms, 1),
            number(error_ms, 1),
            number(median(track.iter().map(|c| c.abs())), 3),
            number(median(told.map(|m| m.drift_per_second.get())), 2),
        ]);
    }
    writeln!(out, "{table}")?;
    Ok(())
}
