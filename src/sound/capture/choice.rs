//! Choosing an input's channel count and format. Pure: decides over lists that the sound system
//! has given.

use cpal::SupportedStreamConfigRange;

use super::ring::MOST_CHANNELS;
use crate::sound::device::{Shape, is_known};

/// The device's blocks, in milliseconds.
const BLOCK_MS: u32 = 10;

/// Which input is wanted.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct InputChoice {
    /// A name as `concento devices` lists it, or a part of one; the default input if none.
    pub name: Option<String>,
    /// The channels needed, such as the highest input number of an ensemble; the device's own
    /// default count if none.
    ///
    /// A sound server cannot be asked how many channels a device really has: it claims all
    /// counts up to 32 and mixes to fit, so that each player's sound would land in several
    /// channels. Give the device's true count here where it has more than two.
    pub channels: Option<usize>,
}

/// The shape to open an input in, given its default and everything it offers.
///
/// Without a wanted count, or where the default has it exactly, that is the default. Otherwise
/// the smallest count that has all the wanted channels, or failing that the largest there is,
/// in the finest format and at the default rate where that is possible.
pub(super) fn shape(
    default: &cpal::SupportedStreamConfig,
    offers: &[SupportedStreamConfigRange],
    wanted: Option<usize>,
) -> Shape {
    let plain = Shape::plain(default, BLOCK_MS);
    let wanted = match wanted {
        Some(wanted) if wanted != usize::from(plain.channels) => wanted.clamp(1, MOST_CHANNELS),
        _ => return plain,
    };
    let usable: Vec<_> = offers
        .iter()
        .filter(|offer| is_known(offer.sample_format()) && offer.channels() > 0)
        .collect();
    let counts = || usable.iter().map(|offer| offer.channels());
    let enough = counts().filter(|&c| usize::from(c) >= wanted).min();
    let Some(channels) = enough.or_else(|| counts().max()) else {
        return plain;
    };
    let best = usable
        .iter()
        .filter(|offer| offer.channels() == channels)
        .max_by(|a, b| {
            let at_rate = |o: &SupportedStreamConfigRange| o.contains_rate(plain.rate);
            at_rate(a)
                .cmp(&at_rate(b))
                .then_with(|| a.cmp_default_heuristics(b))
        });
    let Some(best) = best else { return plain };
    let rate = if best.contains_rate(plain.rate) {
        plain.rate
    } else {
        best.with_max_sample_rate().sample_rate()
    };
    Shape::of(best, rate, BLOCK_MS)
}

#[cfg(test)]
mod tests {
    use cpal::{BufferSize, SampleFormat};

    use super::*;
    use crate::sound::device::range;

    #[test]
    fn the_default_stands_unless_a_count_is_wanted() {
        let offers = [
            range(2, (44_100, 96_000), SampleFormat::F32),
            range(8, (44_100, 96_000), SampleFormat::I16),
            range(8, (44_100, 96_000), SampleFormat::I32),
            range(8, (8_000, 22_050), SampleFormat::F32),
            range(18, (96_000, 96_000), SampleFormat::I32),
        ];
        let default = offers[0].with_sample_rate(48_000);
        let plain = shape(&default, &offers, None);
        assert_eq!(
            plain,
            Shape {
                channels: 2,
                rate: 48_000,
                format: SampleFormat::F32,
                buffer: BufferSize::Fixed(480),
            }
        );
        assert_eq!(shape(&default, &offers, Some(2)), plain);
        let eight = shape(&default, &offers, Some(5));
        assert_eq!((eight.channels, eight.rate), (8, 48_000));
        assert_eq!(eight.format, SampleFormat::I32, "finest at the same rate");
        let all = shape(&default, &offers, Some(9));
        assert_eq!((all.channels, all.rate), (18, 96_000));
        assert_eq!(all.buffer, BufferSize::Fixed(960));
        assert_eq!(shape(&default, &offers, Some(30)).channels, 18);
        assert_eq!(shape(&default, &[], Some(4)), plain);
    }

    #[test]
    fn one_bit_formats_are_passed_over() {
        let offers = [
            range(2, (44_100, 48_000), SampleFormat::F32),
            range(4, (44_100, 48_000), SampleFormat::DsdU8),
            range(6, (44_100, 48_000), SampleFormat::U16),
        ];
        let default = offers[0].with_sample_rate(48_000);
        assert_eq!(shape(&default, &offers, Some(3)).channels, 6);
    }
}
