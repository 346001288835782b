//! Whether the stated margins are honest: the share of true errors that lie within them.

use std::io::Write;

use super::columns::{Table, percent, section};
use super::ear::Mode;
use super::score::{Hit, Scored};
use super::statistics::mean;

/// Stated margins are grouped by these bounds, in cents.
const BOUNDS: [f64; 6] = [0.0, 1.0, 2.0, 4.0, 6.0, 10.0];

/// Prints the calibration.
pub(crate) fn print(scored: &[(Mode, Vec<Scored>)], out: &mut dyn Write) -> anyhow::Result<()> {
    section(
        out,
        "The stated margin",
        "It should hold the true error 19 times in 20, however wide it is. Voices shown as ok, \
         by their stated margin; splits count as outside, wrong notes belong to no truth.",
    )?;
    let mut headings = vec!["margin c".to_owned()];
    for (mode, _) in scored {
        headings.extend([mode.word().to_owned(), "inside %".to_owned()]);
    }
    let headings: Vec<&str> = headings.iter().map(String::as_str).collect();
    let mut table = Table::new(&headings);
    let columns: Vec<Vec<(f64, bool)>> = scored.iter().map(|(_, s)| judged(s)).collect();
    let mut add = |name: String, from: f64, upto: f64| {
        let cells = columns.iter().flat_map(|judged| {
            let own = judged
                .iter()
                .filter(|(margin, _)| *margin > from && *margin <= upto);
            let inside = own.clone().map(|(_, inside)| f64::from(u8::from(*inside)));
            [own.count().to_string(), percent(mean(inside))]
        });
        table.row(std::iter::once(name).chain(cells));
    };
    add("all".to_owned(), 0.0, f64::INFINITY);
    for pair in BOUNDS.windows(2) {
        add(format!("{} to {}", pair[0], pair[1]), pair[0], pair[1]);
    }
    writeln!(out, "{table}")?;
    Ok(())
}

/// The margin of every voice, and whether its error lies inside.
fn judged(scores: &[Scored]) -> Vec<(f64, bool)> {
    let hits = scores.iter().flat_map(|scored| &scored.voices);
    let hits = hits.filter_map(|voice| voice.hit);
    let hits = hits.map(|Hit { cents, margin }| (margin, cents <= margin));
    let strays = scores.iter().flat_map(|scored| &scored.strays);
    let strays = strays.filter(|stray| stray.is_split);
    hits.chain(strays.map(|stray| (stray.margin, false)))
        .collect()
}
