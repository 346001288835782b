//! What the live input and the live output share: finding a device by its name, keeping it open
//! whatever happens to it, judging it, and putting its faults in words.
//!
//! Both ends are the same but for their direction; what goes through them is theirs.

mod faults;
mod keeper;
mod listing;
mod naming;
mod sample;
mod shape;
mod stopwatch;
mod survey;
mod watch;

use cpal::traits::{DeviceTrait, HostTrait};

pub use listing::{DeviceEntry, Devices, Frozen, devices};
pub use sample::Level;
pub use stopwatch::{Stopwatch, Times};
pub use survey::{Offer, Survey, survey};

pub(super) use faults::{Report, fault_of, refusal, report_of};
pub(super) use keeper::{Keeper, Message, Never, Opened, thread_failed};
pub(super) use naming::{description_of, find};
pub(super) use shape::{Builder, Shape, build, is_known, with_any_buffer};
pub(super) use watch::Counts;

#[cfg(test)]
pub(super) use shape::range;

use super::Fault;

/// Which way sound goes through a device.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Direction {
    /// Into the program.
    Input,
    /// Out of it.
    Output,
}

impl Direction {
    /// What a device of this direction is called where it has no name.
    pub(super) fn noun(self) -> &'static str {
        match self {
            Self::Input => "input",
            Self::Output => "output",
        }
    }

    /// There is no device of this direction.
    fn nothing(self) -> Fault {
        match self {
            Self::Input => Fault::NoDevice,
            Self::Output => Fault::NoLoudspeaker,
        }
    }

    /// There is none called so.
    fn no_such(self, wanted: &str) -> Fault {
        match self {
            Self::Input => Fault::NoSuchDevice(wanted.to_owned()),
            Self::Output => Fault::NoSuchOutput(wanted.to_owned()),
        }
    }

    fn default_device(self, host: &cpal::Host) -> Option<cpal::Device> {
        match self {
            Self::Input => host.default_input_device(),
            Self::Output => host.default_output_device(),
        }
    }

    fn is_supported_by(self, device: &cpal::Device) -> bool {
        match self {
            Self::Input => device.supports_input(),
            Self::Output => device.supports_output(),
        }
    }

    /// How a device is opened when nothing else is asked for.
    pub(super) fn default_config(
        self,
        device: &cpal::Device,
    ) -> Result<cpal::SupportedStreamConfig, cpal::Error> {
        match self {
            Self::Input => device.default_input_config(),
            Self::Output => device.default_output_config(),
        }
    }

    /// Everything a device offers.
    pub(super) fn offers(
        self,
        device: &cpal::Device,
    ) -> Result<Vec<cpal::SupportedStreamConfigRange>, cpal::Error> {
        match self {
            Self::Input => Ok(device.supported_input_configs()?.collect()),
            Self::Output => Ok(device.supported_output_configs()?.collect()),
        }
    }
}
