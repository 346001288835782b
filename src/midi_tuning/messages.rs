//! The tuning of 128 keys, and the messages that send it.

use super::{Code, Fineness};
use crate::tuning::Scale;
use crate::units::NoteName;

/// Keys of MIDI.
const KEYS: u8 = 128;
/// Keys in one message: more are honoured by not all.
const KEYS_A_MESSAGE: usize = 64;
/// Universal real-time message, to every device: MIDI Tuning, single note tuning change, into
/// tuning program 0.
const HEAD: [u8; 6] = [0xf0, 0x7f, 0x7f, 0x08, 0x02, 0x00];
const TAIL: u8 = 0xf7;

/// Where each key stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeyTuning {
    codes: Vec<(u8, Code)>,
}

impl KeyTuning {
    /// The keys of MIDI as `scale` has them: each by the note of the chain that lies on it. Keys
    /// beyond what the standard can tell are left as they are.
    pub fn of(scale: &Scale, fineness: Fineness) -> Self {
        let on_key = |key: u8| {
            let name: NoteName = scale
                .chain()
                .notes()
                .find(|name| name.key() == usize::from(key % 12))?;
            let note = (-2..=10)
                .map(|octave| name.in_octave(octave))
                .find(|note| note.key_number() == i32::from(key))?;
            Some((key, Code::of(scale.frequency(note), fineness)?))
        };
        Self {
            codes: (0..KEYS).filter_map(on_key).collect(),
        }
    }

    /// The keys that are tuned, rising.
    pub fn codes(&self) -> &[(u8, Code)] {
        &self.codes
    }

    /// How many keys are left as they are.
    pub fn left(&self) -> usize {
        usize::from(KEYS) - self.codes.len()
    }
}

/// The messages that tune these keys, complete with their first and last bytes.
pub fn exclusive_messages(keys: &KeyTuning) -> Vec<Vec<u8>> {
    keys.codes
        .chunks(KEYS_A_MESSAGE)
        .map(|keys| {
            let mut message = HEAD.to_vec();
            message.push(keys.len() as u8);
            for (key, code) in keys {
                message.push(*key);
                message.extend(code.bytes());
            }
            message.push(TAIL);
            message
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rehearsal::tests::sixth_comma;

    #[test]
    fn two_messages_tune_all_keys() {
        let tuning = sixth_comma();
        let keys = KeyTuning::of(tuning.scale(), Fineness::Full);
        // The two lowest keys at A4 = 415 Hz lie below what the standard can tell.
        assert_eq!((keys.codes().len(), keys.left()), (126, 2));
        let messages = exclusive_messages(&keys);
        let lengths: Vec<usize> = messages.iter().map(Vec::len).collect();
        assert_eq!(lengths, [8 + 4 * 64, 8 + 4 * 62]);
        for message in &messages {
            assert_eq!(message[..6], [0xf0, 0x7f, 0x7f, 8, 2, 0]);
            assert_eq!(message.last(), Some(&0xf7));
            assert_eq!(usize::from(message[6]) * 4 + 8, message.len());
            assert!(message[1..message.len() - 1].iter().all(|b| *b < 0x80));
        }
    }

    #[test]
    fn keys_rise() {
        let keys = KeyTuning::of(sixth_comma().scale(), Fineness::WholeCents);
        assert!(
            keys.codes()
                .is_sorted_by(|a, b| a.0 < b.0 && a.1.cents() < b.1.cents())
        );
    }
}
