//! Finding, opening and listing inputs. Every call into the sound system that can hang is
//! here, and none of it is called from the screen's thread.

use std::sync::Arc;

use cpal::traits::{DeviceTrait, HostTrait, StreamTrait};
use cpal::{Data, Device, ErrorKind, InputCallbackInfo, SampleFormat, SizedSample, StreamConfig};

use super::choice::{InputChoice, Names, NoMatch, Shape, is_readable, pick, shape};
use super::ring::{Intake, MOST_CHANNELS, Outlet, Tally, ring};
use super::sample::Level;
use crate::sound::{Fault, StreamFormat};
use crate::units::SampleRate;

/// An open stream. Dropping it can block for as long as the sound server is frozen.
pub(super) struct Opened {
    pub(super) stream: cpal::Stream,
    pub(super) format: StreamFormat,
    pub(super) outlet: Outlet,
}

/// Opens and starts the chosen input. Can block for as long as the sound server is frozen.
pub(super) fn open(choice: &InputChoice) -> Result<Opened, Fault> {
    // A new host each time: on some systems one that has lost its server never finds it again.
    let host = cpal::default_host();
    let device = find(&host, choice)?;
    let name = description_of(&device);
    let fault = |error: cpal::Error| fault_of(&error, choice, &name);

    let default = device.default_input_config().map_err(fault)?;
    let offers: Vec<_> = match choice.channels {
        Some(_) => device.supported_input_configs().map_err(fault)?.collect(),
        None => Vec::new(),
    };
    let mut shape = shape(&default, &offers, choice.channels);
    let refused = |reason: String| Fault::Refused {
        device: name.clone(),
        reason,
    };
    if !is_readable(shape.format) {
        return Err(refused(format!(
            "its sample format {} cannot be read",
            shape.format
        )));
    }
    let rate = SampleRate::new(shape.rate)
        .map_err(|_| refused(format!("its rate of {} Hz is out of reach", shape.rate)))?;
    let channels = usize::from(shape.channels);

    let (intake, outlet) = ring(rate, channels);
    let (stream, outlet) = match build(&device, shape, intake) {
        Ok(stream) => (stream, outlet),
        Err(error) if error.kind() == ErrorKind::UnsupportedConfig => {
            // Some drivers offer a range of block sizes and then refuse what lies within.
            shape.buffer = cpal::BufferSize::Default;
            let (intake, outlet) = ring(rate, channels);
            (build(&device, shape, intake).map_err(fault)?, outlet)
        }
        Err(error) => return Err(fault(error)),
    };
    stream.play().map_err(fault)?;
    let format = StreamFormat {
        name,
        rate,
        channels: channels.min(MOST_CHANNELS),
    };
    Ok(Opened {
        stream,
        format,
        outlet,
    })
}

fn find(host: &cpal::Host, choice: &InputChoice) -> Result<Device, Fault> {
    let Some(wanted) = &choice.name else {
        return host.default_input_device().ok_or(Fault::NoDevice);
    };
    let unknown = || Fault::NoSuchDevice(wanted.clone());
    let devices = inputs(host);
    let names: Vec<Names> = devices.iter().map(names_of).collect();
    let place = pick(&names, wanted).map_err(|problem| match problem {
        NoMatch::Unknown => unknown(),
        NoMatch::Ambiguous(ids) => Fault::Refused {
            device: wanted.clone(),
            reason: format!("several inputs match: {}", ids.join(", ")),
        },
    })?;
    devices.into_iter().nth(place).ok_or_else(unknown)
}

/// Everything that may be an input, the default first.
fn inputs(host: &cpal::Host) -> Vec<Device> {
    let default = host.default_input_device();
    let others = host.devices().into_iter().flatten().filter(|device| {
        Some(device) != default.as_ref()
            && device.supports_input()
            // ALSA's waste bin can be opened and delivers silence without end.
            && names_of(device).short != "null"
    });
    default.iter().cloned().chain(others).collect()
}

fn names_of(device: &Device) -> Names {
    let (id, short) = match device.id() {
        Ok(id) => (id.to_string(), id.id().to_owned()),
        Err(_) => (device.to_string(), device.to_string()),
    };
    Names {
        id,
        short,
        description: description_of(device),
    }
}

fn description_of(device: &Device) -> String {
    match device.description() {
        Ok(description) => description.name().trim().to_owned(),
        Err(_) => "input".to_owned(),
    }
}

/// One body for every sample format.
fn build(device: &Device, shape: Shape, intake: Intake) -> Result<cpal::Stream, cpal::Error> {
    match shape.format {
        SampleFormat::I8 => build_as::<i8>(device, shape, intake),
        SampleFormat::I16 => build_as::<i16>(device, shape, intake),
        SampleFormat::I24 => build_as::<cpal::I24>(device, shape, intake),
        SampleFormat::I32 => build_as::<i32>(device, shape, intake),
        SampleFormat::I64 => build_as::<i64>(device, shape, intake),
        SampleFormat::U8 => build_as::<u8>(device, shape, intake),
        SampleFormat::U16 => build_as::<u16>(device, shape, intake),
        SampleFormat::U24 => build_as::<cpal::U24>(device, shape, intake),
        SampleFormat::U32 => build_as::<u32>(device, shape, intake),
        SampleFormat::U64 => build_as::<u64>(device, shape, intake),
        SampleFormat::F32 => build_as::<f32>(device, shape, intake),
        SampleFormat::F64 => build_as::<f64>(device, shape, intake),
        other => Err(cpal::Error::with_message(
            ErrorKind::UnsupportedOperation,
            format!("its sample format {other} cannot be read"),
        )),
    }
}

fn build_as<T: SizedSample + Level>(
    device: &Device,
    shape: Shape,
    mut intake: Intake,
) -> Result<cpal::Stream, cpal::Error> {
    let config = StreamConfig {
        channels: shape.channels,
        sample_rate: shape.rate,
        buffer_size: shape.buffer,
    };
    let tally = intake.tally();
    device.build_input_stream_raw(
        config,
        T::FORMAT,
        move |data: &Data, _: &InputCallbackInfo| {
            // The typed variant would panic here on a host's mistake, and a panic on the
            // driver's thread ends the stream in silence.
            if let Some(samples) = data.as_slice::<T>() {
                intake.take(samples);
            }
        },
        move |error| count(&tally, error.kind()),
        None,
    )
}

fn count(tally: &Arc<Tally>, kind: ErrorKind) {
    match kind {
        ErrorKind::Xrun => tally.count_overrun(),
        // News, not errors: the stream goes on.
        ErrorKind::DeviceChanged | ErrorKind::RealtimeDenied => {}
        _ => tally.count_error(),
    }
}

/// The sound system's refusal in a musician's words.
fn fault_of(error: &cpal::Error, choice: &InputChoice, name: &str) -> Fault {
    let reason = match error.kind() {
        ErrorKind::DeviceNotAvailable | ErrorKind::HostUnavailable => {
            return match &choice.name {
                Some(wanted) => Fault::NoSuchDevice(wanted.clone()),
                None => Fault::NoDevice,
            };
        }
        ErrorKind::DeviceBusy => return Fault::Busy(name.to_owned()),
        ErrorKind::PermissionDenied => {
            "this user may not record; allow microphones in the system's settings, or join the \
             group 'audio'"
                .to_owned()
        }
        ErrorKind::UnsupportedOperation => "it is no input".to_owned(),
        _ => plainly(&error.to_string()),
    };
    Fault::Refused {
        device: name.to_owned(),
        reason,
    }
}

/// The sound system's own words on one line, without the names of its functions.
fn plainly(text: &str) -> String {
    let words: Vec<&str> = text.split_whitespace().collect();
    let line = words.join(" ");
    // "ALSA function 'snd_pcm_open' failed with error 'Connection refused (111)'"
    let core = line
        .split_once("failed with error '")
        .map_or(line.as_str(), |(_, error)| error)
        .trim_end_matches(['.', '\'']);
    if core.starts_with("Connection refused") || core.starts_with("Host is down") {
        "the sound server is not running".to_owned()
    } else {
        core.to_owned()
    }
}

/// An input that can be listened to.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct InputDevice {
    /// The sound system it is reached through.
    pub host: String,
    /// The name that always finds it.
    pub id: String,
    /// The name for people.
    pub description: String,
    /// Channels it is opened with when no count is asked for.
    pub channels: usize,
    /// The most channels it claims to have, up to 32. Sound servers claim more than there are.
    pub most_channels: usize,
    /// Frames a second.
    pub rate_hz: u32,
    /// How samples are stored: `f32`, `i16`.
    pub sample_format: String,
    /// Whether it is used when none is named.
    pub is_default: bool,
}

/// The inputs of this machine.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Inputs {
    /// Those that can be opened, the default first.
    pub usable: Vec<InputDevice>,
    /// How many others the sound system lists that cannot be opened now.
    pub closed: usize,
}

/// Lists the inputs. Opens each for a moment; can block for as long as the sound server is
/// frozen.
pub(super) fn list() -> Inputs {
    let host = cpal::default_host();
    let default = host.default_input_device();
    let mut list = Inputs::default();
    for device in inputs(&host) {
        match describe(&host, &device, default.as_ref() == Some(&device)) {
            Some(input) => list.usable.push(input),
            None => list.closed += 1,
        }
    }
    list
}

fn describe(host: &cpal::Host, device: &Device, is_default: bool) -> Option<InputDevice> {
    let config = device.default_input_config().ok()?;
    if !is_readable(config.sample_format()) {
        return None;
    }
    let most = device
        .supported_input_configs()
        .ok()?
        .map(|offer| usize::from(offer.channels()))
        .max()?;
    let names = names_of(device);
    Some(InputDevice {
        host: host.id().to_string(),
        id: names.id,
        description: names.description,
        channels: usize::from(config.channels()).min(MOST_CHANNELS),
        most_channels: most.min(MOST_CHANNELS),
        rate_hz: config.sample_rate(),
        sample_format: config.sample_format().to_string(),
        is_default,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(kind: ErrorKind, name: Option<&str>, expected: &str) {
        let choice = InputChoice {
            name: name.map(str::to_owned),
            channels: None,
        };
        let error = cpal::Error::with_message(kind, "The plug is\n  loose.");
        assert_eq!(fault_of(&error, &choice, "Desk").to_string(), expected);
    }

    #[test]
    fn refusals_are_put_in_words() {
        check(
            ErrorKind::DeviceNotAvailable,
            None,
            "no microphone found: connect one; it is taken up by itself",
        );
        check(
            ErrorKind::DeviceNotAvailable,
            Some("desk"),
            "no input called 'desk': connect it, or see 'concento devices'",
        );
        check(
            ErrorKind::DeviceBusy,
            None,
            "'Desk' is in use by another program: close that program",
        );
        check(
            ErrorKind::BackendError,
            None,
            "'Desk' cannot be opened (The plug is loose): trying again",
        );
    }

    #[test]
    fn the_names_of_functions_are_left_out() {
        let alsa = "ALSA function 'snd_pcm_open' failed with error";
        assert_eq!(
            plainly(&format!("{alsa} 'Connection refused (111)'")),
            "the sound server is not running"
        );
        assert_eq!(plainly(&format!("{alsa} 'I/O error (5)'")), "I/O error (5)");
    }

    #[test]
    fn errors_are_counted_by_kind_and_news_is_not() {
        let tally = Arc::new(Tally::default());
        count(&tally, ErrorKind::DeviceChanged);
        count(&tally, ErrorKind::RealtimeDenied);
        assert_eq!(tally.errors(), 0);
        count(&tally, ErrorKind::Xrun);
        count(&tally, ErrorKind::BackendError);
        count(&tally, ErrorKind::DeviceNotAvailable);
        assert_eq!(tally.errors(), 3);
    }
}
