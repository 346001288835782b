//! One chord ear for each shared channel of a stream, fed with interleaved blocks.

use super::ear::ChordEar;
use super::heard::{HeardChord, Sought};
use crate::analysis::Effort;
use crate::units::{FramePosition, Frames, SampleRate};

/// A channel that several players share.
#[derive(Debug, Clone, PartialEq)]
pub struct SharedChannel {
    /// Its place in the ensemble, from 0.
    pub index: usize,
    /// The channel of the stream it is heard through, from 0.
    pub input: usize,
    /// What is looked for.
    pub sought: Sought,
}

/// Hears the shared channels of one stream.
pub struct ChordEars {
    rate: SampleRate,
    channels: usize,
    ears: Vec<Listening>,
    effort: Effort,
    next: FramePosition,
}

struct Listening {
    index: usize,
    input: usize,
    ear: ChordEar,
}

impl ChordEars {
    /// Ears for none of the `channels` of a stream yet.
    pub fn new(rate: SampleRate, channels: usize) -> Self {
        Self {
            rate,
            channels: channels.max(1),
            ears: Vec::new(),
            effort: Effort::Full,
            next: FramePosition::START,
        }
    }

    /// Listens to `shared` from now on, as far as the stream has their inputs. Who was
    /// listened to before goes on without a break.
    pub fn listen_to(&mut self, shared: impl IntoIterator<Item = SharedChannel>) {
        let mut before = std::mem::take(&mut self.ears);
        for SharedChannel {
            index,
            input,
            sought,
        } in shared
        {
            if input >= self.channels {
                continue;
            }
            let same = |ear: &Listening| (ear.index, ear.input) == (index, input);
            let ear = if let Some(position) = before.iter().position(same) {
                let mut ear = before.swap_remove(position);
                ear.ear.seek(sought);
                ear
            } else {
                let mut ear = ChordEar::new(self.rate, sought);
                ear.restart(self.next);
                ear.spend(self.effort);
                Listening { index, input, ear }
            };
            self.ears.push(ear);
        }
    }

    /// Spends so much on every channel, from the next hop on.
    pub fn spend(&mut self, effort: Effort) {
        self.effort = effort;
        for Listening { ear, .. } in &mut self.ears {
            ear.spend(effort);
        }
    }

    /// Takes a block whose first frame stands at `first` and hands on each chord with its
    /// channel's place in the ensemble. After a gap every ear starts afresh.
    pub fn hear(
        &mut self,
        first: FramePosition,
        samples: &[f32],
        mut each: impl FnMut(usize, &HeardChord),
    ) {
        if first != self.next {
            for ear in &mut self.ears {
                ear.ear.restart(first);
            }
        }
        let frames = samples.len() / self.channels;
        self.next = first + Frames::new(frames as u64);
        for Listening { index, input, ear } in &mut self.ears {
            let own = samples.iter().skip(*input).step_by(self.channels);
            ear.push(own.take(frames).copied(), |chord| each(*index, chord));
        }
    }
}
