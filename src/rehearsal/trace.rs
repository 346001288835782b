//! Where a player has been: pitches of the last seconds, bounded in time and number.

use std::collections::VecDeque;

use crate::units::{Hertz, Seconds};

/// One pitch that sounded.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TracePoint {
    /// When, on the rehearsal's clock.
    pub time: Seconds,
    /// What. Kept as a frequency so that another tuning measures it anew.
    pub hertz: Hertz,
}

/// Pitches in the order they sounded, oldest first.
#[derive(Debug, Clone, PartialEq)]
pub struct Trace {
    span: Seconds,
    spacing: Seconds,
    points: VecDeque<TracePoint>,
}

impl Trace {
    /// A trace of the last `span`, with points at least `spacing` apart.
    pub(super) fn new(span: Seconds, spacing: Seconds) -> Self {
        Self {
            span,
            spacing,
            points: VecDeque::new(),
        }
    }

    /// Adds a pitch unless it comes too soon after the last one.
    pub(super) fn push(&mut self, time: Seconds, hertz: Hertz) {
        // Half a spacing of grace: hops that fall a hair short must not halve the rate.
        let soonest = self.points.back().map_or(f64::NEG_INFINITY, |last| {
            last.time.get() + 0.5 * self.spacing.get()
        });
        if time.get() >= soonest {
            self.points.push_back(TracePoint { time, hertz });
        }
        self.forget(time);
    }

    /// Drops what is older than the span.
    pub(super) fn forget(&mut self, now: Seconds) {
        let oldest = now - self.span;
        while self.points.front().is_some_and(|p| p.time < oldest) {
            self.points.pop_front();
        }
    }

    /// How far back the trace reaches.
    pub fn span(&self) -> Seconds {
        self.span
    }

    /// The points, oldest first.
    pub fn points(&self) -> impl Iterator<Item = TracePoint> {
        self.points.iter().copied()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_trace_is_bounded_in_time_and_number() {
        let mut trace = Trace::new(Seconds::new(20.0), Seconds::new(0.08));
        let hertz = Hertz::new(400.0).unwrap();
        for hop in 0..10_000 {
            trace.push(Seconds::new(f64::from(hop) * 0.01), hertz);
        }
        // Points may follow each other at half the spacing at the closest: 500 in 20 s.
        assert!((395..=502).contains(&trace.points().count()));
        assert!(trace.points().all(|p| p.time.get() >= 79.9));
        trace.forget(Seconds::new(1000.0));
        assert_eq!(trace.points().count(), 0);
    }
}
