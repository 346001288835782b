//! Puts the stream's time, which begins anew with every start, on the rehearsal's clock.

use crate::units::Seconds;

/// A difference beyond this means that the stream has stopped or jumped, not that the two
/// clocks run unequally.
const JUMP_S: f64 = 0.5;

/// The share of a small difference made up with each reading.
const PULL: f64 = 0.01;

/// The difference between the rehearsal's clock and the stream's.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct StreamClock {
    /// Seconds to add to a stream time; none until the first reading of a stream.
    offset_s: Option<f64>,
    latest: Seconds,
}

impl StreamClock {
    /// The stream begins again at zero.
    pub(super) fn restart(&mut self) {
        self.offset_s = None;
    }

    /// The moment on the rehearsal's clock of something that the stream made available at
    /// `available`, heard of at `now`. Never before an earlier answer.
    pub(super) fn moment(&mut self, available: Seconds, now: Seconds) -> Seconds {
        let fresh = (now - available).get();
        let offset = match self.offset_s {
            Some(offset) if (fresh - offset).abs() < JUMP_S => offset + PULL * (fresh - offset),
            _ => fresh,
        };
        self.offset_s = Some(offset);
        let moment = available.get() + offset;
        if moment > self.latest.get() {
            self.latest = Seconds::new(moment);
        }
        self.latest
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bursts_keep_the_spacing_of_the_stream() {
        let mut clock = StreamClock::default();
        clock.moment(Seconds::new(0.0), Seconds::new(10.0));
        // Three readings arrive at once with the next frame.
        let times: Vec<f64> = (1..=3)
            .map(|n| {
                let stream = Seconds::new(0.01 * f64::from(n));
                clock.moment(stream, Seconds::new(10.03)).get()
            })
            .collect();
        for pair in times.windows(2) {
            assert!((pair[1] - pair[0] - 0.01).abs() < 1e-3, "{times:?}");
        }
    }

    #[test]
    fn a_new_stream_goes_on_from_now() {
        let mut clock = StreamClock::default();
        clock.moment(Seconds::new(300.0), Seconds::new(300.0));
        clock.restart();
        let moment = clock.moment(Seconds::new(0.0), Seconds::new(307.0));
        assert!((moment.get() - 307.0).abs() < 1e-9);
    }

    #[test]
    fn time_never_goes_back() {
        let mut clock = StreamClock::default();
        let first = clock.moment(Seconds::new(5.0), Seconds::new(5.0));
        assert!(clock.moment(Seconds::new(1.0), Seconds::new(5.1)) >= first);
    }
}
