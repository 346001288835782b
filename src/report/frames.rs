//! Readings of a recording one by one, for scripts and spreadsheets.

use serde::Serialize;

use super::layout::{cell, rounded};
use super::places::{PartialCell, TemperedCell};
use crate::analysis::Reading;
use crate::tuning::Tuning;

/// Headings of the comma-separated form; empty cells where there is nothing to say.
pub const FRAME_HEADINGS: [&str; 14] = [
    "time_s",
    "available_s",
    "channel",
    "hz",
    "margin_cents",
    "confidence",
    "level_dbfs",
    "partial",
    "partial_octaves",
    "partial_cents",
    "tempered_note",
    "tempered_cents",
    "why",
    "inharmonicity",
];

/// One reading of one channel against both places.
///
/// As JSON, one a line: `{"time_s":1.23,"available_s":1.27,"channel":1,"hz":416.2,
/// "margin_cents":0.4,"confidence":0.98,"level_dbfs":-21.0,
/// "partial":{"number":6,"octaves":0,"cents":1.4},"tempered":{"note":"A4","cents":5.0},
/// "why":null,"inharmonicity":0.0001}`.
///
/// `time_s` is the centre of the analysed sound, and `available_s` its end: the moment at
/// which a live program could have shown the reading. `channel` counts from 1. `hz`,
/// `margin_cents`, `partial`, `tempered` and `inharmonicity` are null where there is no pitch, and `why` then
/// says the reason: `silence`, `noise` or `two-notes`. `partial` is also null where no partial
/// lies within 70 cents. `octaves` says how far from the partial's own octave it was measured.
/// `inharmonicity` is B of a stiff string, whose partial n stands at n f sqrt(1 + B n^2); `hz` is
/// its first partial. It is 0 where none shows.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FrameReport {
    time_s: f64,
    available_s: f64,
    channel: usize,
    hz: Option<f64>,
    margin_cents: Option<f64>,
    confidence: f64,
    level_dbfs: f64,
    partial: Option<PartialCell>,
    tempered: Option<TemperedCell>,
    why: Option<&'static str>,
    inharmonicity: Option<f64>,
}

impl FrameReport {
    /// A reading of the channel with this number, counted from 1.
    pub fn new(channel: usize, reading: &Reading, tuning: &Tuning) -> Self {
        let pitch = reading.pitch.ok();
        let placement = pitch.map(|pitch| tuning.place(pitch.hertz));
        Self {
            // The first windows reach back to before the recording.
            time_s: rounded(reading.time.get().max(0.0)),
            available_s: rounded(reading.available.get()),
            channel,
            hz: pitch.map(|pitch| rounded(pitch.hertz.get())),
            margin_cents: pitch.map(|pitch| rounded(pitch.margin.get())),
            confidence: pitch.map_or(0.0, |pitch| rounded(pitch.confidence)),
            level_dbfs: rounded(reading.level.get()),
            partial: placement.and_then(|placement| PartialCell::of(&placement)),
            tempered: placement.map(|placement| TemperedCell::of(&placement)),
            why: reading.pitch.err().map(crate::analysis::NoPitch::word),
            // A hundredth of a plain string's coefficient.
            inharmonicity: pitch.map(|pitch| (pitch.inharmonicity * 1e7).round() / 1e7),
        }
    }

    /// One line of JSON without its line break.
    ///
    /// # Panics
    ///
    /// Never: a reading holds only text and finite numbers.
    pub fn to_json_line(&self) -> String {
        serde_json::to_string(self).expect("reports hold only text and finite numbers")
    }

    /// The cells under [`FRAME_HEADINGS`].
    pub fn to_cells(&self) -> Vec<String> {
        let optional = |number: Option<f64>| number.map_or_else(String::new, cell);
        let partial = self.partial.as_ref();
        let tempered = self.tempered.as_ref();
        vec![
            cell(self.time_s),
            cell(self.available_s),
            self.channel.to_string(),
            optional(self.hz),
            optional(self.margin_cents),
            cell(self.confidence),
            cell(self.level_dbfs),
            partial.map_or_else(String::new, |p| p.number.to_string()),
            partial.map_or_else(String::new, |p| p.octaves.to_string()),
            optional(partial.map(|p| p.cents)),
            tempered.map_or_else(String::new, |t| t.note.ascii()),
            optional(tempered.map(|t| t.cents)),
            self.why.unwrap_or_default().to_owned(),
            self.inharmonicity
                .map_or_else(String::new, |b| b.to_string()),
        ]
    }
}
