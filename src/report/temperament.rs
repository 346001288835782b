//! One temperament note by note.

use serde::Serialize;

use super::layout::{Side, cell, columns, csv, json, level, paragraph, six_decimals};
use super::temperament_list::{ascii_chain, kind};
use crate::tuning::{Chain, KeyInterval, PitchStandard, Scale, Temperament};
use crate::units::{Cents, NoteName};

/// A temperament at a pitch over a chain: notes, fifths and major thirds.
///
/// As JSON:
/// `{"name":..,"title":..,"kind":"regular|circulating|explicit","source":..,"remark":..,
/// "a4_hz":415.0,"kept_by":"A","chain":"Eb-G#",
/// "notes":[{"note":"C","cents":0.0,"from_equal_cents":0.0,"hz":..}],
/// "fifths":[{"low":"C","high":"G","size_cents":..,"from_pure_cents":..,"wolf":false}],
/// "major_thirds":[the same]}`. `hz` is in the octave from C4; cents are above C.
///
/// As CSV: the notes only, with the fields of `notes`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TemperamentReport {
    name: String,
    title: String,
    kind: &'static str,
    source: String,
    remark: String,
    #[serde(serialize_with = "six_decimals")]
    a4_hz: f64,
    kept_by: NoteName,
    #[serde(serialize_with = "ascii_chain")]
    chain: Chain,
    notes: Vec<NoteRow>,
    fifths: Vec<IntervalRow>,
    major_thirds: Vec<IntervalRow>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct NoteRow {
    note: NoteName,
    #[serde(serialize_with = "six_decimals")]
    cents: f64,
    #[serde(serialize_with = "six_decimals")]
    from_equal_cents: f64,
    #[serde(serialize_with = "six_decimals")]
    hz: f64,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct IntervalRow {
    low: NoteName,
    high: NoteName,
    #[serde(serialize_with = "six_decimals")]
    size_cents: f64,
    #[serde(serialize_with = "six_decimals")]
    from_pure_cents: f64,
    wolf: bool,
}

impl From<KeyInterval> for IntervalRow {
    fn from(interval: KeyInterval) -> Self {
        Self {
            low: interval.low,
            high: interval.high,
            size_cents: interval.size.get(),
            from_pure_cents: interval.from_pure.get(),
            wolf: interval.wolf,
        }
    }
}

impl TemperamentReport {
    /// Works out `temperament` at `standard` over `chain`.
    pub fn new(temperament: &Temperament, chain: Chain, standard: PitchStandard) -> Self {
        let scale = Scale::new(temperament, chain, standard);
        let c4 = scale.frequency(NoteName::C.in_octave(4));
        let notes = scale
            .notes()
            .iter()
            .map(|note| {
                let equal = Cents::new(100.0 * note.name.key() as f64);
                NoteRow {
                    note: note.name,
                    cents: note.above_c.get(),
                    from_equal_cents: (note.above_c - equal).nearest_octave().get(),
                    hz: c4.raised(note.above_c).get(),
                }
            })
            .collect();
        let rows =
            |intervals: Vec<KeyInterval>| intervals.into_iter().map(IntervalRow::from).collect();
        Self {
            name: temperament.name.clone(),
            title: temperament.title.clone(),
            kind: kind(temperament),
            source: temperament.source.clone(),
            remark: temperament.remark.clone(),
            a4_hz: standard.a4().get(),
            kept_by: standard.kept(),
            chain,
            notes,
            fifths: rows(temperament.fifths_of(chain)),
            major_thirds: rows(temperament.major_thirds_of(chain)),
        }
    }

    /// Columns for reading.
    pub fn to_table(&self) -> String {
        let notes: Vec<Vec<String>> = self
            .notes
            .iter()
            .map(|row| {
                vec![
                    row.note.to_string(),
                    format!("{:.1}", row.cents),
                    format!("{:.1}", Cents::new(row.from_equal_cents)),
                    format!("{:.2}", row.hz),
                ]
            })
            .collect();
        let mut text = format!(
            "{}\n{} ({}), {}, keys {}; Hz in the octave from C4\n\n",
            self.title,
            self.name,
            self.kind,
            level(self.a4_hz, self.kept_by),
            self.chain
        );
        text += &columns(
            &[
                ("note", Side::Left),
                ("cents", Side::Right),
                ("from equal", Side::Right),
                ("Hz", Side::Right),
            ],
            &notes,
        );
        text.push('\n');
        text += &intervals("fifth", &self.fifths);
        text.push('\n');
        text += &intervals("major third", &self.major_thirds);
        text.push('\n');
        if !self.remark.is_empty() {
            text += &paragraph("remark:", &self.remark);
        }
        if !self.source.is_empty() {
            text += &paragraph("source:", &self.source);
        }
        text
    }

    /// JSON for scripts.
    pub fn to_json(&self) -> String {
        json(self)
    }

    /// The notes as comma-separated values for spreadsheets.
    pub fn to_csv(&self) -> String {
        let rows = self.notes.iter().map(|row| {
            vec![
                row.note.ascii(),
                cell(row.cents),
                cell(row.from_equal_cents),
                cell(row.hz),
            ]
        });
        csv(&["note", "cents", "from_equal_cents", "hz"], rows)
    }
}

fn intervals(heading: &str, rows: &[IntervalRow]) -> String {
    let rows: Vec<Vec<String>> = rows
        .iter()
        .map(|row| {
            vec![
                format!("{}\u{2013}{}", row.low, row.high),
                format!("{:.1}", row.size_cents),
                format!("{:.1}", Cents::new(row.from_pure_cents)),
                in_a_word(row).to_owned(),
            ]
        })
        .collect();
    columns(
        &[
            (heading, Side::Left),
            ("cents", Side::Right),
            ("from pure", Side::Right),
            ("", Side::Left),
        ],
        &rows,
    )
}

fn in_a_word(row: &IntervalRow) -> &'static str {
    // What the column shows as zero is called pure.
    if row.wolf {
        "wolf"
    } else if row.from_pure_cents.abs() < 0.05 {
        "pure"
    } else {
        ""
    }
}
