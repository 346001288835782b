//! Everything the sound system tells of its devices, for `concento doctor`.

use std::sync::mpsc;
use std::thread;
use std::time::Duration;

use cpal::{Device, SupportedStreamConfigRange as Range};

use super::naming::{candidates, names_of};
use super::{Direction, Frozen};
use crate::sound::quiet::StderrGuard;

/// What one device offers in one direction.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Offer {
    /// Whether sound comes in or goes out through it.
    pub direction: Direction,
    /// The name that always finds it.
    pub id: String,
    /// The name for people.
    pub description: String,
    /// Whether it is used when none is named.
    pub is_default: bool,
    /// The fewest and the most channels it claims.
    pub channels: (usize, usize),
    /// The lowest and the highest rate, in frames a second.
    pub rates_hz: (u32, u32),
    /// How samples can be stored, each once: `f32`, `i16`.
    pub formats: Vec<String>,
}

/// The sound systems and their devices.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Survey {
    /// The sound systems this program was built for and that are there.
    pub hosts: Vec<String>,
    /// The devices that can be opened: the inputs, then the outputs, the default of each first.
    pub offers: Vec<Offer>,
    /// How many other entries cannot be opened now.
    pub closed: usize,
}

/// Asks the sound system for all it has, and waits no longer than `patience`. Standard error is
/// quiet meanwhile.
///
/// # Errors
///
/// [`Frozen`] if there is no answer in time.
pub fn survey(patience: Duration) -> Result<Survey, Frozen> {
    let _quiet = StderrGuard::to_null();
    let (to_us, answer) = mpsc::channel();
    // A frozen server would hold this thread for ever, so it is left behind then.
    let spawned = thread::Builder::new()
        .name("survey devices".to_owned())
        .spawn(move || {
            let _ = to_us.send(look());
        });
    if spawned.is_err() {
        return Err(Frozen);
    }
    answer.recv_timeout(patience).map_err(|_| Frozen)
}

fn look() -> Survey {
    let host = cpal::default_host();
    let hosts = cpal::available_hosts();
    let mut survey = Survey {
        hosts: hosts.iter().map(ToString::to_string).collect(),
        ..Survey::default()
    };
    for direction in [Direction::Input, Direction::Output] {
        let default = direction.default_device(&host);
        for device in candidates(&host, direction) {
            let is_default = default.as_ref() == Some(&device);
            match describe(&device, direction, is_default) {
                Some(offer) => survey.offers.push(offer),
                None => survey.closed += 1,
            }
        }
    }
    survey
}

fn describe(device: &Device, direction: Direction, is_default: bool) -> Option<Offer> {
    let _ = direction.default_config(device).ok()?;
    let offers = direction.offers(device).ok()?;
    let counts = || offers.iter().map(|offer| usize::from(offer.channels()));
    let mut formats: Vec<String> = Vec::new();
    for offer in &offers {
        let format = offer.sample_format().to_string();
        if !formats.contains(&format) {
            formats.push(format);
        }
    }
    let names = names_of(device, direction);
    Some(Offer {
        direction,
        id: names.id,
        description: names.description,
        is_default,
        channels: (counts().min()?, counts().max()?),
        rates_hz: (
            offers.iter().map(Range::min_sample_rate).min()?,
            offers.iter().map(Range::max_sample_rate).max()?,
        ),
        formats,
    })
}
