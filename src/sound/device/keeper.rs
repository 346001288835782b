//! Keeping one device open: a thread opens, watches, drops and reopens the stream, because each
//! of these can hang while the sound server is frozen. Whoever uses the device never blocks and
//! is told what has become of it.

use std::any::Any;
use std::panic::{self, AssertUnwindSafe};
use std::sync::mpsc::{self, Receiver, RecvTimeoutError, Sender, TryRecvError};
use std::thread;
use std::time::{Duration, Instant};

use super::watch::{Condition, Counts, Order, Watch};
use super::{Direction, refusal};
use crate::sound::Fault;

/// How often the callbacks' counts are looked at.
const LOOK: Duration = Duration::from_millis(50);
/// A device that takes longer to open is said to be stalled.
const OPENING: Duration = Duration::from_secs(3);

/// An open stream. Dropping it can block for as long as the sound server is frozen.
pub(in crate::sound) struct Opened<T> {
    pub(in crate::sound) stream: Box<dyn Any>,
    /// The device's name for people.
    pub(in crate::sound) name: String,
    /// Reads what the callbacks have counted.
    pub(in crate::sound) counts: Box<dyn Fn() -> Counts>,
    /// Our end of the stream.
    pub(in crate::sound) end: T,
}

/// What a stream is kept alive by, and what reads its counts.
type Running = (Box<dyn Any>, Box<dyn Fn() -> Counts>);

/// What has become of the device.
#[derive(Debug)]
pub(in crate::sound) enum Message<T> {
    /// A stream was opened and is running; this is our end of it.
    Started(T),
    /// The stream that had stalled goes on.
    Resumed,
    /// It cannot be used now; it is tried again without being asked.
    Waiting(Fault),
}

/// Never sent: that the other side has gone is noticed by the closed channel.
#[derive(Debug)]
pub(in crate::sound) enum Never {}

/// Keeps a device open. Dropping it returns at once; the device is let go by its own thread.
pub(in crate::sound) struct Keeper<T> {
    name: String,
    messages: Receiver<Message<T>>,
    /// While the first attempt to open has not come back.
    opening_since: Option<Instant>,
    failed: bool,
    /// Its end tells the thread to let go.
    _alive: Sender<Never>,
}

impl<T: Send + 'static> Keeper<T> {
    /// Begins to open by `open`, which is called on the thread, and again after each loss. The
    /// device is `wanted` by name, or the default one.
    pub(in crate::sound) fn new(
        direction: Direction,
        wanted: Option<&str>,
        open: impl FnMut() -> Result<Opened<T>, Fault> + Send + 'static,
    ) -> Self {
        let (to_user, messages) = mpsc::channel();
        let (alive, user) = mpsc::channel();
        let name = wanted.map_or_else(|| format!("default {}", direction.noun()), str::to_owned);
        let named = name.clone();
        // If there is no thread to be had, its end of the channel closes, and that is told.
        let _ = thread::Builder::new()
            .name(format!("{} supervisor", direction.noun()))
            .spawn(move || supervise(&named, open, &to_user, &user));
        Self {
            name,
            messages,
            opening_since: Some(Instant::now()),
            failed: false,
            _alive: alive,
        }
    }

    /// What has changed, if anything has. Never blocks.
    pub(in crate::sound) fn news(&mut self) -> Option<Message<T>> {
        match self.messages.try_recv() {
            Ok(message) => {
                self.opening_since = None;
                Some(message)
            }
            Err(TryRecvError::Empty) => {
                if self.opening_since?.elapsed() < OPENING {
                    return None;
                }
                self.opening_since = None;
                Some(Message::Waiting(Fault::Stalled(self.name.clone())))
            }
            Err(TryRecvError::Disconnected) if !self.failed => {
                self.failed = true;
                Some(Message::Waiting(thread_failed(&self.name)))
            }
            Err(TryRecvError::Disconnected) => None,
        }
    }
}

/// A thread that looked after the device has gone.
pub(in crate::sound) fn thread_failed(name: &str) -> Fault {
    let reason = "its thread has failed: start the program again".to_owned();
    refusal(name, reason)
}

/// Runs until the user has gone.
fn supervise<T>(
    name: &str,
    mut open: impl FnMut() -> Result<Opened<T>, Fault>,
    to_user: &Sender<Message<T>>,
    user: &Receiver<Never>,
) {
    let started = Instant::now();
    let mut watch = Watch::new();
    let mut running: Option<Running> = None;
    loop {
        let counts = running
            .as_ref()
            .map_or(Counts::default(), |(_, counts)| counts());
        match watch.look(started.elapsed(), counts) {
            Order::Rest => {}
            Order::Close => {
                // Tell first, for the drop can hang.
                if !pass_on(&mut watch, to_user) {
                    return;
                }
                running = None;
            }
            Order::Open => match calmly(name, &mut open) {
                Ok(opened) => {
                    watch.opened(started.elapsed(), &opened.name);
                    // The start says that it is running.
                    let _ = watch.news();
                    running = Some((opened.stream, opened.counts));
                    if to_user.send(Message::Started(opened.end)).is_err() {
                        return;
                    }
                }
                Err(fault) => watch.failed(started.elapsed(), fault),
            },
        }
        if !pass_on(&mut watch, to_user) {
            return;
        }
        match user.recv_timeout(LOOK) {
            Ok(never) => match never {},
            Err(RecvTimeoutError::Timeout) => {}
            Err(RecvTimeoutError::Disconnected) => return,
        }
    }
}

/// Passes the watch's news on; false when nobody listens any more.
fn pass_on<T>(watch: &mut Watch, to_user: &Sender<Message<T>>) -> bool {
    let message = match watch.news() {
        Some(Condition::Running) => Message::Resumed,
        Some(Condition::Waiting(fault)) => Message::Waiting(fault),
        None => return true,
    };
    to_user.send(message).is_ok()
}

/// Opens; a panic inside the sound library counts as a refusal.
fn calmly<T>(
    name: &str,
    open: &mut impl FnMut() -> Result<Opened<T>, Fault>,
) -> Result<Opened<T>, Fault> {
    panic::catch_unwind(AssertUnwindSafe(open)).unwrap_or_else(|_| {
        let reason = "the sound system's library has failed".to_owned();
        Err(refusal(name, reason))
    })
}
