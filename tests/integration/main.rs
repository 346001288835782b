//! The program from outside: its figures against published ones, and its commands.
#![allow(
    clippy::panic,
    clippy::unwrap_used,
    reason = "a test fails by panicking, helpers included"
)]

mod analysing;
mod bearings;
mod beats;
mod chord_beats;
mod chords_by_scipy;
mod drone_by_scipy;
mod figures;
mod hearing_chords;
mod killed;
mod listing;
mod new_ensemble;
mod odd_samples;
mod partials;
mod plan;
mod practice_reports;
mod preferences;
#[cfg(unix)]
mod privacy;
mod program;
#[allow(
    unreachable_pub,
    reason = "the fuzz targets are crates of their own, which call it from outside"
)]
#[path = "../fuzz/src/lib.rs"]
mod read_all;
mod reports;
mod retune;
mod scores;
mod sessions;
mod setting_up;
#[path = "../report/specimen.rs"]
mod specimen;
#[cfg(unix)]
mod stand;
mod strangers;
mod temperaments;
#[allow(dead_code, reason = "the hearing bench uses the rest")]
#[path = "../signals/tones.rs"]
mod tones;
