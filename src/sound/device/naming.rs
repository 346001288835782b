//! Choosing a device by name. [`pick`] is pure: it decides over a list that the sound system
//! has given.

use cpal::Device;
use cpal::traits::{DeviceTrait, HostTrait};

use super::Direction;
use crate::sound::Fault;

/// A device as the sound system names it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Names {
    /// With the host in front: `alsa:hw:CARD=2,DEV=0`.
    pub(super) id: String,
    /// Without: `hw:CARD=2,DEV=0`.
    pub(super) short: String,
    /// For people.
    pub(super) description: String,
}

/// Why a name leads to no single device.
#[derive(Debug, Clone, PartialEq, Eq)]
enum NoMatch {
    /// None is called so.
    Unknown,
    /// Several contain it; their ids.
    Ambiguous(Vec<String>),
}

/// The device called `wanted`, the default one if none is. Can block for as long as the sound
/// server is frozen.
pub(in crate::sound) fn find(
    host: &cpal::Host,
    direction: Direction,
    wanted: Option<&str>,
) -> Result<Device, Fault> {
    let Some(wanted) = wanted else {
        return direction
            .default_device(host)
            .ok_or_else(|| direction.nothing());
    };
    let devices = candidates(host, direction);
    let names: Vec<Names> = devices.iter().map(|d| names_of(d, direction)).collect();
    let place = pick(&names, wanted).map_err(|problem| match problem {
        NoMatch::Unknown => direction.no_such(wanted),
        NoMatch::Ambiguous(ids) => Fault::Refused {
            device: wanted.to_owned(),
            reason: format!("several {}s match: {}", direction.noun(), ids.join(", ")),
        },
    })?;
    devices
        .into_iter()
        .nth(place)
        .ok_or_else(|| direction.no_such(wanted))
}

/// Everything that may be of this direction, the default first.
pub(super) fn candidates(host: &cpal::Host, direction: Direction) -> Vec<Device> {
    let default = direction.default_device(host);
    let others = host.devices().into_iter().flatten().filter(|device| {
        Some(device) != default.as_ref()
            && direction.is_supported_by(device)
            // ALSA's waste bin can be opened; it swallows all and delivers silence without end.
            && names_of(device, direction).short != "null"
    });
    default.iter().cloned().chain(others).collect()
}

pub(super) fn names_of(device: &Device, direction: Direction) -> Names {
    let (id, short) = match device.id() {
        Ok(id) => (id.to_string(), id.id().to_owned()),
        Err(_) => (device.to_string(), device.to_string()),
    };
    Names {
        id,
        short,
        description: description_of(device, direction),
    }
}

/// What the device is called for people.
pub(in crate::sound) fn description_of(device: &Device, direction: Direction) -> String {
    match device.description() {
        Ok(description) => description.name().trim().to_owned(),
        Err(_) => direction.noun().to_owned(),
    }
}

/// The place in `devices` of the one called `wanted`: the whole id, then the whole description,
/// then a part of either if only one device has it. Upper and lower case count as equal.
fn pick(devices: &[Names], wanted: &str) -> Result<usize, NoMatch> {
    let wanted = wanted.trim().to_lowercase();
    if wanted.is_empty() {
        return Err(NoMatch::Unknown);
    }
    let same = |name: &str| name.to_lowercase() == wanted;
    let part = |name: &str| name.to_lowercase().contains(&wanted);
    if let Some(place) = devices.iter().position(|d| same(&d.id) || same(&d.short)) {
        return Ok(place);
    }
    if let Some(place) = devices.iter().position(|d| same(&d.description)) {
        return Ok(place);
    }
    let places: Vec<usize> = (0..devices.len())
        .filter(|&n| part(&devices[n].id) || part(&devices[n].description))
        .collect();
    match places.as_slice() {
        [] => Err(NoMatch::Unknown),
        [place] => Ok(*place),
        several => Err(NoMatch::Ambiguous(
            several.iter().map(|&n| devices[n].id.clone()).collect(),
        )),
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
}
