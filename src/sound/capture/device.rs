//! Opening an input.

use std::any::Any;
use std::sync::Arc;

use cpal::traits::{DeviceTrait, StreamTrait};
use cpal::{Data, ErrorKind, InputCallbackInfo, SizedSample};

use super::Started;
use super::choice::{InputChoice, shape};
use super::ring::{Intake, MOST_CHANNELS, Outlet, Tally, ring};
use crate::sound::device::{
    Builder, Counts, Direction, Level, Opened, Report, Shape, Stopwatch, build, description_of,
    fault_of, find, is_known, refusal, report_of, with_any_buffer,
};
use crate::sound::{Fault, StreamFormat};
use crate::units::SampleRate;

const INPUT: Direction = Direction::Input;

/// Opens and starts the chosen input. Can block for as long as the sound server is frozen.
pub(super) fn open(
    choice: &InputChoice,
    stopwatch: &Arc<Stopwatch>,
) -> Result<Opened<Started>, Fault> {
    // A new host each time: on some systems one that has lost its server never finds it again.
    let host = cpal::default_host();
    let wanted = choice.name.as_deref();
    let device = find(&host, INPUT, wanted)?;
    let name = description_of(&device, INPUT);
    let fault = |error: cpal::Error| fault_of(&error, INPUT, wanted, &name);

    let default = INPUT.default_config(&device).map_err(fault)?;
    let offers = match choice.channels {
        Some(_) => INPUT.offers(&device).map_err(fault)?,
        None => Vec::new(),
    };
    let shape = shape(&default, &offers, choice.channels);
    if !is_known(shape.format) {
        let reason = format!("its sample format {} cannot be read", shape.format);
        return Err(refusal(&name, reason));
    }
    let rate = SampleRate::new(shape.rate).map_err(|_| {
        refusal(
            &name,
            format!("its rate of {} Hz is out of reach", shape.rate),
        )
    })?;
    let channels = usize::from(shape.channels);

    let (stream, outlet) = with_any_buffer(shape, |shape| {
        let (intake, outlet) = ring(rate, channels);
        let stream = build(
            shape.format,
            Input {
                device: &device,
                shape,
                intake,
                stopwatch: Arc::clone(stopwatch),
            },
        )?;
        Ok((stream, outlet))
    })
    .map_err(fault)?;
    stream.play().map_err(fault)?;
    Ok(started(Box::new(stream), name, rate, outlet, channels))
}

/// A stream that runs, whatever feeds it.
pub(super) fn started(
    stream: Box<dyn Any>,
    name: String,
    rate: SampleRate,
    outlet: Outlet,
    channels: usize,
) -> Opened<Started> {
    let tally = Arc::clone(outlet.tally());
    let format = StreamFormat {
        name: name.clone(),
        rate,
        channels: channels.min(MOST_CHANNELS),
    };
    Opened {
        stream,
        name,
        counts: Box::new(move || Counts {
            callbacks: tally.callbacks(),
            errors: tally.errors(),
        }),
        end: Started { format, outlet },
    }
}

/// What an input's stream is built from.
struct Input<'a> {
    device: &'a cpal::Device,
    shape: Shape,
    intake: Intake,
    stopwatch: Arc<Stopwatch>,
}

impl Builder for Input<'_> {
    fn build<T: SizedSample + Level>(self) -> Result<cpal::Stream, cpal::Error> {
        let (mut intake, stopwatch) = (self.intake, self.stopwatch);
        let tally = intake.tally();
        self.device.build_input_stream_raw(
            self.shape.config(),
            T::FORMAT,
            move |data: &Data, _: &InputCallbackInfo| {
                // The typed variant would panic here on a host's mistake, and a panic on the
                // driver's thread ends the stream in silence.
                if let Some(samples) = data.as_slice::<T>() {
                    stopwatch.time(|| intake.take(samples));
                }
            },
            move |error| count(&tally, error.kind()),
            None,
        )
    }
}

fn count(tally: &Tally, kind: ErrorKind) {
    match report_of(kind) {
        Report::Overrun => tally.count_overrun(),
        Report::News => {}
        Report::Error => tally.count_error(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn errors_are_counted_by_kind_and_news_is_not() {
        let tally = Tally::default();
        count(&tally, ErrorKind::DeviceChanged);
        count(&tally, ErrorKind::RealtimeDenied);
        assert_eq!(tally.errors(), 0);
        count(&tally, ErrorKind::Xrun);
        count(&tally, ErrorKind::BackendError);
        count(&tally, ErrorKind::DeviceNotAvailable);
        assert_eq!(tally.errors(), 3);
    }
}
