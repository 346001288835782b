//! A pack of recordings: each holds one note, and `manifest.json` says which.

use std::fs::File;
use std::io::BufReader;
use std::path::{Path, PathBuf};

use anyhow::Context;
use concento::units::SampleRate;
use serde::Deserialize;

use super::command::Usage;
use super::sound_file::first_channel;

/// What the manifest says of one recording. Fields that are not named here are left alone.
#[derive(Debug, Clone, Deserialize)]
pub(crate) struct Entry {
    /// The file, relative to the folder.
    pub(crate) file: String,
    /// Where the note comes from.
    pub(crate) kind: Kind,
    /// What plays.
    pub(crate) instrument: String,
    /// The note in hertz.
    pub(crate) truth_hz: f64,
    /// Start and end of the held part, in seconds.
    pub(crate) steady: [f64; 2],
    /// When the note begins, in seconds.
    pub(crate) onset_s: f64,
    /// The true pitch: (seconds, hertz), rising in time.
    pub(crate) track: Vec<[f64; 2]>,
    /// Signal over noise in decibels, of synthetic notes.
    #[serde(default)]
    pub(crate) snr_db: Option<f64>,
    /// How the pitch moves, of synthetic notes: `none`, `vib`, `drift`.
    #[serde(default, rename = "mod")]
    pub(crate) motion: Option<String>,
    /// Whether a synthetic note sounds in an echoing room.
    #[serde(default)]
    pub(crate) room: Option<bool>,
}

/// Where a note comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub(crate) enum Kind {
    /// A recorded player.
    Real,
    /// A sampled bank: recorded notes, played by a program.
    Gm,
    /// Made by a program, with exact truth.
    Synth,
}

impl Entry {
    /// Whether a player was recorded for it.
    pub(crate) fn is_real(&self) -> bool {
        self.kind != Kind::Synth
    }

    /// The true pitch at a moment in hertz, on straight lines between the points of the track
    /// and held before and after it.
    pub(crate) fn hz_at(&self, time_s: f64) -> f64 {
        let after = self.track.partition_point(|[t, _]| *t <= time_s);
        let Some([t1, hz1]) = self.track.get(after) else {
            return self.track.last().map_or(self.truth_hz, |[_, hz]| *hz);
        };
        let Some([t0, hz0]) = after.checked_sub(1).map(|before| self.track[before]) else {
            return *hz1;
        };
        hz0 + (hz1 - hz0) * (time_s - t0) / (t1 - t0)
    }
}

/// The list of a pack's recordings.
pub(crate) struct Pack {
    folder: PathBuf,
    entries: Vec<Entry>,
}

/// One recording with what it holds.
pub(crate) struct Note {
    /// What the manifest says.
    pub(crate) entry: Entry,
    /// Samples of its first channel; full scale is 1.
    pub(crate) samples: Vec<f32>,
    /// Their rate.
    pub(crate) rate: SampleRate,
}

impl Pack {
    /// Reads the manifest, and keeps the notes of one instrument if one is named.
    pub(crate) fn open(folder: &Path, instrument: Option<&str>) -> anyhow::Result<Self> {
        let path = folder.join("manifest.json");
        let file = File::open(&path).map_err(|error| {
            Usage(format!(
                "'{}' cannot be read ({error}): give the folder that holds manifest.json",
                path.display()
            ))
        })?;
        let mut entries: Vec<Entry> = serde_json::from_reader(BufReader::new(file))
            .with_context(|| format!("'{}' is no manifest of a pack", path.display()))?;
        if let Some(name) = instrument {
            let mut names: Vec<String> = entries.iter().map(|e| e.instrument.clone()).collect();
            names.sort();
            names.dedup();
            entries.retain(|entry| entry.instrument.eq_ignore_ascii_case(name));
            if entries.is_empty() {
                let names = names.join(", ");
                return Err(Usage(format!("no note of '{name}' here: there are {names}")).into());
            }
        }
        Ok(Self {
            folder: folder.to_owned(),
            entries,
        })
    }

    /// Reads all recordings.
    pub(crate) fn load(self) -> anyhow::Result<Vec<Note>> {
        let folder = self.folder;
        let load = |entry: Entry| {
            let (samples, rate) = first_channel(&folder.join(&entry.file))?;
            Ok(Note {
                entry,
                samples,
                rate,
            })
        };
        self.entries.into_iter().map(load).collect()
    }
}
