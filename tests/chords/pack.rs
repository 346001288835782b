//! A pack of chords: `manifest.json` says what sounds in each recording, and `hints` what may be
//! known of it beforehand.

use std::fs::File;
use std::io::BufReader;
use std::path::Path;

use anyhow::Context;
use concento::analysis::chord::Company;
use concento::rehearsal::{SoughtVoices, VoiceLabel};
use concento::session;
use concento::tuning::{Anchor, Chain, PitchStandard, Tuning};
use concento::units::{Hertz, SampleRate};
use serde::Deserialize;
use serde::de::DeserializeOwned;

use super::command::Usage;
use super::sound_file::first_channel;

#[derive(Debug, Deserialize)]
struct Manifest {
    files: Vec<Entry>,
}

/// What the manifest says of one recording. Fields that are not named here are left alone.
#[derive(Debug, Deserialize)]
pub(crate) struct Entry {
    /// Its name in the hints.
    pub(crate) id: String,
    /// What is played.
    pub(crate) kind: Kind,
    /// The file, relative to the folder.
    file: String,
    /// Partial 1 of the trumpets, in hertz.
    fundamental_hz: f64,
    /// Their key.
    trumpet_in: String,
    a4_hz: f64,
    temperament: String,
    /// What sounds.
    pub(crate) voices: Vec<Voice>,
}

/// What is played.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
pub(crate) enum Kind {
    /// Trumpets.
    #[serde(rename = "a")]
    Trumpets,
    /// Trumpets and strings.
    #[serde(rename = "b")]
    Mixed,
    /// Strings.
    #[serde(rename = "c")]
    Strings,
    /// Two voices almost in unison.
    #[serde(rename = "d")]
    Pairs,
    /// One voice.
    #[serde(rename = "s")]
    Single,
}

impl Kind {
    pub(crate) const ALL: [(Self, &str); 5] = [
        (Self::Trumpets, "a trumpets"),
        (Self::Mixed, "b mixed"),
        (Self::Strings, "c strings"),
        (Self::Pairs, "d unison pairs"),
        (Self::Single, "s single"),
    ];
}

/// How well a voice can be told from the others.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(crate) enum Separability {
    /// It shares no line with a lower voice.
    Clear,
    /// It lies near a multiple of a lower voice.
    HarmonicUpper,
    /// Another voice is almost in unison with it.
    NearUnison,
    /// It has no pitch of its own that could be told.
    Hidden,
}

impl Separability {
    pub(crate) const ALL: [(Self, &str); 4] = [
        (Self::Clear, "clear"),
        (Self::HarmonicUpper, "harmonic upper"),
        (Self::NearUnison, "near unison"),
        (Self::Hidden, "hidden"),
    ];
}

/// A voice that sounds.
#[derive(Debug, Deserialize)]
pub(crate) struct Voice {
    /// What it plays.
    pub(crate) label: VoiceLabel,
    hz: f64,
    pub(crate) separability: Separability,
    track: Track,
}

/// The pitch in cents above the voice's `hz` at equal steps of time.
#[derive(Debug, Deserialize)]
struct Track {
    t0: f64,
    dt: f64,
    cents_rel_hz: Vec<f64>,
}

impl Voice {
    /// The mean pitch around a moment through a Hann window of `width_s`, in hertz.
    pub(crate) fn hz_around(&self, time_s: f64, width_s: f64) -> f64 {
        let Track {
            t0,
            dt,
            cents_rel_hz,
        } = &self.track;
        let inside = cents_rel_hz.iter().enumerate().filter_map(|(step, cents)| {
            let turn = std::f64::consts::PI * (t0 + step as f64 * dt - time_s) / width_s;
            (turn.abs() < std::f64::consts::FRAC_PI_2).then(|| (*cents, turn.cos().powi(2)))
        });
        let cents = super::statistics::weighted_mean(inside).unwrap_or(0.0);
        self.hz * (cents / 1200.0).exp2()
    }
}

/// What may be known of a chord whose voices are given.
#[derive(Debug, Deserialize)]
struct ExpectedHint {
    expected: Vec<ExpectedVoice>,
}

#[derive(Debug, Deserialize)]
struct ExpectedVoice {
    label: VoiceLabel,
}

/// What may be known of a chord that is searched for.
#[derive(Debug, Deserialize)]
struct FreeHint {
    sections: Sections,
}

/// Who plays.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
enum Sections {
    Trumpets,
    Strings,
    Both,
}

/// One recording with what is known of it.
pub(crate) struct Chord {
    /// What the manifest says.
    pub(crate) entry: Entry,
    /// Samples of its first channel; full scale is 1.
    pub(crate) samples: Vec<f32>,
    /// Their rate.
    pub(crate) rate: SampleRate,
    /// Where its voices stand if they are perfectly in tune.
    pub(crate) tuning: Tuning,
    /// The voices that are expected.
    pub(crate) expected: Vec<VoiceLabel>,
    /// What is looked for where nothing but who plays is known.
    pub(crate) free: SoughtVoices,
}

impl Chord {
    /// Length of the recording.
    pub(crate) fn seconds(&self) -> f64 {
        self.samples.len() as f64 / self.rate.hz()
    }
}

/// Reads a pack with all its recordings and hints.
pub(crate) fn load(folder: &Path) -> anyhow::Result<Vec<Chord>> {
    let path = folder.join("manifest.json");
    if !path.is_file() {
        return Err(Usage(format!(
            "'{}' is not there: give the folder that holds it",
            path.display()
        ))
        .into());
    }
    let manifest: Manifest = read(&path)?;
    let load = |entry: Entry| {
        let hint = |mode| {
            folder
                .join("hints")
                .join(format!("{}.{mode}.json", entry.id))
        };
        let expected: ExpectedHint = read(&hint("expected"))?;
        let free: FreeHint = read(&hint("free"))?;
        let tuning = entry.tuning()?;
        let (samples, rate) = first_channel(&folder.join(&entry.file))?;
        Ok(Chord {
            free: free.sections.sought(&tuning),
            expected: expected.expected.iter().map(|voice| voice.label).collect(),
            entry,
            samples,
            rate,
            tuning,
        })
    };
    manifest.files.into_iter().map(load).collect()
}

fn read<T: DeserializeOwned>(path: &Path) -> anyhow::Result<T> {
    let file = File::open(path).with_context(|| format!("'{}' cannot be read", path.display()))?;
    serde_json::from_reader(BufReader::new(file))
        .with_context(|| format!("'{}' does not hold what a pack holds", path.display()))
}

impl Entry {
    fn tuning(&self) -> anyhow::Result<Tuning> {
        let all = session::temperaments(None)?;
        // A pack says "sixth-comma meantone" for what is called by the first word here.
        let name = self.temperament.trim_end_matches(" meantone");
        let key = self.trumpet_in.parse()?;
        let hz = Hertz::new(self.fundamental_hz)?;
        Ok(Tuning::new(
            PitchStandard::new(self.a4_hz)?,
            session::find(&all, name)?,
            Chain::usual(),
            key,
            Anchor::Fundamental { hz },
        ))
    }
}

impl Sections {
    fn sought(self, tuning: &Tuning) -> SoughtVoices {
        let companies: &[Company] = match self {
            Self::Trumpets => &[Company::Trumpets],
            Self::Strings => &[Company::Others],
            Self::Both => &[Company::Trumpets, Company::Others],
        };
        SoughtVoices::of_companies(companies, tuning)
    }
}
