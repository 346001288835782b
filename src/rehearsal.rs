//! What is played and by whom: the ensemble, and what each channel is doing. Knows no
//! terminal, device or file.

mod ensemble;

pub use ensemble::{Channel, Ensemble, Family, Instrument};
