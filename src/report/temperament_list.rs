//! The temperaments side by side.

use serde::Serialize;

use super::layout::{Side, cell, columns, csv, json, six_decimals, text_cell};
use crate::tuning::{Chain, Fifths, KeyInterval, Temperament};
use crate::units::{Cents, NoteName};

/// The list of temperaments over one chain.
///
/// As JSON: `{"chain":"Eb-G#","temperaments":[...]}` with a [`TemperamentSummary`] each. As
/// CSV: the same fields, one temperament a line; an apostrophe stands before a name or title
/// that a spreadsheet would run.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TemperamentListReport {
    #[serde(serialize_with = "ascii_chain")]
    chain: Chain,
    temperaments: Vec<TemperamentSummary>,
}

/// One temperament in the list. Departures from pure in cents; positive is wide.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TemperamentSummary {
    /// Name for commands and files.
    pub name: String,
    /// Title for people.
    pub title: String,
    /// `regular`, `circulating` or `explicit`.
    pub kind: &'static str,
    /// The narrowest fifth of the chain, the left-over one included.
    #[serde(serialize_with = "six_decimals")]
    pub narrowest_fifth_cents: f64,
    /// The widest fifth of the chain, the left-over one included.
    #[serde(serialize_with = "six_decimals")]
    pub widest_fifth_cents: f64,
    /// The third C-E.
    #[serde(serialize_with = "six_decimals")]
    pub third_c_e_cents: f64,
    /// The widest major third of the chain.
    #[serde(serialize_with = "six_decimals")]
    pub widest_third_cents: f64,
}

/// `regular`, `circulating` or `explicit`.
pub(super) fn kind(temperament: &Temperament) -> &'static str {
    match temperament.fifths() {
        Fifths::Regular { .. } => "regular",
        Fifths::Circle { .. } => "circulating",
        Fifths::Places { .. } => "explicit",
    }
}

#[expect(
    clippy::trivially_copy_pass_by_ref,
    reason = "the signature serde asks for"
)]
pub(super) fn ascii_chain<S: serde::Serializer>(chain: &Chain, to: S) -> Result<S::Ok, S::Error> {
    to.collect_str(&format_args!("{chain:#}"))
}

impl TemperamentListReport {
    /// Sums up `temperaments` on the keys of `chain`.
    pub fn new(temperaments: &[Temperament], chain: Chain) -> Self {
        Self {
            chain,
            temperaments: temperaments.iter().map(|t| summary(t, chain)).collect(),
        }
    }

    /// Columns for reading.
    pub fn to_table(&self) -> String {
        let headings = [
            ("name", Side::Left),
            ("kind", Side::Left),
            ("fifths", Side::Right),
            ("C\u{2013}E", Side::Right),
            ("thirds to", Side::Right),
            ("title", Side::Left),
        ];
        let cents = |cents: f64| format!("{:.1}", Cents::new(cents));
        let rows: Vec<Vec<String>> = self
            .temperaments
            .iter()
            .map(|entry| {
                vec![
                    entry.name.clone(),
                    entry.kind.to_owned(),
                    format!(
                        "{} to {:>5}",
                        cents(entry.narrowest_fifth_cents),
                        cents(entry.widest_fifth_cents)
                    ),
                    cents(entry.third_c_e_cents),
                    cents(entry.widest_third_cents),
                    entry.title.clone(),
                ]
            })
            .collect();
        format!(
            "Temperaments on the keys {}; departures from pure in cents\n\n{}",
            self.chain,
            columns(&headings, &rows)
        )
    }

    /// JSON for scripts.
    pub fn to_json(&self) -> String {
        json(self)
    }

    /// Comma-separated values for spreadsheets.
    pub fn to_csv(&self) -> String {
        let headings = [
            "name",
            "title",
            "kind",
            "narrowest_fifth_cents",
            "widest_fifth_cents",
            "third_c_e_cents",
            "widest_third_cents",
        ];
        let rows = self.temperaments.iter().map(|entry| {
            vec![
                text_cell(&entry.name),
                text_cell(&entry.title),
                entry.kind.to_owned(),
                cell(entry.narrowest_fifth_cents),
                cell(entry.widest_fifth_cents),
                cell(entry.third_c_e_cents),
                cell(entry.widest_third_cents),
            ]
        });
        csv(&headings, rows)
    }
}

fn summary(temperament: &Temperament, chain: Chain) -> TemperamentSummary {
    let fifths = temperament.fifths_of(chain);
    let departure = |interval: &KeyInterval| interval.from_pure.get();
    let e = NoteName::from_fifths(4).unwrap_or(NoteName::C);
    TemperamentSummary {
        name: temperament.name.clone(),
        title: temperament.title.clone(),
        kind: kind(temperament),
        narrowest_fifth_cents: fifths.iter().map(departure).fold(f64::INFINITY, f64::min),
        widest_fifth_cents: fifths
            .iter()
            .map(departure)
            .fold(f64::NEG_INFINITY, f64::max),
        third_c_e_cents: (temperament.above_c(e) - Cents::of_ratio(5.0, 4.0)).get(),
        widest_third_cents: temperament
            .major_thirds_of(chain)
            .iter()
            .map(departure)
            .fold(f64::NEG_INFINITY, f64::max),
    }
}
