//! From the sound card's thread to ours: blocks through a lock-free ring.
//!
//! The end that runs in the data callback ([`Intake`]) copies and counts. It does not allocate,
//! lock, log, call the system or panic: there is no indexing, no division and no arithmetic
//! that could overflow in it. `tests/no_alloc.rs` holds it to the first of these.

use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use rtrb::{Consumer, Producer, RingBuffer};

use crate::sound::device::Level;
use crate::units::{FramePosition, Frames, SampleRate};

/// The most channels that are listened to; further ones of a device are left out.
pub const MOST_CHANNELS: usize = 32;

/// Samples in a block: 32 frames of 32 channels, 21 ms of one channel at 48 kHz.
const BLOCK_SAMPLES: usize = 1024;

/// Interleaved samples, whole frames, and the place of the first.
#[derive(Clone, Copy)]
struct Block {
    first: u64,
    frames: usize,
    used: usize,
    samples: [f32; BLOCK_SAMPLES],
}

impl Block {
    const EMPTY: Self = Self {
        first: 0,
        frames: 0,
        used: 0,
        samples: [0.0; BLOCK_SAMPLES],
    };
}

/// What the callbacks count, readable from any thread.
#[derive(Debug, Default)]
pub struct Tally {
    callbacks: AtomicU64,
    frames: AtomicU64,
    /// The place behind the newest block.
    end: AtomicU64,
    blocks_dropped: AtomicU64,
    overruns: AtomicU64,
    other_errors: AtomicU64,
}

impl Tally {
    /// Calls of the data callback.
    pub fn callbacks(&self) -> u64 {
        self.callbacks.load(Ordering::Relaxed)
    }

    /// Frames that came in, dropped ones included.
    pub fn frames(&self) -> u64 {
        self.frames.load(Ordering::Relaxed)
    }

    /// Blocks dropped because the ring was full.
    pub fn blocks_dropped(&self) -> u64 {
        self.blocks_dropped.load(Ordering::Relaxed)
    }

    /// Calls of the error callback.
    pub fn errors(&self) -> u64 {
        self.overruns.load(Ordering::Relaxed) + self.other_errors.load(Ordering::Relaxed)
    }

    /// Counts a reported overrun: sound was lost before it reached the program.
    pub fn count_overrun(&self) {
        self.overruns.fetch_add(1, Ordering::Relaxed);
    }

    /// Counts any other reported error. A dead stream can report tens of thousands of them
    /// within 50 ms, so this is all that is done about one.
    pub fn count_error(&self) {
        self.other_errors.fetch_add(1, Ordering::Relaxed);
    }
}

/// Both ends of a ring for a device with `device_channels` channels. It holds five seconds, so
/// that what a frozen sound server held back can arrive at once without being lost.
///
/// Channels beyond [`MOST_CHANNELS`] are left out of the blocks.
pub fn ring(rate: SampleRate, device_channels: usize) -> (Intake, Outlet) {
    let kept = device_channels.clamp(1, MOST_CHANNELS);
    let five_seconds = rate.get() as usize * 5 * kept / BLOCK_SAMPLES;
    with_capacity(device_channels, five_seconds.clamp(1024, 8192))
}

/// As [`ring`], with room for `blocks` blocks.
pub fn with_capacity(device_channels: usize, blocks: usize) -> (Intake, Outlet) {
    let device_channels = device_channels.max(1);
    let (producer, consumer) = RingBuffer::new(blocks.max(1));
    let tally = Arc::new(Tally::default());
    let intake = Intake {
        producer,
        tally: Arc::clone(&tally),
        device_channels,
        channels: device_channels.min(MOST_CHANNELS),
        next: 0,
        overruns_seen: 0,
        block: Block::EMPTY,
    };
    let outlet = Outlet {
        fullest: 0,
        consumer,
        tally,
        block: Box::new(Block::EMPTY),
    };
    (intake, outlet)
}

/// The end in the data callback.
pub struct Intake {
    producer: Producer<Block>,
    tally: Arc<Tally>,
    /// Samples in each of the device's frames, at least 1.
    device_channels: usize,
    /// Samples kept of each frame, 1 to [`MOST_CHANNELS`].
    channels: usize,
    next: u64,
    overruns_seen: u64,
    block: Block,
}

impl Intake {
    /// Takes in what the device delivered: interleaved samples, any number of frames. An
    /// incomplete frame at the end is left out.
    ///
    /// A block that finds the ring full is dropped and counted; the next one's stamp shows the
    /// gap. After an overrun, whose length nobody knows, the stamp jumps by as many frames as
    /// were delivered now, so that no window is laid across the break.
    ///
    /// Real-time safe.
    pub fn take<T: Level>(&mut self, samples: &[T]) {
        let frames = samples.chunks_exact(self.device_channels);
        let count = frames.len() as u64;
        let overruns = self.tally.overruns.load(Ordering::Relaxed);
        if overruns != self.overruns_seen {
            self.overruns_seen = overruns;
            self.next = self.next.saturating_add(count);
        }
        for frame in frames {
            let end = self.block.used.saturating_add(self.channels);
            if end > BLOCK_SAMPLES {
                self.flush();
            }
            let from = self.block.used;
            let to = from.saturating_add(self.channels);
            if let Some(room) = self.block.samples.get_mut(from..to) {
                for (slot, sample) in room.iter_mut().zip(frame) {
                    *slot = sample.level();
                }
                self.block.used = to;
                self.block.frames = self.block.frames.saturating_add(1);
            }
        }
        self.flush();
        self.tally.frames.fetch_add(count, Ordering::Relaxed);
        self.tally.end.store(self.next, Ordering::Relaxed);
        // Last, so that whoever sees the count move also sees the blocks.
        self.tally.callbacks.fetch_add(1, Ordering::Release);
    }

    /// What this end counts.
    pub fn tally(&self) -> Arc<Tally> {
        Arc::clone(&self.tally)
    }

    fn flush(&mut self) {
        if self.block.frames > 0 {
            self.block.first = self.next;
            self.next = self.next.saturating_add(self.block.frames as u64);
            if self.producer.push(self.block).is_err() {
                self.tally.blocks_dropped.fetch_add(1, Ordering::Relaxed);
            }
        }
        self.block.used = 0;
        self.block.frames = 0;
    }
}

/// How full a ring has been.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Fullness {
    /// The most blocks that have waited.
    pub blocks: usize,
    /// How many it holds.
    pub of: usize,
}

/// The end that listens.
pub struct Outlet {
    consumer: Consumer<Block>,
    fullest: usize,
    tally: Arc<Tally>,
    block: Box<Block>,
}

impl Outlet {
    /// Moves to the next block; false when there is none yet. Real-time safe.
    pub fn advance(&mut self) -> bool {
        self.fullest = self.fullest.max(self.consumer.slots());
        match self.consumer.pop() {
            Ok(block) => {
                *self.block = block;
                true
            }
            Err(_) => false,
        }
    }

    /// The block last moved to: the place of its first frame, and its interleaved samples.
    pub fn block(&self) -> (FramePosition, &[f32]) {
        let samples = self.block.samples.get(..self.block.used).unwrap_or(&[]);
        (FramePosition::new(self.block.first), samples)
    }

    /// Frames that came in after the block last moved to, those that were dropped included.
    pub fn waiting(&self) -> Frames {
        let end = self.tally.end.load(Ordering::Relaxed);
        Frames::new(end.saturating_sub(self.block.first + self.block.frames as u64))
    }

    /// How many blocks have waited at the most, of how many the ring holds.
    pub fn fullest(&self) -> Fullness {
        Fullness {
            blocks: self.fullest,
            of: self.consumer.buffer().capacity(),
        }
    }

    /// What the other end counts.
    pub fn tally(&self) -> &Arc<Tally> {
        &self.tally
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Everything waiting in the ring, as (first frame, samples).
    fn drain(outlet: &mut Outlet) -> Vec<(u64, Vec<f32>)> {
        let mut blocks = Vec::new();
        while outlet.advance() {
            let (first, samples) = outlet.block();
            blocks.push((first.get(), samples.to_vec()));
        }
        blocks
    }

    #[test]
    fn every_channel_count_and_callback_size_arrives_in_order() {
        for channels in 1..=MOST_CHANNELS {
            let (mut intake, mut outlet) = with_capacity(channels, 64);
            let sizes = [0, 1, 7, 480, 1023, 3];
            let total: usize = sizes.iter().sum();
            let sound: Vec<f32> = (0..total * channels).map(|n| n as f32).collect();
            let mut rest = sound.as_slice();
            for frames in sizes {
                let (now, later) = rest.split_at(frames * channels);
                intake.take(now);
                rest = later;
            }
            let mut heard = Vec::new();
            for (first, samples) in drain(&mut outlet) {
                assert_eq!(first as usize * channels, heard.len(), "stamp of a block");
                assert_eq!(samples.len() % channels, 0, "whole frames");
                heard.extend(samples);
            }
            assert_eq!(heard, sound, "{channels} channels");
            assert_eq!(outlet.tally().frames(), total as u64);
            assert_eq!(outlet.tally().callbacks(), 6);
        }
    }

    #[test]
    fn a_full_ring_drops_blocks_counts_them_and_shows_the_gap() {
        let (mut intake, mut outlet) = with_capacity(1, 2);
        for n in 0..5_i16 {
            intake.take(&[n; 10]);
        }
        assert_eq!(outlet.tally().blocks_dropped(), 3);
        let firsts: Vec<u64> = drain(&mut outlet).iter().map(|b| b.0).collect();
        assert_eq!(firsts, [0, 10]);
        intake.take(&[9_i16; 10]);
        assert_eq!(drain(&mut outlet)[0].0, 50);
    }

    #[test]
    fn what_waits_is_counted_in_frames_whatever_was_dropped() {
        let (mut intake, mut outlet) = with_capacity(2, 4);
        assert_eq!(outlet.waiting(), Frames::new(0));
        for _ in 0..6 {
            intake.take(&[0.0_f32; 20]);
        }
        assert_eq!(outlet.waiting(), Frames::new(60));
        for waiting in [50, 40, 30, 20] {
            assert!(outlet.advance());
            assert_eq!(outlet.waiting(), Frames::new(waiting));
        }
        // The last two found no room.
        assert!(!outlet.advance());
        intake.take(&[0.0_f32; 20]);
        assert!(outlet.advance());
        assert_eq!(outlet.waiting(), Frames::new(0));
        assert_eq!(outlet.fullest(), Fullness { blocks: 4, of: 4 });
    }

    #[test]
    fn channels_beyond_thirty_two_and_half_frames_are_left_out() {
        let (mut intake, mut outlet) = with_capacity(40, 8);
        let mut frame = vec![0.25_f32; 40];
        frame[31] = 0.75;
        frame[32] = -1.0;
        frame.extend([0.5; 39]);
        intake.take(&frame);
        let blocks = drain(&mut outlet);
        assert_eq!(blocks.len(), 1);
        assert_eq!(blocks[0].1.len(), 32);
        assert!((blocks[0].1[31] - 0.75).abs() < 1e-9);
    }

    #[test]
    fn an_overrun_makes_the_stamp_jump() {
        let (mut intake, mut outlet) = with_capacity(2, 8);
        intake.take(&[0.0_f32; 20]);
        intake.tally().count_overrun();
        intake.take(&[0.0_f32; 20]);
        intake.take(&[0.0_f32; 20]);
        let firsts: Vec<u64> = drain(&mut outlet).iter().map(|b| b.0).collect();
        assert_eq!(firsts, [0, 20, 30]);
    }
}
