//! A pitch in three bytes of seven bits.

use super::Fineness;
use crate::units::Hertz;

/// Steps of the standard in a semitone.
const STEPS: f64 = 16_384.0;
/// Steps in a cent.
const STEPS_A_CENT: f64 = STEPS / 100.0;
/// What arithmetic may have added to a whole number of steps.
const SLACK: f64 = 1e-6;

/// A pitch as the standard writes it: the key of equal temperament at or below it, and what it
/// lies above that key in 16384ths of a semitone, in two bytes of seven bits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Code([u8; 3]);

impl Code {
    /// The code of a frequency; none where it lies outside 8.18 to 13289 Hz, for which there is
    /// none.
    ///
    /// Never below the frequency, and at most one step (0.006 cents) above: synthesisers were
    /// found to cut off fractions of a cent, and a whole cent must not fall to the one below.
    /// With whole cents, the step nearest to one may lie half a cent on either side.
    pub fn of(hertz: Hertz, fineness: Fineness) -> Option<Self> {
        let semitones = 69.0 + 12.0 * (hertz.get() / 440.0).log2();
        let semitones = match fineness {
            Fineness::Full => semitones,
            Fineness::WholeCents => (100.0 * semitones).round() / 100.0,
        };
        let steps = (semitones * STEPS - SLACK).ceil();
        // The very last code means no change.
        if !(0.0..128.0 * STEPS - 1.0).contains(&steps) {
            return None;
        }
        let steps = steps as u32;
        Some(Self([
            (steps >> 14) as u8,
            (steps >> 7 & 0x7f) as u8,
            (steps & 0x7f) as u8,
        ]))
    }

    /// The three bytes, each below 128.
    pub fn bytes(self) -> [u8; 3] {
        self.0
    }

    /// Cents above the lowest key of equal temperament at 440 Hz.
    pub fn cents(self) -> f64 {
        let [key, high, low] = self.0.map(f64::from);
        100.0 * key + (128.0 * high + low) / STEPS_A_CENT
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn code(hz: f64) -> Option<[u8; 3]> {
        Code::of(Hertz::new(hz).unwrap(), Fineness::Full).map(Code::bytes)
    }

    #[test]
    fn examples_of_the_standard_that_follow_its_formula() {
        // MIDI Tuning (CA-020/CA-021/RP-020), examples of frequency data; those printed wrongly
        // there by the formula.
        for (hz, bytes) in [
            (8.175_798_92, [0, 0, 0]),
            (8.661_957_22, [1, 0, 0]),
            (16.351_597_83, [0x0c, 0, 0]),
            (261.625_565_3, [0x3c, 0, 0]),
            (440.0, [0x45, 0, 0]),
            (440.001_551_15, [0x45, 0, 1]),
            (13_289.656_615_7, [0x7f, 0x7f, 0x7e]),
        ] {
            // Those printed are rounded down here and there: a step up at the most.
            let found = code(hz).unwrap();
            let steps = |b: [u8; 3]| u32::from(b[0]) << 14 | u32::from(b[1]) << 7 | u32::from(b[2]);
            assert!(steps(found) - steps(bytes) <= 1, "{hz}: {found:02x?}");
        }
        assert_eq!(code(440.0), Some([0x45, 0, 0]));
    }

    #[test]
    fn what_lies_outside_has_no_code_and_no_change_is_none() {
        assert_eq!(code(8.17), None);
        assert_eq!(code(13_289.74), None);
        assert_eq!(code(20_000.0), None);
    }

    #[test]
    fn whole_cents_are_whole_for_whoever_cuts_off_the_rest() {
        let hertz = Hertz::new(415.0).unwrap();
        let cents = Code::of(hertz, Fineness::WholeCents).unwrap().cents();
        // A4 at 415 Hz is 101.27 cents below 440 Hz.
        assert!((0.0..0.0062).contains(&(cents - 6799.0)), "{cents}");
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..Default::default() })]
        #[test]
        fn a_code_is_never_low_and_less_than_a_step_high(hz in 8.18..13_289.0_f64) {
            let [key, high, low] = code(hz).unwrap();
            // The formula of the standard, backwards.
            let fraction = f64::from(u32::from(high) * 128 + u32::from(low)) / 16_384.0;
            let back = 440.0 * 2_f64.powf((f64::from(key) + fraction - 69.0) / 12.0);
            let off = 1200.0 * (back / hz).log2();
            prop_assert!((-1e-6..0.00611).contains(&off), "{off}");
        }
    }
}
