//! What is heard on every input: how loud, how much louder than before, and which notes stood.

use std::collections::VecDeque;

use super::steady::{Held, Steady};
use crate::analysis::Reading;
use crate::sound::SourceState;
use crate::units::{Dbfs, Hertz, Seconds};

/// Bars fall by so many decibels a second.
const FALL_DB: f64 = 30.0;
/// Loudness is a mean over so long.
const MEAN: Seconds = Seconds::new(0.4);
/// What is quiet may come to be louder by so many decibels a second: people arrive.
const CREEP_DB: f64 = 0.6;
/// Nothing counts as quieter than this, or the hiss of a closed input would seem to rise.
const QUIETEST_DB: f64 = -70.0;
/// An input has risen when it is so much louder than it was when quiet.
const RISEN_DB: f64 = 10.0;
/// Nobody plays into a microphone more softly than this.
const PLAYED_DB: f64 = -58.0;
/// Below this on all inputs there is probably nothing connected.
const DEAD_DB: f64 = -75.0;
/// A note of a trumpet counts when it has stood for so long.
const SHORT: Seconds = Seconds::new(0.4);
/// Notes remembered of each input.
const MOST_NOTES: usize = 12;

/// One input.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Heard {
    /// For the bar: rises at once and falls slowly.
    pub(super) bar: f64,
    /// Mean power of the last moments, in decibels.
    pub(super) loud: f64,
    quiet: f64,
    pub(super) is_clipping: bool,
    pub(super) steady: Steady,
    /// Different notes that stood, the latest last.
    pub(super) notes: VecDeque<Hertz>,
    time: Seconds,
    /// The power of the last moments.
    powers: VecDeque<(Seconds, f64)>,
}

impl Heard {
    fn new() -> Self {
        Self {
            bar: Dbfs::SILENCE.get(),
            loud: Dbfs::SILENCE.get(),
            quiet: 0.0,
            is_clipping: false,
            steady: Steady::default(),
            notes: VecDeque::new(),
            time: Seconds::default(),
            powers: VecDeque::new(),
        }
    }

    /// How much louder it is than when it was quiet.
    fn rise(&self) -> f64 {
        self.loud - self.quiet.max(QUIETEST_DB)
    }

    fn push(&mut self, reading: &Reading) {
        let since = (reading.time - self.time).get().clamp(0.0, 0.1);
        self.time = reading.time;
        let level = reading.level.get();
        self.bar = level.max(self.bar - FALL_DB * since);
        self.powers
            .push_back((reading.time, 10_f64.powf(level / 10.0)));
        let is_past = |(time, _): &(Seconds, f64)| reading.time - *time > MEAN;
        while self.powers.front().is_some_and(is_past) {
            self.powers.pop_front();
        }
        let sum: f64 = self.powers.iter().map(|(_, power)| power).sum();
        self.loud = 10.0 * (sum / self.powers.len() as f64).max(1e-14).log10();
        self.quiet = (self.quiet + CREEP_DB * since).min(self.loud);
        self.is_clipping = reading.clipped;
        self.steady.push(reading);
    }

    /// Remembers the note that stands.
    fn note(&mut self) {
        if let Some(held) = self.steady.held_for(SHORT) {
            let is_same = |note: &Hertz| held.hertz.above(*note).abs().get() < 40.0;
            if !self.notes.iter().any(is_same) {
                if self.notes.len() == MOST_NOTES {
                    self.notes.pop_front();
                }
                self.notes.push_back(held.hertz);
            }
        }
    }
}

/// Who plays now, as far as levels tell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Rise {
    /// The loudest of the inputs that have risen, from 0.
    pub(super) input: usize,
    /// The next one after it, and by how many decibels it is softer.
    pub(super) next: Option<(usize, f64)>,
}

/// All inputs of the stream.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Hearing {
    pub(super) inputs: Vec<Heard>,
    pub(super) state: SourceState,
    pub(super) name: String,
    /// The moment of the latest reading, on the stream's clock.
    pub(super) now: Seconds,
    sounded: Seconds,
}

impl Hearing {
    pub(super) fn new() -> Self {
        Self {
            inputs: Vec::new(),
            state: SourceState::Opening,
            name: String::new(),
            now: Seconds::default(),
            sounded: Seconds::default(),
        }
    }

    /// A stream of so many inputs begins.
    pub(super) fn start(&mut self, name: &str, inputs: usize) {
        self.inputs = vec![Heard::new(); inputs];
        name.clone_into(&mut self.name);
        self.state = SourceState::Running;
        self.now = Seconds::default();
        self.sounded = Seconds::default();
    }

    pub(super) fn take(&mut self, input: usize, reading: &Reading) {
        if let Some(heard) = self.inputs.get_mut(input) {
            heard.push(reading);
            let loud = heard.loud;
            if loud > DEAD_DB {
                self.sounded = reading.time;
            }
            self.now = reading.time;
            // What is louder elsewhere is played elsewhere.
            if self.inputs.iter().all(|other| other.loud <= loud)
                && let Some(heard) = self.inputs.get_mut(input)
            {
                heard.note();
            }
        }
    }

    /// For how long nothing at all has come.
    pub(super) fn dead_for(&self) -> Seconds {
        self.now - self.sounded
    }

    /// Who plays now.
    pub(super) fn rise(&self) -> Option<Rise> {
        let by_level = |a: &(usize, &Heard), b: &(usize, &Heard)| a.1.loud.total_cmp(&b.1.loud);
        let risen =
            |(_, heard): &(usize, &Heard)| heard.rise() >= RISEN_DB && heard.loud >= PLAYED_DB;
        let (input, top) = self
            .inputs
            .iter()
            .enumerate()
            .filter(risen)
            .max_by(by_level)?;
        let others = self
            .inputs
            .iter()
            .enumerate()
            .filter(|(at, _)| *at != input);
        let next = others.max_by(by_level);
        Some(Rise {
            input,
            next: next.map(|(at, heard)| (at, top.loud - heard.loud)),
        })
    }

    /// The loudest input on which a note sounds, from 0.
    pub(super) fn singing(&self) -> Option<usize> {
        let sounding = |(_, heard): &(usize, &Heard)| heard.steady.since(self.now).is_some();
        let inputs = self.inputs.iter().enumerate().filter(sounding);
        let loudest = inputs.max_by(|a, b| a.1.loud.total_cmp(&b.1.loud));
        loudest.map(|(at, _)| at)
    }

    /// The note that sounds there.
    pub(super) fn sounding(&self, input: usize) -> Option<Held> {
        self.inputs.get(input)?.steady.sounding(self.now)
    }
}
