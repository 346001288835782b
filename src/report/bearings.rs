//! The tuner's sheet, for reading, printing and scripts.

mod page;

use serde::Serialize;

use super::layout::{Side, columns, json, level, paragraph, six_decimals};
use super::temperament_list::ascii_chain;
use crate::bearings::{CAUTIONS, Deed, Pair, Sheet, Step, interval};
use crate::tuning::Chain;
use crate::units::{Note, NoteName};

/// A tuner's sheet as text.
///
/// As JSON:
/// `{"temperament":..,"title":..,"a4_hz":415.0,"kept_by":"A","a4_stands_at_hz":..,
/// "chain":"Eb-G#","thirds_first":false,
/// "steps":[{"step":1,"deed":"take|tune|check|leave","tune":"A4"|null,"to":"A4"|null,
/// "hz":415.0|null,"interval":{"low":"A3","high":"D4","low_hz":..,"high_hz":..,
/// "name":"fourth","of_lower":4,"of_upper":3,"beats_hz":1.72,"sense":"narrow|wide|pure",
/// "from_pure_cents":..}|null,"wolf":false,"how":".."}],
/// "remarks":[".."],"cautions":[".."]}`.
///
/// `a4_hz` is the level that was asked for; where another note than A keeps it, A4 stands at
/// `a4_stands_at_hz`. `hz` is where the note in `tune` has to stand. `beats_hz` is signed,
/// negative when narrow: partial `of_upper` of the upper note less partial `of_lower` of the
/// lower one.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BearingsReport {
    temperament: String,
    title: String,
    #[serde(serialize_with = "six_decimals")]
    a4_hz: f64,
    kept_by: NoteName,
    #[serde(serialize_with = "six_decimals")]
    a4_stands_at_hz: f64,
    #[serde(serialize_with = "ascii_chain")]
    chain: Chain,
    thirds_first: bool,
    steps: Vec<StepRow>,
    remarks: Vec<String>,
    cautions: [&'static str; CAUTIONS.len()],
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct StepRow {
    step: usize,
    deed: &'static str,
    #[serde(serialize_with = "ascii")]
    tune: Option<Note>,
    #[serde(serialize_with = "ascii")]
    to: Option<Note>,
    #[serde(serialize_with = "six_decimals_or_none")]
    hz: Option<f64>,
    interval: Option<IntervalRow>,
    wolf: bool,
    how: String,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct IntervalRow {
    #[serde(serialize_with = "ascii_note")]
    low: Note,
    #[serde(serialize_with = "ascii_note")]
    high: Note,
    #[serde(serialize_with = "six_decimals")]
    low_hz: f64,
    #[serde(serialize_with = "six_decimals")]
    high_hz: f64,
    name: &'static str,
    of_lower: u32,
    of_upper: u32,
    #[serde(serialize_with = "six_decimals")]
    beats_hz: f64,
    sense: &'static str,
    #[serde(serialize_with = "six_decimals")]
    from_pure_cents: f64,
}

#[expect(
    clippy::ref_option,
    clippy::trivially_copy_pass_by_ref,
    reason = "the signature serde asks for"
)]
fn ascii<S: serde::Serializer>(note: &Option<Note>, serializer: S) -> Result<S::Ok, S::Error> {
    note.map(Note::ascii).serialize(serializer)
}

#[expect(
    clippy::trivially_copy_pass_by_ref,
    reason = "the signature serde asks for"
)]
fn ascii_note<S: serde::Serializer>(note: &Note, serializer: S) -> Result<S::Ok, S::Error> {
    note.ascii().serialize(serializer)
}

#[expect(clippy::ref_option, reason = "the signature serde asks for")]
fn six_decimals_or_none<S: serde::Serializer>(
    number: &Option<f64>,
    serializer: S,
) -> Result<S::Ok, S::Error> {
    number.map(super::layout::rounded).serialize(serializer)
}

impl IntervalRow {
    fn of(pair: &Pair) -> Self {
        Self {
            low: pair.lower.note,
            high: pair.upper.note,
            low_hz: pair.lower.hertz.get(),
            high_hz: pair.upper.hertz.get(),
            name: interval(pair),
            of_lower: pair.ratio.over(),
            of_upper: pair.ratio.under(),
            beats_hz: pair.signed_hz,
            sense: pair.sense().map_or("pure", |sense| sense.word()),
            from_pure_cents: pair.from_pure.get(),
        }
    }

    /// Beats as a tuner counts them.
    fn beats(&self) -> String {
        match self.sense {
            "pure" => "none".to_owned(),
            sense => format!("{:.1} {sense}", self.beats_hz.abs()),
        }
    }
}

impl StepRow {
    fn of(step: &Step) -> Self {
        let deed = &step.deed;
        Self {
            step: step.number,
            deed: deed.word(),
            tune: deed.tuned().map(|tuned| tuned.note),
            to: deed.standing().map(|standing| standing.note),
            hz: deed.tuned().map(|tuned| tuned.hertz.get()),
            interval: deed.pair().map(IntervalRow::of),
            wolf: matches!(deed, Deed::Leave { is_wolf: true, .. }),
            how: deed.how(),
        }
    }

    /// The note that is tuned and what to, or the interval that is listened to.
    fn what(&self) -> String {
        match (&self.tune, &self.to, &self.interval) {
            (Some(tune), Some(to), Some(interval)) => {
                format!("{tune} from {to}, {}", interval.name)
            }
            (Some(tune), ..) => tune.to_string(),
            (None, _, Some(interval)) => {
                format!(
                    "{}\u{2013}{}, {}",
                    interval.low, interval.high, interval.name
                )
            }
            (None, ..) => String::new(),
        }
    }

    fn hertz(&self) -> String {
        self.hz.map_or_else(String::new, |hz| format!("{hz:.2}"))
    }

    fn beats(&self) -> String {
        self.interval
            .as_ref()
            .map_or_else(String::new, IntervalRow::beats)
    }
}

impl BearingsReport {
    /// The sheet as it is.
    pub fn new(sheet: &Sheet) -> Self {
        let temperament = sheet.scale().temperament();
        Self {
            temperament: temperament.name.clone(),
            title: temperament.title.clone(),
            a4_hz: sheet.standard().a4().get(),
            kept_by: sheet.standard().kept(),
            a4_stands_at_hz: sheet.a4().get(),
            chain: sheet.scale().chain(),
            thirds_first: sheet.method() == crate::bearings::Method::Thirds,
            steps: sheet.steps().iter().map(StepRow::of).collect(),
            remarks: sheet.remarks(),
            cautions: CAUTIONS,
        }
    }

    /// Columns for reading.
    pub fn to_table(&self) -> String {
        let rows: Vec<Vec<String>> = self
            .steps
            .iter()
            .map(|row| {
                vec![
                    row.step.to_string(),
                    row.deed.to_owned(),
                    row.what(),
                    row.hertz(),
                    row.beats(),
                ]
            })
            .collect();
        let mut text = format!(
            "{}\n{}, {}\nkeys {}; beats a second\n\n",
            self.title,
            self.temperament,
            level(self.a4_hz, self.kept_by),
            self.chain
        );
        text += &columns(
            &[
                ("", Side::Right),
                ("", Side::Left),
                ("", Side::Left),
                ("Hz", Side::Right),
                ("beats", Side::Left),
            ],
            &rows,
        );
        text.push('\n');
        for row in &self.steps {
            text += &paragraph(&format!("{:>3}.", row.step), &row.told());
        }
        text.push('\n');
        for remark in &self.remarks {
            text += &paragraph("remark:", remark);
        }
        for caution in &self.cautions {
            text += &paragraph("caution:", caution);
        }
        text
    }

    /// As JSON.
    pub fn to_json(&self) -> String {
        json(self)
    }

    /// One page of HTML without anything to fetch.
    pub fn to_html(&self) -> String {
        page::page(self)
    }
}

impl StepRow {
    /// The step as a sentence.
    fn told(&self) -> String {
        format!("{} {}: {}.", self.deed, self.what(), self.how)
    }
}

#[cfg(test)]
mod tests;
