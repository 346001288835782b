//! The live output, as the live input is in [`capture`](super::capture).
//!
//! A [`Playback`] never blocks and never fails: it says what is wrong as a state and takes the
//! device up again by itself. One thread opens, watches, drops and reopens the device; another
//! renders ahead into a lock-free ring; the driver's thread only copies from there and counts.

mod choice;
mod clock;
mod device;
mod ring;

use std::sync::Arc;
use std::sync::mpsc::{self, Receiver, RecvTimeoutError, Sender, TryRecvError};
use std::thread;
use std::time::{Duration, Instant};

pub use choice::OutputChoice;
pub use clock::{PlaybackClock, Played};
pub use ring::{Drain, Feed, Tally, ring};

use super::device::{Direction, Keeper, Message, Never, Stopwatch, thread_failed};
use super::{Fault, StreamFormat};
use crate::units::SampleRate;
use clock::Current;

/// How often the ring is filled up. The driver's thread may not wake us: that would be a call to
/// the system.
const REFILL: Duration = Duration::from_millis(10);
/// How long a fade-out is waited for at the end: two callbacks beside the 20 ms it takes.
const FADING: Duration = Duration::from_millis(180);
/// What the device may still hold of it.
const SOUNDING_OUT: Duration = Duration::from_millis(160);
/// How long [`Playback::close`] waits for both.
const CLOSING: Duration = Duration::from_millis(350);

/// Something that makes sound, stereo. Runs on a thread of its own, never in the callback.
pub trait Player: Send {
    /// A stream of this rate starts: the next frame rendered is its frame 0.
    fn start(&mut self, rate: SampleRate);

    /// Renders the next frames, interleaved stereo (left, right), full scale 1; overwrites all
    /// of `stereo`. It is called for blocks of 10 ms, 280 to 300 ms before they are taken by the
    /// device, and only while a stream runs.
    fn render(&mut self, stereo: &mut [f32]);
}

/// What a live output is doing, for the screen.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum PlaybackState {
    /// Being opened.
    Opening,
    /// Playing.
    Running {
        /// The device's name for people.
        name: String,
        /// Frames a second.
        rate: SampleRate,
        /// Channels of the device, at least 1. One gets the mean of left and right; of more
        /// than two the first two sound.
        channels: usize,
    },
    /// It cannot be used now; it is tried again without being asked.
    Waiting(Fault),
}

/// A stream that was opened.
struct Started {
    format: StreamFormat,
    feed: Feed,
}

/// A live output on any device.
///
/// Dropping it returns at once: the sound fades out within 20 ms, and the device is let go by its
/// own thread. When the program itself is about to end, [`Playback::close`] gives the fade time.
pub struct Playback {
    news: Receiver<PlaybackState>,
    clock: PlaybackClock,
    name: String,
    /// To be told before anything else.
    due: Option<PlaybackState>,
    failed: bool,
    /// Its end tells the thread to fade out and let go.
    alive: Sender<Never>,
    /// Closed when the thread has done so.
    farewell: Receiver<Never>,
}

impl Playback {
    /// Begins to open the chosen output and to play on it. Returns at once; what comes of it is
    /// told by [`Playback::news`].
    pub fn open(choice: OutputChoice, player: Box<dyn Player>) -> Self {
        Self::timed(choice, player, Arc::default())
    }

    /// The same with a watch on what its callback takes.
    pub fn timed(choice: OutputChoice, player: Box<dyn Player>, stopwatch: Arc<Stopwatch>) -> Self {
        let (to_owner, news) = mpsc::channel();
        let (alive, owner) = mpsc::channel();
        let (until_farewell, farewell) = mpsc::channel();
        let clock = PlaybackClock::default();
        let name = choice
            .name
            .clone()
            .unwrap_or_else(|| "default output".to_owned());
        let renderer = Renderer {
            player,
            running: None,
            streams: 0,
            clock: clock.clone(),
            to_owner,
            _until_farewell: until_farewell,
        };
        // If there is no thread to be had, its end of the channel closes, and that is told.
        let _ = thread::Builder::new()
            .name("output renderer".to_owned())
            .spawn(move || renderer.run(choice, stopwatch, &owner));
        Self {
            news,
            clock,
            name,
            due: Some(PlaybackState::Opening),
            failed: false,
            alive,
            farewell,
        }
    }

    /// What has changed, if anything has. Never blocks.
    pub fn news(&mut self) -> Option<PlaybackState> {
        if self.due.is_some() {
            return self.due.take();
        }
        match self.news.try_recv() {
            Ok(state) => Some(state),
            Err(TryRecvError::Disconnected) if !self.failed => {
                self.failed = true;
                self.clock.set(None);
                Some(PlaybackState::Waiting(thread_failed(&self.name)))
            }
            Err(_) => None,
        }
    }

    /// Tells other threads what has been played.
    pub fn clock(&self) -> PlaybackClock {
        self.clock.clone()
    }

    /// Fades out within 20 ms and waits until that has been heard, 350 ms at most, so that the
    /// end of the program is no click. The player need not do anything for it; what it has
    /// rendered beyond is not heard.
    pub fn close(self) {
        drop(self.alive);
        // Nothing is ever sent: this waits for the other end to go.
        let _ = self.farewell.recv_timeout(CLOSING);
    }
}

/// The thread that renders.
struct Renderer {
    player: Box<dyn Player>,
    running: Option<Started>,
    streams: u64,
    clock: PlaybackClock,
    to_owner: Sender<PlaybackState>,
    _until_farewell: Sender<Never>,
}

impl Renderer {
    /// Runs until the owner has gone.
    fn run(mut self, choice: OutputChoice, stopwatch: Arc<Stopwatch>, owner: &Receiver<Never>) {
        let wanted = choice.name.clone();
        let mut keeper = Keeper::new(Direction::Output, wanted.as_deref(), move || {
            device::open(&choice, &stopwatch)
        });
        loop {
            while let Some(message) = keeper.news() {
                self.hear(message);
            }
            self.fill();
            match owner.recv_timeout(REFILL) {
                Ok(never) => match never {},
                Err(RecvTimeoutError::Timeout) => {}
                Err(RecvTimeoutError::Disconnected) => break,
            }
        }
        self.fade_out();
    }

    fn fill(&mut self) {
        if let Some(Started { feed, .. }) = &mut self.running {
            feed.fill(|stereo| self.player.render(stereo));
        }
    }

    fn hear(&mut self, message: Message<Started>) {
        let state = match message {
            Message::Started(started) => {
                self.streams += 1;
                self.player.start(started.format.rate);
                self.running = Some(started);
                self.is_running()
            }
            Message::Resumed => self.is_running(),
            Message::Waiting(fault) => {
                // The stream may be there still, and go on.
                self.clock.set(None);
                Some(PlaybackState::Waiting(fault))
            }
        };
        if let Some(state) = state {
            // An owner who has gone is noticed by the other channel.
            let _ = self.to_owner.send(state);
        }
    }

    /// Sets the clock going.
    fn is_running(&self) -> Option<PlaybackState> {
        let Started { format, feed } = self.running.as_ref()?;
        self.clock.set(Some(Current {
            stream: self.streams,
            rate: format.rate,
            tally: Arc::clone(feed.tally()),
        }));
        Some(PlaybackState::Running {
            name: format.name.clone(),
            rate: format.rate,
            channels: format.channels,
        })
    }

    /// Lets what sounds die away.
    fn fade_out(&self) {
        let (Some(started), Some(_)) = (&self.running, self.clock.now()) else {
            return;
        };
        started.feed.leave();
        let asked = Instant::now();
        while !started.feed.is_silent() {
            if asked.elapsed() > FADING {
                return;
            }
            thread::sleep(Duration::from_millis(2));
        }
        thread::sleep(SOUNDING_OUT);
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Mutex;

    use super::*;

    /// A level that rises with each frame since the start; the starts' rates are kept.
    struct Rising {
        at: u32,
        starts: Arc<Mutex<Vec<u32>>>,
    }

    impl Player for Rising {
        fn start(&mut self, rate: SampleRate) {
            self.at = 0;
            self.starts.lock().unwrap().push(rate.get());
        }

        fn render(&mut self, stereo: &mut [f32]) {
            for frame in stereo.chunks_exact_mut(2) {
                frame.fill(self.at as f32 / 1e6);
                self.at += 1;
            }
        }
    }

    fn opened(hz: u32) -> (Started, Drain) {
        let rate = SampleRate::new(hz).unwrap();
        let (feed, drain) = ring(rate, 1);
        let format = StreamFormat {
            name: "Hall".to_owned(),
            rate,
            channels: 1,
        };
        (Started { format, feed }, drain)
    }

    #[test]
    fn each_stream_has_a_number_and_begins_with_the_players_first_frame() {
        let starts = Arc::new(Mutex::new(Vec::new()));
        let clock = PlaybackClock::default();
        let (to_owner, news) = mpsc::channel();
        let mut renderer = Renderer {
            player: Box::new(Rising {
                at: 0,
                starts: Arc::clone(&starts),
            }),
            running: None,
            streams: 0,
            clock: clock.clone(),
            to_owner,
            _until_farewell: mpsc::channel().0,
        };
        let running = |hz| PlaybackState::Running {
            name: "Hall".to_owned(),
            rate: SampleRate::new(hz).unwrap(),
            channels: 1,
        };
        let played = || {
            clock
                .now()
                .map(|p| (p.stream, p.rate.get(), p.frames, p.missed))
        };
        let stalled = Fault::Stalled("Hall".to_owned());
        let lost = Fault::Lost("Hall".to_owned());
        let mut samples = [0.0_f32; 441];

        let (started, mut drain) = opened(44_100);
        assert_eq!(played(), None);
        renderer.hear(Message::Started(started));
        assert_eq!(news.try_recv(), Ok(running(44_100)));
        assert_eq!(played(), Some((1, 44_100, 0, 0)));
        renderer.fill();
        drain.fill(&mut samples);
        assert_eq!(played(), Some((1, 44_100, 441, 0)));
        assert!((samples[440] - 440e-6).abs() < 1e-9);

        renderer.hear(Message::Waiting(stalled.clone()));
        assert_eq!(news.try_recv(), Ok(PlaybackState::Waiting(stalled)));
        assert_eq!(played(), None);
        renderer.hear(Message::Resumed);
        assert_eq!(news.try_recv(), Ok(running(44_100)));
        assert_eq!(played(), Some((1, 44_100, 441, 0)), "it goes on");

        renderer.hear(Message::Waiting(lost.clone()));
        assert_eq!(news.try_recv(), Ok(PlaybackState::Waiting(lost)));
        let (started, mut drain) = opened(48_000);
        renderer.hear(Message::Started(started));
        assert_eq!(news.try_recv(), Ok(running(48_000)));
        renderer.fill();
        drain.fill(&mut samples);
        assert_eq!(played(), Some((2, 48_000, 441, 0)));
        assert!((samples[440] - 440e-6).abs() < 1e-9, "from the first frame");
        assert_eq!(*starts.lock().unwrap(), [44_100, 48_000]);
    }
}
