//! Counting sound: sample rates, positions in a stream and lengths of time.

use std::ops::{Add, Sub};

use serde::{Deserialize, Serialize};

use super::UnitError;

/// Frames a second, 8000 to 192000.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(try_from = "u32", into = "u32")]
pub struct SampleRate(u32);

impl SampleRate {
    /// Checks that `rate` lies within 8000 to 192000.
    pub fn new(rate: u32) -> Result<Self, UnitError> {
        if (8_000..=192_000).contains(&rate) {
            Ok(Self(rate))
        } else {
            Err(UnitError::SampleRate(rate))
        }
    }

    /// Frames a second.
    pub fn get(self) -> u32 {
        self.0
    }

    /// Frames a second as a float, for arithmetic.
    pub fn hz(self) -> f64 {
        f64::from(self.0)
    }

    /// The nearest whole number of frames in `time`.
    pub fn frames_in(self, time: Seconds) -> Frames {
        Frames((time.0 * self.hz()).round().max(0.0) as u64)
    }
}

impl TryFrom<u32> for SampleRate {
    type Error = UnitError;
    fn try_from(rate: u32) -> Result<Self, UnitError> {
        Self::new(rate)
    }
}

impl From<SampleRate> for u32 {
    fn from(rate: SampleRate) -> u32 {
        rate.0
    }
}

/// A length of time, or a moment counted from the start of a stream, in seconds.
#[derive(Debug, Clone, Copy, Default, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Seconds(f64);

impl Seconds {
    /// `seconds` of time.
    pub const fn new(seconds: f64) -> Self {
        Self(seconds)
    }

    /// The number of seconds.
    pub const fn get(self) -> f64 {
        self.0
    }
}

impl Add for Seconds {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0 + other.0)
    }
}

impl Sub for Seconds {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(self.0 - other.0)
    }
}

/// A number of frames (one sample of every channel each).
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Frames(u64);

impl Frames {
    /// `count` frames.
    pub const fn new(count: u64) -> Self {
        Self(count)
    }

    /// The count.
    pub const fn get(self) -> u64 {
        self.0
    }

    /// How long these frames last at `rate`.
    pub fn at(self, rate: SampleRate) -> Seconds {
        Seconds(self.0 as f64 / rate.hz())
    }
}

/// A place in a stream: frames since its start.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct FramePosition(u64);

impl FramePosition {
    /// The very first frame.
    pub const START: Self = Self(0);

    /// The frame after `count` others.
    pub const fn new(count: u64) -> Self {
        Self(count)
    }

    /// Frames since the start.
    pub const fn get(self) -> u64 {
        self.0
    }

    /// The moment of this frame at `rate`.
    pub fn at(self, rate: SampleRate) -> Seconds {
        Frames(self.0).at(rate)
    }
}

impl Add<Frames> for FramePosition {
    type Output = Self;
    fn add(self, frames: Frames) -> Self {
        Self(self.0.saturating_add(frames.0))
    }
}

impl Sub for FramePosition {
    type Output = Frames;
    /// The distance from an earlier position; zero when `earlier` is in fact later.
    fn sub(self, earlier: Self) -> Frames {
        Frames(self.0.saturating_sub(earlier.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rates_have_bounds() {
        assert!(SampleRate::new(7_999).is_err());
        assert!(SampleRate::new(192_001).is_err());
        assert_eq!(SampleRate::new(48_000).map(SampleRate::get), Ok(48_000));
    }

    #[test]
    fn frames_and_seconds_convert() {
        let rate = SampleRate::new(44_100).unwrap();
        assert_eq!(rate.frames_in(Seconds::new(0.5)), Frames::new(22_050));
        let later = FramePosition::new(10) + Frames::new(5);
        assert_eq!(later - FramePosition::new(10), Frames::new(5));
        assert_eq!(FramePosition::new(10) - later, Frames::new(0));
    }
}
