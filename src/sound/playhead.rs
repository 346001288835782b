//! What recordings and scenes share: how a source that is not live starts, keeps time and ends.

use std::thread;
use std::time::{Duration, Instant};

use super::{Delivery, SourceState, StreamFormat};
use crate::units::Seconds;

/// A listener further behind than this was not slow but away (a suspended program, say): the
/// sound waits for it like a paused player.
const AWAY: Duration = Duration::from_secs(1);

/// How fast a recording or a scene is delivered.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Pace {
    /// In real time, like a microphone.
    RealTime,
    /// As fast as it is taken.
    Fast,
}

/// Where a source that is not live has got to.
#[derive(Debug)]
pub(super) struct Playhead {
    pace: Pace,
    stage: Stage,
    /// When the first frame was due.
    start: Option<Instant>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Stage {
    Start,
    Started,
    Playing,
    Ended,
}

impl Playhead {
    pub(super) fn new(pace: Pace) -> Self {
        Self {
            pace,
            stage: Stage::Start,
            start: None,
        }
    }

    /// What is to be delivered instead of sound at the start and after the end.
    pub(super) fn outside(
        &mut self,
        format: &StreamFormat,
        patience: Duration,
    ) -> Option<Delivery<'static>> {
        match self.stage {
            Stage::Start => {
                self.stage = Stage::Started;
                Some(Delivery::Started(format.clone()))
            }
            Stage::Started => {
                self.stage = Stage::Playing;
                Some(Delivery::State(SourceState::Running))
            }
            Stage::Playing => None,
            Stage::Ended => {
                thread::sleep(patience);
                Some(Delivery::Nothing)
            }
        }
    }

    /// The end, which is told once.
    pub(super) fn end(&mut self) -> Delivery<'static> {
        self.stage = Stage::Ended;
        Delivery::State(SourceState::Ended)
    }

    /// Waits until sound that lasts until `end` could have been heard, but no longer than
    /// `patience`; whether it is due.
    pub(super) fn wait(&mut self, end: Seconds, patience: Duration) -> bool {
        let due = self.until_due(end, Instant::now());
        thread::sleep(due.min(patience));
        due <= patience
    }

    fn until_due(&mut self, end: Seconds, now: Instant) -> Duration {
        if self.pace == Pace::Fast {
            return Duration::ZERO;
        }
        let offset = Duration::from_secs_f64(end.get().max(0.0));
        let start = *self.start.get_or_insert(now);
        let late = now.saturating_duration_since(start + offset);
        if late > AWAY {
            self.start = Some(start + late);
        }
        (start + offset).saturating_duration_since(now)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_listener_who_was_away_gets_the_rest_in_time() {
        let mut playhead = Playhead::new(Pace::RealTime);
        let start = Instant::now();
        let at = |ms| start + Duration::from_millis(ms);
        let ten = Seconds::new(0.01);
        assert_eq!(playhead.until_due(ten, at(0)), Duration::from_millis(10));
        // A little late is caught up.
        assert_eq!(
            playhead.until_due(Seconds::new(0.02), at(500)),
            Duration::ZERO
        );
        // Five seconds late: from now on the clock runs anew.
        assert_eq!(
            playhead.until_due(Seconds::new(0.03), at(5_030)),
            Duration::ZERO
        );
        assert_eq!(
            playhead.until_due(Seconds::new(0.04), at(5_030)),
            Duration::from_millis(10)
        );
    }
}
