//! Rehearsal dashboard for mixed ensembles of historical instruments.
//!
//! Every note a natural trumpet shares with a keyboard has two true places: the harmonic
//! partial of the tube and the note of the keyboard's temperament. This crate listens to
//! each player, estimates the pitch, and says how far it lies from both.
//!
//! The crate is a pure core (`units`, `tuning`, `analysis`, `drone`, `rehearsal`, `plan`,
//! `scene`, `score`, `doctor`, `report`)
//! in a thin shell (`sound`, `session`, `settings`, `tui`, `cli`). DEVELOPERS.md has the map and the
//! rules between the modules.

pub mod analysis;
pub mod bearings;
pub mod cli;
pub mod doctor;
pub mod drone;
pub mod listening;
pub mod midi_tuning;
mod plain;
pub mod plan;
pub mod private;
pub mod rehearsal;
pub mod report;
pub mod scene;
pub mod score;
pub mod session;
pub mod settings;
pub mod sound;
pub mod stand;
pub mod tui;
pub mod tuning;
pub mod units;
