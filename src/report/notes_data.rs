//! The notes of rehearsals one by one, for scripts and spreadsheets.

use serde::Serialize;

use super::Occasion;
use super::digest::{decision_at, tuning_at};
use super::layout::{cell, csv, rounded, text_cell};
use super::wording::family;
use crate::rehearsal::{Chronicle, Family, Note, Resolution};
use crate::tuning::Tuning;

/// Headings of the comma-separated form; cells are empty where there is nothing to say.
const HEADINGS: [&str; 30] = [
    "session",
    "date",
    "player",
    "family",
    "instrument",
    "label",
    "note",
    "partial",
    "partial_octaves",
    "begun_s",
    "ended_s",
    "steady_s",
    "goes_on",
    "hz",
    "margin_cents",
    "spread_cents",
    "level_dbfs",
    "tempered_hz",
    "tempered_cents",
    "partial_hz",
    "partial_cents",
    "gap_cents",
    "temperament",
    "chain",
    "a4_hz",
    "kept_by",
    "trumpet_key",
    "fundamental_hz",
    "decision",
    "decision_cents",
];

/// One held note.
///
/// `begun_s`, `ended_s`: from the beginning of the rehearsal's first sitting. `steady_s`: how
/// much of it the pitch was measured over. `goes_on`: it is the continuation of the note
/// before it. `hz`: its pitch, right to `margin_cents` 19 times in 20; `spread_cents`: standard
/// deviation about it, vibrato included. `level_dbfs`: RMS. `label`: a trumpet's partial (`p11`)
/// or the note. `note`: the tempered note, `tempered_hz` where it stands and `tempered_cents`
/// how far above it the pitch lies; likewise `partial_hz` and `partial_cents`, empty or null
/// without a partial within 70 cents, and `partial_octaves`, which counts from where the partial
/// itself sounds. `gap_cents`: the partial above the tempered place. `temperament`, `chain`,
/// `a4_hz`, `kept_by`, `trumpet_key`, `fundamental_hz`: what was measured against then.
/// `decision`: what was agreed on the note when it began (`follow-partial`,
/// `follow-temperament`, `meet-between`, `trumpet-lips`, `keyboard-leaves-out` or
/// `leave-exposed`), `decision_cents`: where that puts this player, above the tempered place.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(super) struct NoteRow {
    player: String,
    family: &'static str,
    instrument: String,
    label: String,
    note: String,
    partial: Option<u8>,
    partial_octaves: Option<i8>,
    begun_s: f64,
    ended_s: f64,
    steady_s: f64,
    goes_on: bool,
    hz: f64,
    margin_cents: f64,
    spread_cents: f64,
    level_dbfs: f64,
    tempered_hz: f64,
    tempered_cents: f64,
    partial_hz: Option<f64>,
    partial_cents: Option<f64>,
    gap_cents: Option<f64>,
    temperament: String,
    chain: String,
    a4_hz: Option<f64>,
    kept_by: String,
    trumpet_key: String,
    fundamental_hz: Option<f64>,
    decision: Option<&'static str>,
    decision_cents: Option<f64>,
}

impl NoteRow {
    /// None where nobody of the chronicle played it.
    pub(super) fn new(chronicle: &Chronicle, note: &Note) -> Option<Self> {
        let player = chronicle.players().get(note.channel)?;
        let places = &note.places;
        let (partial, tempered) = (places.partial, places.tempered);
        let tuning = tuning_at(chronicle, note.begun);
        let decision = decision_at(chronicle, tempered.note.name(), note.begun);
        let resolution = decision.and_then(|decision| decision.resolution);
        let text = |words: &dyn Fn(&Tuning) -> String| tuning.map(words).unwrap_or_default();
        let own_family: Family = player.instrument.family;
        Some(Self {
            player: player.name.clone(),
            family: family(own_family),
            instrument: player.instrument.name.clone(),
            label: format!("{:#}", note.label),
            note: tempered.note.ascii(),
            partial: partial.map(|partial| partial.partial.number()),
            partial_octaves: partial.map(|partial| partial.octaves),
            begun_s: rounded(note.begun.get()),
            ended_s: rounded(note.ended.get()),
            steady_s: rounded(note.steady.get()),
            goes_on: note.goes_on,
            hz: rounded(note.hertz.get()),
            margin_cents: rounded(note.margin.get()),
            spread_cents: rounded(note.spread.get()),
            level_dbfs: rounded(note.level.get()),
            tempered_hz: rounded(tempered.place.get()),
            tempered_cents: rounded(tempered.cents.get()),
            partial_hz: partial.map(|partial| rounded(partial.place.get())),
            partial_cents: partial.map(|partial| rounded(partial.cents.get())),
            gap_cents: places.gap().map(|gap| rounded(gap.get())),
            temperament: text(&|tuning| tuning.scale().temperament().name.clone()),
            chain: text(&|tuning| format!("{:#}", tuning.scale().chain())),
            a4_hz: tuning.map(|tuning| rounded(tuning.standard().a4().get())),
            kept_by: text(&|tuning| tuning.standard().kept().ascii()),
            trumpet_key: text(&|tuning| tuning.series().key().ascii()),
            fundamental_hz: tuning.map(|tuning| rounded(tuning.series().fundamental().get())),
            decision: resolution.map(word),
            decision_cents: resolution
                .zip(tuning)
                .and_then(|(resolution, tuning)| {
                    resolution.place(own_family, &tuning.places_of(places.tempered))
                })
                .map(|place| rounded(place.above(tempered.place).get())),
        })
    }

    fn to_cells(&self, session: &str, date: &str) -> Vec<String> {
        let optional = |number: Option<f64>| number.map_or_else(String::new, cell);
        let partial_octaves = self.partial_octaves;
        vec![
            text_cell(session),
            date.to_owned(),
            text_cell(&self.player),
            self.family.to_owned(),
            text_cell(&self.instrument),
            self.label.clone(),
            self.note.clone(),
            self.partial.map_or_else(String::new, |n| n.to_string()),
            partial_octaves.map_or_else(String::new, |n| n.to_string()),
            cell(self.begun_s),
            cell(self.ended_s),
            cell(self.steady_s),
            self.goes_on.to_string(),
            cell(self.hz),
            cell(self.margin_cents),
            cell(self.spread_cents),
            cell(self.level_dbfs),
            cell(self.tempered_hz),
            cell(self.tempered_cents),
            optional(self.partial_hz),
            optional(self.partial_cents),
            optional(self.gap_cents),
            text_cell(&self.temperament),
            self.chain.clone(),
            optional(self.a4_hz),
            self.kept_by.clone(),
            self.trumpet_key.clone(),
            optional(self.fundamental_hz),
            self.decision.unwrap_or_default().to_owned(),
            optional(self.decision_cents),
        ]
    }
}

/// A resolution for machines.
pub(super) fn word(resolution: Resolution) -> &'static str {
    match resolution {
        Resolution::FollowPartial => "follow-partial",
        Resolution::FollowTemperament => "follow-temperament",
        Resolution::MeetBetween(_) => "meet-between",
        Resolution::TrumpetLips => "trumpet-lips",
        Resolution::KeyboardLeavesOut => "keyboard-leaves-out",
        Resolution::LeaveExposed => "leave-exposed",
    }
}

/// All notes of all rehearsals in one table of comma-separated values, a note a line.
///
/// The columns, in this order: `session`, `date` (when it began: RFC 3339), `player`, `family`,
/// `instrument`, `label`, `note`, `partial`, `partial_octaves`, `begun_s`, `ended_s`,
/// `steady_s`, `goes_on`, `hz`, `margin_cents`, `spread_cents`, `level_dbfs`, `tempered_hz`,
/// `tempered_cents`, `partial_hz`, `partial_cents`, `gap_cents`, `temperament`, `chain`, `a4_hz`,
/// `kept_by`, `trumpet_key`, `fundamental_hz`, `decision`, `decision_cents`. Names of notes are
/// ASCII (`F#4`); all distances are measured upwards. A name that a spreadsheet would run as a
/// formula has an apostrophe before it.
pub fn rehearsals_csv<'a>(occasions: impl IntoIterator<Item = &'a Occasion<'a>>) -> String {
    let rows = occasions.into_iter().flat_map(|occasion| {
        let notes = occasion.chronicle.notes().iter();
        notes.filter_map(|note| {
            let row = NoteRow::new(occasion.chronicle, note)?;
            Some(row.to_cells(occasion.name, occasion.begun))
        })
    });
    csv(&HEADINGS, rows)
}
