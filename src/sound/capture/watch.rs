//! Judging a live input: when to wait, when to give a stream up and when to try again.
//!
//! Pure: the time is passed in, counted from any fixed moment. A stream is judged by its data
//! callbacks, not by its errors, because a healthy stream can report thousands of errors and a
//! frozen one reports none.

use std::time::Duration;

use crate::sound::{Fault, SourceState};

/// This long without sound, a stream counts as stalled or lost.
const SILENT: Duration = Duration::from_secs(1);
/// A fresh stream may take this long to its first sound (virtual devices take two seconds).
const SILENT_AT_FIRST: Duration = Duration::from_secs(3);
/// A stream stalled this long is given up and opened anew.
const STALLED_TOO_LONG: Duration = Duration::from_secs(8);
/// Between one attempt to open and the next.
const RETRY: Duration = Duration::from_secs(1);

/// What the callbacks of the open stream have counted so far.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Counts {
    /// Calls of the data callback.
    pub(super) callbacks: u64,
    /// Calls of the error callback.
    pub(super) errors: u64,
}

/// What the supervisor must do now.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Order {
    /// Nothing.
    Rest,
    /// Open the input, then report by `opened` or `failed`.
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
        heard_at: Duration,
        at_last_sound: Counts,
    },
}

/// The state of one live input.
#[derive(Debug)]
pub(super) struct Watch {
    phase: Phase,
    /// The device that has delivered before, once one has.
    had: Option<String>,
    state: SourceState,
    news: Option<SourceState>,
}

impl Watch {
    /// An input that is to be opened at once.
    pub(super) fn new() -> Self {
        Self {
            phase: Phase::Closed {
                retry_at: Duration::ZERO,
            },
            had: None,
            state: SourceState::Opening,
            news: None,
        }
    }

    /// The change to be told to the listener, once.
    pub(super) fn news(&mut self) -> Option<SourceState> {
        self.news.take()
    }

    /// The stream of `name` was opened; its counts start at zero.
    pub(super) fn opened(&mut self, now: Duration, name: &str) {
        self.phase = Phase::Open {
            name: name.to_owned(),
            heard_at: now,
            at_last_sound: Counts {
                callbacks: 0,
                errors: 0,
            },
        };
        self.become_state(SourceState::Running);
    }

    /// The input could not be opened.
    pub(super) fn failed(&mut self, now: Duration, fault: Fault) {
        self.phase = Phase::Closed {
            retry_at: now + RETRY,
        };
        // Someone whose microphone has gone learns more from that than from the sound system's
        // words on why it cannot be opened now.
        let fault = match (&self.had, fault) {
            (_, fault @ Fault::Busy(_)) | (None, fault) => fault,
            (Some(name), _) => Fault::Lost(name.clone()),
        };
        self.become_state(SourceState::Waiting(fault));
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
                heard_at,
                at_last_sound,
            } => {
                if counts.callbacks != at_last_sound.callbacks {
                    *heard_at = now;
                    *at_last_sound = counts;
                    if self.had.as_ref() != Some(name) {
                        self.had = Some(name.clone());
                    }
                    self.become_state(SourceState::Running);
                    return Order::Rest;
                }
                let silent = now.saturating_sub(*heard_at);
                let patience = if counts.callbacks == 0 {
                    SILENT_AT_FIRST
                } else {
                    SILENT
                };
                if silent < patience {
                    return Order::Rest;
                }
                let name = name.clone();
                let erring = counts.errors != at_last_sound.errors;
                if erring || silent >= STALLED_TOO_LONG {
                    self.phase = Phase::Closed { retry_at: now };
                    self.become_state(SourceState::Waiting(if erring {
                        Fault::Lost(name)
                    } else {
                        Fault::Stalled(name)
                    }));
                    Order::Close
                } else {
                    self.become_state(SourceState::Waiting(Fault::Stalled(name)));
                    Order::Rest
                }
            }
        }
    }

    fn become_state(&mut self, state: SourceState) {
        if self.state != state {
            self.state = state.clone();
            self.news = Some(state);
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

    /// An input that has been delivering for ten seconds.
    fn delivering() -> Watch {
        let mut watch = Watch::new();
        assert_eq!(watch.look(at(0), NONE), Order::Open);
        watch.opened(at(0), "Desk");
        assert_eq!(watch.news(), Some(SourceState::Running));
        assert_eq!(watch.look(at(10_000), counts(1000, 7)), Order::Rest);
        assert_eq!(watch.news(), None);
        watch
    }

    #[test]
    fn a_storm_of_errors_beside_sound_means_nothing() {
        let mut watch = delivering();
        for n in 0..100 {
            let seen = counts(1001 + n, 10_000 * n);
            assert_eq!(watch.look(at(10_050 + 50 * n), seen), Order::Rest);
            assert_eq!(watch.news(), None);
        }
    }

    #[test]
    fn silence_with_errors_is_a_loss_and_the_stream_is_taken_up_again() {
        let mut watch = delivering();
        assert_eq!(watch.look(at(10_900), counts(1000, 20_000)), Order::Rest);
        assert_eq!(watch.look(at(11_000), counts(1000, 20_000)), Order::Close);
        let lost = SourceState::Waiting(Fault::Lost("Desk".to_owned()));
        assert_eq!(watch.news(), Some(lost));
        assert_eq!(watch.look(at(11_001), NONE), Order::Open, "at once");
        watch.failed(at(11_100), Fault::NoDevice);
        assert_eq!(watch.news(), None, "it is still the same loss");
        assert_eq!(watch.look(at(12_000), NONE), Order::Rest);
        assert_eq!(watch.look(at(12_100), NONE), Order::Open, "a second later");
        watch.opened(at(12_200), "Desk");
        assert_eq!(watch.news(), Some(SourceState::Running));
    }

    #[test]
    fn silence_without_errors_is_a_stall_that_is_waited_for() {
        let mut watch = delivering();
        let stalled = SourceState::Waiting(Fault::Stalled("Desk".to_owned()));
        assert_eq!(watch.look(at(11_000), counts(1000, 7)), Order::Rest);
        assert_eq!(watch.news(), Some(stalled));
        assert_eq!(watch.look(at(17_900), counts(1000, 7)), Order::Rest);
        assert_eq!(watch.look(at(17_950), counts(1001, 7)), Order::Rest);
        assert_eq!(watch.news(), Some(SourceState::Running));
    }

    #[test]
    fn a_long_stall_is_opened_anew() {
        let mut watch = delivering();
        assert_eq!(watch.look(at(11_000), counts(1000, 7)), Order::Rest);
        let _ = watch.news();
        assert_eq!(watch.look(at(18_000), counts(1000, 7)), Order::Close);
        assert_eq!(watch.news(), None, "still stalled");
        assert_eq!(watch.look(at(18_050), NONE), Order::Open);
    }

    #[test]
    fn a_stall_that_turns_into_errors_is_a_loss() {
        let mut watch = delivering();
        assert_eq!(watch.look(at(13_000), counts(1000, 7)), Order::Rest);
        assert_eq!(watch.look(at(13_050), counts(1000, 8)), Order::Close);
        let lost = SourceState::Waiting(Fault::Lost("Desk".to_owned()));
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
        let busy = SourceState::Waiting(Fault::Busy("Desk".to_owned()));
        assert_eq!(watch.news(), Some(busy));
    }
}
