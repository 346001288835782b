//! The voices of a recording: update by update for scripts, chord by chord for people.

use std::fmt::Write;

use serde::Serialize;

use super::layout::{Side, columns, rounded};
use super::places::{PartialCell, TemperedCell};
use crate::analysis::chord::{ChordSound, HeardChord, HeardVoice, VoiceStatus};
use crate::rehearsal::{SoughtVoices, VoiceLabel};
use crate::tuning::Tuning;
use crate::units::{Cents, Hertz, Seconds};

/// One voice of one update.
///
/// As JSON, one a line: `{"time_s":1.2,"window_s":1.0,"label":"p8","hz":554.1,
/// "margin_cents":0.8,"confidence":0.99,"status":"ok","partial":{"number":8,"octaves":0,
/// "cents":1.0},"tempered":{"note":"D5","cents":1.0},"merged_with":null,"beats_hz":null,
/// "named":true,"or_label":null,
/// "voice":3}`.
///
/// `time_s` is the middle of the sound that was measured and `window_s` the width of the Hann
/// window over which the pitch is a mean. `label` is the place the voice was looked for at. Of
/// a voice that is merged with a partial of a lower one, `merged_with` says which
/// (`{"label":"p4","partial":2}`), and `hz` is that partial. Of an absent voice `hz`, `partial`
/// and `tempered` are null. `beats_hz` are the beats with the voice almost in unison with it;
/// `named` is false where it is not known whose voice it is: which of two almost in unison, or
/// whether the trumpets' (`label`) or another's at the same place (`or_label`). `voice` stays the same
/// while a voice is followed.
#[derive(Debug, Clone, PartialEq, Serialize)]
struct VoiceReport {
    time_s: f64,
    window_s: f64,
    label: String,
    hz: Option<f64>,
    margin_cents: f64,
    confidence: f64,
    status: &'static str,
    partial: Option<PartialCell>,
    tempered: Option<TemperedCell>,
    merged_with: Option<MergedCell>,
    beats_hz: Option<f64>,
    named: bool,
    or_label: Option<String>,
    voice: u32,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct MergedCell {
    label: String,
    partial: u8,
}

fn label(sought: &SoughtVoices, voice: &HeardVoice) -> String {
    sought
        .label(voice.place)
        .map_or_else(String::new, |label| format!("{label:#}"))
}

/// The voices of one update as lines of JSON, each with its line break.
///
/// # Panics
///
/// Never: a voice holds only text and finite numbers.
pub fn chord_json_lines(chord: &HeardChord, sought: &SoughtVoices, tuning: &Tuning) -> String {
    let line = |voice: &HeardVoice| {
        let sounds = voice.status != VoiceStatus::Absent;
        let placement = sounds.then(|| tuning.place(voice.hertz));
        let report = VoiceReport {
            time_s: rounded(chord.time.get()),
            window_s: rounded(chord.span.get()),
            label: label(sought, voice),
            hz: sounds.then(|| rounded(voice.hertz.get())),
            margin_cents: rounded(voice.margin.get()),
            confidence: rounded(voice.confidence),
            status: voice.status.word(),
            partial: placement.and_then(|placement| PartialCell::of(&placement)),
            tempered: placement.map(|placement| TemperedCell::of(&placement)),
            merged_with: match voice.status {
                VoiceStatus::Merged { with, partial } => {
                    chord.voices.get(with).map(|lower| MergedCell {
                        label: label(sought, lower),
                        partial,
                    })
                }
                VoiceStatus::Ok | VoiceStatus::Doubtful | VoiceStatus::Absent => None,
            },
            beats_hz: voice.beating.map(|beating| rounded(beating.rate_hz)),
            named: voice.is_named,
            or_label: voice
                .or_place
                .and_then(|place| sought.label(place))
                .map(|label| format!("{label:#}")),
            voice: voice.identity,
        };
        let text = serde_json::to_string(&report);
        text.expect("voices hold only text and finite numbers") + "\n"
    };
    chord.voices.iter().map(line).collect()
}

/// Gathers updates into chords: stretches in which the same voices sound.
#[derive(Debug, Default)]
pub struct ChordGatherer {
    chords: Vec<Gathered>,
    current: Option<Gathered>,
}

#[derive(Debug)]
struct Gathered {
    begun: Seconds,
    ended: Seconds,
    voices: Vec<Vec<HeardVoice>>,
}

/// A chord that was heard for one update only is not listed.
const FEWEST_UPDATES: usize = 2;

impl ChordGatherer {
    /// Takes in an update.
    pub fn take(&mut self, chord: &HeardChord) {
        if chord.sound != ChordSound::Held || chord.voices.is_empty() {
            self.chords.extend(self.current.take());
            return;
        }
        let same = |current: &Gathered| {
            let before = current.voices.iter().map(|voice| voice[0].identity);
            before.eq(chord.voices.iter().map(|voice| voice.identity))
        };
        if let Some(current) = self.current.as_mut().filter(|current| same(current)) {
            current.ended = chord.time;
            for (voice, heard) in current.voices.iter_mut().zip(&chord.voices) {
                voice.push(*heard);
            }
            return;
        }
        self.chords.extend(self.current.take());
        self.current = Some(Gathered {
            begun: chord.time,
            ended: chord.time,
            voices: chord.voices.iter().map(|voice| vec![*voice]).collect(),
        });
    }

    /// All chords as a table.
    pub fn to_table(mut self, sought: &SoughtVoices, tuning: &Tuning) -> String {
        self.chords.extend(self.current.take());
        let listed = self.chords.iter().filter(|chord| {
            let updates = chord.voices.first().map_or(0, Vec::len);
            updates >= FEWEST_UPDATES
        });
        let rows: Vec<Vec<String>> = listed
            .flat_map(|chord| chord.rows(sought, tuning))
            .collect();
        if rows.is_empty() {
            return "no chord was held for a second\n".to_owned();
        }
        let headings = [
            ("from", Side::Right),
            ("to", Side::Right),
            ("voice", Side::Left),
            ("Hz", Side::Right),
            ("partial", Side::Right),
            ("cents", Side::Right),
            ("tempered", Side::Left),
            ("cents", Side::Right),
            ("within", Side::Right),
            ("", Side::Left),
        ];
        columns(&headings, &rows)
    }
}

impl Gathered {
    fn rows(&self, sought: &SoughtVoices, tuning: &Tuning) -> Vec<Vec<String>> {
        let labels: Vec<String> = self
            .voices
            .iter()
            .map(|voice| {
                let last = voice[voice.len() - 1];
                let text = |place: usize| {
                    let label = sought.label(place);
                    label.map_or_else(String::new, |label: VoiceLabel| label.to_string())
                };
                match last.or_place {
                    Some(other) => format!("{}/{}", text(last.place), text(other)),
                    None => text(last.place),
                }
            })
            .collect();
        let row = |(index, voice): (usize, &Vec<HeardVoice>)| {
            let (from, to) = if index == 0 {
                (seconds(self.begun), seconds(self.ended))
            } else {
                (String::new(), String::new())
            };
            let status = most_frequent(voice);
            let mut row = vec![from, to, labels[index].clone()];
            let has_pitch = matches!(status, VoiceStatus::Ok | VoiceStatus::Doubtful);
            let middle = median(voice.iter().map(|heard| heard.hertz.get()));
            let hertz = Hertz::new(middle).ok().filter(|_| has_pitch);
            if let Some(hertz) = hertz {
                let placement = tuning.place(hertz);
                let margin = median(voice.iter().map(|heard| heard.margin.get()));
                row.push(format!("{:.2}", hertz.get()));
                row.push(
                    placement
                        .partial
                        .map_or("\u{2014}".to_owned(), |p| p.to_string()),
                );
                row.push(
                    placement
                        .partial
                        .map_or(String::new(), |p| format!("{:.1}", p.cents)),
                );
                row.push(placement.tempered.note.to_string());
                row.push(format!("{:.1}", placement.tempered.cents));
                row.push(format!("\u{b1}{:.1}", Cents::new(margin).get()));
            } else {
                row.extend((0..6).map(|_| String::new()));
            }
            row.push(remark(voice, status, &labels));
            row
        };
        self.voices.iter().enumerate().map(row).collect()
    }
}

fn remark(voice: &[HeardVoice], status: VoiceStatus, labels: &[String]) -> String {
    let mut words = match status {
        VoiceStatus::Ok => String::new(),
        VoiceStatus::Doubtful => "doubtful".to_owned(),
        VoiceStatus::Absent => "expected, not heard".to_owned(),
        VoiceStatus::Merged { with, partial: 1 } => {
            format!("together with {}", labels[with.min(labels.len() - 1)])
        }
        VoiceStatus::Merged { with, partial } => {
            let lower = &labels[with.min(labels.len() - 1)];
            format!("merged with partial {partial} of {lower}")
        }
    };
    let rates = voice.iter().filter_map(|heard| heard.beating);
    let beats = median(rates.map(|beating| beating.rate_hz));
    if beats > 0.0 && status != VoiceStatus::Absent {
        let pause = if words.is_empty() { "" } else { ", " };
        // Writing to a string cannot fail.
        let _ = write!(words, "{pause}beats {beats:.1} a second");
    }
    words
}

fn seconds(time: Seconds) -> String {
    format!("{:.1}", time.get())
}

fn most_frequent(voice: &[HeardVoice]) -> VoiceStatus {
    let count = |status: VoiceStatus| voice.iter().filter(|heard| heard.status == status).count();
    voice
        .iter()
        .map(|heard| heard.status)
        .max_by_key(|status| count(*status))
        .unwrap_or(VoiceStatus::Absent)
}

/// The median; zero of nothing.
fn median(values: impl Iterator<Item = f64>) -> f64 {
    let mut values: Vec<f64> = values.collect();
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(0.0)
}
