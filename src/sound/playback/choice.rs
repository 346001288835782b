//! Choosing an output's rate and format. Pure: decides over lists that the sound system has
//! given.

use std::ops::RangeInclusive;

use cpal::{SupportedStreamConfig, SupportedStreamConfigRange};

use crate::sound::device::{Shape, is_known};

/// The device's blocks, in milliseconds. Nobody waits for a drone, and with little in hand a device
/// runs dry when the machine is busy.
pub(super) const BLOCK_MS: u32 = 100;

/// Which output is wanted.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct OutputChoice {
    /// A name as `concento devices` lists it, or a part of one; the default output if none.
    pub name: Option<String>,
}

/// Frames a second that sound is made for.
const RATES: RangeInclusive<u32> = 44_100..=192_000;
/// The rate taken where there is a choice.
const USUAL_RATE: u32 = 48_000;

/// Whether the sound system's own proposal will do.
pub(super) fn will_do(default: &SupportedStreamConfig) -> bool {
    is_known(default.sample_format()) && RATES.contains(&default.sample_rate())
}

/// The best offer where the sound system's own proposal will not do: with its channel count if
/// possible, in the finest format. None if no offer will do either.
pub(super) fn instead(
    default: &SupportedStreamConfig,
    offers: &[SupportedStreamConfigRange],
) -> Option<Shape> {
    let best = offers
        .iter()
        .filter(|offer| is_known(offer.sample_format()) && offer.channels() > 0)
        .filter(|offer| {
            offer.min_sample_rate() <= *RATES.end() && offer.max_sample_rate() >= *RATES.start()
        })
        .max_by(|a, b| {
            let as_many = |o: &SupportedStreamConfigRange| o.channels() == default.channels();
            as_many(a)
                .cmp(&as_many(b))
                .then_with(|| a.cmp_default_heuristics(b))
        })?;
    let rate = USUAL_RATE
        .max(best.min_sample_rate())
        .min(best.max_sample_rate());
    Some(Shape::of(best, rate, BLOCK_MS))
}

#[cfg(test)]
mod tests {
    use cpal::{BufferSize, SampleFormat};

    use super::*;
    use crate::sound::device::range;

    #[test]
    fn what_the_sound_system_proposes_will_do_within_the_rates() {
        let offer = range(2, (8_000, 384_000), SampleFormat::F32);
        for (rate, expected) in [
            (8_000, false),
            (44_099, false),
            (44_100, true),
            (192_000, true),
            (384_000, false),
        ] {
            assert_eq!(will_do(&offer.with_sample_rate(rate)), expected, "{rate}");
        }
        let one_bit = range(2, (48_000, 48_000), SampleFormat::DsdU8);
        assert!(!will_do(&one_bit.with_max_sample_rate()));
    }

    #[track_caller]
    fn check(offers: &[(u16, (u32, u32), SampleFormat)], expected: Option<(u16, u32)>) {
        let default = range(2, (384_000, 384_000), SampleFormat::F32).with_max_sample_rate();
        let offers: Vec<_> = offers.iter().map(|&(c, r, f)| range(c, r, f)).collect();
        let shape = instead(&default, &offers);
        assert_eq!(shape.map(|s| (s.channels, s.rate)), expected);
    }

    #[test]
    fn another_offer_within_the_rates_is_taken() {
        use SampleFormat::{DsdU8, F32, I16};
        check(&[(2, (44_100, 384_000), F32)], Some((2, 48_000)));
        check(&[(2, (96_000, 384_000), F32)], Some((2, 96_000)));
        check(&[(2, (8_000, 44_100), F32)], Some((2, 44_100)));
        check(
            &[(8, (48_000, 48_000), F32), (2, (44_100, 44_100), I16)],
            Some((2, 44_100)),
        );
        check(&[(1, (48_000, 48_000), I16)], Some((1, 48_000)));
        check(
            &[
                (2, (8_000, 22_050), F32),
                (2, (352_800, 384_000), F32),
                (2, (48_000, 48_000), DsdU8),
            ],
            None,
        );
    }

    #[test]
    fn blocks_are_as_long_as_may_be() {
        let offer = range(2, (44_100, 384_000), SampleFormat::F32);
        let shape = instead(&offer.with_max_sample_rate(), &[offer]).unwrap();
        assert_eq!(shape.buffer, BufferSize::Fixed(3_840));
    }
}
