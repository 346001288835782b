//! Surveys of all notes on a thread of their own, so that no picture waits for one.

use std::sync::mpsc::{self, Receiver, Sender};
use std::thread;

use crate::rehearsal::{Chronicle, Survey};

/// Makes surveys; its thread ends with it.
pub(super) struct Surveyor {
    orders: Sender<Chronicle>,
    done: Receiver<Survey>,
}

impl Surveyor {
    /// One who is ready; none if the system has no thread left to give.
    pub(super) fn start() -> Option<Self> {
        let (orders, ordered) = mpsc::channel::<Chronicle>();
        let (finished, done) = mpsc::channel();
        let work = move || {
            for chronicle in ordered {
                if finished.send(Survey::of(&chronicle)).is_err() {
                    return;
                }
            }
        };
        let thread = thread::Builder::new().name("surveys".to_owned());
        thread.spawn(work).ok().map(|_| Self { orders, done })
    }

    /// Begins a survey of this.
    pub(super) fn order(&self, chronicle: Chronicle) {
        // A thread that has failed makes none; what was said last stays.
        let _ = self.orders.send(chronicle);
    }

    /// A survey that is finished.
    pub(super) fn fetch(&self) -> Option<Survey> {
        self.done.try_recv().ok()
    }
}
