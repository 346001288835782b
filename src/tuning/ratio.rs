//! Pure ratios between two tones: the simplest one near an interval, and what it is called.

use std::fmt;

use crate::units::{Cents, Hertz};

/// Intervals within the octave and their names.
const NAMES: [(u32, u32, &str); 15] = [
    (3, 2, "fifth"),
    (4, 3, "fourth"),
    (5, 4, "third"),
    (6, 5, "minor third"),
    (5, 3, "sixth"),
    (8, 5, "minor sixth"),
    (7, 4, "natural seventh"),
    (8, 7, "wide second"),
    (7, 6, "low minor third"),
    (7, 5, "low fifth"),
    (9, 8, "whole tone"),
    (10, 9, "small tone"),
    (16, 9, "seventh"),
    (11, 8, "eleventh partial"),
    (13, 8, "thirteenth partial"),
];

/// A ratio of small whole numbers in lowest terms: the tone is `over / under` times another.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Ratio {
    over: u32,
    under: u32,
}

impl Ratio {
    /// The same tone.
    pub const UNISON: Self = Self { over: 1, under: 1 };

    /// `over / under` in lowest terms; zeros count as ones.
    pub fn new(over: u32, under: u32) -> Self {
        let (over, under) = (over.max(1), under.max(1));
        let (mut a, mut b) = (over, under);
        while b != 0 {
            (a, b) = (b, a % b);
        }
        Self {
            over: over / a,
            under: under / a,
        }
    }

    /// The number above the line: the partial of the other tone that meets this one's.
    pub fn over(self) -> u32 {
        self.over
    }

    /// The number below the line: the partial of this tone that meets the other's.
    pub fn under(self) -> u32 {
        self.under
    }

    /// Its size; negative where the tone lies below the other.
    pub fn cents(self) -> Cents {
        Cents::of_ratio(f64::from(self.over), f64::from(self.under))
    }

    /// The tone that stands in this ratio to `other`.
    pub fn place(self, other: Hertz) -> Hertz {
        other.times(f64::from(self.over) / f64::from(self.under))
    }

    /// Beats a second between `tone` and the place beside `other` where it would stand still:
    /// partial `under` of the tone meets partial `over` of the other. Positive where the tone
    /// lies above the place.
    pub fn beats_hz(self, tone: Hertz, other: Hertz) -> f64 {
        f64::from(self.under) * tone.get() - f64::from(self.over) * other.get()
    }

    /// What musicians call it within the octave; octaves and direction are not said. None
    /// for a ratio without a usual name.
    pub fn name(self) -> Option<&'static str> {
        let cents = self.cents().abs();
        let is_octave = (self.over * self.under).is_power_of_two();
        if is_octave {
            let name = match self.over.max(self.under).trailing_zeros() {
                0 => "unison",
                1 => "octave",
                2 => "two octaves",
                3 => "three octaves",
                4 => "four octaves",
                _ => return None,
            };
            return Some(name);
        }
        let within = cents.within_octave();
        NAMES
            .into_iter()
            .find(|(over, under, _)| {
                let size = Cents::of_ratio(f64::from(*over), f64::from(*under));
                (size - within).abs().get() < 1e-6
            })
            .map(|(_, _, name)| name)
    }

    /// How much there is to hear through: bits of the odd parts, and a third of one for each
    /// octave apart (a weighting of this program).
    fn complexity(self) -> f64 {
        let bits = |number: u32| f64::from(number >> number.trailing_zeros()).log2();
        let octaves = (self.cents().abs().get() / 1200.0 + 1e-9).floor();
        bits(self.over) + bits(self.under) + 0.35 * octaves
    }
}

impl fmt::Display for Ratio {
    /// `3/4`; a unison and whole multiples keep their line: `1/1`, `2/1`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&format!("{}/{}", self.over, self.under))
    }
}

/// An interval measured from a pure ratio.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OfPure {
    /// The ratio.
    pub ratio: Ratio,
    /// How far the interval, counted upwards, lies above it.
    pub cents: Cents,
    /// The lower the simpler and nearer.
    pub cost: f64,
}

/// Ratios that may be meant, by the odd parts of their two numbers; octaves are free.
#[derive(Debug, Clone, Copy)]
pub struct Ratios {
    /// Odd part over, odd part under, and how far off it may be taken for this, in cents.
    bases: &'static [(u32, u32, f64)],
}

impl Ratios {
    /// What a player who looks for a place beside a voice may mean. Octaves reach farthest: a
    /// tempered G sharp is 39 cents from the eleventh partial it belongs to, a tempered B 55
    /// from the thirteenth. Reaches are a choice of this program.
    pub const OF_PLAYERS: Self = Self {
        bases: &[
            (1, 1, 60.0),
            (3, 1, 50.0),
            (1, 3, 50.0),
            (5, 1, 30.0),
            (1, 5, 30.0),
            (5, 3, 30.0),
            (3, 5, 30.0),
            (7, 1, 25.0),
            (1, 7, 25.0),
        ],
    };

    /// What two notes of a chord may form, those of the trumpets' high partials included. A
    /// Pythagorean third still counts as a third, 27 cents below 13/8 do not count as 8/5.
    pub const OF_CHORDS: Self = Self {
        bases: &[
            (1, 1, 50.0),
            (3, 1, 50.0),
            (1, 3, 50.0),
            (5, 1, 25.0),
            (1, 5, 25.0),
            (5, 3, 25.0),
            (3, 5, 25.0),
            (7, 1, 25.0),
            (7, 3, 20.0),
            (7, 5, 20.0),
            (9, 1, 20.0),
            (1, 9, 20.0),
            (9, 5, 20.0),
            (5, 9, 20.0),
            (11, 1, 20.0),
            (13, 1, 20.0),
        ],
    };

    /// All that `interval` can be taken for, at most one for each base.
    pub fn near(self, interval: Cents) -> impl Iterator<Item = OfPure> {
        self.bases.iter().filter_map(move |(over, under, reach)| {
            let base = Cents::of_ratio(f64::from(*over), f64::from(*under));
            let cents = (interval - base).nearest_octave();
            let octaves = ((interval - base - cents).get() / 1200.0).round();
            if cents.abs().get() > *reach || octaves.abs() > 6.0 {
                return None;
            }
            let shift = 1_u32 << octaves.abs() as u32;
            let ratio = if octaves < 0.0 {
                Ratio::new(*over, under * shift)
            } else {
                Ratio::new(over * shift, *under)
            };
            Some(OfPure::new(ratio, interval))
        })
    }

    /// The simplest ratio within reach, weighed against how far off it lies.
    pub fn simplest(self, interval: Cents) -> Option<OfPure> {
        self.near(interval).min_by(|a, b| a.cost.total_cmp(&b.cost))
    }

    /// How far an interval may lie from `ratio` and still be taken for it.
    pub fn reach(self, ratio: Ratio) -> Option<Cents> {
        let odd = |number: u32| number >> number.trailing_zeros();
        let parts = (odd(ratio.over), odd(ratio.under));
        let found = self.bases.iter().find(|base| (base.0, base.1) == parts);
        found.map(|base| Cents::new(base.2))
    }
}

impl OfPure {
    /// Cents off that weigh as much as one bit of complexity: a choice of this program.
    const CENTS_PER_BIT: f64 = 25.0;

    /// `interval` measured from `ratio`.
    pub fn new(ratio: Ratio, interval: Cents) -> Self {
        let cents = interval - ratio.cents();
        Self {
            ratio,
            cents,
            cost: ratio.complexity() + cents.abs().get() / Self::CENTS_PER_BIT,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn check(ratios: Ratios, cents: f64, expected: Option<(&str, f64)>) {
        let found = ratios.simplest(Cents::new(cents));
        let found = found.map(|of| (of.ratio.to_string(), of.cents.get()));
        match (found, expected) {
            (None, None) => {}
            (Some((ratio, off)), Some((name, cents))) => {
                assert_eq!(ratio, name);
                assert!((off - cents).abs() < 1e-3, "{off} {cents}");
            }
            (found, expected) => panic!("{cents}: {found:?}, not {expected:?}"),
        }
    }

    #[test]
    fn the_simplest_ratio_within_reach_is_meant() {
        let players = Ratios::OF_PLAYERS;
        check(players, 2.0, Some(("1/1", 2.0)));
        check(players, -1190.0, Some(("1/2", 10.0)));
        // 2/3 is -701.955, 4/5 is -386.314, 3/4 is -498.045.
        check(players, -702.0, Some(("2/3", -0.045)));
        check(players, -380.0, Some(("4/5", 6.314)));
        check(players, -498.0, Some(("3/4", 0.045)));
        check(players, -2400.0, Some(("1/4", 0.0)));
        // The G sharp of sixth-comma below an eleventh partial an octave higher.
        check(players, -1239.0, Some(("1/2", -39.0)));
        check(players, 100.0, None);
        let chords = Ratios::OF_CHORDS;
        // 11/8 is 551.318, 13/8 840.528.
        check(chords, 550.0, Some(("11/8", -1.318)));
        check(chords, 840.0, Some(("13/8", -0.528)));
        check(chords, 100.0, None);
    }

    #[test]
    fn partials_that_meet_beat() {
        let hz = |hz: f64| Hertz::new(hz).unwrap();
        // Three quarters of 400 is 300: its partial 4 meets partial 3 at 1200 Hz.
        let fourth = Ratio::new(6, 8);
        assert_eq!((fourth.over(), fourth.under()), (3, 4));
        assert!((fourth.beats_hz(hz(300.5), hz(400.0)) - 2.0).abs() < 1e-9);
        assert!((fourth.place(hz(400.0)).get() - 300.0).abs() < 1e-9);
        assert_eq!(Ratio::new(0, 0), Ratio::UNISON);
    }

    #[test]
    fn ratios_have_the_names_of_the_trade() {
        for (over, under, name) in [
            (1, 1, "unison"),
            (1, 4, "two octaves"),
            (3, 4, "fourth"),
            (2, 3, "fifth"),
            (3, 1, "fifth"),
            (5, 8, "minor sixth"),
            (11, 8, "eleventh partial"),
        ] {
            assert_eq!(Ratio::new(over, under).name(), Some(name), "{over}/{under}");
        }
        assert_eq!(Ratio::new(45, 32).name(), None);
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn a_ratio_found_lies_within_its_reach(cents in -6000.0..6000.0) {
            let interval = Cents::new(cents);
            for ratios in [Ratios::OF_PLAYERS, Ratios::OF_CHORDS] {
                for of in ratios.near(interval) {
                    let reach = ratios.reach(of.ratio).unwrap();
                    prop_assert!(of.cents.abs().get() <= reach.get() + 1e-6, "{:?}", of);
                    prop_assert!((of.ratio.cents() + of.cents - interval).abs().get() < 1e-6);
                }
            }
        }

        #[test]
        fn beats_stand_still_in_the_place(hz in 50.0..2000.0_f64, cents in -2500.0..2500.0) {
            let other = Hertz::new(hz).unwrap();
            if let Some(of) = Ratios::OF_PLAYERS.simplest(Cents::new(cents)) {
                prop_assert!(of.ratio.beats_hz(of.ratio.place(other), other).abs() < 1e-6);
                let tone = of.ratio.place(other).raised(Cents::new(3.0));
                prop_assert!(of.ratio.beats_hz(tone, other) > 0.0);
            }
        }
    }
}
