//! How a stream is opened: its sample format, rate and blocks.

use cpal::{
    BufferSize, ErrorKind, SampleFormat, SizedSample, StreamConfig, SupportedBufferSize,
    SupportedStreamConfig, SupportedStreamConfigRange,
};

use super::Level;

/// How a stream is to be opened.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::sound) struct Shape {
    /// Samples in each of the device's frames; more than are listened to are possible.
    pub(in crate::sound) channels: u16,
    /// Frames a second.
    pub(in crate::sound) rate: u32,
    /// How a sample is stored.
    pub(in crate::sound) format: SampleFormat,
    /// Frames in a callback.
    pub(in crate::sound) buffer: BufferSize,
}

impl Shape {
    /// As the sound system proposes.
    pub(in crate::sound) fn plain(default: &SupportedStreamConfig, block_ms: u32) -> Self {
        Self {
            channels: default.channels(),
            rate: default.sample_rate(),
            format: default.sample_format(),
            buffer: in_blocks(block_ms, default.sample_rate(), default.buffer_size()),
        }
    }

    /// One of the sound system's offers, at `rate`.
    pub(in crate::sound) fn of(
        offer: &SupportedStreamConfigRange,
        rate: u32,
        block_ms: u32,
    ) -> Self {
        Self {
            channels: offer.channels(),
            rate,
            format: offer.sample_format(),
            buffer: in_blocks(block_ms, rate, offer.buffer_size()),
        }
    }

    /// The same for cpal.
    pub(in crate::sound) fn config(self) -> StreamConfig {
        StreamConfig {
            channels: self.channels,
            sample_rate: self.rate,
            buffer_size: self.buffer,
        }
    }
}

/// Whether samples of this format can be read and written; one-bit streams cannot.
pub(in crate::sound) fn is_known(format: SampleFormat) -> bool {
    format.is_int() || format.is_uint() || format.is_float()
}

/// Blocks of so many milliseconds where the device can have them. Multiples of 10 are best: sound
/// servers work in such blocks, and sizes that do not fit theirs cost much more time in the
/// driver.
fn in_blocks(block_ms: u32, rate: u32, offered: &SupportedBufferSize) -> BufferSize {
    let frames = rate * block_ms / 1_000;
    let ten = (rate / 100).max(1);
    match *offered {
        SupportedBufferSize::Range { min, max } if min <= frames.min(max / ten * ten) => {
            BufferSize::Fixed(frames.min(max / ten * ten))
        }
        _ => BufferSize::Default,
    }
}

/// Builds a stream, in blocks of any size if need be: some drivers offer a range of sizes and
/// then refuse what lies within.
pub(in crate::sound) fn with_any_buffer<T>(
    shape: Shape,
    mut build: impl FnMut(Shape) -> Result<T, cpal::Error>,
) -> Result<T, cpal::Error> {
    match build(shape) {
        Err(error) if error.kind() == ErrorKind::UnsupportedConfig => build(Shape {
            buffer: BufferSize::Default,
            ..shape
        }),
        answer => answer,
    }
}

/// Builds a stream of any one sample format.
pub(in crate::sound) trait Builder {
    /// Builds it with samples of type `T`.
    fn build<T: SizedSample + Level>(self) -> Result<cpal::Stream, cpal::Error>;
}

/// One body for every sample format.
pub(in crate::sound) fn build(
    format: SampleFormat,
    builder: impl Builder,
) -> Result<cpal::Stream, cpal::Error> {
    match format {
        SampleFormat::I8 => builder.build::<i8>(),
        SampleFormat::I16 => builder.build::<i16>(),
        SampleFormat::I24 => builder.build::<cpal::I24>(),
        SampleFormat::I32 => builder.build::<i32>(),
        SampleFormat::I64 => builder.build::<i64>(),
        SampleFormat::U8 => builder.build::<u8>(),
        SampleFormat::U16 => builder.build::<u16>(),
        SampleFormat::U24 => builder.build::<cpal::U24>(),
        SampleFormat::U32 => builder.build::<u32>(),
        SampleFormat::U64 => builder.build::<u64>(),
        SampleFormat::F32 => builder.build::<f32>(),
        SampleFormat::F64 => builder.build::<f64>(),
        other => Err(cpal::Error::with_message(
            ErrorKind::UnsupportedConfig,
            format!("its sample format {other} is not known here"),
        )),
    }
}

/// An invented offer.
#[cfg(test)]
pub(in crate::sound) fn range(
    channels: u16,
    rates: (u32, u32),
    format: SampleFormat,
) -> SupportedStreamConfigRange {
    let buffer = SupportedBufferSize::Range { min: 64, max: 4096 };
    SupportedStreamConfigRange::new(channels, rates.0, rates.1, buffer, format)
}
