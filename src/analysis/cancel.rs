//! Hearing a player through a drone: what the loudspeaker sends into the microphone is known
//! exactly but for its way there, so that way is found and the drone taken out.

mod arrival;
mod canceller;
mod clock;
mod group;
mod path;
mod reference;
mod swell;
#[cfg(test)]
mod tests;

pub use canceller::Canceller;

use crate::units::{Dbfs, Seconds};

/// How the drone arrives at the microphone.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub enum Leak {
    /// Nothing is played.
    #[default]
    Silent,
    /// It is being found out; nothing is read meanwhile.
    Finding,
    /// It is known, and taken out.
    Removed {
        /// From the moment a frame is given to the device to the moment it is heard; none where
        /// it was not heard to begin.
        latency: Option<Seconds>,
        /// How loud the drone is at the microphone.
        level: Dbfs,
        /// How far what is left of it lies below that, in decibels.
        depth_db: f64,
    },
    /// It is not heard in the microphone, so nothing is taken out: a soft drone, or headphones.
    NotHeard,
    /// The player wears headphones: nothing is taken out.
    Headphones,
}

/// What was found out about the drone besides the player.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct HeardThrough {
    /// How it arrives.
    pub leak: Leak,
    /// Beats a second, counted from the loudness of the partials that player and drone share;
    /// none where none can be heard.
    pub beats_hz: Option<f64>,
}
