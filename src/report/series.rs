//! The trumpets' partials beside the notes they lie between.

use serde::Serialize;

use super::layout::{Side, cell, columns, csv, json, level, six_decimals};
use super::temperament_list::ascii_chain;
use crate::tuning::{Anchor, Chain, Partial, Tuning};
use crate::units::{Cents, Note, NoteName};

/// Partials 1 to 24 of a series, each with the tempered notes on either side.
///
/// As JSON:
/// `{"key":"D","a4_hz":415.0,"kept_by":"A","temperament":"sixth-comma","chain":"Eb-G#",
/// "anchor":{"partial":8,"note":"D5"}` or `{"fundamental_hz":69.3}`, `"fundamental_hz":..,
/// "partials":[{"number":11,"hz":..,"cents":..,"below":{"note":"G5","hz":..,"cents":49.7},
/// "above":{"note":"G#5","hz":..,"cents":-38.9},"nearest":"above"}]}`. The `cents` of a partial
/// are above the fundamental; those of `below` and `above` say how far the partial lies above
/// that note, negative when it lies under it.
///
/// As CSV: one partial a line with the same fields.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SeriesReport {
    key: NoteName,
    #[serde(serialize_with = "six_decimals")]
    a4_hz: f64,
    kept_by: NoteName,
    temperament: String,
    #[serde(skip)]
    title: String,
    #[serde(serialize_with = "ascii_chain")]
    chain: Chain,
    anchor: AnchorRow,
    #[serde(serialize_with = "six_decimals")]
    fundamental_hz: f64,
    partials: Vec<PartialRow>,
}

#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(untagged)]
enum AnchorRow {
    Sounds {
        partial: Partial,
        note: Note,
    },
    Measured {
        #[serde(serialize_with = "six_decimals")]
        fundamental_hz: f64,
    },
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct PartialRow {
    number: Partial,
    #[serde(serialize_with = "six_decimals")]
    hz: f64,
    #[serde(serialize_with = "six_decimals")]
    cents: f64,
    below: Candidate,
    above: Candidate,
    nearest: Nearest,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct Candidate {
    note: Note,
    #[serde(serialize_with = "six_decimals")]
    hz: f64,
    #[serde(serialize_with = "six_decimals")]
    cents: f64,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
enum Nearest {
    Below,
    Above,
}

impl Nearest {
    fn word(self) -> &'static str {
        match self {
            Self::Below => "below",
            Self::Above => "above",
        }
    }
}

impl SeriesReport {
    /// Works out the series of `tuning` against its scale.
    pub fn new(tuning: &Tuning) -> Self {
        let (scale, series, standard) = (tuning.scale(), tuning.series(), tuning.standard());
        let partials = Partial::all()
            .map(|number| {
                let hertz = series.frequency(number);
                let candidate = |(note, cents): (Note, Cents)| Candidate {
                    note,
                    hz: scale.frequency(note).get(),
                    cents: cents.get(),
                };
                let (below, above) = scale.neighbours(hertz);
                PartialRow {
                    number,
                    hz: hertz.get(),
                    cents: number.above_fundamental().get(),
                    nearest: if below.1.abs() <= above.1.abs() {
                        Nearest::Below
                    } else {
                        Nearest::Above
                    },
                    below: candidate(below),
                    above: candidate(above),
                }
            })
            .collect();
        Self {
            key: series.key(),
            a4_hz: standard.a4().get(),
            kept_by: standard.kept(),
            temperament: scale.temperament().name.clone(),
            title: scale.temperament().title.clone(),
            chain: scale.chain(),
            anchor: match series.anchor() {
                Anchor::PartialSounds { partial, note } => AnchorRow::Sounds { partial, note },
                Anchor::Fundamental { hz } => AnchorRow::Measured {
                    fundamental_hz: hz.get(),
                },
            },
            fundamental_hz: series.fundamental().get(),
            partials,
        }
    }

    /// Columns for reading.
    pub fn to_table(&self) -> String {
        let anchor = match self.anchor {
            AnchorRow::Sounds { partial, note } => {
                format!("partial {} sounds {note}", partial.number())
            }
            AnchorRow::Measured { .. } => "fundamental as measured".to_owned(),
        };
        let cents = |candidate: &Candidate| format!("{:.1}", Cents::new(candidate.cents));
        let rows: Vec<Vec<String>> = self
            .partials
            .iter()
            .map(|row| {
                vec![
                    row.number.number().to_string(),
                    format!("{:.2}", row.hz),
                    format!("{:.1}", row.cents),
                    row.below.note.to_string(),
                    cents(&row.below),
                    row.above.note.to_string(),
                    cents(&row.above),
                    row.nearest.word().to_owned(),
                ]
            })
            .collect();
        format!(
            "Trumpets in {}: {anchor}, fundamental {:.3} Hz\n{}\n{}, keys \
             {}; cents of the partial from each note\n\n{}",
            self.key,
            self.fundamental_hz,
            self.title,
            level(self.a4_hz, self.kept_by),
            self.chain,
            columns(
                &[
                    ("partial", Side::Right),
                    ("Hz", Side::Right),
                    ("cents", Side::Right),
                    ("below", Side::Left),
                    ("from it", Side::Right),
                    ("above", Side::Left),
                    ("from it", Side::Right),
                    ("nearest", Side::Left),
                ],
                &rows
            )
        )
    }

    /// JSON for scripts.
    pub fn to_json(&self) -> String {
        json(self)
    }

    /// Comma-separated values for spreadsheets.
    pub fn to_csv(&self) -> String {
        let headings = [
            "partial",
            "hz",
            "cents",
            "below_note",
            "below_hz",
            "below_cents",
            "above_note",
            "above_hz",
            "above_cents",
            "nearest",
        ];
        let rows = self.partials.iter().map(|row| {
            vec![
                row.number.number().to_string(),
                cell(row.hz),
                cell(row.cents),
                row.below.note.ascii(),
                cell(row.below.hz),
                cell(row.below.cents),
                row.above.note.ascii(),
                cell(row.above.hz),
                cell(row.above.cents),
                row.nearest.word().to_owned(),
            ]
        });
        csv(&headings, rows)
    }
}
