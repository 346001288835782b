//! Choosing an input by name, and its channel count and format. Pure: decides over lists that
//! the sound system has given.

use cpal::{BufferSize, SampleFormat, SupportedBufferSize, SupportedStreamConfigRange};

use super::ring::MOST_CHANNELS;

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

/// An input as the sound system names it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Names {
    /// With the host in front: `alsa:hw:CARD=2,DEV=0`.
    pub(super) id: String,
    /// Without: `hw:CARD=2,DEV=0`.
    pub(super) short: String,
    /// For people.
    pub(super) description: String,
}

/// Why a name leads to no single input.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum NoMatch {
    /// No input is called so.
    Unknown,
    /// Several contain it; their ids.
    Ambiguous(Vec<String>),
}

/// The place in `inputs` of the one called `wanted`: the whole id, then the whole description,
/// then a part of either if only one input has it. Upper and lower case count as equal.
pub(super) fn pick(inputs: &[Names], wanted: &str) -> Result<usize, NoMatch> {
    let wanted = wanted.trim().to_lowercase();
    if wanted.is_empty() {
        return Err(NoMatch::Unknown);
    }
    let same = |name: &str| name.to_lowercase() == wanted;
    let part = |name: &str| name.to_lowercase().contains(&wanted);
    if let Some(place) = inputs.iter().position(|i| same(&i.id) || same(&i.short)) {
        return Ok(place);
    }
    if let Some(place) = inputs.iter().position(|i| same(&i.description)) {
        return Ok(place);
    }
    let places: Vec<usize> = (0..inputs.len())
        .filter(|&n| part(&inputs[n].id) || part(&inputs[n].description))
        .collect();
    match places.as_slice() {
        [] => Err(NoMatch::Unknown),
        [place] => Ok(*place),
        several => Err(NoMatch::Ambiguous(
            several.iter().map(|&n| inputs[n].id.clone()).collect(),
        )),
    }
}

/// How a stream is to be opened.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Shape {
    /// Samples in each of the device's frames; more than [`MOST_CHANNELS`] are possible.
    pub(super) channels: u16,
    /// Frames a second.
    pub(super) rate: u32,
    /// How a sample is stored.
    pub(super) format: SampleFormat,
    /// Frames in a callback.
    pub(super) buffer: BufferSize,
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
    let plain = Shape {
        channels: default.channels(),
        rate: default.sample_rate(),
        format: default.sample_format(),
        buffer: ten_milliseconds(default.sample_rate(), default.buffer_size()),
    };
    let wanted = match wanted {
        Some(wanted) if wanted != usize::from(plain.channels) => wanted.clamp(1, MOST_CHANNELS),
        _ => return plain,
    };
    let usable: Vec<_> = offers
        .iter()
        .filter(|offer| is_readable(offer.sample_format()) && offer.channels() > 0)
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
    Shape {
        channels,
        rate,
        format: best.sample_format(),
        buffer: ten_milliseconds(rate, best.buffer_size()),
    }
}

/// Whether samples of this format can be read; one-bit streams cannot.
pub(super) fn is_readable(format: SampleFormat) -> bool {
    format.is_int() || format.is_uint() || format.is_float()
}

/// Blocks of 10 ms where the device can have them: sound servers work in such blocks, and
/// sizes that do not fit theirs cost much more time in the driver.
fn ten_milliseconds(rate: u32, offered: &SupportedBufferSize) -> BufferSize {
    let frames = rate / 100;
    match *offered {
        SupportedBufferSize::Range { min, max } if (min..=max).contains(&frames) => {
            BufferSize::Fixed(frames)
        }
        _ => BufferSize::Default,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn inputs() -> Vec<Names> {
        [
            ("hw:CARD=2,DEV=0", "Stage Box, Multichannel"),
            ("plughw:CARD=2,DEV=0", "Stage Box, Multichannel"),
            ("default", "Default Audio Device"),
            ("room", "Room Microphone"),
            ("roomy", "Hall Microphone"),
        ]
        .into_iter()
        .map(|(short, description)| Names {
            id: format!("alsa:{short}"),
            short: short.to_owned(),
            description: description.to_owned(),
        })
        .collect()
    }

    #[test]
    fn a_whole_name_wins_over_a_part() {
        assert_eq!(pick(&inputs(), "ALSA:hw:card=2,dev=0"), Ok(0));
        assert_eq!(pick(&inputs(), "plughw:CARD=2,DEV=0"), Ok(1));
        assert_eq!(pick(&inputs(), " room "), Ok(3));
        assert_eq!(pick(&inputs(), "hall microphone"), Ok(4));
        assert_eq!(pick(&inputs(), "stage box, multichannel"), Ok(0));
    }

    #[test]
    fn a_part_must_be_the_only_one() {
        assert_eq!(pick(&inputs(), "hall"), Ok(4));
        let both = vec!["alsa:room".to_owned(), "alsa:roomy".to_owned()];
        assert_eq!(pick(&inputs(), "microphone"), Err(NoMatch::Ambiguous(both)));
        assert_eq!(pick(&inputs(), "cellar"), Err(NoMatch::Unknown));
        assert_eq!(pick(&inputs(), "  "), Err(NoMatch::Unknown));
    }

    fn range(channels: u16, rates: (u32, u32), format: SampleFormat) -> SupportedStreamConfigRange {
        let buffer = SupportedBufferSize::Range { min: 64, max: 4096 };
        SupportedStreamConfigRange::new(channels, rates.0, rates.1, buffer, format)
    }

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
