//! The notes of a recording in columns, for reading.

use super::layout::{Side, columns};
use crate::analysis::Reading;
use crate::tuning::Tuning;
use crate::units::{Cents, Hertz, Note, Seconds};

/// A note shorter than this is not listed.
const SHORTEST_S: f64 = 0.12;
/// A pitch within this of a note's place goes on with it, even past the middle to the next.
const STAYS: Cents = Cents::new(65.0);
/// A pause longer than this ends a note.
const LONGEST_PAUSE_S: f64 = 0.06;

/// Gathers the readings of one channel into notes.
#[derive(Debug, Clone)]
pub struct NoteGatherer {
    channel: usize,
    open: Option<Open>,
    notes: Vec<HeardNote>,
}

#[derive(Debug, Clone)]
struct Open {
    note: Note,
    from: Seconds,
    to: Seconds,
    hertz: Vec<Hertz>,
}

/// A note that was heard.
#[derive(Debug, Clone, PartialEq)]
struct HeardNote {
    channel: usize,
    from: Seconds,
    length: Seconds,
    /// Median pitch.
    hertz: Hertz,
    /// Half the distance between the 16th and the 84th of a hundred readings.
    spread: Cents,
}

impl NoteGatherer {
    /// A gatherer for the channel at this place of the list, from 0.
    pub fn new(channel: usize) -> Self {
        Self {
            channel,
            open: None,
            notes: Vec::new(),
        }
    }

    /// Takes in the channel's next reading.
    pub fn take(&mut self, reading: &Reading, tuning: &Tuning) {
        let Ok(pitch) = reading.pitch else { return };
        let note = tuning.place(pitch.hertz).tempered.note;
        if let Some(open) = &mut self.open {
            let pause = (reading.time - open.to).get();
            // A note held between two keys is one note, whichever of them is nearer.
            let place = tuning.scale().frequency(open.note);
            let stays = open.note == note || pitch.hertz.above(place).abs() <= STAYS;
            if stays && pause <= LONGEST_PAUSE_S {
                open.to = Seconds::new(open.to.get().max(reading.time.get()));
                open.hertz.push(pitch.hertz);
                return;
            }
        }
        self.close();
        let at = reading.time;
        self.open = Some(Open {
            note,
            from: at,
            to: at,
            hertz: vec![pitch.hertz],
        });
    }

    fn close(&mut self) {
        let Some(mut open) = self.open.take() else {
            return;
        };
        let length = open.to - open.from;
        if length.get() < SHORTEST_S {
            return;
        }
        open.hertz.sort_by(|a, b| a.get().total_cmp(&b.get()));
        let at = |share: f64| open.hertz[((open.hertz.len() - 1) as f64 * share).round() as usize];
        self.notes.push(HeardNote {
            channel: self.channel,
            from: open.from,
            length,
            hertz: at(0.5),
            spread: at(0.84).above(at(0.16)) * 0.5,
        });
    }
}

/// The notes of all channels in the order of their beginnings; `names` and `tunings` have one
/// entry for each channel.
pub fn notes_table(gathered: Vec<NoteGatherer>, names: &[&str], tunings: &[Tuning]) -> String {
    let mut notes: Vec<HeardNote> = gathered
        .into_iter()
        .flat_map(|mut gatherer| {
            gatherer.close();
            gatherer.notes
        })
        .collect();
    notes.sort_by(|a, b| a.from.get().total_cmp(&b.from.get()));
    let headings = [
        ("from", Side::Right),
        ("s", Side::Right),
        ("player", Side::Left),
        ("note", Side::Left),
        ("Hz", Side::Right),
        ("partial", Side::Left),
        ("cents", Side::Right),
        ("tempered", Side::Right),
        ("cents", Side::Right),
        ("spread", Side::Right),
    ];
    let rows: Vec<Vec<String>> = notes
        .iter()
        .map(|note| {
            let placement = tunings[note.channel].place(note.hertz);
            let partial = placement.partial;
            vec![
                clock_time(note.from),
                format!("{:.1}", note.length.get()),
                names[note.channel].to_owned(),
                placement.tempered.note.to_string(),
                format!("{:.2}", note.hertz.get()),
                partial.map_or_else(|| "\u{2014}".to_owned(), |p| p.to_string()),
                partial.map_or_else(|| "\u{2014}".to_owned(), |p| format!("{:.1}", p.cents)),
                placement.tempered.note.name().to_string(),
                format!("{:.1}", placement.tempered.cents),
                format!("{:.1}", note.spread.get()),
            ]
        })
        .collect();
    if rows.is_empty() {
        return "no note of a tenth of a second or longer was heard\n".to_owned();
    }
    columns(&headings, &rows)
}

/// Minutes and seconds.
fn clock_time(moment: Seconds) -> String {
    let tenths = (moment.get().max(0.0) * 10.0).round() as u64;
    format!("{}:{:02}.{}", tenths / 600, tenths / 10 % 60, tenths % 10)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::{NoPitch, Pitch};
    use crate::session::default_ensemble;
    use crate::units::Dbfs;

    fn reading(time: f64, hz: Option<f64>) -> Reading {
        let pitch = |hz| Pitch {
            hertz: Hertz::new(hz).unwrap(),
            margin: Cents::new(0.5),
            confidence: 1.0,
            inharmonicity: 0.0,
        };
        Reading {
            time: Seconds::new(time),
            available: Seconds::new(time),
            level: Dbfs::new(-20.0),
            clipped: false,
            pitch: hz.map(pitch).ok_or(NoPitch::Silence),
            motion: None,
        }
    }

    #[test]
    fn readings_become_notes_with_both_deviations() {
        let tuning = default_ensemble(1).tuning;
        let mut gatherer = NoteGatherer::new(0);
        for hop in 0..200 {
            let time = f64::from(hop) * 0.01;
            // A4 at 415 Hz, a breath, then the eleventh partial of D: 11/8 of D5.
            let hz = match hop {
                0..80 => Some(415.0),
                80..100 => None,
                _ => Some(tuning.series().fundamental().get() * 11.0),
            };
            gatherer.take(&reading(time, hz), &tuning);
        }
        let table = notes_table(vec![gatherer], &["Violin"], &[tuning]);
        // The sixth partial lies 3.6 cents above the fifth of sixth-comma meantone: computed
        // (701.955 - 698.371). The eleventh lies 38.9 under the tempered G sharp: domain
        // table of partials in 1/6 meantone.
        insta::assert_snapshot!(table, @"
          from    s  player  note      Hz  partial  cents  tempered  cents  spread
        0:00.0  0.8  Violin  A4    415.00  6         −3.6         A   ±0.0     0.0
        0:01.0  1.0  Violin  G♯5   762.41  11        ±0.0        G♯  −38.9     0.0
        ");
    }

    #[test]
    fn nothing_heard_is_said_in_words() {
        let tuning = default_ensemble(1).tuning;
        let table = notes_table(vec![NoteGatherer::new(0)], &["Violin"], &[tuning]);
        assert!(table.starts_with("no note"), "{table}");
    }
}
