//! Standard MIDI Files of format 0 and 1 to a score. They hold keys and no names of notes, so the
//! spelling is guessed ([`Spelling::Guessed`]), which the score says.
//! Source: MIDI Manufacturers Association, Standard MIDI Files 1.0 (RP-001).

mod bars;
mod programs;
mod spelling;
mod tracks;

use midly::{Format, Timing};

use super::names::{tidy, unique};
use super::{Bars, Part, Score, ScoreError, ScoreNote, Spelling, Ticks, in_order, spelled};
use tracks::{MidiPart, Tracks};

/// Whether these bytes begin as a MIDI file does.
pub(super) fn is_midi(bytes: &[u8]) -> bool {
    bytes.starts_with(b"MThd")
}

/// Whether the header of a MIDI file counts -128 frames a second, of which the parser would take the
/// opposite, and there is none in a byte. Other numbers that mean nothing it refuses itself.
pub(crate) fn has_impossible_frames(bytes: &[u8]) -> bool {
    is_midi(bytes) && bytes.get(12) == Some(&0x80)
}

/// Reads a MIDI file; `name` is the title where it has none.
pub(super) fn read(bytes: &[u8], name: &str) -> Result<Score, ScoreError> {
    if has_impossible_frames(bytes) {
        return Err(ScoreError::MidiTiming);
    }
    let (header, tracks) = midly::parse(bytes).map_err(|error| broken(&error))?;
    if header.format == Format::Sequential {
        return Err(ScoreError::MidiFormat);
    }
    let division = match header.timing {
        Timing::Metrical(ticks) => u64::from(ticks.as_int()),
        Timing::Timecode(..) => return Err(ScoreError::MidiTiming),
    };
    if division == 0 {
        return Err(ScoreError::Midi("a quarter note has no ticks"));
    }
    let tracks = Tracks::read(tracks, header.format == Format::SingleTrack)?;
    if tracks.parts.is_empty() {
        return Err(ScoreError::NoNotes);
    }
    // Finer where a beat is no whole number of ticks.
    let finer = bars::refinement(&tracks.meters, division)?;
    let per_quarter = division * finer;
    let end = tracks
        .parts
        .iter()
        .flat_map(|part| &part.notes)
        .map(|note| note.end)
        .max();
    let end = end.unwrap_or_default() * finer;
    let bars = bars::bars(&tracks.meters, per_quarter, finer, end)?;
    let signatures: Vec<(Ticks, i8)> = tracks
        .signatures
        .iter()
        .map(|&(at, fifths)| (Ticks::new(at * finer), fifths))
        .collect();
    let mut remarks = vec![
        "a MIDI file does not say how its notes are spelled: sharps and flats are guessed"
            .to_owned(),
    ];
    remarks.extend(tracks.remarks());
    let names = unique(tracks.parts.iter().map(|part| part.name.clone()));
    let title = tracks.title.clone().unwrap_or_else(|| tidy(name));
    Ok(Score {
        title,
        parts: spelled_parts(names, &tracks.parts, &signatures, finer),
        bars: Bars::new(per_quarter, bars),
        signatures,
        spelling: Spelling::Guessed,
        remarks,
    })
}

/// Spells all parts together, as each is the context of the others.
fn spelled_parts(
    names: Vec<String>,
    parts: &[MidiPart],
    signatures: &[(Ticks, i8)],
    finer: u64,
) -> Vec<Part> {
    let mut all: Vec<(u64, u8, u64, usize)> = parts
        .iter()
        .enumerate()
        .flat_map(|(part, midi)| {
            midi.notes
                .iter()
                .map(move |note| (note.onset * finer, note.key, note.end * finer, part))
        })
        .collect();
    all.sort_unstable();
    let keys: Vec<(Ticks, u8)> = all
        .iter()
        .map(|&(onset, key, ..)| (Ticks::new(onset), key))
        .collect();
    let mut spelt: Vec<Part> = names
        .into_iter()
        .map(|name| Part {
            name,
            notes: Vec::new(),
        })
        .collect();
    for (name, (onset, key, end, part)) in spelling::guess(&keys, signatures).into_iter().zip(all) {
        if let Some(note) = spelled::at_key(name, i32::from(key)) {
            spelt[part].notes.push(ScoreNote {
                note,
                onset: Ticks::new(onset),
                end: Ticks::new(end),
            });
        }
    }
    for part in &mut spelt {
        part.notes.sort_by_key(in_order);
    }
    spelt
}

/// A parser's fault.
fn broken(error: &midly::Error) -> ScoreError {
    match error.kind() {
        midly::ErrorKind::Invalid(what) | midly::ErrorKind::Malformed(what) => {
            ScoreError::Midi(what)
        }
    }
}
