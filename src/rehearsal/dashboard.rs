//! The rehearsal as the screen shows it: who sounds where, against which tuning.

use super::clock::StreamClock;
use super::{Channel, ChannelState, Doing, Ensemble, Update};
use crate::analysis::Reading;
use crate::sound::{SourceState, StreamFormat};
use crate::tuning::{Temperament, Tuning};
use crate::units::Seconds;

/// All that a view needs to know. Time is passed in; nothing here reads a clock.
#[derive(Debug, Clone)]
pub struct Rehearsal {
    ensemble: Ensemble,
    temperaments: Vec<Temperament>,
    /// One for each channel, with its own chain where it has one.
    tunings: Vec<Tuning>,
    live: Vec<ChannelState>,
    /// What is shown while listening goes on.
    frozen: Option<Frozen>,
    clock: StreamClock,
    now: Seconds,
    source: SourceState,
    format: Option<StreamFormat>,
    blocks_lost: u64,
    follows_inputs: bool,
}

#[derive(Debug, Clone)]
struct Frozen {
    since: Seconds,
    channels: Vec<ChannelState>,
}

/// One channel for a view.
#[derive(Debug, Clone, Copy)]
pub struct Part<'a> {
    /// Its place in the ensemble, from 0.
    pub index: usize,
    /// Who plays.
    pub channel: &'a Channel,
    /// What has been heard.
    pub state: &'a ChannelState,
    /// What is going on, faults of the wiring included.
    pub doing: Doing,
}

impl Rehearsal {
    /// A rehearsal of `ensemble` that can change between `temperaments`; the ensemble's own
    /// is put in front when it is not among them.
    pub fn new(ensemble: Ensemble, mut temperaments: Vec<Temperament>) -> Self {
        let own = ensemble.tuning.scale().temperament();
        if !temperaments.iter().any(|t| t.name == own.name) {
            temperaments.insert(0, own.clone());
        }
        let live = vec![ChannelState::new(); ensemble.channels.len()];
        let mut rehearsal = Self {
            ensemble,
            temperaments,
            tunings: Vec::new(),
            live,
            frozen: None,
            clock: StreamClock::default(),
            now: Seconds::new(0.0),
            source: SourceState::Opening,
            format: None,
            blocks_lost: 0,
            follows_inputs: false,
        };
        rehearsal.retune(rehearsal.ensemble.tuning.clone());
        rehearsal
    }

    /// The same without fixed players: whenever a stream starts there is one channel for each
    /// of its inputs, made after the ensemble's first.
    pub fn following_inputs(self) -> Self {
        Self {
            follows_inputs: true,
            ..self
        }
    }

    /// Takes in a piece of news.
    pub fn take(&mut self, update: Update) {
        match update {
            Update::Reading(index, reading) => self.hear(index, &reading),
            Update::Chord(..) => {}
            Update::State(state) => {
                // What was played last stays to be read.
                if state == SourceState::Ended && self.frozen.is_none() {
                    self.toggle_freeze();
                }
                self.source = state;
            }
            Update::Started(format) => self.start(format),
            Update::Lost(blocks) => self.blocks_lost = blocks,
        }
    }

    /// Lets time pass, and says whether the screen may look different for it.
    pub fn tick(&mut self, now: Seconds) -> bool {
        let before = self.now;
        self.now = now;
        for state in &mut self.live {
            state.tick(now);
        }
        // Without readings only the counted seconds and what still fades or scrolls changes.
        before.get().floor() < now.get().floor()
            || self.live.iter().any(|state| {
                state.meter().level().get() > -90.0 || state.trail().points().next().is_some()
            })
    }

    /// An index beyond the last channel is passed over.
    pub(super) fn hear(&mut self, index: usize, reading: &Reading) {
        let time = self.clock.moment(reading.available, self.now);
        if let (Some(state), Some(tuning)) = (self.live.get_mut(index), self.tunings.get(index)) {
            state.hear(*reading, time, tuning);
        }
    }

    pub(super) fn start(&mut self, format: StreamFormat) {
        self.clock.restart();
        if self.follows_inputs && self.ensemble.channels.len() != format.channels {
            self.take_inputs(format.channels);
        }
        self.format = Some(format);
    }

    fn take_inputs(&mut self, count: usize) {
        let Some(first) = self.ensemble.channels.first().cloned() else {
            return;
        };
        self.ensemble.channels = (1..=count)
            .map(|input| Channel {
                name: format!("Input {input}"),
                input,
                ..first.clone()
            })
            .collect();
        self.live = vec![ChannelState::new(); count];
        self.frozen = None;
        self.retune(self.ensemble.tuning.clone());
    }

    /// Goes `steps` along the list of temperaments, round and round.
    pub fn step_temperament(&mut self, steps: isize) {
        let name = &self.tuning().scale().temperament().name;
        let current = self.temperaments.iter().position(|t| t.name == *name);
        let count = self.temperaments.len() as isize;
        let next = (current.unwrap_or(0) as isize + steps).rem_euclid(count) as usize;
        self.retune(self.tuning().in_temperament(&self.temperaments[next]));
    }

    /// Moves the pitch standard by `hz`.
    pub fn shift_standard(&mut self, hz: f64) {
        let standard = self.tuning().standard().shifted(hz);
        self.retune(self.tuning().at_standard(standard));
    }

    fn retune(&mut self, tuning: Tuning) {
        let own = |channel: &Channel| match channel.chain {
            Some(chain) => tuning.over_chain(chain),
            None => tuning.clone(),
        };
        self.tunings = self.ensemble.channels.iter().map(own).collect();
        self.ensemble.tuning = tuning;
        let shown = self.frozen.iter_mut().map(|frozen| &mut frozen.channels);
        for channels in shown.chain([&mut self.live]) {
            for (state, tuning) in channels.iter_mut().zip(&self.tunings) {
                state.remeasure(tuning);
            }
        }
    }

    /// Holds the picture while listening goes on, or lets it go on.
    pub fn toggle_freeze(&mut self) {
        self.frozen = match self.frozen {
            Some(_) => None,
            None => Some(Frozen {
                since: self.now,
                channels: self.live.clone(),
            }),
        };
    }

    /// For how long the picture has been held, if it is.
    pub fn frozen_for(&self) -> Option<Seconds> {
        self.frozen.as_ref().map(|frozen| self.now - frozen.since)
    }

    /// Shows or hides a channel.
    pub fn set_visible(&mut self, index: usize, visible: bool) {
        if let Some(channel) = self.ensemble.channels.get_mut(index) {
            channel.visible = visible;
        }
    }

    /// Shows every channel.
    pub fn show_all(&mut self) {
        for channel in &mut self.ensemble.channels {
            channel.visible = true;
        }
    }

    /// The channels to show, in order.
    pub fn parts(&self) -> impl Iterator<Item = Part<'_>> {
        let states = self.frozen.as_ref().map_or(&self.live, |f| &f.channels);
        let inputs = self.format.as_ref().map(|format| format.channels);
        self.ensemble
            .channels
            .iter()
            .zip(states)
            .enumerate()
            .filter(|(_, (channel, _))| channel.visible)
            .map(move |(index, (channel, state))| Part {
                index,
                channel,
                state,
                doing: match inputs {
                    Some(count) if channel.input > count => Doing::NoInput(channel.input),
                    _ => state.doing(),
                },
            })
    }

    /// Every channel's live state, shown or not, for the header's level.
    pub fn live(&self) -> impl Iterator<Item = (&Channel, &ChannelState)> {
        self.ensemble.channels.iter().zip(&self.live)
    }

    /// Channels that are not shown.
    pub fn n_hidden(&self) -> usize {
        self.ensemble.channels.iter().filter(|c| !c.visible).count()
    }

    /// Who plays.
    pub fn ensemble(&self) -> &Ensemble {
        &self.ensemble
    }

    /// What notes are measured against.
    pub fn tuning(&self) -> &Tuning {
        &self.ensemble.tuning
    }

    /// What the source is doing.
    pub fn source(&self) -> &SourceState {
        &self.source
    }

    /// The stream, once it has started.
    pub fn format(&self) -> Option<&StreamFormat> {
        self.format.as_ref()
    }

    /// Blocks lost because the program was too slow.
    pub fn blocks_lost(&self) -> u64 {
        self.blocks_lost
    }
}
