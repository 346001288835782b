//! Parts as they are written to a score: bars begin at the same moment in all of them, all time
//! is counted alike, and what is tied is one note.

use std::collections::HashMap;

use super::duration::common_multiple;
use super::part::{Reading, WrittenNote};
use crate::score::{Bar, Bars, Part, Score, ScoreError, ScoreNote, Spelling, Ticks, in_order};

/// Puts the parts called `names` together.
pub(super) fn assemble(
    title: String,
    names: Vec<String>,
    readings: Vec<Reading>,
) -> Result<Score, ScoreError> {
    let mut per_quarter = 1;
    for reading in &readings {
        per_quarter =
            common_multiple(per_quarter, reading.per_quarter).ok_or(ScoreError::Divisions)?;
    }
    let bars = bars(&readings, per_quarter);
    let signatures = signatures(&readings, per_quarter, &bars);
    let mut remarks = Vec::new();
    let mut parts = Vec::new();
    for (name, reading) in names.into_iter().zip(readings) {
        remarks.extend(remarks_on(&name, &reading));
        if reading.notes.is_empty() && reading.unpitched {
            remarks.push(format!("'{name}' has no pitches and is left out"));
            continue;
        }
        let finer = per_quarter / reading.per_quarter;
        parts.push(Part {
            name,
            notes: joined(&reading, finer, &bars),
        });
    }
    if parts.iter().all(|part| part.notes.is_empty()) {
        return Err(ScoreError::NoNotes);
    }
    Ok(Score {
        title,
        parts,
        bars: Bars::new(per_quarter, bars),
        signatures,
        spelling: Spelling::Written,
        remarks,
    })
}

fn remarks_on(name: &str, reading: &Reading) -> Vec<String> {
    let mut remarks = Vec::new();
    match reading.microtones {
        0 => {}
        1 => remarks.push(format!(
            "one note of '{name}' lies between the keys and is read as the nearest key"
        )),
        count => remarks.push(format!(
            "{count} notes of '{name}' lie between the keys and are read as the nearest keys"
        )),
    }
    if let Some(bar) = reading.too_far_back.first() {
        remarks.push(format!(
            "in bar {bar} of '{name}' a voice goes back to before the bar; it is read from the \
             beginning of the bar{}",
            match reading.too_far_back.len() {
                1 => String::new(),
                count => format!(", and so it is in {} more places", count - 1),
            }
        ));
    }
    remarks
}

/// Where bars begin: each is as long as the longest of what the parts write in it.
fn bars(readings: &[Reading], per_quarter: u64) -> Vec<Bar> {
    let count = readings.iter().map(|reading| reading.bars.len()).max();
    let mut bars = Vec::new();
    let mut start = 0;
    for index in 0..count.unwrap_or_default() {
        let in_parts = || {
            readings.iter().filter_map(move |reading| {
                let finer = per_quarter / reading.per_quarter;
                Some((reading.bars.get(index)?, finer))
            })
        };
        let written = in_parts().map(|(bar, finer)| bar.written * finer).max();
        let rested = in_parts().map(|(bar, finer)| bar.rested * finer).max();
        let (written, rested) = (written.unwrap_or_default(), rested.unwrap_or_default());
        let meter = in_parts().find_map(|(bar, _)| bar.meter);
        // Some programs write a rest of a whole bar as long as the signature in an upbeat too.
        let upbeat = index == 0 || in_parts().any(|(bar, _)| bar.implicit);
        let length = match (written, rested) {
            (0, 0) => meter.map_or(0, |meter| meter.bar(per_quarter)),
            (0, rested) => rested,
            (written, _) if upbeat => written,
            (written, rested) => written.max(rested),
        };
        bars.push(Bar {
            number: in_parts()
                .map(|(bar, _)| bar.number.clone())
                .next()
                .unwrap_or_default(),
            start: Ticks::new(start),
            beat: Ticks::new(meter.map_or(per_quarter, |meter| meter.beat(per_quarter))),
        });
        start += length;
    }
    bars
}

/// The signature most parts have, wherever one of them changes; the upper part's among equals.
/// Natural trumpets, horns and drums are often written without.
fn signatures(readings: &[Reading], per_quarter: u64, bars: &[Bar]) -> Vec<(Ticks, i8)> {
    let mut changes = Vec::new();
    for (part, reading) in readings.iter().enumerate() {
        let finer = per_quarter / reading.per_quarter;
        for (bar, written) in bars.iter().zip(&reading.bars) {
            for &(offset, fifths) in &written.signatures {
                changes.push((bar.start + Ticks::new(offset * finer), part, fifths));
            }
        }
    }
    // Stable, so that of two at one moment in one part the later one holds.
    changes.sort_by_key(|&(at, part, _)| (at, part));
    let mut held: Vec<Option<i8>> = vec![None; readings.len()];
    let mut signatures: Vec<(Ticks, i8)> = Vec::new();
    for together in changes.chunk_by(|one, other| one.0 == other.0) {
        for &(_, part, fifths) in together {
            held[part] = Some(fifths);
        }
        let mut best: Option<(i8, usize)> = None;
        for fifths in held.iter().flatten() {
            let votes = held
                .iter()
                .flatten()
                .filter(|other| *other == fifths)
                .count();
            if best.is_none_or(|(_, most)| votes > most) {
                best = Some((*fifths, votes));
            }
        }
        if let Some((fifths, _)) = best
            && signatures.last().is_none_or(|(_, last)| *last != fifths)
        {
            signatures.push((together[0].0, fifths));
        }
    }
    signatures
}

/// A note that a tie leads on from.
struct Open {
    index: usize,
    written: WrittenNote,
}

/// The notes of a part with ties joined: a tie leads to a note on the same key that begins where
/// the first one ends and says that a tie ends there; to one with the same spelling and in the
/// same voice before others.
fn joined(reading: &Reading, finer: u64, bars: &[Bar]) -> Vec<ScoreNote> {
    let own = &reading.bars;
    let mut placed: Vec<(ScoreNote, WrittenNote)> = reading
        .notes
        .iter()
        .map(|&note| {
            let onset = bars[note.bar as usize].start + Ticks::new(note.offset * finer);
            let sounding = ScoreNote {
                note: note.note,
                onset,
                end: onset + Ticks::new(note.length * finer),
            };
            (sounding, note)
        })
        .collect();
    placed.sort_by_key(|(sounding, _)| in_order(sounding));
    let mut notes: Vec<ScoreNote> = Vec::with_capacity(placed.len());
    let mut open: HashMap<(i32, Ticks), Vec<Open>> = HashMap::new();
    for (sounding, written) in placed {
        let key = sounding.note.key_number();
        let before = if written.ends_tie {
            open.get_mut(&(key, sounding.onset))
        } else {
            None
        };
        let from = before.and_then(|before| {
            let best = before.iter().enumerate().min_by_key(|(_, open)| {
                (
                    open.written.note != written.note,
                    open.written.voice != written.voice,
                )
            });
            best.map(|(place, _)| place)
                .map(|place| before.remove(place).index)
        });
        let index = from.unwrap_or(notes.len());
        match from {
            Some(index) => notes[index].end = sounding.end,
            None => notes.push(sounding),
        }
        if written.begins_tie {
            // Where a part leaves the end of a bar empty, a tie leads over it to the next.
            let bar = written.bar as usize;
            let ends_bar = written.offset + written.length >= own[bar].written;
            let next = bars.get(bar + 1).filter(|_| ends_bar);
            let until = next.map_or(sounding.end, |next| next.start.max(sounding.end));
            let open = open.entry((key, until)).or_default();
            open.push(Open { index, written });
        }
    }
    notes.sort_by_key(in_order);
    notes
}
