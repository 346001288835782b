//! The live input. All of cpal is here; nothing else in the program touches it.
//!
//! A [`Capture`] never blocks and never fails: it says what is wrong as a state and takes the
//! stream up again by itself. A thread of its own opens, watches, drops and reopens the device;
//! the driver's thread only copies blocks into a lock-free ring and counts.

mod choice;
mod device;
mod ring;
mod sample;
mod supervisor;
mod watch;

use std::sync::mpsc::{self, Receiver, Sender, TryRecvError};
use std::thread;
use std::time::{Duration, Instant};

pub use choice::InputChoice;
pub use device::{InputDevice, Inputs};
pub use ring::{Intake, MOST_CHANNELS, Outlet, Tally, ring, with_capacity};
pub use sample::Level;

use super::quiet::StderrGuard;
use super::{Delivery, Fault, Source, SourceState};
use supervisor::{Message, Never};

/// How often the ring is looked into while it is empty. The driver's thread may not wake us:
/// that would be a call to the system.
const POLL: Duration = Duration::from_millis(2);
/// An input that takes longer to open is said to be stalled.
const OPENING: Duration = Duration::from_secs(3);
/// A sound system that does not list its inputs within this time is frozen.
const LISTING: Duration = Duration::from_secs(10);

/// A live input, from any device, with all its channels up to 32.
///
/// Dropping it returns at once; the device is let go by its own thread.
pub struct Capture {
    name: String,
    messages: Receiver<Message>,
    outlet: Option<Outlet>,
    /// While the first attempt to open has not come back.
    opening_since: Option<Instant>,
    /// To be told before anything else.
    due: Option<SourceState>,
    failed: bool,
    lost_before: u64,
    /// Its end tells the supervisor to let go.
    _alive: Sender<Never>,
}

impl Capture {
    /// Begins to open the chosen input. Returns at once; what comes of it is told by
    /// [`Source::next`].
    pub fn open(choice: InputChoice) -> Self {
        let (to_listener, messages) = mpsc::channel();
        let (alive, listener) = mpsc::channel();
        let name = choice
            .name
            .clone()
            .unwrap_or_else(|| "default input".to_owned());
        // If there is no thread to be had, its end of the channel closes, and that is told.
        let _ = thread::Builder::new()
            .name("input supervisor".to_owned())
            .spawn(move || supervisor::run(&choice, &to_listener, &listener));
        Self {
            name,
            messages,
            outlet: None,
            opening_since: Some(Instant::now()),
            due: Some(SourceState::Opening),
            failed: false,
            lost_before: 0,
            _alive: alive,
        }
    }

    /// What the callbacks of the present stream count, once there is one.
    pub fn tally(&self) -> Option<&Tally> {
        self.outlet.as_ref().map(|outlet| &**outlet.tally())
    }

    /// Whatever is to be told besides sound.
    fn news(&mut self) -> Option<Delivery<'static>> {
        match self.messages.try_recv() {
            Ok(Message::Started(format, outlet)) => {
                self.lost_before = self.blocks_lost();
                self.outlet = Some(outlet);
                self.opening_since = None;
                self.due = Some(SourceState::Running);
                Some(Delivery::Started(format))
            }
            Ok(Message::State(state)) => {
                self.opening_since = None;
                Some(Delivery::State(state))
            }
            Err(TryRecvError::Empty) => {
                let since = self.opening_since?;
                if since.elapsed() < OPENING {
                    return None;
                }
                self.opening_since = None;
                let fault = Fault::Stalled(self.name.clone());
                Some(Delivery::State(SourceState::Waiting(fault)))
            }
            Err(TryRecvError::Disconnected) if !self.failed => {
                self.failed = true;
                let fault = Fault::Refused {
                    device: self.name.clone(),
                    reason: "its thread has failed: start the program again".to_owned(),
                };
                Some(Delivery::State(SourceState::Waiting(fault)))
            }
            Err(TryRecvError::Disconnected) => None,
        }
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

    fn blocks_lost(&self) -> u64 {
        self.lost_before + self.tally().map_or(0, Tally::blocks_dropped)
    }
}

/// The sound system did not answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("the sound system does not answer: restart it, or unplug and connect the device again")]
pub struct Frozen;

/// Lists the inputs that can be listened to. Opens each for a moment; standard error is quiet
/// meanwhile.
///
/// # Errors
///
/// [`Frozen`] after ten seconds without an answer.
pub fn inputs() -> Result<Inputs, Frozen> {
    let _quiet = StderrGuard::to_null();
    let (to_us, answer) = mpsc::channel();
    // A frozen server would hold this thread for ever, so it is left behind then.
    let spawned = thread::Builder::new()
        .name("list inputs".to_owned())
        .spawn(move || {
            let _ = to_us.send(device::list());
        });
    if spawned.is_err() {
        return Err(Frozen);
    }
    answer.recv_timeout(LISTING).map_err(|_| Frozen)
}
