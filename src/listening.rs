//! The listening thread: takes blocks from a source, hears every channel and leaves what it
//! heard where the screen can fetch it. The screen can never hold it up.

mod offline;
mod strings;
mod through;

use std::collections::VecDeque;
use std::io;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread;
use std::time::Duration;

use crate::analysis::Ears;
use crate::analysis::chord::{ChordEars, SharedChannel, Sought};
use crate::rehearsal::Update;
use crate::sound::playback::PlaybackClock;
use crate::sound::{Delivery, Source, StreamFormat};
use through::Through;

pub use offline::{HeardOut, hear_out};
pub use strings::{StringListener, StringNews};
pub use through::{DroneKeys, DroneLine, DronePlayer, drone};

/// The longest the thread waits for sound before it looks whether it is still wanted.
const PATIENCE: Duration = Duration::from_millis(20);
/// Items kept for a screen that does not fetch them: three seconds of ten channels. Beyond
/// that the oldest readings go first.
const MOST_KEPT: usize = 3_000;

/// Which channels of the stream are heard.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Inputs {
    /// All of them; the first is the ensemble's first channel, and so on.
    Every,
    /// For each channel of the ensemble the channel of the stream it is heard through, from 0.
    Chosen(Vec<usize>),
}

impl Inputs {
    fn of_stream(&self, channels: usize) -> Vec<usize> {
        match self {
            Self::Every => (0..channels).collect(),
            Self::Chosen(inputs) => inputs.clone(),
        }
    }
}

/// What is sought on each channel of the ensemble; none on a channel with one player.
type Wishes = Vec<Option<Sought>>;

/// A running listening thread; it ends when this is dropped.
pub struct Listener {
    letterbox: Arc<Letterbox>,
    wishes: Arc<Mutex<Option<Wishes>>>,
    wanted: Arc<AtomicBool>,
}

impl Listener {
    /// Listens to `source`, on shared channels for the voices that are `sought`.
    ///
    /// # Errors
    ///
    /// When the system has no thread left to give.
    pub fn start(
        source: Box<dyn Source>,
        inputs: Inputs,
        sought: Vec<Option<Sought>>,
    ) -> io::Result<Self> {
        Self::with(Hearer::new(source, inputs, sought))
    }

    /// Listens to one `input` of `source` (from 0) through a drone that is played by the
    /// loudspeaker of this clock.
    ///
    /// # Errors
    ///
    /// As for [`Self::start`].
    pub fn start_through(
        source: Box<dyn Source>,
        input: usize,
        line: DroneLine,
        clock: PlaybackClock,
    ) -> io::Result<Self> {
        let hearer = Hearer::new(source, Inputs::Chosen(vec![input]), vec![None]);
        Self::with(Hearer {
            through: Some(Through::new(line, clock, input)),
            ..hearer
        })
    }

    fn with(mut hearer: Hearer) -> io::Result<Self> {
        let letterbox = Arc::new(Letterbox::default());
        let wanted = Arc::new(AtomicBool::new(true));
        let wishes: Arc<Mutex<Option<Wishes>>> = Arc::new(Mutex::new(None));
        let (post, go_on) = (Arc::clone(&letterbox), Arc::clone(&wanted));
        let asked = Arc::clone(&wishes);
        thread::Builder::new()
            .name("listening".to_owned())
            .spawn(move || {
                while go_on.load(Ordering::Relaxed) {
                    let new = asked.lock().unwrap_or_else(PoisonError::into_inner).take();
                    if let Some(new) = new {
                        hearer.seek(new);
                    }
                    hearer.step(PATIENCE, |update| post.put(update));
                }
            })?;
        Ok(Self {
            letterbox,
            wishes,
            wanted,
        })
    }

    /// Looks for other voices from the next block on.
    pub fn seek(&self, sought: Vec<Option<Sought>>) {
        let mut wishes = self.wishes.lock().unwrap_or_else(PoisonError::into_inner);
        *wishes = Some(sought);
    }

    /// What has been heard since the last call, in order.
    pub fn fetch(&self) -> Vec<Update> {
        self.letterbox.take()
    }
}

impl Drop for Listener {
    /// Lets the thread end by itself: waiting for it could hang with a frozen sound server.
    fn drop(&mut self) {
        self.wanted.store(false, Ordering::Relaxed);
    }
}

/// The ears of one stream, and the input of each channel of the ensemble.
struct Hearing {
    ears: Ears,
    chords: ChordEars,
    inputs: Vec<usize>,
}

impl Hearing {
    fn seek(&mut self, sought: &[Option<Sought>]) {
        let channels = self.inputs.iter().zip(sought).enumerate();
        let shared = channels.filter_map(|(index, (input, sought))| {
            Some(SharedChannel {
                index,
                input: *input,
                sought: sought.clone()?,
            })
        });
        self.chords.listen_to(shared);
    }
}

/// Hears a source step by step, on whatever thread it is asked.
pub struct Hearer {
    source: Box<dyn Source>,
    inputs: Inputs,
    sought: Wishes,
    hearing: Option<Hearing>,
    /// Instead of plain ears, where a drone is heard as well.
    through: Option<Through>,
    lost: u64,
}

impl Hearer {
    /// Ears for `source`; on shared channels for the voices that are `sought`.
    pub fn new(source: Box<dyn Source>, inputs: Inputs, sought: Vec<Option<Sought>>) -> Self {
        Self {
            source,
            inputs,
            sought,
            hearing: None,
            through: None,
            lost: 0,
        }
    }

    /// Looks for other voices from the next block on.
    pub fn seek(&mut self, sought: Vec<Option<Sought>>) {
        self.sought = sought;
        if let Some(hearing) = &mut self.hearing {
            hearing.seek(&self.sought);
        }
    }

    fn start(&mut self, format: &StreamFormat) {
        if let Some(through) = &mut self.through {
            through.start(format.rate, format.channels);
            return;
        }
        let inputs = self.inputs.of_stream(format.channels);
        let ears = Ears::new(format.rate, format.channels, &inputs);
        let mut hearing = Hearing {
            ears,
            chords: ChordEars::new(format.rate, format.channels),
            inputs,
        };
        hearing.seek(&self.sought);
        self.hearing = Some(hearing);
    }

    /// What should be known of the sound so far.
    pub fn warning(&self) -> Option<String> {
        self.source.warning().map(str::to_owned)
    }

    /// Takes the next step of the source, waiting no longer than `patience`, and tells the news.
    pub fn step(&mut self, patience: Duration, mut tell: impl FnMut(Update)) {
        match self.source.next(patience) {
            Delivery::Started(format) => {
                self.start(&format);
                tell(Update::Started(format));
            }
            Delivery::Block { first, samples } => {
                if let Some(through) = &mut self.through {
                    through.hear(first, samples, |reading, heard| {
                        tell(Update::Reading(0, reading));
                        if let Some(heard) = heard {
                            tell(Update::Through(heard));
                        }
                    });
                } else if let Some(Hearing {
                    ears,
                    chords,
                    inputs,
                }) = &mut self.hearing
                {
                    ears.hear(first, samples, |input, reading| {
                        for (channel, _) in inputs.iter().enumerate().filter(|(_, i)| **i == input)
                        {
                            tell(Update::Reading(channel, *reading));
                        }
                    });
                    chords.hear(first, samples, |channel, chord| {
                        tell(Update::Chord(channel, chord.clone()));
                    });
                }
            }
            Delivery::State(state) => tell(Update::State(state)),
            Delivery::Nothing => {}
        }
        let lost = self.source.blocks_lost();
        if lost != self.lost {
            self.lost = lost;
            tell(Update::Lost(lost));
        }
    }
}

/// Where the newest news lies until it is fetched.
#[derive(Debug, Default)]
struct Letterbox {
    items: Mutex<VecDeque<Update>>,
}

impl Letterbox {
    fn put(&self, update: Update) {
        let mut items = self.items.lock().unwrap_or_else(PoisonError::into_inner);
        if items.len() >= MOST_KEPT {
            // States and starts are few and must arrive.
            let oldest = items
                .iter()
                .position(|item| matches!(item, Update::Reading(..) | Update::Chord(..)));
            items.remove(oldest.unwrap_or(0));
        }
        items.push_back(update);
    }

    fn take(&self) -> Vec<Update> {
        let mut items = self.items.lock().unwrap_or_else(PoisonError::into_inner);
        items.drain(..).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::{NoPitch, Reading};
    use crate::sound::SourceState;
    use crate::units::{Dbfs, Seconds};

    fn reading(time: f64) -> Reading {
        Reading {
            time: Seconds::new(time),
            available: Seconds::new(time),
            level: Dbfs::SILENCE,
            clipped: false,
            pitch: Err(NoPitch::Silence),
            motion: None,
        }
    }

    #[test]
    fn a_full_letterbox_drops_the_oldest_readings_and_no_state() {
        let letterbox = Letterbox::default();
        letterbox.put(Update::State(SourceState::Opening));
        for n in 0..MOST_KEPT + 10 {
            letterbox.put(Update::Reading(0, reading(n as f64)));
        }
        let items = letterbox.take();
        assert_eq!(items.len(), MOST_KEPT);
        assert_eq!(items[0], Update::State(SourceState::Opening));
        let Update::Reading(0, last) = items[MOST_KEPT - 1] else {
            panic!("a reading is last")
        };
        assert_eq!(last.time, Seconds::new((MOST_KEPT + 9) as f64));
        let Update::Reading(0, first) = items[1] else {
            panic!("readings follow")
        };
        assert_eq!(first.time, Seconds::new(11.0));
    }
}
