//! What is played and by whom: the ensemble, and what each channel is doing. Knows no
//! terminal, device or file, and no clock: time is passed in.

mod clock;
mod dashboard;
mod doing;
mod ensemble;
mod meter;
mod needle;
mod sounding;
mod state;
mod trace;
mod update;

#[cfg(test)]
pub(crate) mod tests;

pub use dashboard::{Part, Rehearsal};
pub use doing::Doing;
pub use ensemble::{Channel, Ensemble, Family, Instrument};
pub use meter::Meter;
pub use needle::Needle;
pub use sounding::Sounding;
pub use state::ChannelState;
pub use trace::{Trace, TracePoint};
pub use update::Update;
