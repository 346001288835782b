//! Standard MIDI files that tune before anything sounds: one by itself, or one that exists
//! already with the tuning put in front. What else is in that one stays byte for byte.

use midly::num::{u4, u7, u15, u28};
use midly::{Format, Header, MetaMessage, MidiMessage, Smf, Timing, TrackEvent, TrackEventKind};

use super::messages::{KeyTuning, exclusive_messages};
use crate::score::has_impossible_frames;

/// Ticks a quarter note of a file by itself.
const TICKS: u16 = 480;
/// What a track of midly ends with: no time, end of track.
const END_OF_TRACK: [u8; 4] = [0x00, 0xff, 0x2f, 0x00];
/// Name and length of a chunk.
const CHUNK_HEAD: usize = 8;
/// The channel that plays percussion in General MIDI, from 0. Its keys are no pitches.
const PERCUSSION: u8 = 9;

/// A file that the tuning cannot be put into.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum MidiFileError {
    /// It is none.
    #[error("it is no standard MIDI file ({0}): save the score as MIDI once more")]
    NotMidi(String),
    /// It ends too early.
    #[error("it breaks off in the middle: save the score as MIDI once more")]
    BreaksOff,
    /// There is no track.
    #[error("there is no track in it: save the score as MIDI once more")]
    NoTrack,
}

/// A file of one track that holds the tuning alone.
pub fn tuning_file(keys: &KeyTuning) -> Vec<u8> {
    written(keys)
}

fn written(keys: &KeyTuning) -> Vec<u8> {
    let header = Header::new(Format::SingleTrack, Timing::Metrical(u15::new(TICKS)));
    let mut smf = Smf::new(header);
    let messages = exclusive_messages(keys);
    let mut track = events(&messages);
    track.push(TrackEvent {
        delta: u28::new(0),
        kind: TrackEventKind::Meta(MetaMessage::EndOfTrack),
    });
    smf.tracks.push(track);
    let mut bytes = Vec::new();
    smf.write(&mut bytes)
        .expect("a vector takes whatever is written");
    bytes
}

/// The messages as events at the time of whatever stands before them, then the selection of the
/// tuning: bank and program 0 on every channel but percussion, and a parameter left selected would
/// be changed by whatever data came next, so none is.
fn events(messages: &[Vec<u8>]) -> Vec<TrackEvent<'_>> {
    let event = |kind| TrackEvent {
        delta: u28::new(0),
        kind,
    };
    // The first byte is implied in a file.
    let tunings = messages
        .iter()
        .map(|message| event(TrackEventKind::SysEx(&message[1..])));
    let selections = (0..16)
        .filter(|channel| *channel != PERCUSSION)
        .flat_map(|channel| {
            // Registered parameter: its number in controllers 101 and 100, its value in 6.
            let bank = [(101, 0), (100, 4), (6, 0)];
            let program = [(101, 0), (100, 3), (6, 0)];
            let nothing = [(101, 0x7f), (100, 0x7f)];
            bank.into_iter()
                .chain(program)
                .chain(nothing)
                .map(move |(controller, value)| TrackEventKind::Midi {
                    channel: u4::new(channel),
                    message: MidiMessage::Controller {
                        controller: u7::new(controller),
                        value: u7::new(value),
                    },
                })
        });
    tunings.chain(selections.map(event)).collect()
}

/// `file` with the tuning in front of its first track (of every track, where tracks are pieces of
/// their own).
///
/// It comes after what resets a synthesiser at the very beginning, and before the first event of
/// a channel.
///
/// # Errors
///
/// Where `file` is no standard MIDI file.
pub fn tuned_file(file: &[u8], keys: &KeyTuning) -> Result<Vec<u8>, MidiFileError> {
    let refused = |why: &str| Err(MidiFileError::NotMidi(why.to_owned()));
    if !file.starts_with(b"MThd") {
        return refused("it does not begin as one");
    }
    if has_impossible_frames(file) {
        return refused("its time is counted in no frames there are");
    }
    let (header, _) =
        midly::parse(file).map_err(|error| MidiFileError::NotMidi(error.to_string()))?;
    let front = front(keys);
    let mut out = Vec::with_capacity(file.len() + front.len());
    let mut rest = file;
    let mut tracks = 0;
    while !rest.is_empty() {
        let Chunk { name, body, after } = chunk(rest)?;
        let is_tuned = name == b"MTrk" && (tracks == 0 || header.format == Format::Sequential);
        tracks += usize::from(name == b"MTrk");
        let at = if is_tuned { beginning(body)? } else { 0 };
        let front: &[u8] = if is_tuned { &front } else { &[] };
        let length =
            u32::try_from(body.len() + front.len()).map_err(|_| MidiFileError::BreaksOff)?;
        out.extend_from_slice(name);
        out.extend(length.to_be_bytes());
        out.extend_from_slice(&body[..at]);
        out.extend_from_slice(front);
        out.extend_from_slice(&body[at..]);
        rest = after;
    }
    if tracks == 0 {
        return Err(MidiFileError::NoTrack);
    }
    Ok(out)
}

/// The tuning as bytes of a track.
fn front(keys: &KeyTuning) -> Vec<u8> {
    let mut bytes = written(keys);
    // All but the chunk of the header, the head of the track's and the end of the track.
    let head = CHUNK_HEAD + 6 + CHUNK_HEAD;
    bytes.truncate(bytes.len() - END_OF_TRACK.len());
    bytes.split_off(head)
}

/// A chunk of a file.
struct Chunk<'a> {
    name: &'a [u8],
    body: &'a [u8],
    /// What follows it.
    after: &'a [u8],
}

/// The first chunk of `bytes`.
fn chunk(bytes: &[u8]) -> Result<Chunk<'_>, MidiFileError> {
    let (head, rest) = bytes
        .split_at_checked(CHUNK_HEAD)
        .ok_or(MidiFileError::BreaksOff)?;
    let (name, length) = head.split_at(4);
    let length = length
        .iter()
        .fold(0, |sum, byte| sum << 8 | usize::from(*byte));
    let (body, after) = rest
        .split_at_checked(length)
        .ok_or(MidiFileError::BreaksOff)?;
    Ok(Chunk { name, body, after })
}

/// Where a track's first event of a channel, or the first that comes later than the very
/// beginning, has its time.
fn beginning(track: &[u8]) -> Result<usize, MidiFileError> {
    let mut events = midly::EventIter::<'_>::new(track);
    let mut at = 0;
    while let Some(event) = events.next() {
        let event = event.map_err(|error| MidiFileError::NotMidi(error.to_string()))?;
        let is_passed = matches!(
            event.kind,
            TrackEventKind::SysEx(_) | TrackEventKind::Escape(_) | TrackEventKind::Meta(_)
        ) && !matches!(event.kind, TrackEventKind::Meta(MetaMessage::EndOfTrack));
        if event.delta.as_int() > 0 || !is_passed {
            break;
        }
        at = track.len() - events.unread().len();
    }
    Ok(at)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::midi_tuning::Fineness;
    use crate::rehearsal::tests::sixth_comma;

    fn keys() -> KeyTuning {
        KeyTuning::of(sixth_comma().scale(), Fineness::Full)
    }

    /// A file of these tracks.
    fn file(format: u8, tracks: &[&[u8]]) -> Vec<u8> {
        let mut bytes = b"MThd\0\0\0\x06\0".to_vec();
        bytes.extend([format, 0, tracks.len() as u8, 1, 0xe0]);
        for track in tracks {
            bytes.extend(b"MTrk");
            bytes.extend((track.len() as u32).to_be_bytes());
            bytes.extend(*track);
        }
        bytes
    }

    const TEMPO: &[u8] = b"\0\xff\x51\x03\x07\xa1\x20\0\xff\x2f\0";
    /// A reset, then a note with running status.
    const PLAYED: &[u8] = b"\0\xf0\x05\x7e\x7f\x09\x01\xf7\0\x90\x3c\x40\x60\x3c\0\0\xff\x2f\0";

    #[test]
    fn a_file_by_itself_holds_the_messages_and_the_selections() {
        let keys = keys();
        let bytes = tuning_file(&keys);
        let smf = Smf::parse(&bytes).unwrap();
        let [track] = &smf.tracks[..] else {
            panic!("one track")
        };
        // Two messages, eight controllers on each of fifteen channels, the end.
        assert_eq!(track.len(), 2 + 8 * 15 + 1);
        assert!(track.iter().all(|event| event.delta == 0));
        for (event, message) in track.iter().zip(exclusive_messages(&keys)) {
            assert_eq!(event.kind, TrackEventKind::SysEx(&message[1..]));
        }
    }

    #[test]
    fn what_was_there_stays_and_the_first_track_begins_with_the_tuning() {
        for (format, tracks) in [
            (0, &[PLAYED][..]),
            (1, &[TEMPO, PLAYED]),
            (1, &[PLAYED, TEMPO]),
        ] {
            let given = file(format, tracks);
            let tuned = tuned_file(&given, &keys()).unwrap();
            let front = front(&keys());
            assert_eq!(tuned.len(), given.len() + front.len());
            let at = tuned.windows(front.len()).position(|w| w == front).unwrap();
            // After tempo or reset: both are events of the first moment.
            let first = if tracks[0] == TEMPO { 7 } else { 8 };
            assert_eq!(at, 14 + 8 + first);
            let mut without = tuned.clone();
            without.drain(at..at + front.len());
            without[18..22].copy_from_slice(&given[18..22]);
            assert_eq!(without, given);
            let [before, after] = [&given, &tuned].map(|bytes| Smf::parse(bytes).unwrap());
            assert_eq!(before.tracks[1..], after.tracks[1..]);
            assert_eq!(before.tracks[0].len() + 2 + 8 * 15, after.tracks[0].len());
        }
    }

    #[test]
    fn pieces_of_their_own_are_tuned_each() {
        let given = file(2, &[PLAYED, PLAYED]);
        let tuned = tuned_file(&given, &keys()).unwrap();
        assert_eq!(tuned.len(), given.len() + 2 * front(&keys()).len());
    }

    #[test]
    fn what_is_no_midi_file_is_refused() {
        let keys = keys();
        let not = |bytes: &[u8]| tuned_file(bytes, &keys).unwrap_err();
        // Found by fuzzing: −128 frames a second, and the same packed in another format.
        let mut frames = file(1, &[b"\0\xff\x2f\0"]);
        frames[12] = 0x80;
        assert!(matches!(not(&frames), MidiFileError::NotMidi(_)));
        let packed = [&b"RIFF\x2a\0\0\0RMIDdata\x1e\0\0\0"[..], &frames].concat();
        assert!(matches!(not(&packed), MidiFileError::NotMidi(_)));
        assert!(matches!(not(b"no MIDI"), MidiFileError::NotMidi(_)));
        assert_eq!(not(&file(1, &[])), MidiFileError::NoTrack);
        let whole = file(0, &[PLAYED]);
        for end in 0..whole.len() {
            assert!(tuned_file(&whole[..end], &keys).is_err(), "{end}");
        }
    }
}
