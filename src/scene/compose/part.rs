//! One part laid out in time: repeats and phrases are played out, pitches are left alone.

use super::{DEEPEST, MOST_ITEMS, SceneError, within};
use crate::scene::timeline::Bend;
use crate::scene::{Item, PlayerScore, Score, Target, VibratoScore};

/// A note that knows its time but not yet its pitch.
pub(super) struct Draft {
    pub(super) start_s: f64,
    pub(super) end_s: f64,
    pub(super) target: Target,
    pub(super) bend: Bend,
    pub(super) vibrato: Option<VibratoScore>,
    pub(super) level_db: f64,
    pub(super) attack_s: f64,
    pub(super) release_s: f64,
    pub(super) in_chord: bool,
}

/// The notes of one part in order of time.
pub(super) fn lay_out(score: &Score, player: &PlayerScore) -> Result<Vec<Draft>, SceneError> {
    let mut part = Part {
        score,
        player,
        now_s: 0.0,
        n_items: 0,
        drafts: Vec::new(),
    };
    part.passage(&player.part, 0)?;
    Ok(part.drafts)
}

/// A part being laid out in time.
struct Part<'a> {
    score: &'a Score,
    player: &'a PlayerScore,
    now_s: f64,
    /// Counted so that repeats inside repeats come to an end.
    n_items: usize,
    drafts: Vec<Draft>,
}

impl<'a> Part<'a> {
    fn count(&mut self) -> Result<(), SceneError> {
        self.n_items += 1;
        if self.n_items > MOST_ITEMS {
            return Err(SceneError::Notes {
                player: self.name(),
            });
        }
        Ok(())
    }

    fn over(&self) -> bool {
        self.now_s >= self.score.length_s
    }

    fn name(&self) -> String {
        self.player.name.clone()
    }

    fn passage(&mut self, items: &'a [Item], depth: usize) -> Result<(), SceneError> {
        if depth > DEEPEST {
            return Err(SceneError::Depth {
                player: self.name(),
            });
        }
        self.count()?;
        let origin_s = self.now_s;
        for item in items {
            self.count()?;
            match item {
                Item::Play { .. } => self.play(item)?,
                Item::Rest(rest_s) => {
                    self.check("rest in seconds", *rest_s, 0.0, 3_600.0)?;
                    self.now_s += rest_s;
                }
                Item::At(at_s) => {
                    self.check("moment in seconds", *at_s, 0.0, 3_600.0)?;
                    // Sums of decimal fractions may overshoot by a hair.
                    if origin_s + at_s < self.now_s - 1e-6 {
                        return Err(SceneError::GoneBy {
                            player: self.name(),
                            at_s: *at_s,
                            now_s: self.now_s - origin_s,
                        });
                    }
                    self.now_s = origin_s + at_s;
                }
                Item::Phrase(phrase) => {
                    let passage =
                        self.score
                            .phrases
                            .get(phrase)
                            .ok_or_else(|| SceneError::Phrase {
                                player: self.name(),
                                phrase: phrase.clone(),
                            })?;
                    self.passage(passage, depth + 1)?;
                }
                Item::Repeat { times, part } => {
                    self.check("number of times", f64::from(*times), 1.0, 1_000.0)?;
                    for _ in 0..*times {
                        if self.over() {
                            break;
                        }
                        self.passage(part, depth + 1)?;
                    }
                }
                Item::Loop(part) => {
                    while !self.over() {
                        let before_s = self.now_s;
                        self.passage(part, depth + 1)?;
                        if self.now_s < before_s + 1e-3 {
                            return Err(SceneError::EmptyLoop {
                                player: self.name(),
                            });
                        }
                    }
                }
            }
        }
        Ok(())
    }

    fn check(&self, what: &'static str, value: f64, low: f64, high: f64) -> Result<(), SceneError> {
        within(Some(&self.player.name), what, value, low, high)
    }

    fn play(&mut self, item: &Item) -> Result<(), SceneError> {
        let Item::Play {
            note,
            for_s,
            with,
            cents,
            path,
            level_db,
            vibrato,
            attack_s,
            release_s,
        } = item
        else {
            return Ok(());
        };
        self.check("length of a note in seconds", *for_s, 0.01, 3_600.0)?;
        self.check("offset in cents", *cents, -1_200.0, 1_200.0)?;
        self.check("level of a note in dB", *level_db, -40.0, 12.0)?;
        for (at_s, cents) in path {
            self.check("moment of a path in seconds", *at_s, 0.0, 3_600.0)?;
            self.check("offset in cents", *cents, -1_200.0, 1_200.0)?;
        }
        if path.windows(2).any(|pair| pair[1].0 <= pair[0].0) {
            return Err(SceneError::Path {
                player: self.name(),
            });
        }
        let vibrato = vibrato.or(self.player.vibrato);
        if let Some(vibrato) = vibrato {
            self.check(
                "vibrato rate in swings a second",
                vibrato.rate_hz,
                0.5,
                12.0,
            )?;
            self.check("vibrato extent in cents", vibrato.extent_cents, 0.0, 100.0)?;
            self.check(
                "wait before the vibrato in seconds",
                vibrato.after_s,
                0.0,
                60.0,
            )?;
        }
        let manner = self.player.sound.manner();
        let attack_s = attack_s.unwrap_or(manner.attack_s);
        let release_s = release_s.unwrap_or(manner.release_s);
        self.check("attack in seconds", attack_s, 0.0, 10.0)?;
        self.check("release in seconds", release_s, 0.002, 10.0)?;
        let start_s = self.now_s;
        self.now_s += for_s;
        if start_s >= self.score.length_s {
            return Ok(());
        }
        let n_notes = 1 + with.len();
        for target in std::iter::once(note).chain(with) {
            self.count()?;
            self.drafts.push(Draft {
                start_s,
                end_s: self.now_s.min(self.score.length_s),
                target: target.clone(),
                bend: Bend {
                    start_s,
                    cents: *cents,
                    path: path.clone(),
                },
                vibrato,
                // The notes of a chord share the power of one.
                level_db: level_db - 10.0 * (n_notes as f64).log10(),
                attack_s,
                release_s,
                in_chord: n_notes > 1,
            });
        }
        Ok(())
    }
}
