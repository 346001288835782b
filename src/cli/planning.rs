//! The plan of a rehearsal, to be looked at: its scores are opened again.

use std::path::PathBuf;

use crate::plan::{Casting, Choice, Programme, Settled, Weights};
use crate::session;
use crate::tui::Planning;
use crate::tuning::{Anchor, Partial, Temperament};

/// What there is to look at, and what must be told about it.
#[derive(Debug, Default)]
pub(super) struct Outlook {
    /// Nothing where no score can be read.
    pub(super) planning: Option<Planning>,
    /// The plan's own file: what is written of it goes beside that, as a plan may name scores
    /// anywhere.
    pub(super) beside: Option<PathBuf>,
    /// Why something is missing.
    pub(super) told: Option<String>,
}

/// Opens the scores that `settled` was made from. Those that cannot be read are told, and the
/// plan is looked at without them: a rehearsal does not fail for want of a score.
pub(super) fn outlook(settled: &Settled, temperaments: &[Temperament]) -> Outlook {
    let mut scores = Vec::new();
    let mut files = Vec::new();
    let mut missing = Vec::new();
    for piece in &settled.pieces {
        // Only a regular file is opened: anything else could keep the rehearsal waiting.
        let score = if piece.score.is_file() {
            session::load_score(&piece.score).ok()
        } else {
            None
        };
        match score {
            Some(score) => {
                scores.push(score);
                files.push(piece.score.clone());
            }
            None => missing.push(&piece.score),
        }
    }
    let mut told = match missing[..] {
        [] => None,
        [one] => {
            let name = one.file_name().unwrap_or(one.as_os_str());
            let name = session::shown(&name.to_string_lossy());
            Some(format!("the score '{name}' of the plan cannot be read"))
        }
        _ => Some(format!(
            "{} scores of the plan cannot be read",
            missing.len()
        )),
    };
    if scores.is_empty() {
        return Outlook {
            told,
            ..Outlook::default()
        };
    }
    let casting = settled.casting(Casting {
        known: session::part_names().to_vec(),
        ..Casting::default()
    });
    let planning = match Programme::new(scores, &casting, settled.common_key()) {
        Ok(programme) => Some(Planning {
            title: settled.title.clone(),
            programme,
            scores: files,
            casting,
            temperaments: temperaments.to_vec(),
            choice: Choice {
                temperament: settled.temperament.clone(),
                chain: settled.chain,
                standard: settled.standard,
                anchor: anchor(settled),
            },
            weights: Weights::default(),
        }),
        Err(error) => {
            told = Some(format!("the plan cannot be looked at: {error}"));
            None
        }
    };
    Outlook {
        planning,
        told,
        ..Outlook::default()
    }
}

/// The partial the trumpets tune by; the eighth where their fundamental was measured.
fn anchor(settled: &Settled) -> Partial {
    const EIGHTH: u8 = 8;
    let number = match settled.trumpets.map(|trumpets| trumpets.anchor) {
        Some(Anchor::PartialSounds { partial, .. }) => return partial,
        Some(Anchor::Fundamental { .. }) | None => EIGHTH,
    };
    Partial::new(number).expect("the eighth is a partial")
}

#[cfg(test)]
mod tests;
