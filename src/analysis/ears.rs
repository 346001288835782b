//! One estimator for each channel of a stream, fed with interleaved blocks.

use super::effort::Effort;
use super::estimator::Estimator;
use super::reading::Reading;
use crate::units::{FramePosition, Frames, SampleRate};

/// Hears some or all channels of one stream.
pub struct Ears {
    channels: usize,
    /// The channel each estimator listens to, from 0.
    estimators: Vec<(usize, Estimator)>,
    next: FramePosition,
}

impl Ears {
    /// Ears for those of `wanted` (channels counted from 0) that a stream of `channels` has.
    pub fn new(rate: SampleRate, channels: usize, wanted: &[usize]) -> Self {
        let estimators = wanted
            .iter()
            .filter(|&&channel| channel < channels)
            .map(|&channel| (channel, Estimator::new(rate)))
            .collect();
        Self {
            channels: channels.max(1),
            estimators,
            next: FramePosition::START,
        }
    }

    /// Spends so much on every channel, from the next hop on.
    pub fn spend(&mut self, effort: Effort) {
        for (_, estimator) in &mut self.estimators {
            estimator.spend(effort);
        }
    }

    /// Takes a block whose first frame stands at `first` and hands on each reading with its
    /// channel. After a gap every estimator starts afresh. Does not allocate.
    pub fn hear(
        &mut self,
        first: FramePosition,
        samples: &[f32],
        mut each: impl FnMut(usize, &Reading),
    ) {
        if first != self.next {
            for (_, estimator) in &mut self.estimators {
                estimator.restart(first);
            }
        }
        let frames = samples.len() / self.channels;
        self.next = first + Frames::new(frames as u64);
        for (channel, estimator) in &mut self.estimators {
            let own = samples
                .iter()
                .skip(*channel)
                .step_by(self.channels)
                .copied();
            estimator.push(own.take(frames), |reading| each(*channel, reading));
        }
    }
}
