//! A needle with mass: follows the pitch without jumping.

use crate::units::{Cents, Hertz, Seconds};

/// Seconds in which the needle covers nine tenths of a step.
const RESPONSE_S: f64 = 0.2;

/// Natural frequency in radians a second. A critically damped system has covered
/// 1 - (1 + wt) exp(-wt) of a unit step after t, which is 0.9 at wt = 3.890 (textbook
/// solution of the damped oscillator).
const STIFFNESS: f64 = 3.890 / RESPONSE_S;

/// How far the needle may swing before a figure read from it moves at once, in cents.
const PLAY_CENTS: f64 = 0.4;
/// Seconds in which the figure settles on a needle that swings less, so that the whole number
/// of a note that stays is the nearest one.
const SETTLE_S: f64 = 0.6;

/// A critically damped pointer on a scale of cents, with a figure read from it that does not
/// flicker between two neighbours.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Needle {
    /// Where it was put down; everything else is counted from here.
    origin: Hertz,
    cents: f64,
    cents_per_second: f64,
    figure_cents: f64,
}

impl Needle {
    /// A needle at rest on `hertz`.
    pub fn at(hertz: Hertz) -> Self {
        Self {
            origin: hertz,
            cents: 0.0,
            cents_per_second: 0.0,
            figure_cents: 0.0,
        }
    }

    /// Lets the needle be drawn towards `target` for the time `elapsed`.
    pub fn follow(&mut self, target: Hertz, elapsed: Seconds) {
        let seconds = elapsed.get().max(0.0);
        let target = target.above(self.origin).get();
        // The exact solution for a target at rest, so that any step is stable.
        let distance = self.cents - target;
        let pull = self.cents_per_second + STIFFNESS * distance;
        let fading = (-STIFFNESS * seconds).exp();
        self.cents = target + (distance + pull * seconds) * fading;
        self.cents_per_second = (self.cents_per_second - STIFFNESS * pull * seconds) * fading;
        self.figure_cents += (self.cents - self.figure_cents) * (1.0 - (-seconds / SETTLE_S).exp());
        self.figure_cents = self
            .figure_cents
            .clamp(self.cents - PLAY_CENTS, self.cents + PLAY_CENTS);
    }

    /// Where the needle points.
    pub fn hertz(&self) -> Hertz {
        self.origin.raised(Cents::new(self.cents))
    }

    /// The pitch to read whole cents from: within 0.4 cents of the needle, and slow to
    /// follow while the needle trembles less than that.
    pub fn figure(&self) -> Hertz {
        self.origin.raised(Cents::new(self.figure_cents))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const HOP: Seconds = Seconds::new(0.01);

    fn a4() -> Hertz {
        Hertz::new(415.0).unwrap()
    }

    #[test]
    fn a_step_is_covered_in_a_fifth_of_a_second_without_overshoot() {
        let mut needle = Needle::at(a4());
        let target = a4().raised(Cents::new(30.0));
        let mut reached = Vec::new();
        for _ in 0..60 {
            needle.follow(target, HOP);
            reached.push(needle.hertz().above(a4()).get());
        }
        // Reading 20 is 0.2 s on: nine tenths, to 1 % of the step.
        assert!((reached[19] - 27.0).abs() < 0.3, "{}", reached[19]);
        assert!(reached[4] < 10.0, "jumped: {}", reached[4]);
        assert!(reached.windows(2).all(|pair| pair[0] <= pair[1] + 1e-9));
        assert!(reached.iter().all(|cents| *cents <= 30.0 + 1e-9));
    }

    #[test]
    fn a_tremble_hardly_moves_the_figure() {
        let mut needle = Needle::at(a4());
        for hop in 0..200 {
            let sway = if hop % 20 < 10 { 0.4 } else { -0.4 };
            needle.follow(a4().raised(Cents::new(sway)), HOP);
            assert!(needle.figure().above(a4()).abs().get() < 0.05);
        }
    }

    #[test]
    fn the_figure_of_a_note_that_stays_is_the_nearest_whole_cent() {
        // 17.15 cents must not be shown as 18 for as long as the note lasts.
        let target = a4().raised(Cents::new(17.15));
        let mut needle = Needle::at(a4().raised(Cents::new(18.0)));
        for _ in 0..100 {
            needle.follow(target, HOP);
        }
        assert_eq!(needle.figure().above(a4()).to_string(), "+17");
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn one_long_step_equals_many_short_ones(cents in -80.0..80.0, n_hops in 1_u32..50) {
            let target = a4().raised(Cents::new(cents));
            let mut short = Needle::at(a4());
            for _ in 0..n_hops {
                short.follow(target, HOP);
            }
            let mut long = Needle::at(a4());
            long.follow(target, Seconds::new(0.01 * f64::from(n_hops)));
            prop_assert!(short.hertz().above(long.hertz()).abs().get() < 1e-6);
        }

        #[test]
        fn the_figure_stays_near(steps in prop::collection::vec(-60.0..60.0_f64, 1..100)) {
            let mut needle = Needle::at(a4());
            for cents in steps {
                needle.follow(a4().raised(Cents::new(cents)), HOP);
                let apart = needle.figure().above(needle.hertz()).abs().get();
                prop_assert!(apart <= 0.4 + 1e-6);
            }
        }
    }
}
