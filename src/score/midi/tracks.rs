//! Events of tracks to notes of parts: a part for each track and each channel in it.

use std::collections::{BTreeMap, HashMap, VecDeque};

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
    notes: Vec<MidiNote>,
    /// Beginnings of what sounds, by key, the oldest first.
    held: HashMap<u8, VecDeque<u64>>,
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
                        at_most("notes", count, MOST_NOTES)?;
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
            MetaMessage::KeySignature(fifths, _) if fifths.abs() <= 7 => {
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
        let mut sounding: Vec<Channel> = Vec::new();
        for (_, mut channel) in track.channels {
            self.unended += channel.end_all(end);
            if !channel.notes.is_empty() {
                sounding.push(channel);
            }
        }
        // The name of a track that plays nothing, or plays everything, is that of the piece.
        if first && (single || sounding.is_empty()) {
            self.title.clone_from(&track.name);
        }
        let own = track.name.or(track.instrument).filter(|_| !single);
        let alone = sounding.len() == 1;
        for channel in sounding {
            let program = channel.program.map(programs::name);
            let name = match (&own, program) {
                (Some(own), _) if alone => own.clone(),
                (Some(own), Some(program)) => tidy(&format!("{own}, {program}")),
                (Some(own), None) => own.clone(),
                (None, program) => program.unwrap_or_default().to_owned(),
            };
            self.parts.push(MidiPart {
                name,
                notes: channel.notes,
            });
        }
        at_most("parts", self.parts.len(), MOST_PARTS)
    }
}

impl Channel {
    /// Takes a message; whether it begins a note.
    fn message(&mut self, now: u64, message: MidiMessage) -> bool {
        match message {
            MidiMessage::NoteOn { key, vel } if vel > 0 => {
                self.held.entry(key.as_int()).or_default().push_back(now);
                return true;
            }
            MidiMessage::NoteOn { key, .. } | MidiMessage::NoteOff { key, .. } => {
                let key = key.as_int();
                // Of several that sound on one key, the oldest ends first.
                if let Some(onset) = self.held.get_mut(&key).and_then(VecDeque::pop_front) {
                    self.add(key, onset, now);
                }
            }
            MidiMessage::ProgramChange { program } => {
                self.program.get_or_insert(program.as_int());
            }
            _ => {}
        }
        false
    }

    fn add(&mut self, key: u8, onset: u64, end: u64) {
        if end > onset {
            self.notes.push(MidiNote { key, onset, end });
        }
    }

    /// Ends what still sounds; how many notes that were.
    fn end_all(&mut self, end: u64) -> usize {
        let mut held: Vec<(u8, VecDeque<u64>)> = self.held.drain().collect();
        held.sort_unstable_by_key(|(key, _)| *key);
        let mut count = 0;
        for (key, onsets) in held {
            for onset in onsets {
                count += 1;
                self.add(key, onset, end);
            }
        }
        count
    }
}
