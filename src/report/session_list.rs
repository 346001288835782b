//! The sessions of a folder, one a line.

use serde::Serialize;

use super::layout::{Side, columns, json, six_decimals};
use crate::rehearsal::{Chronicle, Decision};
use crate::units::Seconds;

/// The list of sessions, the latest last.
///
/// As JSON: `{"folder":"...","sessions":[...]}` with a [`SessionSummary`] each.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SessionListReport {
    /// Where they lie.
    pub folder: String,
    /// One for each.
    pub sessions: Vec<SessionSummary>,
}

/// One session in the list.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SessionSummary {
    /// The file's name.
    pub name: String,
    /// When it began (RFC 3339).
    pub begun: String,
    /// From its first moment to its last, in seconds.
    #[serde(serialize_with = "six_decimals")]
    pub length_s: f64,
    /// In how many sittings it was recorded.
    pub sittings: usize,
    /// The programme or the band.
    pub title: String,
    /// The A4 of the pitch standard at the end; none of a session of chords alone.
    pub a4_hz: Option<f64>,
    /// The temperament at the end.
    pub temperament: Option<String>,
    /// How many notes were heard.
    pub notes: usize,
    /// What is agreed in the end: `F# follow the partial`.
    pub agreed: Vec<String>,
    /// Whether it ended as it should.
    pub ended_well: bool,
    /// Whether it is being recorded.
    pub running: bool,
}

impl SessionSummary {
    /// The session in this file, which began at this date and is so long. Nobody is recording
    /// into it.
    pub fn new(
        name: String,
        begun: String,
        length: Seconds,
        chronicle: &Chronicle,
        ended_well: bool,
    ) -> Self {
        let last = chronicle.sittings().last();
        let tuning = chronicle.tunings().last().map(|(_, tuning)| tuning);
        let agreed = |decision: &Decision| {
            let resolution = decision.resolution?;
            Some(format!("{:#} {}", decision.note, resolution.words()))
        };
        let title = last.map(|sitting| sitting.ensemble.title.clone());
        let chords = chronicle.held().last();
        let title = title.or_else(|| chords.map(|(_, chord)| chord.setting.title.clone()));
        // A continuation without notes counts as one with the note before it.
        let notes = chronicle.notes().iter().filter(|note| !note.goes_on);
        Self {
            name,
            begun,
            length_s: length.get(),
            sittings: chronicle.sittings().len(),
            title: title.unwrap_or_default(),
            a4_hz: tuning.map(|tuning| tuning.standard().a4().get()),
            temperament: tuning.map(|tuning| tuning.scale().temperament().name.clone()),
            notes: notes.count(),
            agreed: chronicle
                .agreements()
                .into_iter()
                .filter_map(agreed)
                .collect(),
            ended_well,
            running: false,
        }
    }

    /// The same of one that is being recorded, or not.
    pub fn running(self, running: bool) -> Self {
        Self { running, ..self }
    }

    fn row(&self) -> Vec<String> {
        let date = self.begun.get(..16).unwrap_or(&self.begun);
        let minutes = (self.length_s / 60.0).round() as u64;
        let dash = || "\u{2013}".to_owned();
        vec![
            self.name.clone(),
            date.replace('T', " "),
            format!("{}:{:02}", minutes / 60, minutes % 60),
            self.title.clone(),
            self.a4_hz.map_or_else(dash, |hz| format!("{hz}")),
            self.temperament.clone().unwrap_or_else(dash),
            self.notes.to_string(),
            match self.agreed.len() {
                0 => dash(),
                1 | 2 => self.agreed.join(", "),
                count => format!("{} and {} more", self.agreed[0], count - 1),
            },
            match (self.running, self.ended_well) {
                (true, _) => "running",
                (false, true) => "well",
                (false, false) => "cut off",
            }
            .to_owned(),
        ]
    }
}

impl SessionListReport {
    /// Columns for reading.
    pub fn to_table(&self) -> String {
        let headings = [
            ("session", Side::Left),
            ("begun", Side::Left),
            ("h:min", Side::Right),
            ("title", Side::Left),
            ("A4", Side::Right),
            ("temperament", Side::Left),
            ("notes", Side::Right),
            ("agreed", Side::Left),
            ("ended", Side::Left),
        ];
        let rows: Vec<Vec<String>> = self.sessions.iter().map(SessionSummary::row).collect();
        columns(&headings, &rows)
    }

    /// JSON for scripts.
    pub fn to_json(&self) -> String {
        json(self)
    }
}
