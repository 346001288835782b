//! Every note's pitch: on the keyboard, on the series, or after another player.

use super::{Draft, SceneError};
use crate::scene::timeline::{Bend, Event, PitchLine};
use crate::scene::{Score, Target};
use crate::tuning::Tuning;
use crate::units::{Cents, Hertz};

/// The softest dynamic, in decibels below the usual one, and the way from there to the
/// loudest: what makes the tone dull or bright.
const SOFTEST_DB: f64 = 15.0;
const DYNAMIC_RANGE_DB: f64 = 24.0;

/// A player's own way through the scene.
fn moves(points: &[(f64, f64)]) -> Vec<Bend> {
    let path: Vec<(f64, f64)> = points
        .iter()
        .map(|(minutes, cents)| (60.0 * minutes, *cents))
        .collect();
    let bend = Bend {
        start_s: 0.0,
        cents: 0.0,
        path,
    };
    if points.is_empty() {
        Vec::new()
    } else {
        vec![bend]
    }
}

/// Finds every note's pitch.
pub(super) struct Resolver<'a> {
    score: &'a Score,
    tuning: &'a Tuning,
    parts: &'a [Vec<Draft>],
}

impl<'a> Resolver<'a> {
    pub(super) fn new(score: &'a Score, tuning: &'a Tuning, parts: &'a [Vec<Draft>]) -> Self {
        Self {
            score,
            tuning,
            parts,
        }
    }

    /// The timeline of one player.
    pub(super) fn events(&self, player: usize) -> Result<Vec<Event>, SceneError> {
        let written = &self.score.players[player];
        (0..self.parts[player].len())
            .map(|note| {
                let draft = &self.parts[player][note];
                let pitch = self.pitch(player, note, &mut Vec::new())?;
                Ok(Event {
                    start_s: draft.start_s,
                    end_s: draft.end_s,
                    pitch,
                    vibrato: draft.vibrato,
                    level_dbfs: written.level_dbfs + draft.level_db,
                    loud: ((draft.level_db + SOFTEST_DB) / DYNAMIC_RANGE_DB).clamp(0.0, 1.0),
                    attack_s: draft.attack_s,
                    release_s: draft.release_s,
                    in_chord: draft.in_chord,
                })
            })
            .collect()
    }

    /// The pitch of one note; `trail` holds the notes that are waiting for it.
    fn pitch(
        &self,
        player: usize,
        note: usize,
        trail: &mut Vec<(usize, usize)>,
    ) -> Result<PitchLine, SceneError> {
        let written = &self.score.players[player];
        let draft = &self.parts[player][note];
        let fixed = |base: Hertz| PitchLine {
            base,
            bends: moves(&written.moves),
            drift_cents_per_s: (self.score.drift_cents_per_minute + written.drift_cents_per_minute)
                / 60.0,
        };
        let mut line = match &draft.target {
            Target::Tempered(note) => fixed(self.tuning.scale().frequency(*note)),
            Target::Partial(partial) => fixed(self.tuning.series().frequency(*partial)),
            Target::Ratio { upper, lower, of } => {
                let leader = self.leader(of, draft.start_s, &written.name)?;
                if trail.contains(&(player, note)) {
                    return Err(SceneError::Circle {
                        player: written.name.clone(),
                    });
                }
                trail.push((player, note));
                let led = self.pitch(leader.0, leader.1, trail)?;
                PitchLine {
                    base: led
                        .base
                        .raised(Cents::of_ratio(f64::from(*upper), f64::from(*lower))),
                    ..led
                }
            }
        };
        line.bends.push(draft.bend.clone());
        Ok(line)
    }

    /// The note `of` holds at `at_s`: which player, and which note.
    fn leader(&self, of: &str, at_s: f64, player: &str) -> Result<(usize, usize), SceneError> {
        let players = &self.score.players;
        let leader =
            players
                .iter()
                .position(|p| p.name == of)
                .ok_or_else(|| SceneError::NoLeader {
                    player: player.to_owned(),
                    leader: of.to_owned(),
                })?;
        // Parts are counted out separately and may differ by a rounding error.
        let part = &self.parts[leader];
        let begun = part.partition_point(|draft| draft.start_s <= at_s + 1e-6);
        let held = part[..begun]
            .last()
            .filter(|draft| draft.end_s > at_s + 1e-6)
            .ok_or_else(|| SceneError::SilentLeader {
                player: player.to_owned(),
                leader: of.to_owned(),
                at_s,
            })?;
        // Of a chord, the note that is written first.
        let note = part.partition_point(|draft| draft.start_s < held.start_s);
        Ok((leader, note))
    }
}
