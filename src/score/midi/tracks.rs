//! Events of tracks to notes of parts: a part for each track and each channel in it.

use std::collections::{BTreeMap, VecDeque};

use midly::{MetaMessage, MidiMessage, TrackEventKind, TrackIter};

use super::bars::Meter;
use super::{broken, programs};
use crate::score::names::tidy;
use crate::score::{MOST_NOTES, MOST_PARTS, ScoreError, at_most};

/// The channel of percussion, counted from 0 (General MIDI 1).
const PERCUSSION: u8 = 9;

/// What the tracks hold, in ticks of the file.
#[derive(Debug, Default)]
pub(super) struct Tracks {
    pub(super) title: Option<String>,
    /// Those with notes, in turn.
    pub(super) parts: Vec<MidiPart>,
    pub(super) meters: Vec<Meter>,
    /// Fifths, with when each begins.
    pub(super) signatures: Vec<(u64, i8)>,
    /// Notes that no event ends.
    unended: usize,
    /// Whether anything was on the channel of percussion.
    percussion: bool,
}

/// A track's notes on one channel.
#[derive(Debug)]
pub(super) struct MidiPart {
    /// Possibly empty, possibly another's too.
    pub(super) name: String,
    pub(super) notes: Vec<MidiNote>,
}

/// A key that is held.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct MidiNote {
    pub(super) key: u8,
    pub(super) onset: u64,
    /// Later than its onset.
    pub(super) end: u64,
}

/// What is known of a channel within a track.
#[derive(Debug, Default)]
struct Channel {
    program: Option<u8>,
    /// When each key was begun (true) and ended, in turn.
    strokes: BTreeMap<u8, Vec<(u64, bool)>>,
}

/// One track while it is read.
#[derive(Debug, Default)]
struct Track {
    name: Option<String>,
    instrument: Option<String>,
    channels: BTreeMap<u8, Channel>,
}

impl Tracks {
    /// Reads all tracks, event by event.
    pub(super) fn read(tracks: TrackIter, single: bool) -> Result<Self, ScoreError> {
        let mut all = Self::default();
        let mut count = 0;
        for (index, events) in tracks.enumerate() {
            at_most("tracks", index + 1, 4 * MOST_PARTS)?;
            let mut track = Track::default();
            let mut now = 0_u64;
            for event in events.map_err(|error| broken(&error))? {
                let event = event.map_err(|error| broken(&error))?;
                now += u64::from(event.delta.as_int());
                match event.kind {
                    TrackEventKind::Meta(message) => all.meta(&mut track, now, message),
                    TrackEventKind::Midi { channel, .. } if channel == PERCUSSION => {
                        all.percussion = true;
                    }
                    TrackEventKind::Midi { channel, message } => {
                        let channel = track.channels.entry(channel.as_int()).or_default();
                        count += usize::from(channel.message(now, message));
                        at_most("notes", count, 2 * MOST_NOTES)?;
                    }
                    TrackEventKind::SysEx(_) | TrackEventKind::Escape(_) => {}
                }
            }
            all.finish(track, now, index == 0, single)?;
        }
        all.meters.sort_by_key(|&(at, ..)| at);
        all.signatures.sort_by_key(|&(at, _)| at);
        // The last of those at one moment holds; the same again says nothing.
        all.signatures.reverse();
        all.signatures.dedup_by_key(|&mut (at, _)| at);
        all.signatures.reverse();
        all.signatures.dedup_by_key(|&mut (_, fifths)| fifths);
        Ok(all)
    }

    /// What must be told.
    pub(super) fn remarks(&self) -> Vec<String> {
        let mut remarks = Vec::new();
        match self.unended {
            0 => {}
            1 => remarks
                .push("one note is never ended and is held to the end of its track".to_owned()),
            count => remarks.push(format!(
                "{count} notes are never ended and are held to the end of their tracks"
            )),
        }
        if self.percussion {
            remarks.push("channel 10, percussion, has no pitches and is left out".to_owned());
        }
        remarks
    }

    fn meta(&mut self, track: &mut Track, now: u64, message: MetaMessage) {
        let text = |bytes: &[u8]| {
            // Old files are in whatever their system wrote; most often this is the same.
            let text = match std::str::from_utf8(bytes) {
                Ok(text) => text.to_owned(),
                Err(_) => bytes.iter().map(|&byte| char::from(byte)).collect(),
            };
            Some(tidy(&text)).filter(|text| !text.is_empty())
        };
        match message {
            MetaMessage::TrackName(name) => track.name = track.name.take().or_else(|| text(name)),
            MetaMessage::InstrumentName(name) => {
                track.instrument = track.instrument.take().or_else(|| text(name));
            }
            MetaMessage::TimeSignature(beats, power, _, _) => {
                self.meters.push((now, beats, power));
            }
            MetaMessage::KeySignature(fifths, _) if (-7..=7).contains(&fifths) => {
                self.signatures.push((now, fifths));
            }
            _ => {}
        }
    }

    /// Makes parts of a track that ends at `end`.
    fn finish(
        &mut self,
        track: Track,
        end: u64,
        first: bool,
        single: bool,
    ) -> Result<(), ScoreError> {
        let mut sounding = Vec::new();
        for channel in track.channels.values() {
            let (notes, unended) = channel.notes(end);
            self.unended += unended;
            if !notes.is_empty() {
                sounding.push((channel.program.map(programs::name), notes));
            }
        }
        // The name of a track that plays nothing, or plays everything, is that of the piece.
        if first && (single || sounding.is_empty()) {
            self.title.clone_from(&track.name);
        }
        let own = track.name.or(track.instrument).filter(|_| !single);
        let alone = sounding.len() == 1;
        for (program, notes) in sounding {
            let name = match (&own, program) {
                (Some(own), _) if alone => own.clone(),
                (Some(own), Some(program)) => tidy(&format!("{own}, {program}")),
                (Some(own), None) => own.clone(),
                // What a file says that says nothing is no piano.
                (None, program) => program
                    .filter(|name| *name != programs::name(0))
                    .unwrap_or_default()
                    .to_owned(),
            };
            self.parts.push(MidiPart { name, notes });
        }
        at_most("parts", self.parts.len(), MOST_PARTS)
    }
}

impl Channel {
    /// Takes a message; whether it begins or ends a key.
    fn message(&mut self, now: u64, message: MidiMessage) -> bool {
        let (key, begins) = match message {
            MidiMessage::NoteOn { key, vel } => (key, vel > 0),
            MidiMessage::NoteOff { key, .. } => (key, false),
            MidiMessage::ProgramChange { program } => {
                self.program.get_or_insert(program.as_int());
                return false;
            }
            _ => return false,
        };
        let strokes = self.strokes.entry(key.as_int()).or_default();
        strokes.push((now, begins));
        true
    }

    /// The notes of a channel whose track ends at `end`, and how many of them nothing ends.
    fn notes(&self, end: u64) -> (Vec<MidiNote>, usize) {
        let (mut notes, mut unended) = (Vec::new(), 0);
        for (&key, strokes) in &self.strokes {
            // Of several that sound on one key, the oldest ends first.
            let mut held = VecDeque::new();
            let mut add = |onset, end| {
                if end > onset {
                    notes.push(MidiNote { key, onset, end });
                }
            };
            let begun = strokes.iter().filter(|(_, begins)| *begins).count();
            let paired = begun * 2 == strokes.len();
            let mut strokes = strokes.iter().peekable();
            while let Some(&(now, begins)) = strokes.next() {
                if begins {
                    held.push_back(now);
                } else if let Some(onset) = held.pop_front() {
                    add(onset, now);
                } else if paired {
                    // Programs that put ends before beginnings put that of a note of no length,
                    // a grace note, there too. Others end each key before they begin it, but
                    // these have more ends than beginnings.
                    strokes.next_if(|&&(at, begins)| begins && at == now);
                }
            }
            for onset in held {
                unended += 1;
                add(onset, end);
            }
        }
        (notes, unended)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(strokes: &[(u64, bool)], expected: &[(u64, u64)], unended: usize) {
        let channel = Channel {
            program: None,
            strokes: BTreeMap::from([(60, strokes.to_vec())]),
        };
        let (notes, count) = channel.notes(100);
        let notes: Vec<_> = notes.iter().map(|note| (note.onset, note.end)).collect();
        assert_eq!(
            (notes.as_slice(), count),
            (expected, unended),
            "{strokes:?}"
        );
    }

    #[test]
    fn beginnings_and_ends_make_notes() {
        check(
            &[(0, true), (10, false), (10, true), (20, false)],
            &[(0, 10), (10, 20)],
            0,
        );
        // Two at once, one of no length, one without an end, an end without a note.
        check(
            &[(0, true), (5, true), (10, false), (20, false)],
            &[(0, 10), (5, 20)],
            0,
        );
        check(&[(5, true), (5, false)], &[], 0);
        check(&[(5, true)], &[(5, 100)], 1);
        check(&[(5, false)], &[], 0);
    }

    #[test]
    fn ends_may_come_before_beginnings() {
        // Grace notes of no length, whose ends were put first.
        check(&[(5, false), (5, true), (9, false), (9, true)], &[], 0);
        // A program that ends each key before it begins it.
        let each = [
            (5, false),
            (5, true),
            (9, false),
            (9, false),
            (9, true),
            (12, false),
        ];
        check(&each, &[(5, 9), (9, 12)], 0);
    }
}
