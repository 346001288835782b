//! Whether the record of the demo's twenty minutes says what the scene knows to be true.
//!
//! ```text
//! concento demo twenty-minutes --record FILE
//! cargo run --release --example evening -- FILE
//! ```
//!
//! `tests/evening/check.sh` does both. Every figure that a chart, a table or a report is made
//! of is held against the scene, to a cent.

#![allow(clippy::print_stdout, reason = "a check that is read by people")]

use std::error::Error;
use std::f64::consts::PI;
use std::path::Path;

use concento::rehearsal::{Chronicle, Drift, DriftLine, Finding, Ledger, Note, TrueSeries};
use concento::scene::Scene;
use concento::session::{demo_scene, load_session};
use concento::units::{Cents, Seconds};

/// How far a figure may lie from the truth, in cents.
const WITHIN: f64 = 1.0;

/// Trumpet I, Trumpet II, violin, viola, dulcian and organ, as the scene has them.
const DULCIAN: usize = 4;

fn main() -> Result<(), Box<dyn Error>> {
    let path = std::env::args()
        .nth(1)
        .ok_or("which session? give its file")?;
    let session = load_session(Path::new(&path))?;
    let scene = demo_scene(Some("twenty-minutes"))?.load()?;
    let chronicle = &session.chronicle;
    let mut found = Found::default();
    notes(&mut found, chronicle, &scene);
    ledger(&mut found, chronicle, &scene);
    drift(&mut found, chronicle);
    series(&mut found, chronicle);
    decisions(&mut found, chronicle);
    found.check("the session ended well", session.ended_well);
    if found.wrong > 0 {
        return Err(format!("{} of {} figures are wrong", found.wrong, found.count).into());
    }
    println!(
        "{} figures, all within {WITHIN} cent of the truth",
        found.count
    );
    Ok(())
}

/// What was compared.
#[derive(Default)]
struct Found {
    count: usize,
    wrong: usize,
}

impl Found {
    fn check(&mut self, what: &str, is_right: bool) {
        self.count += 1;
        if !is_right {
            self.wrong += 1;
            println!("not so: {what}");
        }
    }

    fn near(&mut self, what: &str, figure: f64, truth: f64) {
        let says = format!("{what} is {figure:.2}, in truth {truth:.2}");
        self.check(&says, (figure - truth).abs() <= WITHIN);
    }
}

/// How far a note lies from where its player was in truth, in cents: the mean over the held
/// part. None where the player was silent, as it is other players' sound then.
fn error_of(note: &Note, scene: &Scene) -> Option<f64> {
    // What the ears say comes a little after what was played.
    const LATE_S: f64 = 0.05;
    let (from, to) = (note.begun.get() + 0.25, note.ended.get() - 0.15);
    let moments = (0..200).map(|n| from + (to - from) * f64::from(n) / 199.0);
    let truths: Vec<f64> = moments
        .filter_map(|at| scene.truth(note.channel, Seconds::new(at - LATE_S)))
        .map(|hertz| note.hertz.above(hertz).get())
        .collect();
    (truths.len() > 120).then(|| truths.iter().sum::<f64>() / truths.len() as f64)
}

fn notes(found: &mut Found, chronicle: &Chronicle, scene: &Scene) {
    let errors = chronicle
        .notes()
        .iter()
        .filter_map(|note| error_of(note, scene));
    let mut errors: Vec<f64> = errors.map(f64::abs).collect();
    errors.sort_by(f64::total_cmp);
    let written: usize = scene
        .players()
        .iter()
        .map(|player| player.notes().count())
        .sum();
    // Notes that repeat without a pause become one.
    found.check(
        "nine notes of ten were taken down",
        errors.len() * 10 >= written * 9,
    );
    let within = errors.partition_point(|error| *error <= WITHIN);
    found.check(
        "99 notes of 100 are right",
        within * 100 >= errors.len() * 99,
    );
    println!(
        "{} notes: error {:.2} in the middle, {:.2} at the most",
        errors.len(),
        errors[errors.len() / 2],
        errors[errors.len() - 1]
    );
}

fn ledger(found: &mut Found, chronicle: &Chronicle, scene: &Scene) {
    let ledger = Ledger::of(chronicle);
    for row in &ledger.rows {
        let player = &chronicle.players()[row.player].name;
        // The median of what the player truly did on these notes, weighed as the table does.
        let own = chronicle.notes().iter().filter(|note| {
            note.channel == row.player
                && note.label == row.label
                && note.places.tempered.note == row.tempered.note
        });
        let mut truths: Vec<(f64, f64)> = own
            .filter_map(|note| {
                let cents = note.places.tempered.cents.get() - error_of(note, scene)?;
                Some((cents, note.steady.get().clamp(0.1, 4.0)))
            })
            .collect();
        let what = format!("{player} on {}", row.label);
        found.check(&format!("{what} was played"), !truths.is_empty());
        if let Some(truth) = weighted_median(&mut truths) {
            found.near(&what, row.from_tempered.median.get(), truth);
        }
    }
    let worst = &ledger.meetings[0];
    found.check("the G sharp is farthest apart", worst.note.ascii() == "G#");
    let families: Vec<f64> = worst
        .groups
        .iter()
        .map(|g| g.from_tempered.median.get())
        .collect();
    found.check("three families meet there", families.len() == 3);
    // As written: the trumpet 9 above its partial, the violin 15 below the keyboard's note,
    // each with the median of its own way through the evening.
    let gap = worst.gap.map_or(f64::NAN, Cents::get);
    let halves = [
        gap + 9.0 + median_of(&trumpet_1),
        -15.0 + median_of(&strings),
        median_of(&strings),
    ];
    for (figure, truth) in families.iter().zip(halves) {
        // The players' own wandering is in the figure and not in what is written.
        let says = format!("G sharp lies at {figure:.1}, as written {truth:.1}");
        found.check(&says, (figure - truth).abs() <= 1.5);
    }
}

/// The middle of a way over twenty minutes.
fn median_of(way: &dyn Fn(f64) -> f64) -> f64 {
    let mut cents: Vec<(f64, f64)> = (0..1200).map(|n| (way(f64::from(n) / 60.0), 1.0)).collect();
    weighted_median(&mut cents).unwrap_or(f64::NAN)
}

fn weighted_median(values: &mut [(f64, f64)]) -> Option<f64> {
    values.sort_by(|a, b| a.0.total_cmp(&b.0));
    let half = 0.5 * values.iter().map(|(_, weight)| weight).sum::<f64>();
    let mut below = 0.0;
    let upper = values.iter().position(|(_, weight)| {
        below += weight;
        below > half + 1e-9
    })?;
    // Exactly half below: the middle between both neighbours, as of any median.
    let is_even = upper > 0 && (below - values[upper].1 - half).abs() < 1e-9;
    let lower = if is_even { upper - 1 } else { upper };
    Some(0.5 * (values[lower].0 + values[upper].0))
}

/// A glide as the scene has it, from one level to another between two minutes.
fn glide(minutes: f64, (from_min, from): (f64, f64), (to_min, to): (f64, f64)) -> f64 {
    let through = ((minutes - from_min) / (to_min - from_min)).clamp(0.0, 1.0);
    from + (to - from) * (0.5 - 0.5 * (PI * through).cos())
}

fn strings(minutes: f64) -> f64 {
    glide(minutes, (5.0, 0.0), (15.0, 6.0))
}

fn trumpet_1(minutes: f64) -> f64 {
    glide(minutes, (3.0, -4.0), (18.0, 5.0))
}

fn trumpet_2(minutes: f64) -> f64 {
    glide(minutes, (3.0, 1.0), (18.0, 10.0))
}

fn drift(found: &mut Found, chronicle: &Chronicle) {
    let drift = Drift::of(chronicle);
    line(found, "the ensemble", &drift.ensemble, &strings);
    let both = |minutes: f64| 0.5 * (trumpet_1(minutes) + trumpet_2(minutes));
    line(found, "the series", &drift.series, &both);
    for (player, line) in &drift.players {
        let moved = line.moved().map_or(f64::NAN, Cents::get);
        let truth = [9.0, 9.0, 6.0, 6.0, 1.0, 6.0][*player];
        found.near(&format!("the way of player {player}"), moved, truth);
    }
    let everyone = drift.findings.iter().find_map(|finding| match finding {
        Finding::Everyone { cents, since } => Some((cents.get(), since.get())),
        _ => None,
    });
    let (cents, since) = everyone.unwrap_or((f64::NAN, f64::NAN));
    found.near("everyone", cents, 6.0);
    // The glide begins so gently that it shows a minute or two later.
    found.check(
        "everyone moved from the fifth minute on",
        (280.0..=420.0).contains(&since),
    );
    let single: Vec<(usize, f64, f64)> = drift
        .findings
        .iter()
        .filter_map(|finding| match finding {
            Finding::One {
                player,
                cents,
                since,
            } => Some((*player, cents.get(), since.get())),
            _ => None,
        })
        .collect();
    found.check("one player is told of", single.len() == 1);
    if let Some((player, cents, since)) = single.first() {
        found.check("it is the dulcian", *player == DULCIAN);
        found.near("the dulcian against the others", *cents, -5.0);
        found.check("since the tenth minute", (540.0..=700.0).contains(since));
    }
    // From 17 to 21 degrees, by the speed of sound of ISO 9613-1: 600 log2(294.15 / 290.15).
    let rise = drift.expected.last().zip(drift.expected.first());
    let rise = rise.map_or(f64::NAN, |(last, first)| (last.1 - first.1).get());
    found.check("winds should rise by 11.85", (rise - 11.85).abs() < 0.01);
}

fn line(found: &mut Found, whose: &str, line: &DriftLine, truth: &dyn Fn(f64) -> f64) {
    found.check(&format!("{whose} has a line"), line.points.len() > 30);
    for point in &line.points {
        let minutes = point.at.get() / 60.0;
        let what = format!("{whose} at {minutes:.1} minutes");
        found.near(&what, point.cents.get(), truth(minutes));
    }
}

fn series(found: &mut Found, chronicle: &Chronicle) {
    for (player, truth) in [(0, 5.0), (1, 10.0)] {
        let what = format!("the fundamental of trumpet {}", player + 1);
        match TrueSeries::of(chronicle, player) {
            Some(series) => {
                found.near(&what, series.from_planned.get(), truth);
                found.check(
                    &format!("{what} is known to 3 cents"),
                    series.margin.get() <= 3.0,
                );
            }
            None => found.check(&format!("{what} is known"), false),
        }
    }
}

fn decisions(found: &mut Found, chronicle: &Chronicle) {
    let agreed = chronicle.agreements();
    let words: Vec<String> = agreed
        .iter()
        .filter_map(|decision| Some(format!("{:#}: {}", decision.note, decision.resolution?)))
        .collect();
    let truth = [
        "C: keyboard leaves it out",
        "B: follow the partial",
        "G#: meet at \u{2212}20 from tempered",
    ];
    found.check(&format!("agreed: {words:?}"), words == truth);
    found.check("three temperatures", chronicle.temperatures().len() == 3);
    found.check("one mark", chronicle.marks().len() == 1);
}
