//! Plucked strings, whose stiffness stretches their partials.

use std::io::Write;

use super::columns::{Table, milliseconds, number, percent, section};
use super::ear::{RATE_HZ, cents_above, hear, latency_s, rate};
use super::statistics::{median, quantile};
use super::tones::{Tone, noisy};

const STIFFNESSES: [f64; 2] = [1e-4, 5e-4];
const PITCHES_HZ: [f64; 5] = [65.4, 98.0, 196.0, 330.0, 587.3];
const SNR_DB: f64 = 50.0;
/// The note: when it is plucked, how fast it dies away, and what of it is scored, in seconds.
const ONSET_S: f64 = 0.2;
const DECAY_S: f64 = 0.8;
const SCORED_S: [f64; 2] = [0.35, 1.65];

/// Prints the table.
pub(crate) fn print(out: &mut dyn Write) -> anyhow::Result<()> {
    section(
        out,
        "Plucked strings",
        &format!(
            "Partial n at n f sqrt(1 + B n^2), the first falling to 1/e in {DECAY_S} s and \
             higher ones faster, {SNR_DB} dB over noise at the onset; from 0.15 s after the \
             onset against the first partial. B: what is said of it (median)."
        ),
    )?;
    let mut table = Table::new(&[
        "B", "pitch", "voiced %", "median c", "p95 c", "3 c ms", "1 c ms", "B said",
    ]);
    for stiffness in STIFFNESSES {
        for hz in PITCHES_HZ {
            let tone = Tone {
                inharmonicity: stiffness,
                decay_s: DECAY_S,
                onset_s: ONSET_S,
                ..Tone::steady(hz)
            };
            let samples = tone.samples(RATE_HZ, SCORED_S[1] + 0.25);
            let samples = noisy(samples, hz as u64, tone.noise_deviation(SNR_DB));
            let readings = hear(&samples, rate());
            let held = readings
                .iter()
                .filter(|r| (SCORED_S[0]..=SCORED_S[1]).contains(&r.time.get()));
            let errors = || held.clone().filter_map(|r| Some(cents_above(r, hz)?.abs()));
            let said = held
                .clone()
                .filter_map(|r| Some(r.pitch.ok()?.inharmonicity));
            let voiced = errors().count() as f64 / held.clone().count().max(1) as f64;
            table.row([
                format!("{stiffness:e}"),
                format!("{hz} Hz"),
                percent(Some(voiced)),
                number(median(errors()), 2),
                number(quantile(errors(), 0.95), 2),
                milliseconds(latency_s(&readings, ONSET_S, 3.0, |_| hz)),
                milliseconds(latency_s(&readings, ONSET_S, 1.0, |_| hz)),
                median(said).map_or_else(|| "-".to_owned(), |b| format!("{b:.1e}")),
            ]);
        }
    }
    writeln!(out, "{table}")?;
    Ok(())
}
