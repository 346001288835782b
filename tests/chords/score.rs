//! Holds what was heard against what sounds.

use super::ear::Update;
use super::matching::{cents_above, matched};
use super::pack::{Chord, Kind, Separability};

/// A wrong voice this near a true one is that one's double, in cents.
const SPLIT: f64 = 60.0;
/// Where nothing at all is heard of a recording, its voices are missed here.
const MIDDLE_S: f64 = 1.0;
const SPAN_S: f64 = 1.0;

/// One update, scored.
pub(crate) struct Scored {
    /// What is played.
    pub(crate) kind: Kind,
    /// All updates of a recording weigh as much as one.
    pub(crate) weight: f64,
    /// The voices that sound.
    pub(crate) voices: Vec<ScoredVoice>,
    /// Voices that are shown, and do not sound.
    pub(crate) strays: Vec<Stray>,
}

/// A voice that sounds.
pub(crate) struct ScoredVoice {
    pub(crate) separability: Separability,
    /// How it is shown, if it is.
    pub(crate) hit: Option<Hit>,
}

/// A voice that is shown near where it sounds.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Hit {
    /// How far off it is shown.
    pub(crate) cents: f64,
    /// How far off it may be by its own account.
    pub(crate) margin: f64,
}

/// A voice that is shown where none sounds.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Stray {
    /// Whether it is the double of one that sounds.
    pub(crate) is_split: bool,
    /// How far off it may be by its own account.
    pub(crate) margin: f64,
}

/// The updates of a recording that say anything; where none does, one that misses all.
pub(crate) fn of(chord: &Chord, updates: &[Update]) -> Vec<Scored> {
    let telling: Vec<&Update> = updates.iter().filter(|u| u.says_anything()).collect();
    if telling.is_empty() {
        return vec![scored(chord, MIDDLE_S, SPAN_S, &[], 1.0)];
    }
    let weight = 1.0 / telling.len() as f64;
    telling
        .iter()
        .map(|update| {
            let (middle_s, span_s) = (update.chord.time.get(), update.chord.span.get());
            let shown: Vec<(f64, f64)> = update
                .shown()
                .iter()
                .map(|voice| (voice.hertz.get(), voice.margin.get()))
                .collect();
            scored(chord, middle_s, span_s, &shown, weight)
        })
        .collect()
}

/// Scores the voices `shown`: each a pitch in hertz and a margin in cents.
fn scored(chord: &Chord, middle_s: f64, span_s: f64, shown: &[(f64, f64)], weight: f64) -> Scored {
    let voices = &chord.entry.voices;
    let true_hz: Vec<f64> = voices
        .iter()
        .map(|voice| voice.hz_around(middle_s, span_s))
        .collect();
    let shown_hz: Vec<f64> = shown.iter().map(|(hz, _)| *hz).collect();
    let pairs = matched(&shown_hz, &true_hz);
    let hit_of = |voice: usize| {
        let (index, _) = *pairs.iter().find(|(_, of)| *of == voice)?;
        let (hz, margin) = shown[index];
        Some(Hit {
            cents: cents_above(hz, true_hz[voice]).abs(),
            margin,
        })
    };
    let is_stray = |index: usize| pairs.iter().all(|(taken, _)| *taken != index);
    Scored {
        kind: chord.entry.kind,
        weight,
        voices: voices
            .iter()
            .enumerate()
            .map(|(index, voice)| ScoredVoice {
                separability: voice.separability,
                hit: hit_of(index),
            })
            .collect(),
        strays: shown
            .iter()
            .enumerate()
            .filter(|(index, _)| is_stray(*index))
            .map(|(_, (hz, margin))| Stray {
                is_split: true_hz.iter().any(|at| cents_above(*hz, *at).abs() < SPLIT),
                margin: *margin,
            })
            .collect(),
    }
}
