//! Steady tones in white noise against the least error that any estimator can have.

use std::io::Write;

use concento::analysis::window_lengths;

use super::columns::{Table, section};
use super::ear::{GROSS, RATE_HZ, cents_above, hear, rate};
use super::statistics::{mean, root_mean_square};
use super::tones::{Tone, noisy};

const PITCHES_HZ: [f64; 6] = [55.0, 98.0, 196.0, 330.0, 440.0, 880.0];
const LEVELS_DB: [f64; 6] = [10.0, 20.0, 30.0, 40.0, 50.0, 60.0];
/// Length of each tone, and from when on it is read, in seconds.
const LENGTH_S: f64 = 3.0;
const SETTLED_S: f64 = 0.5;

/// One tone in one noise.
struct Cell {
    /// Root mean square error in cents without gross ones.
    error: Option<f64>,
    /// The bound in cents for the window that measured.
    bound: Option<f64>,
    /// The bound in cents for all samples averaged.
    bound_of_span: Option<f64>,
    /// Samples of the window that measured.
    window: Option<f64>,
    /// Share of readings without pitch or with a gross error.
    lost: f64,
}

/// Prints the table.
pub(crate) fn print(out: &mut dyn Write) -> anyhow::Result<()> {
    section(
        out,
        "Steady tones in white noise",
        &format!(
            "Harmonic tones, partials falling by 6 dB an octave up to 7 kHz, at so many dB \
             over white noise from 0 to 24 kHz; {LENGTH_S} s each, read from {SETTLED_S} s \
             on. Root mean square error in cents, and in brackets how many times the \
             Cramer-Rao bound that is, var(w) = 24 s^2 / (N^3 sum k^2 A_k^2) in \
             (rad/sample)^2, first with N the window that measured, then with N all samples \
             that the reading averages (twice the time from its centre to the moment of the \
             reading). A share without pitch or wrong by over 50 cents follows a !."
        ),
    )?;
    let heads: Vec<String> = LEVELS_DB.iter().map(|db| format!("{db} dB")).collect();
    let heads = ["pitch", "window ms"]
        .into_iter()
        .chain(heads.iter().map(String::as_str));
    let mut table = Table::new(&heads.collect::<Vec<_>>());
    for hz in PITCHES_HZ {
        let cells: Vec<Cell> = LEVELS_DB.iter().map(|db| measure(hz, *db)).collect();
        let window = mean(cells.iter().filter_map(|cell| cell.window));
        let window = window.map_or(0.0, |n| 1000.0 * n / f64::from(RATE_HZ));
        let start = [format!("{hz} Hz"), format!("{window:.0}")];
        table.row(start.into_iter().chain(cells.iter().map(Cell::text)));
    }
    writeln!(out, "{table}")?;
    Ok(())
}

fn measure(hz: f64, snr_db: f64) -> Cell {
    let tone = Tone::steady(hz);
    let deviation = tone.noise_deviation(snr_db);
    let samples = noisy(tone.samples(RATE_HZ, LENGTH_S), 1 + hz as u64, deviation);
    let readings = hear(&samples, rate());
    let settled = readings.iter().filter(|r| r.time.get() > SETTLED_S);
    let read: Vec<(f64, f64)> = settled
        .clone()
        .filter_map(|reading| {
            let length_s = 2.0 * (reading.available.get() - reading.time.get());
            Some((cents_above(reading, hz)?, length_s * f64::from(RATE_HZ)))
        })
        .filter(|(error, _)| error.abs() <= GROSS)
        .collect();
    let slope: f64 = (1..)
        .map(f64::from)
        .zip(&tone.partials)
        .map(|(k, amplitude)| (k * amplitude).powi(2))
        .sum();
    let radians_to_cents =
        1200.0 / std::f64::consts::LN_2 * f64::from(RATE_HZ) / (std::f64::consts::TAU * hz);
    let bound = |of: fn(f64) -> f64| {
        let variances = read
            .iter()
            .map(|(_, span)| 24.0 * deviation.powi(2) / (of(*span).powi(3) * slope));
        mean(variances).map(|variance| variance.sqrt() * radians_to_cents)
    };
    Cell {
        error: root_mean_square(read.iter().map(|(error, _)| *error)),
        bound: bound(window_within),
        bound_of_span: bound(|span| span),
        window: mean(read.iter().map(|(_, span)| window_within(*span))),
        lost: 1.0 - read.len() as f64 / settled.count().max(1) as f64,
    }
}

/// The window whose readings were averaged over `span` samples: the longest that fits.
fn window_within(span: f64) -> f64 {
    let lengths = window_lengths(rate()).map(|length| length as f64);
    lengths
        .into_iter()
        .find(|n| *n <= span + 1.0)
        .unwrap_or(span)
}

impl Cell {
    fn text(&self) -> String {
        let lost = if self.lost > 0.0 {
            format!(" !{:.0} %", (100.0 * self.lost).max(1.0))
        } else {
            String::new()
        };
        match (self.error, self.bound, self.bound_of_span) {
            (Some(error), Some(bound), Some(of_span)) => {
                format!(
                    "{error:.4} ({:.1}, {:.1}){lost}",
                    error / bound,
                    error / of_span
                )
            }
            _ => format!("-{lost}"),
        }
    }
}
