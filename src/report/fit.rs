//! Which temperament measured notes belong to.

use std::fmt::Write;

use serde::Serialize;

use super::layout::{Side, cell, columns, csv, json, six_decimals, text_cell};
use super::temperament_list::ascii_chain;
use crate::tuning::{Proposal, Verdict, usual_standard};
use crate::units::{Cents, NoteName};

/// How many of those that do not fit a table shows.
const OTHERS: usize = 3;

/// What measured notes say of a keyboard's level and temperament.
///
/// As JSON: `{"a4_hz":..,"margin_cents":..,"kept_by":"A","level_hz":..,"usual_hz":415.0,
/// "from_usual_cents":..,"verdict":"level-only|clear|alike|doubtful","said":..,"stray":null|"C",
/// "play_next":["G#"],"temperaments":[{"name":..,"keys":"Eb-G#","fits":true,"a4_hz":..,
/// "off_cents":..,"notes":[{"key":"A","hz":..,"off_cents":..}]}]}`. `level_hz` is what a pitch
/// standard has to say so that the note that keeps it sounds as measured; null where it is out
/// of reach. As CSV: the temperaments, a line for each.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FitReport {
    #[serde(serialize_with = "six_decimals")]
    a4_hz: f64,
    #[serde(serialize_with = "six_decimals")]
    margin_cents: f64,
    kept_by: NoteName,
    level_hz: Option<f64>,
    usual_hz: f64,
    #[serde(skip)]
    usual_name: &'static str,
    #[serde(serialize_with = "six_decimals")]
    from_usual_cents: f64,
    verdict: &'static str,
    said: String,
    stray: Option<NoteName>,
    play_next: Vec<NoteName>,
    temperaments: Vec<FitRow>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct FitRow {
    name: String,
    #[serde(serialize_with = "ascii_chain")]
    keys: crate::tuning::Chain,
    fits: bool,
    #[serde(serialize_with = "six_decimals")]
    a4_hz: f64,
    #[serde(serialize_with = "six_decimals")]
    off_cents: f64,
    notes: Vec<FitNote>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct FitNote {
    key: NoteName,
    #[serde(serialize_with = "six_decimals")]
    hz: f64,
    #[serde(serialize_with = "six_decimals")]
    off_cents: f64,
}

impl FitReport {
    /// The `proposal` with the level kept by that note.
    pub fn new(proposal: &Proposal, kept: NoteName) -> Self {
        let best = proposal.best();
        let (usual, off) = usual_standard(best.a4);
        let verdict = match proposal.verdict() {
            Verdict::LevelOnly => "level-only",
            Verdict::Clear => "clear",
            Verdict::Alike(_) => "alike",
            Verdict::Doubtful => "doubtful",
        };
        let fitting = match proposal.verdict() {
            Verdict::Doubtful => 0,
            _ => proposal.alike().len(),
        };
        let rows = proposal.fits().iter().enumerate().map(|(place, fit)| {
            let notes = proposal.heard().iter().zip(&fit.residuals);
            FitRow {
                name: fit.temperament.name.clone(),
                keys: fit.chain,
                fits: place < fitting,
                a4_hz: fit.a4.get(),
                off_cents: fit.rms.get(),
                notes: notes
                    .map(|(heard, off)| FitNote {
                        key: heard.key,
                        hz: heard.hertz.get(),
                        off_cents: off.get(),
                    })
                    .collect(),
            }
        });
        Self {
            a4_hz: best.a4.get(),
            margin_cents: proposal.level_margin().get(),
            kept_by: kept,
            level_hz: best.standard(kept).ok().map(|level| level.a4().get()),
            usual_hz: usual.a4_hz,
            usual_name: usual.name,
            from_usual_cents: off.get(),
            verdict,
            said: proposal.in_words(),
            stray: proposal.stray().map(|at| proposal.heard()[at].key),
            play_next: proposal.next_keys(),
            temperaments: rows.collect(),
        }
    }

    /// Columns for reading: those that fit, and a few that do not.
    pub fn to_table(&self) -> String {
        let mut text = format!(
            "A4 = {:.2} Hz (\u{b1}{:.1} cents), {:.1} cents from {}, {}\n",
            self.a4_hz,
            self.margin_cents,
            Cents::new(self.from_usual_cents),
            self.usual_hz,
            self.usual_name
        );
        // Writing into a string cannot fail.
        match self.level_hz {
            Some(level) if self.kept_by != NoteName::A => {
                let _ = writeln!(text, "kept by {}: A4 = {level:.2} Hz", self.kept_by);
            }
            Some(_) => {}
            None => text += "out of reach: 350 to 500 Hz can be written down\n",
        }
        let _ = writeln!(text, "{}\n", self.said);
        let first = self.temperaments.first();
        let names: Vec<String> = first
            .iter()
            .flat_map(|row| &row.notes)
            .map(|note| note.key.to_string())
            .collect();
        let mut headings = vec![
            ("name", Side::Left),
            ("keys", Side::Left),
            ("fits", Side::Left),
            ("A4 Hz", Side::Right),
            ("off", Side::Right),
        ];
        headings.extend(names.iter().map(|name| (name.as_str(), Side::Right)));
        let n_fitting = self.temperaments.iter().filter(|row| row.fits).count();
        let rows: Vec<Vec<String>> = self
            .temperaments
            .iter()
            .take(n_fitting + OTHERS)
            .map(|row| {
                let mut cells = vec![
                    row.name.clone(),
                    row.keys.to_string(),
                    if row.fits { "yes" } else { "no" }.to_owned(),
                    format!("{:.2}", row.a4_hz),
                    format!("{:.1}", row.off_cents),
                ];
                let notes = row.notes.iter();
                cells.extend(notes.map(|note| format!("{:.1}", Cents::new(note.off_cents))));
                cells
            })
            .collect();
        text + &columns(&headings, &rows)
    }

    /// JSON for scripts.
    pub fn to_json(&self) -> String {
        json(self)
    }

    /// The temperaments, a line for each.
    pub fn to_csv(&self) -> String {
        let headings = ["name", "keys", "fits", "a4_hz", "off_cents"];
        let rows = self.temperaments.iter().map(|row| {
            vec![
                text_cell(&row.name),
                format!("{:#}", row.keys),
                row.fits.to_string(),
                cell(row.a4_hz),
                cell(row.off_cents),
            ]
        });
        csv(&headings, rows)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tuning::HeardKey;
    use crate::units::Hertz;

    #[test]
    fn the_table_tells_level_temperaments_and_what_to_play() {
        let heard = [("A", 415.3), ("C", 248.4), ("E", 310.2)].map(|(key, hz)| HeardKey {
            key: key.parse().unwrap(),
            hertz: Hertz::new(hz).unwrap(),
            margin: Cents::new(0.5),
        });
        let temperaments = crate::session::temperaments(None).unwrap();
        let proposal = Proposal::new(&temperaments, &heard).unwrap();
        insta::assert_snapshot!(FitReport::new(&proposal, NoteName::A).to_table());
        let value: serde_json::Value =
            serde_json::from_str(&FitReport::new(&proposal, NoteName::C).to_json()).unwrap();
        assert_eq!(
            value["temperaments"].as_array().unwrap().len(),
            temperaments.len()
        );
        assert_eq!(value["kept_by"], "C");
        assert!(
            FitReport::new(&proposal, NoteName::A)
                .to_csv()
                .lines()
                .count()
                > 10
        );
    }
}
