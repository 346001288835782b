//! The scores of a pack by kind, register and instrument.

use std::io::Write;
use std::path::Path;

use anyhow::Context;

use super::columns::{NEVER_S, Table, milliseconds, number, percent, section};
use super::score::{Register, Score};
use super::statistics::{mean, median, quantile, weighted_mean};

const COLUMNS: [&str; 13] = [
    "notes",
    "files",
    "median c",
    "p95 c",
    "gross %",
    "oct up %",
    "oct down %",
    "voiced %",
    "3 c ms",
    "1 c ms",
    "in margin %",
    "margin c",
    "frames",
];

/// Prints the two tables.
pub(crate) fn print(scores: &[Score], out: &mut dyn Write) -> anyhow::Result<()> {
    section(
        out,
        "The pack",
        "Readings of the held part against the truth. median: of |error| without gross \
         ones; p95: 95 % of all |errors| lie within; gross: over 50 cents; 3 c, 1 c: from \
         the onset to the first of three readings in a row that near, when a live program \
         could show it (median of the notes); in margin: readings whose true error is \
         within their own stated margin; margin: its median.",
    )?;
    let mut table = Table::new(&COLUMNS);
    for (name, group) in groups(scores) {
        add(&mut table, &name, &group);
    }
    writeln!(out, "{table}")?;
    let mut instruments: Vec<&str> = scores.iter().map(|s| s.entry.instrument.as_str()).collect();
    instruments.sort_unstable();
    instruments.dedup();
    let mut table = Table::new(&COLUMNS);
    for name in instruments {
        let own = scores.iter().filter(|s| s.entry.instrument == name);
        add(&mut table, name, &own.collect::<Vec<_>>());
    }
    writeln!(out, "{table}")?;
    Ok(())
}

fn groups(scores: &[Score]) -> Vec<(String, Vec<&Score>)> {
    let select = |is: &dyn Fn(&Score) -> bool| scores.iter().filter(|s| is(s)).collect::<Vec<_>>();
    let mut groups = vec![("all".to_owned(), select(&|_| true))];
    for (word, real) in [("real", true), ("synth", false)] {
        groups.push((word.to_owned(), select(&|s| s.entry.is_real() == real)));
        for register in Register::ALL {
            let name = format!("{word}/{}", register.word());
            let is = |s: &Score| s.entry.is_real() == real && s.register() == register;
            groups.push((name, select(&is)));
        }
    }
    let synth = |is: &dyn Fn(&Score) -> bool| select(&|s| !s.entry.is_real() && is(s));
    let room = |s: &Score| s.entry.room == Some(true);
    let moves = |s: &Score, how: &str| s.entry.motion.as_deref() == Some(how);
    groups.push(("synth/dry".to_owned(), synth(&|s| !room(s))));
    groups.push((
        "synth/dry and steady".to_owned(),
        synth(&|s| !room(s) && moves(s, "none")),
    ));
    groups.push(("synth/room".to_owned(), synth(&room)));
    groups.push(("synth/vib".to_owned(), synth(&|s| moves(s, "vib"))));
    groups.push(("synth/drift".to_owned(), synth(&|s| moves(s, "drift"))));
    let mut levels: Vec<f64> = scores.iter().filter_map(|s| s.entry.snr_db).collect();
    levels.sort_by(|a, b| b.total_cmp(a));
    levels.dedup();
    for level in levels {
        let is = |s: &Score| s.entry.snr_db == Some(level);
        groups.push((format!("synth/{level} dB"), synth(&is)));
    }
    groups.retain(|(_, group)| !group.is_empty());
    groups
}

fn add(table: &mut Table, name: &str, group: &[&Score]) {
    let heard = || group.iter().flat_map(|score| &score.heard);
    let latency = |of: fn(&Score) -> Option<f64>| {
        median(group.iter().map(|score| of(score).unwrap_or(NEVER_S)))
    };
    let by_frames = |of: fn(&Score) -> f64| {
        weighted_mean(group.iter().map(|s| (of(s), (s.frames as f64).max(1e-9))))
    };
    let fine = heard().filter(|heard| !heard.is_gross());
    table.row([
        name.to_owned(),
        group.len().to_string(),
        number(median(fine.map(|heard| heard.error.abs())), 2),
        number(quantile(heard().map(|heard| heard.error.abs()), 0.95), 2),
        percent(by_frames(Score::gross)),
        percent(mean(group.iter().map(|score| score.octave(1.0)))),
        percent(mean(group.iter().map(|score| score.octave(-1.0)))),
        percent(by_frames(Score::voiced)),
        milliseconds(latency(|score| score.latency_3_s)),
        milliseconds(latency(|score| score.latency_1_s)),
        percent(mean(
            heard().map(|heard| f64::from(u8::from(heard.within(1.0)))),
        )),
        number(median(heard().map(|heard| heard.margin)), 2),
        group.iter().map(|s| s.frames).sum::<usize>().to_string(),
    ]);
}

/// Writes one line for each note.
pub(crate) fn write_csv(scores: &[Score], path: &Path) -> anyhow::Result<()> {
    let problem = || {
        format!(
            "'{}' cannot be written: choose another place",
            path.display()
        )
    };
    let mut writer = csv::Writer::from_path(path).with_context(problem)?;
    writer.write_record([
        "file",
        "instrument",
        "truth_hz",
        "register",
        "frames",
        "voiced_share",
        "median_abs_error_cents",
        "p95_abs_error_cents",
        "mean_error_cents",
        "gross_share",
        "octave_up_share",
        "octave_down_share",
        "latency_3c_s",
        "latency_1c_s",
        "within_margin_share",
        "median_margin_cents",
    ])?;
    for score in scores {
        let fine = || score.heard.iter().filter(|heard| !heard.is_gross());
        let cell = |value: Option<f64>| value.map_or_else(String::new, |v| format!("{v:.4}"));
        let within = score
            .heard
            .iter()
            .map(|h| f64::from(u8::from(h.within(1.0))));
        writer.write_record([
            score.entry.file.clone(),
            score.entry.instrument.clone(),
            format!("{:.4}", score.entry.truth_hz),
            score.register().word().to_owned(),
            score.frames.to_string(),
            cell(Some(score.voiced())),
            cell(median(fine().map(|heard| heard.error.abs()))),
            cell(quantile(score.heard.iter().map(|h| h.error.abs()), 0.95)),
            cell(mean(fine().map(|heard| heard.error))),
            cell(Some(score.gross())),
            cell(Some(score.octave(1.0))),
            cell(Some(score.octave(-1.0))),
            cell(score.latency_3_s),
            cell(score.latency_1_s),
            cell(mean(within)),
            cell(median(score.heard.iter().map(|heard| heard.margin))),
        ])?;
    }
    writer.flush().with_context(problem)
}
