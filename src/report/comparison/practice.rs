//! The notes of exercises over several rehearsals.

use std::fmt::Write;

use serde_json::{Value, json};

use crate::rehearsal::{Tally, TallyRow};
use crate::report::Digest;
use crate::report::layout::{Side, columns, rounded};
use crate::report::practice::{pitch, shape, share, word};
use crate::report::wording::{NOTHING, plain, signed, size};
use crate::tuning::Partial;
use crate::units::Cents;

/// One note of one exercise in one of its places.
#[derive(Debug, Clone, PartialEq)]
pub struct ComparedPractice {
    /// What came of it in each rehearsal; none where it was not practised.
    pub tallies: Vec<Option<TallyRow>>,
}

impl ComparedPractice {
    /// Any of its rows, as all are of the same note.
    pub(in crate::report) fn row(&self) -> Option<&TallyRow> {
        self.tallies.iter().flatten().next()
    }

    fn ends(&self) -> Option<(&TallyRow, &TallyRow)> {
        let mut heard = self.tallies.iter().flatten();
        heard.next().zip(heard.next_back())
    }

    /// By how much the median distance from the place grew from the first time to the last;
    /// none where it was practised once.
    pub fn change(&self) -> Option<Cents> {
        let (first, last) = self.ends()?;
        Some(last.distance - first.distance)
    }

    /// By how much the share of the time inside grew, -1 to 1.
    pub fn change_inside(&self) -> Option<f64> {
        let (first, last) = self.ends()?;
        Some(last.share_inside() - first.share_inside())
    }
}

/// All that was practised in any of them.
pub(super) fn practice(digests: &[&Digest<'_>]) -> Vec<ComparedPractice> {
    let mut all: Vec<ComparedPractice> = Vec::new();
    for (index, digest) in digests.iter().enumerate() {
        for row in Tally::of(digest.chronicle().trials()).rows {
            let known = all
                .iter_mut()
                .find(|one| one.row().is_some_and(|r| r.is_of(&row)));
            if let Some(known) = known {
                known.tallies[index] = Some(row);
            } else {
                let mut tallies = vec![None; digests.len()];
                tallies[index] = Some(row);
                all.push(ComparedPractice { tallies });
            }
        }
    }
    // What is new in a later rehearsal stands beside the rest of its exercise.
    let mut exercises: Vec<String> = Vec::new();
    for row in all.iter().filter_map(ComparedPractice::row) {
        if !exercises.contains(&row.exercise) {
            exercises.push(row.exercise.clone());
        }
    }
    all.sort_by_key(|one| {
        one.row().map(|row| {
            let exercise = exercises.iter().position(|name| *name == row.exercise);
            let pitch = (row.note.key_number(), row.note.name().fifths());
            (exercise, pitch, row.partial, row.place as u8)
        })
    });
    all
}

/// For reading on a terminal.
pub(super) fn to_table(practice: &[ComparedPractice], n_digests: usize) -> String {
    let own: Vec<[String; 4]> = (1..=n_digests)
        .map(|number| ["notes", "median", "away", "inside"].map(|h| format!("{number} {h}")))
        .collect();
    let mut headings = vec![
        ("exercise", Side::Left),
        ("note", Side::Left),
        ("", Side::Left),
    ];
    headings.extend(
        own.iter()
            .flatten()
            .map(|heading| (&**heading, Side::Right)),
    );
    headings.extend([("away", Side::Right), ("inside", Side::Right)]);
    let rows: Vec<Vec<String>> = practice.iter().filter_map(cells).collect();
    let mut text = String::from(
        "practice: cents from the place with the spread of a note, away on either side of it, all \
         medians;\nhow much of the time was inside; last, what changed\n",
    );
    let _ = write!(text, "{}", columns(&headings, &rows));
    text
}

fn cells(one: &ComparedPractice) -> Option<Vec<String>> {
    let row = one.row()?;
    let mut cells = vec![
        plain(&row.exercise),
        pitch(row),
        shape(row.place).to_owned(),
    ];
    for tally in &one.tallies {
        cells.extend(tally.as_ref().map_or_else(
            || [NOTHING; 4].map(str::to_owned),
            |row| {
                [
                    row.count.to_string(),
                    format!("{} \u{b1}{}", signed(row.off), size(row.spread)),
                    size(row.distance),
                    share(row),
                ]
            },
        ));
    }
    cells.push(
        one.change()
            .map_or_else(String::new, |cents| cents.to_string()),
    );
    cells.push(one.change_inside().map_or_else(String::new, points));
    Some(cells)
}

/// A share that grew or shrank, in hundredths.
pub(in crate::report) fn points(share: f64) -> String {
    format!("{} %", Cents::new(100.0 * share))
}

/// For scripts.
pub(super) fn to_json(one: &ComparedPractice) -> Option<Value> {
    let row = one.row()?;
    let tally = |row: &TallyRow| {
        json!({
            "notes": row.count,
            "off_cents": rounded(row.off.get()),
            "distance_cents": rounded(row.distance.get()),
            "spread_cents": rounded(row.spread.get()),
            "sounding_s": rounded(row.sounding.get()),
            "inside_s": rounded(row.inside.get()),
        })
    };
    let tallies: Vec<Option<Value>> = one.tallies.iter().map(|t| t.as_ref().map(tally)).collect();
    Some(json!({
        "exercise": row.exercise,
        "note": row.note.ascii(),
        "partial": row.partial.map(Partial::number),
        "place": word(row.place),
        "tallies": tallies,
        "change_cents": one.change().map(|cents| rounded(cents.get())),
        "change_inside": one.change_inside().map(rounded),
    }))
}
