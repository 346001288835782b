//! The thread that opens, watches, drops and reopens the stream, because each of these can
//! hang while the sound server is frozen.

use std::panic::{self, AssertUnwindSafe};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender};
use std::time::{Duration, Instant};

use super::choice::InputChoice;
use super::device::{self, Opened};
use super::ring::{Outlet, Tally};
use super::watch::{Counts, Order, Watch};
use crate::sound::{Fault, SourceState, StreamFormat};

/// How often the callbacks' counts are looked at.
const LOOK: Duration = Duration::from_millis(50);

/// What the listener is told.
pub(super) enum Message {
    /// A stream was opened and is running; its sound comes out of this outlet.
    Started(StreamFormat, Outlet),
    /// The state has changed.
    State(SourceState),
}

/// Never sent: the listener's going is noticed by the closed channel.
pub(super) enum Never {}

/// Runs until the listener has gone.
pub(super) fn run(choice: &InputChoice, to_listener: &Sender<Message>, listener: &Receiver<Never>) {
    let started = Instant::now();
    let mut watch = Watch::new();
    let mut open: Option<(cpal::Stream, Arc<Tally>)> = None;
    loop {
        let counts = match &open {
            Some((_, tally)) => Counts {
                callbacks: tally.callbacks(),
                errors: tally.errors(),
            },
            None => Counts {
                callbacks: 0,
                errors: 0,
            },
        };
        match watch.look(started.elapsed(), counts) {
            Order::Rest => {}
            Order::Close => {
                // Tell first, for the drop can hang.
                if !pass_on(&mut watch, to_listener) {
                    return;
                }
                open = None;
            }
            Order::Open => match open_calmly(choice) {
                Ok(Opened {
                    stream,
                    format,
                    outlet,
                }) => {
                    watch.opened(started.elapsed(), &format.name);
                    // The start says that it is running.
                    let _ = watch.news();
                    open = Some((stream, Arc::clone(outlet.tally())));
                    if to_listener.send(Message::Started(format, outlet)).is_err() {
                        return;
                    }
                }
                Err(fault) => watch.failed(started.elapsed(), fault),
            },
        }
        if !pass_on(&mut watch, to_listener) {
            return;
        }
        match listener.recv_timeout(LOOK) {
            Ok(never) => match never {},
            Err(RecvTimeoutError::Timeout) => {}
            Err(RecvTimeoutError::Disconnected) => return,
        }
    }
}

/// Passes the watch's news on; false when nobody listens any more.
fn pass_on(watch: &mut Watch, to_listener: &Sender<Message>) -> bool {
    match watch.news() {
        Some(state) => to_listener.send(Message::State(state)).is_ok(),
        None => true,
    }
}

/// Opens; a panic inside the sound library counts as a refusal.
fn open_calmly(choice: &InputChoice) -> Result<Opened, Fault> {
    panic::catch_unwind(AssertUnwindSafe(|| device::open(choice))).unwrap_or_else(|_| {
        Err(Fault::Refused {
            device: choice
                .name
                .clone()
                .unwrap_or_else(|| "default input".to_owned()),
            reason: "the sound system's library has failed".to_owned(),
        })
    })
}
