//! The live input.
//!
//! A [`Capture`] never blocks and never fails: it says what is wrong as a state and takes the
//! stream up again by itself. A thread of its own opens, watches, drops and reopens the device;
//! the driver's thread only copies blocks into a lock-free ring and counts.

mod choice;
mod device;
mod ring;

use std::any::Any;
use std::sync::Arc;
use std::thread;
use std::time::{Duration, Instant};

pub use choice::InputChoice;
pub use ring::{Fullness, Intake, MOST_CHANNELS, Outlet, Tally, ring, with_capacity};

use super::device::{Direction, Keeper, Message, Stopwatch};
use super::{Delivery, Source, SourceState, StreamFormat};
use crate::units::{SampleRate, Seconds};

/// How often the ring is looked into while it is empty. The driver's thread may not wake us:
/// that would be a call to the system.
const POLL: Duration = Duration::from_millis(2);

/// A stream that was opened.
struct Started {
    format: StreamFormat,
    outlet: Outlet,
}

/// A live input, from any device, with all its channels up to 32.
///
/// Dropping it returns at once; the device is let go by its own thread.
pub struct Capture {
    keeper: Keeper<Started>,
    outlet: Option<Outlet>,
    rate: Option<SampleRate>,
    /// To be told before anything else.
    due: Option<SourceState>,
    lost_before: u64,
}

impl Capture {
    /// Begins to open the chosen input. Returns at once; what comes of it is told by
    /// [`Source::next`].
    pub fn open(choice: InputChoice) -> Self {
        Self::timed(choice, Arc::default())
    }

    /// The same with a watch on what its callback takes.
    pub fn timed(choice: InputChoice, stopwatch: Arc<Stopwatch>) -> Self {
        let wanted = choice.name.clone();
        Self::of(Keeper::new(
            Direction::Input,
            wanted.as_deref(),
            move || device::open(&choice, &stopwatch),
        ))
    }

    /// The same path fed by something else than a sound card, such as a test. `feed` is called as
    /// a device would be opened, and again after each loss; it hands the end that takes samples
    /// to whatever calls it, and gives what is dropped to make that stop.
    pub fn fed(
        format: StreamFormat,
        mut feed: impl FnMut(Intake) -> Box<dyn Any> + Send + 'static,
    ) -> Self {
        let name = format.name.clone();
        let keeper = Keeper::new(Direction::Input, Some(&name), move || {
            let StreamFormat {
                name,
                rate,
                channels,
            } = format.clone();
            let (intake, outlet) = ring(rate, channels);
            Ok(device::started(feed(intake), name, rate, outlet, channels))
        });
        Self::of(keeper)
    }

    fn of(keeper: Keeper<Started>) -> Self {
        Self {
            keeper,
            outlet: None,
            rate: None,
            due: Some(SourceState::Opening),
            lost_before: 0,
        }
    }

    /// What the callbacks of the present stream count, once there is one.
    pub fn tally(&self) -> Option<&Tally> {
        self.outlet.as_ref().map(|outlet| &**outlet.tally())
    }

    /// How full the ring of the present stream has been, once there is one.
    pub fn fullest(&self) -> Option<Fullness> {
        self.outlet.as_ref().map(Outlet::fullest)
    }

    /// Whatever is to be told besides sound.
    fn news(&mut self) -> Option<Delivery<'static>> {
        Some(match self.keeper.news()? {
            Message::Started(Started { format, outlet }) => {
                self.lost_before = self.blocks_lost();
                self.outlet = Some(outlet);
                self.rate = Some(format.rate);
                self.due = Some(SourceState::Running);
                Delivery::Started(format)
            }
            Message::Resumed => Delivery::State(SourceState::Running),
            Message::Waiting(fault) => Delivery::State(SourceState::Waiting(fault)),
        })
    }
}

impl Source for Capture {
    fn next(&mut self, patience: Duration) -> Delivery<'_> {
        if let Some(state) = self.due.take() {
            return Delivery::State(state);
        }
        let until = Instant::now() + patience;
        loop {
            // Sound first: what an old stream still holds comes before the next one's start.
            if self.outlet.as_mut().is_some_and(Outlet::advance) {
                break;
            }
            if let Some(news) = self.news() {
                return news;
            }
            let left = until.saturating_duration_since(Instant::now());
            if left.is_zero() {
                return Delivery::Nothing;
            }
            thread::sleep(left.min(POLL));
        }
        match &self.outlet {
            Some(outlet) => {
                let (first, samples) = outlet.block();
                Delivery::Block { first, samples }
            }
            None => Delivery::Nothing,
        }
    }

    fn waiting(&self) -> Seconds {
        match (&self.outlet, self.rate) {
            (Some(outlet), Some(rate)) => outlet.waiting().at(rate),
            _ => Seconds::default(),
        }
    }

    fn blocks_lost(&self) -> u64 {
        self.lost_before + self.tally().map_or(0, Tally::blocks_dropped)
    }
}
