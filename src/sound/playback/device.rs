//! Opening an output.

use std::sync::Arc;

use cpal::traits::{DeviceTrait, StreamTrait};
use cpal::{Data, OutputCallbackInfo, SizedSample};

use super::Started;
use super::choice::{BLOCK_MS, OutputChoice, instead, will_do};
use super::ring::{Drain, ring};
use crate::sound::device::{
    Builder, Counts, Direction, Level, Opened, Report, Shape, Stopwatch, build, description_of,
    fault_of, find, is_known, refusal, report_of, with_any_buffer,
};
use crate::sound::{Fault, StreamFormat};
use crate::units::SampleRate;

const OUTPUT: Direction = Direction::Output;

/// Opens and starts the chosen output. Can block for as long as the sound server is frozen.
pub(super) fn open(
    choice: &OutputChoice,
    stopwatch: &Arc<Stopwatch>,
) -> Result<Opened<Started>, Fault> {
    // A new host each time: on some systems one that has lost its server never finds it again.
    let host = cpal::default_host();
    let wanted = choice.name.as_deref();
    let device = find(&host, OUTPUT, wanted)?;
    let name = description_of(&device, OUTPUT);
    let fault = |error: cpal::Error| fault_of(&error, OUTPUT, wanted, &name);

    let default = OUTPUT.default_config(&device).map_err(fault)?;
    let mut shape = Shape::plain(&default, BLOCK_MS);
    if !will_do(&default) {
        let offers = OUTPUT.offers(&device).map_err(fault)?;
        shape = instead(&default, &offers).unwrap_or(shape);
    }
    if !is_known(shape.format) {
        let reason = format!("its sample format {} cannot be written", shape.format);
        return Err(refusal(&name, reason));
    }
    let rate = SampleRate::new(shape.rate).map_err(|_| {
        refusal(
            &name,
            format!("its rate of {} Hz is out of reach", shape.rate),
        )
    })?;
    let channels = usize::from(shape.channels);

    let (stream, feed) = with_any_buffer(shape, |shape| {
        let (feed, drain) = ring(rate, channels);
        let stream = build(
            shape.format,
            Output {
                device: &device,
                shape,
                drain,
                stopwatch: Arc::clone(stopwatch),
            },
        )?;
        Ok((stream, feed))
    })
    .map_err(fault)?;
    stream.play().map_err(fault)?;
    let tally = Arc::clone(feed.tally());
    let format = StreamFormat {
        name: name.clone(),
        rate,
        channels,
    };
    Ok(Opened {
        stream: Box::new(stream),
        name,
        counts: Box::new(move || Counts {
            callbacks: tally.callbacks(),
            errors: tally.errors(),
        }),
        end: Started { format, feed },
    })
}

/// What an output's stream is built from.
struct Output<'a> {
    device: &'a cpal::Device,
    shape: Shape,
    drain: Drain,
    stopwatch: Arc<Stopwatch>,
}

impl Builder for Output<'_> {
    fn build<T: SizedSample + Level>(self) -> Result<cpal::Stream, cpal::Error> {
        let (mut drain, stopwatch) = (self.drain, self.stopwatch);
        let tally = drain.tally();
        self.device.build_output_stream_raw(
            self.shape.config(),
            T::FORMAT,
            move |data: &mut Data, _: &OutputCallbackInfo| {
                // The typed variant would panic here on a host's mistake, and a panic on the
                // driver's thread ends the stream.
                if let Some(samples) = data.as_slice_mut::<T>() {
                    stopwatch.time(|| drain.fill(samples));
                }
            },
            move |error| match report_of(error.kind()) {
                Report::News => {}
                Report::Overrun | Report::Error => tally.count_error(),
            },
            None,
        )
    }
}
