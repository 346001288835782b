//! From our thread to the sound card's: stereo frames through a lock-free ring.
//!
//! The end that runs in the data callback ([`Drain`]) copies, fades and counts. It does not
//! allocate, lock, log, call the system or panic: there is no indexing, no division and no
//! arithmetic that could overflow in it. `tests/no_alloc.rs` holds it to the first of these.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering, fence};
use std::thread;

use rtrb::{Consumer, Producer, RingBuffer};

use crate::sound::device::Level;
use crate::units::SampleRate;

/// Frames that are ready for the device, so that it does not run dry while this machine is busy.
const AHEAD_MS: u32 = 300;
/// What is rendered at a time.
const BLOCK_MS: u32 = 10;
/// Time constant of the fade-out when no frames are ready: at 44.1 kHz the first step is 1.5 %
/// of the last value, and after 10 ms a thousandth is left.
const FADE_OUT_SECONDS: f64 = 0.0015;
/// How long the fade-in takes that follows.
const FADE_IN_SECONDS: f64 = 0.005;
/// How long the fade-out takes that is asked for.
const LEAVING_SECONDS: f64 = 0.02;
/// Below a 24-bit sample's half step the fade-out ends; far smaller numbers are slow to reckon.
const SILENT: f32 = 1e-8;

/// Left and right, full scale 1.
type Frame = [f32; 2];

/// What the callbacks count, readable from any thread.
#[derive(Debug, Default)]
pub struct Tally {
    callbacks: AtomicU64,
    errors: AtomicU64,
    /// Odd while the two below are being written.
    version: AtomicU64,
    frames: AtomicU64,
    missed: AtomicU64,
    /// Asks the callback to fade out.
    leaving: AtomicBool,
    /// Tells that it has.
    silent: AtomicBool,
}

impl Tally {
    /// Calls of the data callback.
    pub fn callbacks(&self) -> u64 {
        self.callbacks.load(Ordering::Acquire)
    }

    /// Calls of the error callback.
    pub fn errors(&self) -> u64 {
        self.errors.load(Ordering::Relaxed)
    }

    /// Counts a reported error. A dead stream can report tens of thousands of them within 50 ms,
    /// so this is all that is done about one.
    pub fn count_error(&self) {
        self.errors.fetch_add(1, Ordering::Relaxed);
    }

    /// The frames that the device has taken, and those it had to do without since the first one
    /// came, as they stood after one and the same callback. Waits for a callback that is just
    /// writing them, so it is not for real-time threads.
    pub fn played(&self) -> (u64, u64) {
        loop {
            let version = self.version.load(Ordering::Acquire);
            let played = (
                self.frames.load(Ordering::Relaxed),
                self.missed.load(Ordering::Relaxed),
            );
            fence(Ordering::Acquire);
            if version.is_multiple_of(2) && self.version.load(Ordering::Relaxed) == version {
                return played;
            }
            thread::yield_now();
        }
    }

    /// There is one writer, the callback.
    fn publish(&self, frames: u64, missed: u64) {
        self.version.fetch_add(1, Ordering::Relaxed);
        fence(Ordering::Release);
        self.frames.store(frames, Ordering::Relaxed);
        self.missed.store(missed, Ordering::Relaxed);
        self.version.fetch_add(1, Ordering::Release);
    }
}

/// Both ends of a ring of 300 ms for a device with `device_channels` channels.
pub fn ring(rate: SampleRate, device_channels: usize) -> (Feed, Drain) {
    let frames = |ms: u32| (rate.get() * ms / 1000) as usize;
    let (producer, consumer) = RingBuffer::new(frames(AHEAD_MS));
    let tally = Arc::new(Tally::default());
    let per_frame = |seconds: f64| (1.0 / (seconds * rate.hz())) as f32;
    let drain = Drain {
        consumer,
        tally: Arc::clone(&tally),
        device_channels: device_channels.max(1),
        rise: per_frame(FADE_IN_SECONDS),
        fall: per_frame(LEAVING_SECONDS),
        decay: (-1.0 / (FADE_OUT_SECONDS * rate.hz())).exp() as f32,
        gain: 0.0,
        tail: [0.0; 2],
        last: [0.0; 2],
        frames: 0,
        missed: 0,
    };
    let feed = Feed {
        producer,
        tally,
        block: vec![0.0; 2 * frames(BLOCK_MS)],
    };
    (feed, drain)
}

/// Our end.
pub struct Feed {
    producer: Producer<Frame>,
    tally: Arc<Tally>,
    block: Vec<f32>,
}

impl Feed {
    /// Fills the ring up by calling `render` for blocks of 10 ms of interleaved stereo.
    pub fn fill(&mut self, mut render: impl FnMut(&mut [f32])) {
        let frames = self.block.len() / 2;
        while self.producer.slots() >= frames {
            render(&mut self.block);
            let (pairs, _) = self.block.as_chunks::<2>();
            // There is room: nobody else puts anything in.
            let _ = self.producer.push_entire_slice(pairs);
        }
    }

    /// Asks the callback to fade out within 20 ms and to be silent from then on.
    pub fn leave(&self) {
        self.tally.leaving.store(true, Ordering::Relaxed);
    }

    /// Whether it has done so.
    pub fn is_silent(&self) -> bool {
        self.tally.silent.load(Ordering::Relaxed)
    }

    /// What the other end counts.
    pub fn tally(&self) -> &Arc<Tally> {
        &self.tally
    }
}

/// The end in the data callback.
pub struct Drain {
    consumer: Consumer<Frame>,
    tally: Arc<Tally>,
    /// Samples in each of the device's frames, at least 1.
    device_channels: usize,
    /// How much the gain rises with each frame until it is 1.
    rise: f32,
    /// How much it falls when a fade-out is asked for.
    fall: f32,
    /// What is left of `tail` after each frame.
    decay: f32,
    gain: f32,
    /// What still dies away of the sound before the last gap.
    tail: Frame,
    last: Frame,
    frames: u64,
    missed: u64,
}

impl Drain {
    /// Gives the device what it asks for: interleaved samples, any number of frames. One channel
    /// gets the mean of left and right; of more than two the first two sound.
    ///
    /// Where no frames are ready, the sound dies away from its last value, and comes back by a
    /// fade when there are. The very first frames fade in too, and silence before them does not
    /// count as missed.
    ///
    /// Real-time safe.
    pub fn fill<T: Level>(&mut self, samples: &mut [T]) {
        let leaving = self.tally.leaving.load(Ordering::Relaxed);
        let step = if leaving { -self.fall } else { self.rise };
        let mut slots = samples.chunks_exact_mut(self.device_channels);
        let wanted = slots.len();
        let ready = if leaving && self.gain <= 0.0 {
            0
        } else {
            self.consumer.slots().min(wanted)
        };
        let mut voice = Voice {
            decay: self.decay,
            gain: self.gain,
            tail: self.tail,
            last: self.last,
        };
        if let Ok(chunk) = self.consumer.read_chunk(ready) {
            let (first, second) = chunk.as_slices();
            for (frame, slot) in first.iter().chain(second).zip(&mut slots) {
                spread(voice.play(*frame, step), slot);
            }
            chunk.commit_all();
        }
        for slot in &mut slots {
            spread(voice.die_away(), slot);
        }
        for sample in slots.into_remainder() {
            *sample = T::of(0.0);
        }
        (self.gain, self.tail, self.last) = (voice.gain, voice.tail, voice.last);

        self.frames = self.frames.saturating_add(ready as u64);
        if self.frames > 0 && !leaving {
            let missed = wanted.saturating_sub(ready) as u64;
            self.missed = self.missed.saturating_add(missed);
        }
        self.tally.publish(self.frames, self.missed);
        if leaving && self.gain <= 0.0 && self.tail.iter().all(|tail| tail.abs() <= 0.0) {
            self.tally.silent.store(true, Ordering::Relaxed);
        }
        self.tally.callbacks.fetch_add(1, Ordering::Release);
    }

    /// What this end counts.
    pub fn tally(&self) -> Arc<Tally> {
        Arc::clone(&self.tally)
    }
}

/// The level of what sounds, from frame to frame.
struct Voice {
    decay: f32,
    gain: f32,
    tail: Frame,
    last: Frame,
}

impl Voice {
    /// The next frame, with the gain moved by `step` first.
    fn play(&mut self, frame: Frame, step: f32) -> Frame {
        self.gain = (self.gain + step).clamp(0.0, 1.0);
        self.decay();
        let [left, right] = frame.map(|level| self.gain * sound(level));
        let [tail_left, tail_right] = self.tail;
        self.last = [left + tail_left, right + tail_right];
        self.last
    }

    /// The sound without a next frame.
    fn die_away(&mut self) -> Frame {
        if self.gain > 0.0 {
            self.gain = 0.0;
            self.tail = self.last;
        }
        self.decay();
        self.last = self.tail;
        self.last
    }

    fn decay(&mut self) {
        let decay = self.decay;
        self.tail = self.tail.map(|level| {
            let level = level * decay;
            if level.abs() < SILENT { 0.0 } else { level }
        });
    }
}

/// What is not a number would never die away, nor what is beyond all measure.
fn sound(level: f32) -> f32 {
    if level.is_nan() {
        0.0
    } else {
        level.clamp(-1.0, 1.0)
    }
}

/// Lays a stereo frame over the channels of the device.
fn spread<T: Level>([left, right]: Frame, slot: &mut [T]) {
    match slot {
        [only] => *only = T::of(0.5 * (left + right)),
        [first, second, others @ ..] => {
            *first = T::of(left);
            *second = T::of(right);
            others.fill(T::of(0.0));
        }
        [] => {}
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE: u32 = 48_000;

    fn pair(channels: usize) -> (Feed, Drain) {
        ring(SampleRate::new(RATE).unwrap(), channels)
    }

    /// Renders frames that count up in tiny steps on the left, down on the right.
    fn counting(next: &mut u64) -> impl FnMut(&mut [f32]) {
        move |stereo| {
            for frame in stereo.chunks_exact_mut(2) {
                let level = count(*next);
                frame.copy_from_slice(&[level, -0.5 * level]);
                *next += 1;
            }
        }
    }

    fn count(n: u64) -> f32 {
        n as f32 / 1e6
    }

    /// A sine of 440 Hz, equal on both sides.
    fn sine(at: &mut u64) -> impl FnMut(&mut [f32]) {
        move |stereo| {
            for frame in stereo.chunks_exact_mut(2) {
                let turns = *at as f64 * 440.0 / f64::from(RATE);
                frame.fill((std::f64::consts::TAU * turns).sin() as f32);
                *at += 1;
            }
        }
    }

    /// What the device gets on its first channel of two.
    fn take(drain: &mut Drain, frames: usize) -> Vec<f32> {
        let mut samples = vec![9.0_f32; 2 * frames];
        drain.fill(&mut samples);
        samples.chunks(2).map(|frame| frame[0]).collect()
    }

    fn largest_step(sound: &[f32]) -> f32 {
        let steps = sound.windows(2).map(|w| (w[1] - w[0]).abs());
        steps.fold(0.0, f32::max)
    }

    #[test]
    fn every_channel_count_and_callback_size_gets_all_frames_in_order() {
        for channels in 1..=8 {
            let (mut feed, mut drain) = pair(channels);
            let mut next = 0;
            let mut heard = 0_u64;
            for frames in [0, 1, 7, 480, 1023, 3, 480, 5001, 31, 480] {
                feed.fill(counting(&mut next));
                let mut samples = vec![9.0_f32; frames * channels];
                drain.fill(&mut samples);
                for frame in samples.chunks(channels) {
                    // The first 5 ms fade in.
                    let gain = ((heard + 1) as f32 / 240.0).min(1.0);
                    let (left, right) = (count(heard) * gain, -0.5 * count(heard) * gain);
                    let expected = match channels {
                        1 => vec![0.5 * (left + right)],
                        n => [left, right].into_iter().chain([0.0; 6]).take(n).collect(),
                    };
                    for (found, expected) in frame.iter().zip(expected) {
                        let exactly = if heard <= 240 { 1e-6 } else { 0.0 };
                        assert!(
                            (found - expected).abs() <= exactly,
                            "{channels} channels, frame {heard}: {found} for {expected}"
                        );
                    }
                    heard += 1;
                }
            }
            assert_eq!(drain.tally().played(), (heard, 0));
            assert_eq!(drain.tally().callbacks(), 10);
        }
    }

    #[test]
    fn half_frames_are_silent_and_all_of_the_ring_is_used() {
        let (mut feed, mut drain) = pair(3);
        let mut next = 0;
        feed.fill(counting(&mut next));
        assert_eq!(next, u64::from(RATE) * u64::from(AHEAD_MS) / 1000);
        let mut samples = vec![9.0_f32; 3 * 100 + 2];
        drain.fill(&mut samples);
        assert!(samples[300..].iter().all(|&s| s.abs() <= 0.0));
        assert_eq!(drain.tally().played(), (100, 0));
    }

    #[test]
    fn silence_before_the_first_frame_is_not_missed() {
        let (mut feed, mut drain) = pair(2);
        assert!(take(&mut drain, 480).iter().all(|&s| s.abs() <= 0.0));
        assert_eq!(drain.tally().played(), (0, 0));
        let mut at = 0;
        feed.fill(sine(&mut at));
        take(&mut drain, 100);
        assert_eq!(drain.tally().played(), (100, 0));
    }

    #[test]
    fn an_empty_ring_fades_out_and_the_next_frames_fade_in_without_a_click() {
        let (mut feed, mut drain) = pair(2);
        // Started so that the ring ends on a crest.
        let mut at = 28;
        feed.fill(sine(&mut at));
        let ready = (RATE * AHEAD_MS / 1000) as usize;
        let mut heard = take(&mut drain, ready);
        let crest = heard[ready - 1];
        assert!(crest.abs() > 0.9, "{crest}");
        // The sine's own largest step.
        let own = largest_step(&heard);

        let gap = take(&mut drain, 960);
        assert_eq!(drain.tally().played(), (ready as u64, 960));
        assert!(largest_step(&gap) < 0.015, "{}", largest_step(&gap));
        assert!((gap[0] - crest).abs() < 0.015);
        assert!(gap[480].abs() < 2e-3, "10 ms later {}", gap[480]);
        assert!(gap.windows(2).all(|w| w[1].abs() <= w[0].abs()));
        heard.extend(gap);

        let resumed = at;
        feed.fill(sine(&mut at));
        let back = take(&mut drain, 960);
        assert_eq!(drain.tally().played(), (ready as u64 + 960, 960));
        // After 5 ms what sounds is the player's again, frame for frame.
        let mut at = resumed;
        let mut expected = vec![0.0; 2 * 960];
        sine(&mut at)(&mut expected);
        for n in 240..960 {
            assert!((back[n] - expected[2 * n]).abs() < 2e-6, "{n}");
        }
        heard.extend(back);
        assert!(largest_step(&heard) < own + 0.015);
    }

    #[test]
    fn a_gap_within_the_fades_does_not_click_either() {
        let (mut feed, mut drain) = pair(2);
        let mut at = 0;
        let mut heard = Vec::new();
        let own = 0.058;
        for _ in 0..20 {
            // The whole ring, and 3 ms more than there is; then fewer frames than the fade-in.
            feed.fill(sine(&mut at));
            heard.extend(take(&mut drain, 5760 - 100));
            heard.extend(take(&mut drain, 100 + 144));
            feed.fill(sine(&mut at));
            heard.extend(take(&mut drain, 97));
        }
        assert!(
            largest_step(&heard) < own + 0.02,
            "{}",
            largest_step(&heard)
        );
    }

    #[test]
    fn leaving_fades_out_within_20_ms_and_stays_silent() {
        let (mut feed, mut drain) = pair(2);
        let mut at = 0;
        feed.fill(sine(&mut at));
        let mut heard = take(&mut drain, 1000);
        feed.leave();
        for _ in 0..4 {
            assert!(!feed.is_silent());
            heard.extend(take(&mut drain, 241));
        }
        let rest = take(&mut drain, 480);
        assert!(feed.is_silent());
        assert!(rest.iter().all(|&s| s.abs() <= 0.0));
        heard.extend(rest);
        assert!(largest_step(&heard) < 0.06);
        let played = drain.tally().played();
        assert_eq!(played, (1964, 0));
        take(&mut drain, 480);
        assert_eq!(drain.tally().played(), played, "silence that is wanted");
    }

    #[test]
    fn leaving_an_empty_ring_is_silent_at_once() {
        let (feed, mut drain) = pair(2);
        feed.leave();
        take(&mut drain, 480);
        assert!(feed.is_silent());
    }

    #[test]
    fn no_numbers_and_too_much_do_no_harm() {
        let (mut feed, mut drain) = pair(2);
        let mut n = 0;
        feed.fill(|stereo| {
            for level in stereo {
                *level = [f32::NAN, f32::INFINITY, -7.0, 0.5][n % 4];
                n += 1;
            }
        });
        let heard = take(&mut drain, 16_000);
        assert!(heard.iter().all(|s| s.abs() <= 1.0));
        assert!(heard[15_999].abs() < 0.1);
    }

    #[test]
    fn counts_read_meanwhile_belong_together() {
        let (mut feed, mut drain) = pair(2);
        let tally = drain.tally();
        let reader = thread::spawn(move || {
            let mut last = (0, 0);
            while last.0 < 480_000 {
                let now = tally.played();
                assert!(now.0 >= last.0 && now.1 >= last.1);
                // 480 frames and 20 missed in turn: at no moment are they further apart.
                assert_eq!(now.0 / 480 * 20 - now.1, 0, "{now:?}");
                last = now;
            }
        });
        let mut samples = vec![0.0_f32; 1000];
        for _ in 0..1000 {
            feed.fill(|stereo| stereo.fill(0.1));
            drain
                .consumer
                .read_chunk(drain.consumer.slots() - 480)
                .unwrap()
                .commit_all();
            drain.fill(&mut samples);
        }
        reader.join().unwrap();
    }
}
