//! Whether the stated margins are honest: the share of true errors that lie within them.

use std::io::Write;

use super::columns::{Table, paragraph, percent, section};
use super::score::{Heard, Score};
use super::statistics::mean;

/// Stated margins are grouped by these bounds, in cents.
const BOUNDS: [f64; 7] = [0.0, 0.5, 1.0, 2.0, 5.0, 10.0, f64::INFINITY];
/// Multiples of the margin, with the share of errors within if they were normal and the margin
/// were exactly the 19 in 20 that it says (1.96 standard deviations).
const TIMES: [(f64, f64); 6] = [
    (0.25, 0.376),
    (0.5, 0.673),
    (0.75, 0.859),
    (1.0, 0.95),
    (1.5, 0.997),
    (2.0, 0.9999),
];
/// Characters of a full bar.
const BAR: usize = 40;

/// Prints the calibration.
pub(crate) fn print(scores: &[Score], out: &mut dyn Write) -> anyhow::Result<()> {
    let of = |real: bool| -> Vec<Heard> {
        let own = scores.iter().filter(|score| score.entry.is_real() == real);
        own.flat_map(|score| score.heard.iter().copied()).collect()
    };
    let sides = [("real", of(true)), ("synth", of(false))];
    section(
        out,
        "The stated margin",
        "It should hold the true error 19 times in 20, however wide it is. Readings of \
         the held part, by their stated margin; gross errors count as outside.",
    )?;
    let mut table = Table::new(&[
        "margin c",
        "real frames",
        "inside %",
        "synth frames",
        "inside %",
    ]);
    for pair in BOUNDS.windows(2) {
        let (above, upto) = (pair[0], pair[1]);
        let name = match (above, upto) {
            (0.0, _) => format!("to {upto}"),
            (_, f64::INFINITY) => format!("over {above}"),
            _ => format!("{above} to {upto}"),
        };
        let cells = sides.iter().flat_map(|(_, heard)| {
            let own = heard
                .iter()
                .filter(|h| h.margin <= upto && (h.margin > above || above <= 0.0));
            [own.clone().count().to_string(), percent(share(own, 1.0))]
        });
        table.row(std::iter::once(name).chain(cells));
    }
    writeln!(out, "{table}")?;
    paragraph(
        out,
        "Share of true errors within a multiple of the margin; the mark is where normal \
         errors would lie.",
    )?;
    for (name, heard) in sides.iter().filter(|(_, heard)| !heard.is_empty()) {
        for (times, normal) in TIMES {
            let inside = share(heard.iter(), times).unwrap_or(0.0);
            writeln!(
                out,
                "    {name:<5} {times:>4.2} x  {}  {:>5.1} %  (normal {:.1} %)",
                bar(inside, normal),
                100.0 * inside,
                100.0 * normal
            )?;
        }
        writeln!(out)?;
    }
    Ok(())
}

fn share<'a>(heard: impl Iterator<Item = &'a Heard>, times: f64) -> Option<f64> {
    mean(heard.map(|heard| f64::from(u8::from(heard.within(times)))))
}

/// A bar as long as `share` of the whole, with a mark at `mark`.
fn bar(share: f64, mark: f64) -> String {
    let place = |share: f64| (share * BAR as f64).round() as usize;
    let (filled, mark) = (place(share), place(mark).min(BAR));
    let character = |at: usize| match at {
        at if at == mark => '|',
        at if at < filled => '#',
        _ => '.',
    };
    (0..=BAR).map(character).collect()
}
