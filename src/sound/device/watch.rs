//! Judging a live device: when to wait, when to give a stream up and when to try again.
//!
//! Pure: the time is passed in, counted from any fixed moment. A stream is judged by its data
//! callbacks, not by its errors, because a healthy stream can report thousands of errors and a
//! frozen one reports none.

use std::time::Duration;

use crate::sound::Fault;

/// This long without a callback, a stream counts as stalled or lost.
const SILENT: Duration = Duration::from_secs(1);
/// A fresh stream may take this long to its first callback (virtual devices take two seconds).
const SILENT_AT_FIRST: Duration = Duration::from_secs(3);
/// A stream stalled this long is given up and opened anew.
const STALLED_TOO_LONG: Duration = Duration::from_secs(8);
/// Between one attempt to open and the next.
const RETRY: Duration = Duration::from_secs(1);

/// What the callbacks of the open stream have counted so far.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(in crate::sound) struct Counts {
    /// Calls of the data callback.
    pub(in crate::sound) callbacks: u64,
    /// Calls of the error callback.
    pub(in crate::sound) errors: u64,
}

/// How the device is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Condition {
    /// Its stream runs.
    Running,
    /// It cannot be used now.
    Waiting(Fault),
}

/// What the supervisor must do now.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Order {
    /// Nothing.
    Rest,
    /// Open the device, then report by `opened` or `failed`.
    Open,
    /// Drop the stream.
    Close,
}

#[derive(Debug)]
enum Phase {
    Closed {
        retry_at: Duration,
    },
    Open {
        name: String,
        /// When a callback was last seen, or the stream was opened.
        called_at: Duration,
        at_last_callback: Counts,
    },
}

/// The state of one live device.
#[derive(Debug)]
pub(super) struct Watch {
    phase: Phase,
    /// The device that has worked before, once one has.
    had: Option<String>,
    /// None before the first attempt to open has come back.
    condition: Option<Condition>,
    news: Option<Condition>,
}

impl Watch {
    /// A device that is to be opened at once.
    pub(super) fn new() -> Self {
        Self {
            phase: Phase::Closed {
                retry_at: Duration::ZERO,
            },
            had: None,
            condition: None,
            news: None,
        }
    }

    /// The change to be told to whoever uses the device, once.
    pub(super) fn news(&mut self) -> Option<Condition> {
        self.news.take()
    }

    /// The stream of `name` was opened; its counts start at zero.
    pub(super) fn opened(&mut self, now: Duration, name: &str) {
        self.phase = Phase::Open {
            name: name.to_owned(),
            called_at: now,
            at_last_callback: Counts::default(),
        };
        self.become_so(Condition::Running);
    }

    /// The device could not be opened.
    pub(super) fn failed(&mut self, now: Duration, fault: Fault) {
        self.phase = Phase::Closed {
            retry_at: now + RETRY,
        };
        // Someone whose device has gone learns more from that than from the sound system's
        // words on why it cannot be opened now.
        let fault = match (&self.had, fault) {
            (_, fault @ Fault::Busy(_)) | (None, fault) => fault,
            (Some(name), _) => Fault::Lost(name.clone()),
        };
        self.become_so(Condition::Waiting(fault));
    }

    /// Looks at what was counted; to be called every 50 ms or so.
    pub(super) fn look(&mut self, now: Duration, counts: Counts) -> Order {
        match &mut self.phase {
            Phase::Closed { retry_at } => {
                if now >= *retry_at {
                    Order::Open
                } else {
                    Order::Rest
                }
            }
            Phase::Open {
                name,
                called_at,
                at_last_callback,
            } => {
                if counts.callbacks != at_last_callback.callbacks {
                    *called_at = now;
                    *at_last_callback = counts;
                    if self.had.as_ref() != Some(name) {
                        self.had = Some(name.clone());
                    }
                    self.become_so(Condition::Running);
                    return Order::Rest;
                }
                let silent = now.saturating_sub(*called_at);
                let patience = if counts.callbacks == 0 {
                    SILENT_AT_FIRST
                } else {
                    SILENT
                };
                if silent < patience {
                    return Order::Rest;
                }
                let name = name.clone();
                let erring = counts.errors != at_last_callback.errors;
                if erring || silent >= STALLED_TOO_LONG {
                    self.phase = Phase::Closed { retry_at: now };
                    self.become_so(Condition::Waiting(if erring {
                        Fault::Lost(name)
                    } else {
                        Fault::Stalled(name)
                    }));
                    Order::Close
                } else {
                    self.become_so(Condition::Waiting(Fault::Stalled(name)));
                    Order::Rest
                }
            }
        }
    }

    fn become_so(&mut self, condition: Condition) {
        if self.condition.as_ref() != Some(&condition) {
            self.condition = Some(condition.clone());
            self.news = Some(condition);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const NONE: Counts = Counts {
        callbacks: 0,
        errors: 0,
    };

    fn at(ms: u64) -> Duration {
        Duration::from_millis(ms)
    }

    fn counts(callbacks: u64, errors: u64) -> Counts {
        Counts { callbacks, errors }
    }

    /// A device that has been working for ten seconds.
    fn working() -> Watch {
        let mut watch = Watch::new();
        assert_eq!(watch.look(at(0), NONE), Order::Open);
        watch.opened(at(0), "Desk");
        assert_eq!(watch.news(), Some(Condition::Running));
        assert_eq!(watch.look(at(10_000), counts(1000, 7)), Order::Rest);
        assert_eq!(watch.news(), None);
        watch
    }

    #[test]
    fn a_storm_of_errors_beside_callbacks_means_nothing() {
        let mut watch = working();
        for n in 0..100 {
            let seen = counts(1001 + n, 10_000 * n);
            assert_eq!(watch.look(at(10_050 + 50 * n), seen), Order::Rest);
            assert_eq!(watch.news(), None);
        }
    }

    #[test]
    fn silence_with_errors_is_a_loss_and_the_stream_is_taken_up_again() {
        let mut watch = working();
        assert_eq!(watch.look(at(10_900), counts(1000, 20_000)), Order::Rest);
        assert_eq!(watch.look(at(11_000), counts(1000, 20_000)), Order::Close);
        let lost = Condition::Waiting(Fault::Lost("Desk".to_owned()));
        assert_eq!(watch.news(), Some(lost));
        assert_eq!(watch.look(at(11_001), NONE), Order::Open, "at once");
        watch.failed(at(11_100), Fault::NoDevice);
        assert_eq!(watch.news(), None, "it is still the same loss");
        assert_eq!(watch.look(at(12_000), NONE), Order::Rest);
        assert_eq!(watch.look(at(12_100), NONE), Order::Open, "a second later");
        watch.opened(at(12_200), "Desk");
        assert_eq!(watch.news(), Some(Condition::Running));
    }

    #[test]
    fn silence_without_errors_is_a_stall_that_is_waited_for() {
        let mut watch = working();
        let stalled = Condition::Waiting(Fault::Stalled("Desk".to_owned()));
        assert_eq!(watch.look(at(11_000), counts(1000, 7)), Order::Rest);
        assert_eq!(watch.news(), Some(stalled));
        assert_eq!(watch.look(at(17_900), counts(1000, 7)), Order::Rest);
        assert_eq!(watch.look(at(17_950), counts(1001, 7)), Order::Rest);
        assert_eq!(watch.news(), Some(Condition::Running));
    }

    #[test]
    fn a_long_stall_is_opened_anew() {
        let mut watch = working();
        assert_eq!(watch.look(at(11_000), counts(1000, 7)), Order::Rest);
        let _ = watch.news();
        assert_eq!(watch.look(at(18_000), counts(1000, 7)), Order::Close);
        assert_eq!(watch.news(), None, "still stalled");
        assert_eq!(watch.look(at(18_050), NONE), Order::Open);
    }

    #[test]
    fn a_stall_that_turns_into_errors_is_a_loss() {
        let mut watch = working();
        assert_eq!(watch.look(at(13_000), counts(1000, 7)), Order::Rest);
        assert_eq!(watch.look(at(13_050), counts(1000, 8)), Order::Close);
        let lost = Condition::Waiting(Fault::Lost("Desk".to_owned()));
        assert_eq!(watch.news(), Some(lost));
    }

    #[test]
    fn a_slow_start_is_no_fault() {
        let mut watch = Watch::new();
        watch.opened(at(0), "Desk");
        let _ = watch.news();
        assert_eq!(watch.look(at(2_900), counts(0, 50)), Order::Rest);
        assert_eq!(watch.news(), None);
        assert_eq!(watch.look(at(3_000), counts(0, 50)), Order::Close);
    }

    #[test]
    fn what_was_never_there_is_named_and_tried_every_second() {
        let mut watch = Watch::new();
        for n in 0..5 {
            assert_eq!(watch.look(at(1000 * n), NONE), Order::Open);
            watch.failed(at(1000 * n), Fault::NoSuchDevice("desk".to_owned()));
            assert_eq!(watch.look(at(1000 * n + 950), NONE), Order::Rest);
            assert_eq!(watch.news().is_some(), n == 0, "said once");
        }
        watch.failed(at(6000), Fault::Busy("Desk".to_owned()));
        let busy = Condition::Waiting(Fault::Busy("Desk".to_owned()));
        assert_eq!(watch.news(), Some(busy));
    }
}
