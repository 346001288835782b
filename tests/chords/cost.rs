//! What an update costs, beside one bare FFT of the sound it is made of.

use std::io::Write;

use concento::analysis::chord::CHORD_HOP;

use super::columns::{Table, number, section};
use super::ear::{Mode, Update};
use super::statistics::{median, quantile};

/// Times of all updates, in seconds.
pub(crate) struct Costs {
    updates: Vec<f64>,
    bare: Vec<f64>,
}

/// The times of what was heard.
pub(crate) fn of(heard: &[Vec<Update>]) -> Costs {
    let all = || heard.iter().flatten();
    Costs {
        updates: all().map(|update| update.cost_s).collect(),
        bare: all().map(|update| update.bare_s).collect(),
    }
}

/// Prints the cost of an update.
pub(crate) fn print(costs: &[(Mode, Costs)], out: &mut dyn Write) -> anyhow::Result<()> {
    section(
        out,
        "Cost",
        &format!(
            "Time of an update (one every {} s and channel) that holds a chord. The bare FFT is \
             one real transform in single precision of all the sound that the update is made of, \
             run straight after it.",
            CHORD_HOP.get()
        ),
    )?;
    let mut table = Table::new(&[
        "an update",
        "median ms",
        "95 % ms",
        "% of real time",
        "bare FFT ms",
        "median, of FFTs",
        "95 %, of FFTs",
    ]);
    for (mode, costs) in costs {
        let middle = median(costs.updates.iter().copied());
        let upper = quantile(costs.updates.iter().copied(), 0.95);
        let bare = median(costs.bare.iter().copied());
        let over = |seconds: Option<f64>, by: Option<f64>| Some(seconds? / by?);
        let milli = |seconds: Option<f64>| seconds.map(|s| 1e3 * s);
        table.row([
            mode.word().to_owned(),
            number(milli(middle), 1),
            number(milli(upper), 1),
            number(over(middle, Some(0.01 * CHORD_HOP.get())), 1),
            number(milli(bare), 3),
            number(over(middle, bare), 0),
            number(over(upper, bare), 0),
        ]);
    }
    writeln!(out, "{table}")?;
    Ok(())
}
