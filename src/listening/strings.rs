//! Listens to the strings of one step of a tuner's sheet, on a thread of its own.

use std::io;
use std::sync::mpsc::{self, Receiver, Sender};
use std::thread;

use super::PATIENCE;
use crate::bearings::Hearing;
use crate::bearings::hearing::{Heard, Wanted};
use crate::sound::{Delivery, Source, SourceState};
use crate::units::{FramePosition, Frames, SampleRate};

/// What comes of listening.
#[derive(Debug, Clone, PartialEq)]
pub enum StringNews {
    /// What is heard of the strings that are wanted.
    Heard(Heard),
    /// What the source is doing.
    State(SourceState),
}

/// A running thread that listens to strings; it ends when this is dropped.
pub struct StringListener {
    orders: Sender<Option<Wanted>>,
    news: Receiver<StringNews>,
}

impl StringListener {
    /// Listens to one `input` of `source` (from 0), to nothing at first.
    ///
    /// # Errors
    ///
    /// When the system has no thread left to give.
    pub fn start(source: Box<dyn Source>, input: usize) -> io::Result<Self> {
        let (orders, asked) = mpsc::channel();
        let (post, news) = mpsc::channel();
        let mut ear = StringEar::new(source, input);
        thread::Builder::new()
            .name("listening".to_owned())
            .spawn(move || {
                loop {
                    match asked.try_recv() {
                        Ok(wanted) => ear.want(wanted),
                        Err(mpsc::TryRecvError::Empty) => {}
                        Err(mpsc::TryRecvError::Disconnected) => return,
                    }
                    // Ten a second: what a screen leaves lying for hours is still little.
                    ear.step(|news| {
                        let _ = post.send(news);
                    });
                }
            })?;
        Ok(Self { orders, news })
    }

    /// Hears these strings from now on; nothing while there are none.
    pub fn want(&self, wanted: Option<Wanted>) {
        // A thread that has gone hears nothing.
        let _ = self.orders.send(wanted);
    }

    /// What has come since the last call, in order.
    pub fn fetch(&self) -> Vec<StringNews> {
        self.news.try_iter().collect()
    }
}

/// Hears a source step by step, on whatever thread it is asked.
struct StringEar {
    source: Box<dyn Source>,
    input: usize,
    format: Option<(SampleRate, usize)>,
    wanted: Option<Wanted>,
    hearing: Option<Hearing>,
    next: FramePosition,
}

impl StringEar {
    fn new(source: Box<dyn Source>, input: usize) -> Self {
        Self {
            source,
            input,
            format: None,
            wanted: None,
            hearing: None,
            next: FramePosition::START,
        }
    }

    fn want(&mut self, wanted: Option<Wanted>) {
        self.wanted = wanted;
        self.renew();
    }

    fn renew(&mut self) {
        self.hearing = match (self.wanted, self.format) {
            (Some(wanted), Some((rate, _))) => Some(Hearing::new(wanted, rate)),
            _ => None,
        };
    }

    fn step(&mut self, mut tell: impl FnMut(StringNews)) {
        match self.source.next(PATIENCE) {
            Delivery::Started(format) => {
                self.format = Some((format.rate, format.channels.max(1)));
                self.next = FramePosition::START;
                self.renew();
                tell(StringNews::State(SourceState::Running));
            }
            Delivery::Block { first, samples } => {
                let Some((_, channels)) = self.format else {
                    return;
                };
                let frames = Frames::new((samples.len() / channels) as u64);
                let is_torn = first != self.next;
                self.next = first + frames;
                let own = samples.iter().skip(self.input).step_by(channels).copied();
                if is_torn && let (Some(wanted), Some((rate, _))) = (self.wanted, self.format) {
                    self.hearing = Some(Hearing::new(wanted, rate));
                }
                if let Some(hearing) = &mut self.hearing {
                    hearing.push(own, |heard| tell(StringNews::Heard(heard)));
                }
            }
            Delivery::State(state) => tell(StringNews::State(state)),
            Delivery::Nothing => {}
        }
    }
}
