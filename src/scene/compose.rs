//! From the written parts to a timeline: repeats are played out, every pitch is placed, and
//! what cannot be played is named together with the player.

mod part;
mod pitch;

use self::part::Draft;
use self::pitch::Resolver;
use super::hiss::{self, Wander};
use super::timeline::{Player, Scene};
use super::{LeaderAct, Score};
use crate::plain::steers;
use crate::tuning::{Anchor, Temperament, Tuning};

/// The most channels a stream can have.
const MOST_PLAYERS: usize = 32;

/// The longest title or name, in characters.
const LONGEST_NAME: usize = 80;

/// The most notes and rests of one player: more than an hour of semiquavers.
const MOST_ITEMS: usize = 50_000;

/// How deep phrases and repeats may stand inside each other.
const DEEPEST: usize = 16;

/// A scene that cannot be played.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SceneError {
    /// No players, or more than a stream has channels.
    #[error("'{0}' players cannot be played: a scene has 1 to {MOST_PLAYERS}")]
    Players(usize),
    /// Two players of one name.
    #[error("two players are called '{player}': give each a name of its own")]
    SameName {
        /// The name.
        player: String,
    },
    /// A title or name that cannot be shown.
    #[error(
        "'{0}' cannot be shown: give 1 to {LONGEST_NAME} characters without control characters"
    )]
    Name(String),
    /// A number out of range.
    #[error("'{value}' is no {what}: give {low} to {high}")]
    Number {
        /// Whose; `None` when it belongs to the whole scene.
        player: Option<String>,
        /// What it was given for.
        what: &'static str,
        /// The number.
        value: f64,
        /// Lowest accepted.
        low: f64,
        /// Highest accepted.
        high: f64,
    },
    /// A phrase that is not written down.
    #[error(
        "'{player}' plays the phrase '{phrase}', which is not among the phrases: write it there"
    )]
    Phrase {
        /// Who plays it.
        player: String,
        /// Its name.
        phrase: String,
    },
    /// Phrases that contain themselves.
    #[error(
        "a phrase of '{player}' contains itself, or repeats stand more than {DEEPEST} deep: write it out flat"
    )]
    Depth {
        /// Who plays it.
        player: String,
    },
    /// A loop that takes no time.
    #[error("a loop of '{player}' takes no time: put a note or a rest into it")]
    EmptyLoop {
        /// Who plays it.
        player: String,
    },
    /// Too many notes.
    #[error(
        "'{player}' has more than {MOST_ITEMS} notes and rests: shorten the scene or its repeats"
    )]
    Notes {
        /// Who plays them.
        player: String,
    },
    /// An `At` that has gone by.
    #[error("'{player}' is to wait until {at_s} s, but is already at {now_s:.2} s: move it on")]
    GoneBy {
        /// Who waits.
        player: String,
        /// The moment named, after the start of the part, phrase or turn.
        at_s: f64,
        /// The moment reached.
        now_s: f64,
    },
    /// A path whose points are not in order.
    #[error("a path of '{player}' goes back in time: order its points")]
    Path {
        /// Whose.
        player: String,
    },
    /// A leader who is not there.
    #[error("'{player}' follows '{leader}', who is not among the players: check the name")]
    NoLeader {
        /// Who follows.
        player: String,
        /// Whom.
        leader: String,
    },
    /// A leader who is silent.
    #[error(
        "'{player}' follows '{leader}' at {at_s:.2} s, when '{leader}' holds no note: let '{leader}' begin first"
    )]
    SilentLeader {
        /// Who follows.
        player: String,
        /// Whom.
        leader: String,
        /// When the follower begins.
        at_s: f64,
    },
    /// Players who follow each other.
    #[error("'{player}' follows somebody who in turn follows '{player}': one of them must lead")]
    Circle {
        /// One of them.
        player: String,
    },
}

impl SceneError {
    /// The player whose part is at fault, if it is one player's.
    pub fn player(&self) -> Option<&str> {
        match self {
            Self::Players(_) | Self::Name(_) => None,
            Self::Number { player, .. } => player.as_deref(),
            Self::SameName { player }
            | Self::Phrase { player, .. }
            | Self::Depth { player }
            | Self::EmptyLoop { player }
            | Self::Notes { player }
            | Self::GoneBy { player, .. }
            | Self::Path { player }
            | Self::NoLeader { player, .. }
            | Self::SilentLeader { player, .. }
            | Self::Circle { player } => Some(player),
        }
    }
}

impl Scene {
    /// Plays out the parts of `score` in `temperament`, which the caller has found by the
    /// name the score gives.
    ///
    /// # Errors
    /// What cannot be played, with the player's name.
    pub fn compose(score: &Score, temperament: &Temperament) -> Result<Self, SceneError> {
        let tuning = Tuning::new(
            score.pitch,
            temperament,
            score.chain,
            score.trumpets.key,
            Anchor::tonic(score.trumpets.key),
        );
        check_whole(score)?;
        let parts: Vec<Vec<Draft>> = score
            .players
            .iter()
            .map(|player| part::lay_out(score, player))
            .collect::<Result<_, _>>()?;
        let resolver = Resolver::new(score, &tuning, &parts);
        let mut players = Vec::with_capacity(parts.len());
        for (index, written) in score.players.iter().enumerate() {
            let manner = written.sound.manner();
            players.push(Player {
                name: written.name.clone(),
                instrument: written.instrument.clone(),
                sound: written.sound,
                events: resolver.events(index)?,
                wander: Wander::new(hiss::seed(score.seed, index, 1), manner.wander_cents),
                shimmer: Wander::new(hiss::seed(score.seed, index, 2), manner.shimmer_db),
            });
        }
        Ok(Self {
            title: score.title.clone(),
            about: score.about.clone(),
            temperament: score.temperament.clone(),
            tuning,
            length_s: score.length_s,
            at_end: score.at_end,
            room: score.room,
            noise_dbfs: score.noise_dbfs,
            seed: score.seed,
            leader: score.leader.clone(),
            players,
        })
    }
}

/// Checks a number; written so that a NaN fails.
fn within(
    player: Option<&str>,
    what: &'static str,
    value: f64,
    low: f64,
    high: f64,
) -> Result<(), SceneError> {
    if (low..=high).contains(&value) {
        return Ok(());
    }
    Err(SceneError::Number {
        player: player.map(str::to_owned),
        what,
        value,
        low,
        high,
    })
}

/// Refuses texts that are empty, too long, or would steer a terminal.
fn shown(text: &str, longest: usize) -> Result<(), SceneError> {
    if text.trim().is_empty() || text.chars().count() > longest || text.contains(steers) {
        let start: String = text.chars().take(LONGEST_NAME).collect();
        return Err(SceneError::Name(start.escape_debug().to_string()));
    }
    Ok(())
}

fn check_whole(score: &Score) -> Result<(), SceneError> {
    if !(1..=MOST_PLAYERS).contains(&score.players.len()) {
        return Err(SceneError::Players(score.players.len()));
    }
    shown(&score.title, LONGEST_NAME)?;
    if !score.about.is_empty() {
        shown(&score.about, 4 * LONGEST_NAME)?;
    }
    within(None, "length in seconds", score.length_s, 0.1, 3_600.0)?;
    let drift = "drift in cents a minute";
    within(None, drift, score.drift_cents_per_minute, -60.0, 60.0)?;
    if let Some(level) = score.noise_dbfs {
        within(None, "level of noise in dBFS", level, -140.0, -20.0)?;
    }
    for (minutes, act) in &score.leader {
        within(None, "moment of the leader in minutes", *minutes, 0.0, 60.0)?;
        match act {
            LeaderAct::Celsius(degrees) => {
                within(None, "temperature of a room", *degrees, -10.0, 45.0)?;
            }
            LeaderAct::MeetBetween(_, cents) => {
                within(None, "place to meet in cents", *cents, -100.0, 100.0)?;
            }
            LeaderAct::Mark(text) => shown(text, LONGEST_NAME)?,
            LeaderAct::FollowPartial(_)
            | LeaderAct::FollowTemperament(_)
            | LeaderAct::TrumpetLips(_)
            | LeaderAct::KeyboardLeavesOut(_)
            | LeaderAct::LeaveExposed(_) => {}
        }
    }
    if let Some(room) = score.room {
        within(None, "reverberation time in seconds", room.rt60_s, 0.1, 8.0)?;
        within(
            None,
            "level of reverberation in dB",
            room.wet_db,
            -60.0,
            6.0,
        )?;
        if let Some(leak) = room.leak_db {
            within(None, "leak in dB", leak, -60.0, 0.0)?;
        }
    }
    for (index, player) in score.players.iter().enumerate() {
        shown(&player.name, LONGEST_NAME)?;
        shown(&player.instrument, LONGEST_NAME)?;
        let name = Some(player.name.as_str());
        within(name, "level in dBFS", player.level_dbfs, -80.0, -6.0)?;
        within(name, drift, player.drift_cents_per_minute, -60.0, 60.0)?;
        let mut before_min = -1.0;
        for (minutes, cents) in &player.moves {
            within(name, "moment of a move in minutes", *minutes, 0.0, 60.0)?;
            within(name, "move in cents", *cents, -200.0, 200.0)?;
            if *minutes <= before_min {
                return Err(SceneError::Path {
                    player: player.name.clone(),
                });
            }
            before_min = *minutes;
        }
        if score.players[..index].iter().any(|p| p.name == player.name) {
            return Err(SceneError::SameName {
                player: player.name.clone(),
            });
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests;
