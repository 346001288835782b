//! What devices there are, for `concento devices`.

use std::sync::mpsc;
use std::thread;
use std::time::Duration;

use cpal::Device;

use super::Direction;
use super::naming::{candidates, names_of};
use super::shape::is_known;
use crate::sound::capture::MOST_CHANNELS;
use crate::sound::quiet::StderrGuard;

/// A sound system that does not list its devices within this time is frozen.
const LISTING: Duration = Duration::from_secs(10);

/// A device that can be opened, in one direction.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct DeviceEntry {
    /// Whether sound comes in or goes out through it.
    pub direction: Direction,
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

/// The devices of this machine.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Devices {
    /// Those that can be opened: the inputs, then the outputs, the default of each first.
    pub usable: Vec<DeviceEntry>,
    /// How many other inputs the sound system lists that cannot be opened now.
    pub closed_inputs: usize,
    /// How many other outputs.
    pub closed_outputs: usize,
}

/// The sound system did not answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("the sound system does not answer: restart it, or unplug and connect the device again")]
pub struct Frozen;

/// Lists the devices that can be used. Opens each for a moment; standard error is quiet
/// meanwhile.
///
/// # Errors
///
/// [`Frozen`] after ten seconds without an answer.
pub fn devices() -> Result<Devices, Frozen> {
    let _quiet = StderrGuard::to_null();
    let (to_us, answer) = mpsc::channel();
    // A frozen server would hold this thread for ever, so it is left behind then.
    let spawned = thread::Builder::new()
        .name("list devices".to_owned())
        .spawn(move || {
            let _ = to_us.send(list());
        });
    if spawned.is_err() {
        return Err(Frozen);
    }
    answer.recv_timeout(LISTING).map_err(|_| Frozen)
}

fn list() -> Devices {
    let host = cpal::default_host();
    let mut list = Devices::default();
    list.closed_inputs = list_into(&mut list.usable, &host, Direction::Input);
    list.closed_outputs = list_into(&mut list.usable, &host, Direction::Output);
    list
}

/// Lists those of one direction; returns how many there are that cannot be opened.
fn list_into(usable: &mut Vec<DeviceEntry>, host: &cpal::Host, direction: Direction) -> usize {
    let default = direction.default_device(host);
    let mut closed = 0;
    for device in candidates(host, direction) {
        let is_default = default.as_ref() == Some(&device);
        match describe(host, &device, direction, is_default) {
            Some(entry) => usable.push(entry),
            None => closed += 1,
        }
    }
    closed
}

fn describe(
    host: &cpal::Host,
    device: &Device,
    direction: Direction,
    is_default: bool,
) -> Option<DeviceEntry> {
    let config = direction.default_config(device).ok()?;
    if !is_known(config.sample_format()) {
        return None;
    }
    let offers = direction.offers(device).ok()?;
    let most = offers.iter().map(|o| usize::from(o.channels())).max()?;
    let names = names_of(device, direction);
    Some(DeviceEntry {
        direction,
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
