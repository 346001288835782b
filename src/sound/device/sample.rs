//! Sample formats and their common measure: full scale is 1.

use cpal::{I24, U24};

/// A sample of any format, as a number with full scale 1.
pub trait Level: Copy {
    /// The sample as a number; integers span -1 up to just below 1, floats pass unchanged.
    fn level(self) -> f32;
    /// The sample nearest to a number; beyond full scale it is the format's end. What is not a
    /// number is rest.
    fn of(level: f32) -> Self;
}

/// Full scale to two's complement of up to 32 bits; `as` stops at a type's ends, not at 24 bits.
fn to_integer(level: f32, full_scale: f64) -> i32 {
    let level = (f64::from(level) * full_scale).round();
    level.clamp(-full_scale, full_scale - 1.0) as i32
}

/// A float within full scale; what is not a number is rest.
fn within(level: f32) -> f32 {
    if level.is_nan() {
        0.0
    } else {
        level.clamp(-1.0, 1.0)
    }
}

/// Two's complement of 32 bits to -1..1.
fn of_i32(value: i32) -> f32 {
    (f64::from(value) / 2_147_483_648.0) as f32
}

/// Two's complement of 64 bits to -1..1.
fn of_i64(value: i64) -> f32 {
    (value as f64 / 9_223_372_036_854_775_808.0) as f32
}

impl Level for i8 {
    fn level(self) -> f32 {
        f32::from(self) / 128.0
    }

    fn of(level: f32) -> Self {
        to_integer(level, 128.0) as Self
    }
}

impl Level for i16 {
    fn level(self) -> f32 {
        f32::from(self) / 32_768.0
    }

    fn of(level: f32) -> Self {
        to_integer(level, 32_768.0) as Self
    }
}

impl Level for I24 {
    fn level(self) -> f32 {
        // Hosts leave the unused top byte undefined; the shift drops it and sets the sign.
        of_i32(self.inner() << 8)
    }

    fn of(level: f32) -> Self {
        Self::new_unchecked(to_integer(level, 8_388_608.0))
    }
}

impl Level for i32 {
    fn level(self) -> f32 {
        of_i32(self)
    }

    fn of(level: f32) -> Self {
        to_integer(level, 2_147_483_648.0)
    }
}

impl Level for i64 {
    fn level(self) -> f32 {
        of_i64(self)
    }

    fn of(level: f32) -> Self {
        (f64::from(level) * 9_223_372_036_854_775_808.0) as Self
    }
}

// Unsigned formats rest at the middle of their range; flipping the top bit makes them signed.

impl Level for u8 {
    fn level(self) -> f32 {
        ((self ^ 0x80) as i8).level()
    }

    fn of(level: f32) -> Self {
        (i8::of(level) as Self) ^ 0x80
    }
}

impl Level for u16 {
    fn level(self) -> f32 {
        ((self ^ 0x8000) as i16).level()
    }

    fn of(level: f32) -> Self {
        (i16::of(level) as Self) ^ 0x8000
    }
}

impl Level for U24 {
    fn level(self) -> f32 {
        of_i32((self.inner() << 8) ^ i32::MIN)
    }

    fn of(level: f32) -> Self {
        Self::new_unchecked(I24::of(level).inner() + 0x80_0000)
    }
}

impl Level for u32 {
    fn level(self) -> f32 {
        of_i32((self ^ 0x8000_0000) as i32)
    }

    fn of(level: f32) -> Self {
        (i32::of(level) as Self) ^ 0x8000_0000
    }
}

impl Level for u64 {
    fn level(self) -> f32 {
        of_i64((self ^ 0x8000_0000_0000_0000) as i64)
    }

    fn of(level: f32) -> Self {
        (i64::of(level) as Self) ^ 0x8000_0000_0000_0000
    }
}

impl Level for f32 {
    fn level(self) -> f32 {
        self
    }

    fn of(level: f32) -> Self {
        within(level)
    }
}

impl Level for f64 {
    fn level(self) -> f32 {
        self as f32
    }

    fn of(level: f32) -> Self {
        Self::from(within(level))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(sample: impl Level, expected: f32) {
        let level = sample.level();
        assert!((level - expected).abs() < 1e-6, "{level} for {expected}");
    }

    #[test]
    fn half_scale_is_one_half_in_every_format() {
        check(64_i8, 0.5);
        check(0x4000_i16, 0.5);
        check(I24::new_unchecked(0x40_0000), 0.5);
        check(0x4000_0000_i32, 0.5);
        check(0x4000_0000_0000_0000_i64, 0.5);
        check(192_u8, 0.5);
        check(0xC000_u16, 0.5);
        check(U24::new_unchecked(0xC0_0000), 0.5);
        check(0xC000_0000_u32, 0.5);
        check(0xC000_0000_0000_0000_u64, 0.5);
        check(0.5_f32, 0.5);
        check(0.5_f64, 0.5);
    }

    #[test]
    fn the_bottom_is_minus_one_and_rest_is_zero() {
        check(i8::MIN, -1.0);
        check(i16::MIN, -1.0);
        check(i32::MIN, -1.0);
        check(i64::MIN, -1.0);
        check(0_u8, -1.0);
        check(0_u16, -1.0);
        check(U24::new_unchecked(0), -1.0);
        check(0_u32, -1.0);
        check(0_u64, -1.0);
        check(0x80_u8, 0.0);
        check(0x8000_u16, 0.0);
        check(U24::new_unchecked(0x80_0000), 0.0);
        check(0x8000_0000_u32, 0.0);
        check(0x8000_0000_0000_0000_u64, 0.0);
    }

    #[test]
    fn packed_24_bit_samples_need_no_sign_in_the_top_byte() {
        // -1/2 with the top byte clear, as ALSA's S24_LE may deliver it, and with it set.
        check(I24::new_unchecked(0x00C0_0000), -0.5);
        check(I24::new_unchecked(0xFFC0_0000_u32 as i32), -0.5);
        check(U24::new_unchecked(0x7F40_0000), -0.5);
    }

    /// There and back, to within a step of the format.
    #[track_caller]
    fn check_back<T: Level>(step: f32) {
        for level in [0.0, 0.5, -0.25, -1.0, 0.123_456, -0.987_654] {
            let back = T::of(level).level();
            assert!((back - level).abs() <= 0.51 * step, "{back} for {level}");
        }
        for (beyond, end) in [(1.0, 1.0), (3.0, 1.0), (f32::INFINITY, 1.0), (-3.0, -1.0)] {
            let back = T::of(beyond).level();
            assert!((back - end).abs() <= step, "{back} for {beyond}");
        }
        assert!(T::of(f32::NAN).level().abs() <= 0.0, "no number is rest");
        assert!(T::of(0.0).level().abs() <= 0.0, "rest is rest");
    }

    #[test]
    fn every_format_takes_a_level_and_gives_it_back() {
        check_back::<i8>(1.0 / 128.0);
        check_back::<u8>(1.0 / 128.0);
        check_back::<i16>(1.0 / 32_768.0);
        check_back::<u16>(1.0 / 32_768.0);
        // From here on a float's own step is the coarser one.
        check_back::<I24>(2.4e-7);
        check_back::<U24>(2.4e-7);
        check_back::<i32>(1.2e-7);
        check_back::<u32>(1.2e-7);
        check_back::<i64>(1.2e-7);
        check_back::<u64>(1.2e-7);
        check_back::<f32>(1.2e-7);
        check_back::<f64>(1.2e-7);
    }

    #[test]
    fn samples_of_24_bits_stay_within_them() {
        assert_eq!(I24::of(1.0).inner(), 0x7F_FFFF);
        assert_eq!(I24::of(-1.0).inner(), -0x80_0000);
        assert_eq!(U24::of(1.0).inner(), 0xFF_FFFF);
        assert_eq!(U24::of(-1.0).inner(), 0);
    }

    #[test]
    fn floats_beyond_full_scale_and_not_numbers_pass() {
        check(1.5_f32, 1.5);
        assert!(f32::NAN.level().is_nan());
        assert!(f64::INFINITY.level().is_infinite());
    }
}
