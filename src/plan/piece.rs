//! A piece with its players known and its meetings found; several make a programme.

use super::body::Body;
use super::casting::{Casting, Pattern, Player, Side};
use super::choice::{Choice, Grid};
use super::key::{SeriesKey, guess_key, partial_of};
use super::meetings::{Meeting, Sounding, meetings};
use crate::score::Score;
use crate::units::{Hertz, NoteName};

/// Why scores make no programme.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum PlanError {
    /// Nothing to plan.
    #[error("there is no score to plan from: name at least one")]
    NoScore,
    /// A pattern that fits nothing.
    #[error("no part is called '{pattern}': there are {parts}")]
    NoSuchPart {
        /// The pattern.
        pattern: String,
        /// The parts there are.
        parts: String,
    },
    /// More notes at once than music has.
    #[error("'{0}' has too many notes at once to be music: check how it was exported")]
    TooDense(String),
    /// Nothing sounds.
    #[error("'{0}' has no notes: check how it was exported")]
    Silent(String),
}

/// A piece ready to be measured.
#[derive(Debug, Clone, PartialEq)]
pub struct Piece {
    pub(super) score: Score,
    pub(super) key: Option<SeriesKey>,
    /// One for each part.
    pub(super) players: Vec<Player>,
    pub(super) bodies: Vec<Body>,
    pub(super) meetings: Vec<Meeting>,
    /// The body of each note of each part.
    pub(super) cast: Vec<Vec<usize>>,
}

/// The pieces of an evening, measured as if they were one long piece.
#[derive(Debug, Clone, PartialEq)]
pub struct Programme {
    pieces: Vec<Piece>,
}

impl Programme {
    /// Finds out who plays what in `scores`, and every meeting. With `key` the trumpets of all
    /// pieces are in it; without, each piece's is guessed from their notes.
    pub fn new(
        scores: Vec<Score>,
        casting: &Casting,
        key: Option<NoteName>,
    ) -> Result<Self, PlanError> {
        if scores.is_empty() {
            return Err(PlanError::NoScore);
        }
        let given = casting
            .trumpets
            .iter()
            .chain(&casting.keyboard)
            .chain(casting.reaches.iter().map(|(pattern, _)| pattern));
        for pattern in given.filter(|pattern| !pattern.is_nobody()) {
            check_pattern(pattern, &scores)?;
        }
        let pieces = scores
            .into_iter()
            .map(|score| Piece::new(score, casting, key))
            .collect::<Result<_, _>>()?;
        Ok(Self { pieces })
    }

    /// The pieces in the order given.
    pub fn pieces(&self) -> &[Piece] {
        &self.pieces
    }
}

/// Refuses a pattern that fits no part of any score.
fn check_pattern(pattern: &Pattern, scores: &[Score]) -> Result<(), PlanError> {
    let mut names: Vec<&str> = Vec::new();
    for part in scores.iter().flat_map(|score| &score.parts) {
        if pattern.matches(&part.name) {
            return Ok(());
        }
        if !names.contains(&part.name.as_str()) && names.len() < 40 {
            names.push(&part.name);
        }
    }
    let names: Vec<String> = names.iter().map(|name| format!("'{name}'")).collect();
    Err(PlanError::NoSuchPart {
        pattern: pattern.to_string(),
        parts: names.join(", "),
    })
}

impl Piece {
    fn new(score: Score, casting: &Casting, key: Option<NoteName>) -> Result<Self, PlanError> {
        let players: Vec<Player> = score
            .parts
            .iter()
            .map(|part| casting.player(part))
            .collect();
        let trumpets = score
            .parts
            .iter()
            .zip(&players)
            .filter(|(_, player)| player.side == Side::Trumpets)
            .flat_map(|(part, _)| &part.notes);
        let guessed = guess_key(&score, trumpets);
        let key = match (guessed, key) {
            (None, _) => None,
            (Some(_), Some(name)) => Some(SeriesKey {
                name,
                is_guessed: false,
            }),
            (Some(name), None) => Some(SeriesKey {
                name,
                is_guessed: true,
            }),
        };
        let mut bodies: Vec<Body> = Vec::new();
        let mut sounding = Vec::new();
        let mut cast = Vec::new();
        for (index, (part, player)) in score.parts.iter().zip(&players).enumerate() {
            let mut of_part = Vec::with_capacity(part.notes.len());
            for note in &part.notes {
                let known = bodies
                    .iter()
                    .position(|body| body.note == note.note && body.is_of(player));
                let body = known.unwrap_or_else(|| {
                    let partial = key
                        .filter(|_| player.side == Side::Trumpets)
                        .and_then(|key| partial_of(note.note, key.name));
                    bodies.push(Body::new(note.note, player, partial));
                    bodies.len() - 1
                });
                of_part.push(body);
                sounding.push(Sounding {
                    part: index,
                    body,
                    onset: note.onset,
                    end: note.end,
                });
            }
            cast.push(of_part);
        }
        if sounding.is_empty() {
            return Err(PlanError::Silent(score.title));
        }
        let meetings = meetings(&bodies, &mut sounding)
            .map_err(|_| PlanError::TooDense(score.title.clone()))?;
        Ok(Self {
            score,
            key,
            players,
            bodies,
            meetings,
            cast,
        })
    }

    /// Its title.
    pub fn title(&self) -> &str {
        &self.score.title
    }

    /// What is written.
    pub fn score(&self) -> &Score {
        &self.score
    }

    /// The key of its trumpets; none where none plays.
    pub fn key(&self) -> Option<SeriesKey> {
        self.key
    }

    /// Who plays, one for each part of the score.
    pub fn players(&self) -> &[Player] {
        &self.players
    }

    /// How long it is, in quarter notes.
    pub fn quarters(&self) -> f64 {
        self.score.bars.quarters(self.score.end())
    }

    /// Everything its notes are placed by under `choice`.
    pub fn grid(&self, choice: &Choice) -> Grid {
        choice.grid(self.key.map(|key| key.name))
    }

    /// Where each body stands under `choice`.
    pub(super) fn places(&self, choice: &Choice) -> Vec<Hertz> {
        let grid = self.grid(choice);
        self.bodies.iter().map(|body| grid.place(body)).collect()
    }
}
