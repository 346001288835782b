//! The end of a record that was cut off: notes that sounded then were never written down, but
//! the samples of them were.

use super::{Entry, HeardSpan, NoteTaker, SPAN, Sample, Seat, Taken};
use crate::analysis::{Pitch, Reading};
use crate::rehearsal::Ensemble;
use crate::tuning::Tuning;
use crate::units::{Cents, Dbfs, Seconds};

/// No note is longer than this without having been written down in part, pauses included.
const LONGEST: Seconds = Seconds::new(25.0);

/// What the margin of a kept sample is taken for, as it was not kept itself.
const MARGIN: Cents = Cents::new(2.0);

/// The notes that sounded when a record broke off, made of the samples that were kept: of
/// players who have an input of their own, in one sitting's `entries`. A little less exact
/// than notes made of every reading.
pub fn notes_cut_off(entries: &[Entry]) -> Vec<Entry> {
    let Some((ensemble, tuning)) = last_seats(entries) else {
        return Vec::new();
    };
    let ended = entries
        .iter()
        .map(Entry::at)
        .map(Seconds::get)
        .fold(0.0, f64::max);
    let spans: Vec<&HeardSpan> = entries
        .iter()
        .filter_map(|entry| match entry {
            Entry::Heard(span) => Some(span),
            _ => None,
        })
        .filter(|span| ended - span.at.get() <= LONGEST.get())
        .collect();
    let mut notes = Vec::new();
    for (channel, player) in ensemble.channels.iter().enumerate() {
        if player.is_shared() {
            continue;
        }
        let written = entries.iter().rev().find_map(|entry| match entry {
            Entry::Note(note) if note.channel == channel => Some(note.ended),
            _ => None,
        });
        let own = player.chain.map(|chain| tuning.over_chain(chain));
        let seat = Seat {
            channel,
            player,
            tuning: own.as_ref().unwrap_or(tuning),
        };
        let after = written.unwrap_or_default() + Seconds::new(0.05);
        for taken in taken_after(after, channel, &spans) {
            notes.push(Entry::Note(seat.alone(taken)));
        }
    }
    notes.sort_by(|a, b| a.at().get().total_cmp(&b.at().get()));
    notes
}

/// Who played at the end, and in what tuning.
fn last_seats(entries: &[Entry]) -> Option<(&Ensemble, &Tuning)> {
    let mut found: Option<(&Ensemble, &Tuning)> = None;
    for entry in entries {
        match entry {
            Entry::Seated { ensemble, .. } => found = Some((ensemble, &ensemble.tuning)),
            Entry::Tuned { tuning, .. } => {
                found = found.map(|(ensemble, _)| (ensemble, tuning.as_ref()));
            }
            _ => {}
        }
    }
    found
}

/// What the samples of a channel make after what was written.
fn taken_after(after: Seconds, channel: usize, spans: &[&HeardSpan]) -> Vec<Taken> {
    let mut scribe = NoteTaker::default();
    let mut taken = Vec::new();
    for span in spans {
        let heard = span.channels.iter().find(|heard| heard.channel == channel);
        let Some(heard) = heard else { continue };
        let each = SPAN.get() / 5.0;
        for (index, sample) in heard.samples.iter().enumerate() {
            let time = span.at + Seconds::new(each * (index as f64 + 0.9));
            if time > after {
                taken.extend(scribe.hear(&reading(*sample, heard.level), time));
            }
        }
    }
    taken.extend(scribe.finish());
    taken
}

fn reading(sample: Sample, level: Dbfs) -> Reading {
    Reading {
        time: Seconds::default(),
        available: Seconds::default(),
        level,
        clipped: false,
        pitch: sample.map(|hertz| Pitch {
            hertz,
            margin: MARGIN,
            confidence: 1.0,
            inharmonicity: 0.0,
        }),
        motion: None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rehearsal::Rehearsal;
    use crate::rehearsal::Update;
    use crate::rehearsal::tests::{band, reading as heard};

    #[test]
    fn a_note_that_sounded_at_the_end_is_not_lost() {
        let mut rehearsal = Rehearsal::new(band(&["Violin I", "Viola"]), Vec::new());
        let mut entries = Vec::new();
        // D5 is held for 3 s, then E5, in the middle of which the power fails.
        for hop in 1..=620_u32 {
            let time = Seconds::new(0.01 * f64::from(hop));
            rehearsal.tick(time);
            for channel in 0..2 {
                let hz = if hop < 300 { 555.0 } else { 621.0 };
                let mut reading = heard(hz + 2.0 * channel as f64);
                reading.available = time;
                rehearsal.take(Update::Reading(channel, reading));
            }
            entries.extend(rehearsal.take_entries());
        }
        let written = |entries: &[Entry]| {
            let notes = entries
                .iter()
                .filter(|entry| matches!(entry, Entry::Note(_)));
            notes.count()
        };
        assert_eq!(written(&entries), 2, "the first notes");
        let rest = notes_cut_off(&entries);
        assert_eq!(rest.len(), 2);
        for (channel, entry) in rest.iter().enumerate() {
            let Entry::Note(note) = entry else {
                panic!("only notes: {entry:?}")
            };
            assert_eq!(note.channel, channel);
            assert!((note.hertz.get() - 621.0 - 2.0 * channel as f64).abs() < 0.01);
            assert!((note.begun.get() - 3.0).abs() < 0.15, "{note:?}");
            assert!((note.ended.get() - 6.0).abs() < 0.15, "{note:?}");
        }
        // What ended well leaves nothing open.
        rehearsal.finish();
        entries.extend(rehearsal.take_entries());
        assert_eq!(notes_cut_off(&entries), []);
        assert_eq!(notes_cut_off(&[]), []);
    }
}
