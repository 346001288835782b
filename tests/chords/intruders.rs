//! One voice that does not sound is expected beside those that do.

use std::io::Write;

use concento::analysis::chord::{MOST_VOICES, VoiceStatus};
use concento::rehearsal::{SoughtVoices, VoiceLabel};

use super::columns::{Table, section};
use super::ear::hear;
use super::matching::cents_above;
use super::pack::Chord;

/// Nothing that sounds is nearer than this to the voice that is added, in cents: nearer ones
/// could be it, out of tune.
const APART: f64 = 150.0;
/// A voice this near a multiple of another shares its lines, in cents.
const ON_A_MULTIPLE: f64 = 40.0;
const HIGHEST_MULTIPLE: f64 = 12.0;

/// How the added voice lies to the others.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Relation {
    Clear,
    Upper,
    Lower,
}

impl Relation {
    const ALL: [(Self, &'static str); 3] = [
        (Self::Clear, "absent, clear of the others"),
        (Self::Upper, "absent, on a multiple of another"),
        (Self::Lower, "absent, another on its multiple"),
    ];
}

/// How often voices were called what.
#[derive(Debug, Clone, Copy, Default)]
struct Calls {
    ok: usize,
    merged: usize,
    doubtful: usize,
    absent: usize,
    /// The update says nothing of it, as it neither begins nor holds.
    moving: usize,
}

impl Calls {
    fn count(&mut self, status: Option<VoiceStatus>) {
        *match status {
            Some(VoiceStatus::Ok) => &mut self.ok,
            Some(VoiceStatus::Merged { .. }) => &mut self.merged,
            Some(VoiceStatus::Doubtful) => &mut self.doubtful,
            Some(VoiceStatus::Absent) => &mut self.absent,
            None => &mut self.moving,
        } += 1;
    }

    fn all(&self) -> usize {
        self.ok + self.merged + self.doubtful + self.absent + self.moving
    }
}

/// Prints how often the absent voice is called one that sounds, and a present one absent.
pub(crate) fn print(chords: &[Chord], out: &mut dyn Write) -> anyhow::Result<()> {
    let mut absent = [Calls::default(); Relation::ALL.len()];
    let mut present = Calls::default();
    let mut present_alone = Calls::default();
    let mut tried = 0;
    for (turn, chord) in chords.iter().enumerate() {
        count(chord, &chord.expected, |_, status| {
            present_alone.count(status);
        });
        let Some((label, relation)) = intruder(chord, turn) else {
            continue;
        };
        tried += 1;
        let mut labels = chord.expected.clone();
        labels.push(label);
        count(chord, &labels, |place, status| {
            if place < chord.expected.len() {
                present.count(status);
            } else {
                let of = Relation::ALL.iter().position(|(r, _)| *r == relation);
                absent[of.unwrap_or(0)].count(status);
            }
        });
    }
    section(
        out,
        "False voices",
        &format!(
            "To {tried} chords one voice that does not sound is added to those expected, at least \
             {APART} cents from all of them: what it is called, and what the others are. \
             Figures are per cent of the updates of one voice."
        ),
    )?;
    let mut table = Table::new(&[
        "voice", "updates", "ok", "merged", "doubtful", "absent", "not held",
    ]);
    let rows = Relation::ALL.iter().zip(absent);
    let rows = rows.map(|((_, name), calls)| (*name, calls));
    let others = [
        ("present, beside an absent one", present),
        ("present, nothing added", present_alone),
    ];
    for (name, calls) in rows.chain(others) {
        let all = calls.all();
        let share =
            |count: usize| super::columns::percent((all > 0).then(|| count as f64 / all as f64));
        table.row([
            name.to_owned(),
            all.to_string(),
            share(calls.ok),
            share(calls.merged),
            share(calls.doubtful),
            share(calls.absent),
            share(calls.moving),
        ]);
    }
    writeln!(out, "{table}")?;
    Ok(())
}

/// Tells what each place is called in each update.
fn count(chord: &Chord, labels: &[VoiceLabel], mut each: impl FnMut(usize, Option<VoiceStatus>)) {
    let sought = SoughtVoices::expected(labels, &chord.tuning);
    for update in hear(chord, &sought, 1) {
        for place in 0..labels.len() {
            let voices = &update.chord.voices;
            let own = voices.iter().find(|voice| voice.place == place);
            each(place, own.map(|voice| voice.status));
        }
    }
}

/// A voice that could be played in `chord` and is not. Every relation has its `turn`, as far
/// as a chord allows.
fn intruder(chord: &Chord, turn: usize) -> Option<(VoiceLabel, Relation)> {
    if chord.expected.len() >= MOST_VOICES {
        return None;
    }
    let hz_of = |label: VoiceLabel| label.frequency(&chord.tuning).get();
    let true_hz: Vec<f64> = chord
        .entry
        .voices
        .iter()
        .map(|voice| hz_of(voice.label))
        .collect();
    // An absent voice is sought among the notes that the others play between, or near.
    let lowest = true_hz.iter().copied().fold(f64::INFINITY, f64::min) / 2.1;
    let highest = true_hz.iter().copied().fold(0.0, f64::max) * 2.1;
    let able: Vec<(VoiceLabel, Relation)> = chord
        .free
        .labels()
        .iter()
        .map(|label| (*label, hz_of(*label)))
        .filter(|(_, hz)| (lowest..=highest).contains(hz))
        .filter(|(_, hz)| {
            true_hz
                .iter()
                .all(|at| cents_above(*hz, *at).abs() >= APART)
        })
        .map(|(label, hz)| (label, relation(hz, &true_hz)))
        .collect();
    let wished = Relation::ALL[turn % Relation::ALL.len()].0;
    let of_wished = able.iter().filter(|(_, relation)| *relation == wished);
    let of_wished: Vec<&(VoiceLabel, Relation)> = of_wished.collect();
    if of_wished.is_empty() {
        return able.get(turn % able.len().max(1)).copied();
    }
    // Seven shares no factor with the counts that occur most, so all places have their turn.
    Some(*of_wished[turn * 7 % of_wished.len()])
}

fn relation(hz: f64, true_hz: &[f64]) -> Relation {
    let is_multiple = |upper: f64, lower: f64| {
        let multiple = (upper / lower).round();
        (2.0..=HIGHEST_MULTIPLE).contains(&multiple)
            && cents_above(upper, multiple * lower).abs() < ON_A_MULTIPLE
    };
    if true_hz.iter().any(|at| is_multiple(hz, *at)) {
        Relation::Upper
    } else if true_hz.iter().any(|at| is_multiple(*at, hz)) {
        Relation::Lower
    } else {
        Relation::Clear
    }
}
