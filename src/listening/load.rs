//! Whether the machine keeps up with the sound, and what is done about it when it does not.
//!
//! Pure: knows only how much sound has been heard and how much of it waits. While it waits no less
//! the more is heard, hearing takes longer than the sound lasts: that is overload. Sound that a
//! frozen server held back also waits, but ever less of it: that is none.

use std::collections::VecDeque;

use crate::analysis::Effort;
use crate::units::Seconds;

/// Less sound than this may wait without anybody caring.
const PATIENCE: Seconds = Seconds::new(0.3);
/// Over so much sound is looked back to tell whether what waits becomes less.
const LOOK_BACK: Seconds = Seconds::new(0.5);
/// What waits must sink by this share of what was heard, or it does not become less in any time.
const LEAST_GAIN: f64 = 0.1;
/// So much more that waits all at once was held back elsewhere: what was known of the pace is no
/// measure of it.
const BURST: Seconds = Seconds::new(0.2);
/// With less than this waiting, the machine keeps up.
const AT_PACE: Seconds = Seconds::new(0.1);
/// The machine must have kept up for so long before more is tried, at first and at most. Each
/// attempt that failed doubles it.
const REST: (Seconds, Seconds) = (Seconds::new(5.0), Seconds::new(80.0));
/// An attempt has failed if overload comes back within this.
const ATTEMPT: Seconds = Seconds::new(10.0);
/// At the least effort, when more than this waits, the rest is let go: late is worse than lost.
const TOO_LATE: Seconds = Seconds::new(2.0);

/// What is to be done now.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Order {
    /// Nothing else than before.
    Go,
    /// Spend so much from now on.
    Spend(Effort),
    /// Let go what waits, up to the present.
    Skip,
}

/// The course of the load.
#[derive(Debug, Default)]
pub(super) struct Load {
    effort: Effort,
    /// Sound heard since the start, and what waited at moments of the last half second of it.
    heard: Seconds,
    lately: VecDeque<(Seconds, Seconds)>,
    /// When more than usual came at once.
    burst_at: Option<Seconds>,
    /// Since when the machine has kept up.
    at_pace_since: Option<Seconds>,
    /// The time it must do so before more is tried; none before the first overload.
    rest: Option<Seconds>,
    tried_at: Option<Seconds>,
}

impl Load {
    /// The effort ordered last.
    pub(super) fn effort(&self) -> Effort {
        self.effort
    }

    /// A stream starts: what was known of the last one's pace is over, the effort stays.
    pub(super) fn restart(&mut self) {
        self.lately.clear();
        self.at_pace_since = None;
    }

    /// So much more sound was heard, and so much waits behind it.
    pub(super) fn take(&mut self, length: Seconds, waiting: Seconds) -> Order {
        self.heard = self.heard + length;
        let before = self.lately.back().map(|(_, waiting)| *waiting);
        if before.is_some_and(|before| waiting - before > BURST) {
            // One after another they are no bursts: each block takes as long as that.
            let is_first = self.burst_at.is_none_or(|at| self.heard - at > LOOK_BACK);
            self.burst_at = Some(self.heard);
            if is_first {
                self.lately.clear();
            }
        }
        let from = self.heard - LOOK_BACK;
        while self.lately.get(1).is_some_and(|(at, _)| *at <= from) {
            self.lately.pop_front();
        }
        self.lately.push_back((self.heard, waiting));
        if waiting > AT_PACE {
            self.at_pace_since = None;
        }
        if waiting > PATIENCE {
            self.when_behind(waiting)
        } else if waiting <= AT_PACE {
            self.when_at_pace()
        } else {
            Order::Go
        }
    }

    fn when_behind(&mut self, waiting: Seconds) -> Order {
        let Some(&(since, then)) = self.lately.front() else {
            return Order::Go;
        };
        let heard = self.heard - since;
        let gain = then - waiting;
        if heard < LOOK_BACK || gain.get() >= LEAST_GAIN * heard.get() {
            return Order::Go;
        }
        // What was ordered now shows only after as long again.
        self.lately.clear();
        let failed = self
            .tried_at
            .take()
            .is_some_and(|at| self.heard - at < ATTEMPT);
        let rest = self.rest.unwrap_or(REST.0);
        let longer = if failed { rest + rest } else { rest };
        self.rest = Some(if longer < REST.1 { longer } else { REST.1 });
        match self.effort.less() {
            Some(less) => {
                self.effort = less;
                Order::Spend(less)
            }
            None if waiting > TOO_LATE => Order::Skip,
            None => Order::Go,
        }
    }

    fn when_at_pace(&mut self) -> Order {
        let since = *self.at_pace_since.get_or_insert(self.heard);
        let Some(more) = self.effort.more() else {
            return Order::Go;
        };
        if self.heard - since < self.rest.unwrap_or(REST.0) {
            return Order::Go;
        }
        self.at_pace_since = Some(self.heard);
        self.tried_at = Some(self.heard);
        self.effort = more;
        Order::Spend(more)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A machine on which hearing a second of sound takes `cost` seconds at full effort and half
    /// as long at each lesser one; sound comes in blocks of 10 ms.
    struct Machine {
        load: Load,
        cost: fn(f64) -> f64,
        /// Sound delivered and sound heard, in seconds of the machine's clock.
        now: f64,
        heard: f64,
        orders: Vec<(f64, Order)>,
        worst: f64,
    }

    impl Machine {
        fn with(cost: fn(f64) -> f64) -> Self {
            Self {
                load: Load::default(),
                cost,
                now: 0.0,
                heard: 0.0,
                orders: Vec::new(),
                worst: 0.0,
            }
        }

        fn run(mut self, until: f64) -> Self {
            while self.now < until {
                if self.heard + 0.01 > self.now {
                    self.now = self.heard + 0.01;
                }
                let relief = 0.5_f64.powi(self.load.effort() as i32);
                self.now += 0.01 * (self.cost)(self.now) * relief;
                self.heard += 0.01;
                let waiting = self.now - self.heard;
                self.worst = self.worst.max(waiting);
                let order = self.load.take(Seconds::new(0.01), Seconds::new(waiting));
                if order != Order::Go {
                    self.orders.push((self.now, order));
                }
                if order == Order::Skip {
                    self.heard = self.now;
                }
            }
            self
        }
    }

    #[test]
    fn a_machine_that_keeps_up_is_left_alone() {
        let machine = Machine::with(|_| 0.9).run(60.0);
        assert_eq!(machine.orders, []);
    }

    #[test]
    fn overload_is_met_step_by_step_and_before_a_second_of_sound_waits() {
        let machine = Machine::with(|_| 1.5).run(4.0);
        assert_eq!(machine.orders.len(), 1, "{:?}", machine.orders);
        assert_eq!(machine.load.effort(), Effort::Half);
        assert!(machine.worst < 1.0, "{} s waited", machine.worst);
    }

    #[test]
    fn a_short_burst_of_other_work_passes_by_and_all_is_done_again_after_it() {
        let machine = Machine::with(|now| {
            if (10.0..14.0).contains(&now) {
                3.0
            } else {
                0.4
            }
        });
        let machine = machine.run(60.0);
        let lowest = machine.orders.iter().filter_map(|(_, order)| match order {
            Order::Spend(effort) => Some(*effort),
            _ => None,
        });
        assert_eq!(lowest.max(), Some(Effort::Quarter));
        assert_eq!(machine.load.effort(), Effort::Full, "{:?}", machine.orders);
        let (restored, _) = machine.orders.last().unwrap();
        assert!(
            (14.0..30.0).contains(restored),
            "restored after {restored} s"
        );
    }

    #[test]
    fn lasting_overload_is_tried_ever_more_rarely() {
        let machine = Machine::with(|_| 1.5).run(600.0);
        let tried: Vec<f64> = machine
            .orders
            .iter()
            .filter(|(_, order)| *order == Order::Spend(Effort::Full))
            .map(|(at, _)| *at)
            .collect();
        let gaps: Vec<f64> = tried.windows(2).map(|pair| pair[1] - pair[0]).collect();
        assert!(gaps[0] > 8.0 && gaps[0] < 15.0, "{gaps:?}");
        assert!(*gaps.last().unwrap() >= 80.0, "{gaps:?}");
        assert!(machine.worst < 1.5);
    }

    #[test]
    fn what_a_frozen_server_held_back_is_no_overload() {
        let mut load = Load::default();
        for _ in 0..500 {
            assert_eq!(load.take(Seconds::new(0.01), Seconds::new(0.0)), Order::Go);
        }
        // Four seconds arrive at once and are heard in a fifth of their length.
        let mut waiting = 4.0;
        while waiting > 0.0 {
            assert_eq!(
                load.take(Seconds::new(0.01), Seconds::new(waiting)),
                Order::Go
            );
            waiting -= 0.008;
        }
        assert_eq!(load.effort(), Effort::Full);
    }

    #[test]
    fn a_hopeless_machine_lets_sound_go_rather_than_be_late() {
        let machine = Machine::with(|_| 40.0).run(60.0);
        let skips = machine.orders.iter().filter(|(_, o)| *o == Order::Skip);
        assert!(skips.count() > 5);
        assert_eq!(machine.load.effort(), Effort::TwoVoices);
    }
}
