//! A drone between those who play it and those who hear through it: the player of the
//! loudspeaker tells every passage, and the listening thread takes it out of one input.

use std::collections::VecDeque;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{self, Receiver, Sender};

use crate::analysis::cancel::{Canceller, HeardThrough, Leak};
use crate::analysis::{Effort, Estimator, Reading};
use crate::drone::{Passage, Synth, Wanted};
use crate::sound::playback::{PlaybackClock, Played, Player};
use crate::units::{FramePosition, Frames, SampleRate};

/// Passages that are kept; more are only told in a second of many changes.
const MOST_PASSAGES: usize = 64;
/// Readings from one word about the drone to the next.
const EVERY: u32 = 10;

/// What is told to whoever listens.
enum Told {
    /// A stream of the loudspeaker starts.
    Started,
    /// What sounds from a frame of that stream on.
    Passage(Passage),
}

/// Plays a drone through a loudspeaker.
pub struct DronePlayer {
    orders: Receiver<Wanted>,
    wanted: Wanted,
    synth: Option<Synth>,
    told: Sender<Told>,
}

/// Tells a [`DronePlayer`] what to play, and the listener whether it is heard through the air.
pub struct DroneKeys {
    orders: Sender<Wanted>,
    has_headphones: Arc<AtomicBool>,
}

/// What the listener knows of the drone.
pub struct DroneLine {
    told: Receiver<Told>,
    has_headphones: Arc<AtomicBool>,
}

/// The three ends of a drone.
pub fn drone() -> (DronePlayer, DroneKeys, DroneLine) {
    let (to_player, orders) = mpsc::channel();
    let (to_listener, told) = mpsc::channel();
    let has_headphones = Arc::new(AtomicBool::new(false));
    let player = DronePlayer {
        orders,
        wanted: Wanted::silence(),
        synth: None,
        told: to_listener,
    };
    let keys = DroneKeys {
        orders: to_player,
        has_headphones: Arc::clone(&has_headphones),
    };
    (
        player,
        keys,
        DroneLine {
            told,
            has_headphones,
        },
    )
}

impl DroneKeys {
    /// Plays this from now on, to a player with headphones or without.
    pub fn play(&self, wanted: Wanted, has_headphones: bool) {
        self.has_headphones.store(has_headphones, Ordering::Relaxed);
        // A player who has gone plays nothing.
        let _ = self.orders.send(wanted);
    }
}

impl Player for DronePlayer {
    fn start(&mut self, rate: SampleRate) {
        let mut synth = Synth::new(rate);
        synth.want(self.wanted.clone());
        self.synth = Some(synth);
        let _ = self.told.send(Told::Started);
    }

    fn render(&mut self, stereo: &mut [f32]) {
        while let Ok(wanted) = self.orders.try_recv() {
            self.wanted = wanted;
            if let Some(synth) = &mut self.synth {
                synth.want(self.wanted.clone());
            }
        }
        let Some(synth) = &mut self.synth else {
            stereo.fill(0.0);
            return;
        };
        // Nobody may listen.
        let told = &self.told;
        synth.render(stereo, |passage| {
            let _ = told.send(Told::Passage(passage.clone()));
        });
    }
}

/// Hears one input through a drone.
pub(super) struct Through {
    line: DroneLine,
    clock: PlaybackClock,
    input: usize,
    channels: usize,
    /// Streams of the loudspeaker that were told of, and the last one's passages.
    streams: u64,
    passages: VecDeque<Passage>,
    /// What the canceller was told of, as of then.
    begun: Option<Played>,
    canceller: Option<Canceller>,
    estimator: Option<Estimator>,
    effort: Effort,
    next: FramePosition,
    since: u32,
}

impl Through {
    /// Ears for `input` (from 0), with what is known of the drone and of the loudspeaker.
    pub(super) fn new(line: DroneLine, clock: PlaybackClock, input: usize) -> Self {
        Self {
            line,
            clock,
            input,
            channels: 1,
            streams: 0,
            passages: VecDeque::new(),
            begun: None,
            canceller: None,
            estimator: None,
            effort: Effort::Full,
            next: FramePosition::START,
            since: 0,
        }
    }

    /// A stream of the microphone starts.
    pub(super) fn start(&mut self, rate: SampleRate, channels: usize) {
        self.channels = channels.max(1);
        self.canceller = Some(Canceller::new(rate));
        self.begun = None;
        let mut estimator = Estimator::new(rate);
        estimator.spend(self.effort);
        self.estimator = Some(estimator);
        self.next = FramePosition::START;
    }

    /// Spends so much on it, from the next hop on.
    pub(super) fn spend(&mut self, effort: Effort) {
        self.effort = effort;
        if let Some(estimator) = &mut self.estimator {
            estimator.spend(effort);
        }
    }

    /// Takes a block; hands on readings, and now and then how the drone arrives.
    pub(super) fn hear(
        &mut self,
        first: FramePosition,
        samples: &[f32],
        mut each: impl FnMut(Reading, Option<HeardThrough>),
    ) {
        let has_headphones = self.line.has_headphones.load(Ordering::Relaxed);
        let (Some(canceller), Some(estimator)) = (&mut self.canceller, &mut self.estimator) else {
            return;
        };
        if first != self.next {
            estimator.restart(first);
            canceller.end();
            self.begun = None;
        }
        self.next = first + Frames::new((samples.len() / self.channels) as u64);
        while let Ok(told) = self.line.told.try_recv() {
            match told {
                Told::Started => {
                    self.streams += 1;
                    self.passages.clear();
                    canceller.end();
                    self.begun = None;
                }
                Told::Passage(passage) => {
                    if self.begun.is_some() {
                        canceller.tell(passage.clone());
                    }
                    if self.passages.len() == MOST_PASSAGES {
                        self.passages.pop_front();
                    }
                    self.passages.push_back(passage);
                }
            }
        }
        let played = self
            .clock
            .now()
            .filter(|played| played.stream == self.streams);
        let played = played.filter(|_| !has_headphones);
        match (played, self.begun) {
            (None, Some(_)) => {
                canceller.end();
                self.begun = None;
            }
            // Frames the device had to do without put everything after them later.
            (Some(now), begun) if begun.is_none_or(|begun| begun.missed != now.missed) => {
                let is_over = |next: Option<&Passage>| next.is_some_and(|p| p.from < now.frames);
                while is_over(self.passages.get(1)) {
                    self.passages.pop_front();
                }
                canceller.begin(now.rate, now.frames as f64);
                for passage in &self.passages {
                    canceller.tell(passage.clone());
                }
                self.begun = Some(now);
            }
            _ => {}
        }
        let own = samples.iter().skip(self.input).step_by(self.channels);
        let since = &mut self.since;
        canceller.take(own.copied(), |canceller, rest| {
            estimator.push(rest.iter().copied(), |reading| {
                let mut reading = *reading;
                canceller.judge(&mut reading);
                *since += 1;
                let heard = since.is_multiple_of(EVERY).then(|| {
                    let mut heard = canceller.heard();
                    if has_headphones {
                        heard.leak = Leak::Headphones;
                    }
                    heard
                });
                each(reading, heard);
            });
        });
    }
}
