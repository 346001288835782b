//! The listening thread: takes blocks from a source, hears every channel and leaves what it
//! heard where the screen can fetch it. The screen can never hold it up.

mod load;
mod offline;
mod strings;
mod through;

use std::collections::VecDeque;
use std::io;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread;
use std::time::Duration;

use crate::analysis::chord::{ChordEars, SharedChannel, Sought};
use crate::analysis::{Ears, Effort};
use crate::rehearsal::Update;
use crate::sound::playback::PlaybackClock;
use crate::sound::{Delivery, Source, StreamFormat};
use crate::units::{FramePosition, Frames, Seconds};
use load::{Load, Order};
use through::Through;

pub use offline::{HeardOut, hear_out};
pub use strings::{StringListener, StringNews};
pub use through::{DroneKeys, DroneLine, DronePlayer, drone};

/// The longest the thread waits for sound before it looks whether it is still wanted.
const PATIENCE: Duration = Duration::from_millis(20);
/// Sound that waits for no longer than this is the present.
const PRESENT: Seconds = Seconds::new(0.05);
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

    fn hear(&mut self, first: FramePosition, samples: &[f32], tell: &mut impl FnMut(Update)) {
        let inputs = &self.inputs;
        self.ears.hear(first, samples, |input, reading| {
            for (channel, _) in inputs.iter().enumerate().filter(|(_, i)| **i == input) {
                tell(Update::Reading(channel, *reading));
            }
        });
        self.chords.hear(first, samples, |channel, chord| {
            tell(Update::Chord(channel, chord.clone()));
        });
    }

    fn spend(&mut self, effort: Effort) {
        self.ears.spend(effort);
        self.chords.spend(effort);
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
    load: Load,
    format: Option<StreamFormat>,
    /// Blocks lost by the source, and blocks let go here because there was no time for them.
    lost: u64,
    let_go: u64,
    /// What is wrong with the recording, as it was told last.
    damage: Option<String>,
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
            load: Load::default(),
            format: None,
            lost: 0,
            let_go: 0,
            damage: None,
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
        self.load.restart();
        self.format = Some(format.clone());
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
        hearing.spend(self.load.effort());
        self.hearing = Some(hearing);
    }

    /// Takes the next step of the source, waiting no longer than `patience`, and tells the news.
    pub fn step(&mut self, patience: Duration, mut tell: impl FnMut(Update)) {
        let mut frames = 0;
        match self.source.next(patience) {
            Delivery::Started(format) => {
                self.start(&format);
                tell(Update::Started(format));
            }
            Delivery::Block { first, samples } => {
                frames = samples.len();
                if let Some(through) = &mut self.through {
                    through.hear(first, samples, |reading, heard| {
                        tell(Update::Reading(0, reading));
                        if let Some(heard) = heard {
                            tell(Update::Through(heard));
                        }
                    });
                } else if let Some(hearing) = &mut self.hearing {
                    hearing.hear(first, samples, &mut tell);
                }
            }
            Delivery::State(state) => tell(Update::State(state)),
            Delivery::Nothing => {}
        }
        if frames > 0 {
            self.weigh(frames, &mut tell);
        }
        let lost = self.source.blocks_lost() + self.let_go;
        if lost != self.lost {
            self.lost = lost;
            tell(Update::Lost(lost));
        }
        let damage = self.source.warning();
        if damage != self.damage.as_deref() {
            self.damage = damage.map(str::to_owned);
            if let Some(text) = &self.damage {
                tell(Update::Damaged(text.clone()));
            }
        }
    }

    /// Does less, or more, after a block of so many samples, as the machine keeps up or does not.
    fn weigh(&mut self, samples: usize, tell: &mut impl FnMut(Update)) {
        let Some(format) = &self.format else { return };
        let frames = Frames::new((samples / format.channels.max(1)) as u64);
        match self
            .load
            .take(frames.at(format.rate), self.source.waiting())
        {
            Order::Go => {}
            Order::Spend(effort) => {
                if let Some(hearing) = &mut self.hearing {
                    hearing.spend(effort);
                }
                if let Some(through) = &mut self.through {
                    through.spend(effort);
                }
                tell(Update::Effort(effort));
            }
            Order::Skip => {
                // Positions tell the ears of the gap. What is no sound is told all the same.
                while self.source.waiting() > PRESENT {
                    match self.source.next(Duration::ZERO) {
                        Delivery::Block { .. } => self.let_go += 1,
                        Delivery::State(state) => tell(Update::State(state)),
                        Delivery::Started(format) => {
                            self.start(&format);
                            tell(Update::Started(format));
                        }
                        Delivery::Nothing => break,
                    }
                }
            }
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

    /// Sound of which ever more waits: each block of 100 ms is heard 120 ms after the last.
    struct Flood {
        blocks: u64,
        waiting: f64,
        sound: Vec<f32>,
        growth: f64,
    }

    impl Source for Flood {
        fn next(&mut self, _patience: Duration) -> Delivery<'_> {
            if self.blocks == 0 {
                self.blocks = 1;
                return Delivery::Started(StreamFormat {
                    name: "Desk".to_owned(),
                    rate: crate::units::SampleRate::new(8_000).unwrap(),
                    channels: 1,
                });
            }
            let first = FramePosition::new((self.blocks - 1) * 800);
            self.blocks += 1;
            self.waiting = (self.waiting + self.growth).max(0.0);
            Delivery::Block {
                first,
                samples: &self.sound,
            }
        }

        fn waiting(&self) -> Seconds {
            Seconds::new(self.waiting)
        }
    }

    #[test]
    fn a_machine_that_cannot_keep_up_hears_less_says_so_and_recovers() {
        let flood = Flood {
            blocks: 0,
            waiting: 0.0,
            sound: vec![0.1; 800],
            growth: 0.02,
        };
        let mut hearer = Hearer::new(Box::new(flood), Inputs::Every, vec![None]);
        let mut efforts = Vec::new();
        let mut readings = [0_usize; 2];
        for step in 0..40 {
            hearer.step(Duration::ZERO, |update| match update {
                Update::Effort(effort) => efforts.push(effort),
                Update::Reading(..) => readings[usize::from(step > 30)] += 1,
                _ => {}
            });
        }
        assert_eq!(efforts.first(), Some(&Effort::Half));
        // Nine blocks, at a half or a quarter of their ninety readings.
        assert!((20..=45).contains(&readings[1]), "{readings:?}");
    }

    #[test]
    fn at_the_least_effort_what_waits_is_let_go_and_counted() {
        // It grows until it is let go: by skipping, nothing else is waited for.
        struct Hopeless(Flood);
        impl Source for Hopeless {
            fn next(&mut self, patience: Duration) -> Delivery<'_> {
                // Skipping takes no time; hearing takes longer than the sound.
                self.0.growth = if patience.is_zero() { -0.1 } else { 0.15 };
                self.0.next(patience)
            }
            fn waiting(&self) -> Seconds {
                self.0.waiting()
            }
        }
        let flood = Flood {
            blocks: 0,
            waiting: 0.0,
            sound: vec![0.1; 800],
            growth: 0.0,
        };
        let mut hearer = Hearer::new(Box::new(Hopeless(flood)), Inputs::Every, vec![None]);
        let (mut least, mut lost) = (Effort::Full, 0);
        for _ in 0..200 {
            hearer.step(PATIENCE, |update| match update {
                Update::Effort(effort) => least = least.max(effort),
                Update::Lost(blocks) => lost = blocks,
                _ => {}
            });
        }
        assert_eq!(least, Effort::TwoVoices);
        assert!(lost > 20, "{lost} blocks let go");
    }
}
