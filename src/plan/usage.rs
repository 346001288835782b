//! What each trumpet part is asked to play, and the keys a keyboard lacks.

use super::casting::Side;
use super::choice::{Choice, on_keys};
use super::key::is_between;
use super::piece::Piece;
use crate::score::Ticks;
use crate::tuning::{Chain, Partial};
use crate::units::{Cents, Note};

/// A note of a trumpet part.
#[derive(Debug, Clone, PartialEq)]
pub struct UsedNote {
    /// What sounds.
    pub note: Note,
    /// The partial it is played with; none where it must be bent and stands at the tempered place.
    pub partial: Option<Partial>,
    /// How far the partial lies above the tempered note.
    pub from_tempered: Option<Cents>,
    /// How often it is played; tied notes are one.
    pub count: usize,
    /// How long in all, in quarter notes.
    pub quarters: f64,
    /// The bars it begins in, in order.
    pub bars: Vec<String>,
}

impl UsedNote {
    /// Whether its partial is higher than the sixteenth.
    pub fn is_high(&self) -> bool {
        self.partial.is_some_and(|partial| partial.number() > 16)
    }

    /// Whether its partial stands between two notes: 7, 11, 13 or 14.
    pub fn is_between(&self) -> bool {
        self.partial
            .is_some_and(|partial| is_between(partial.number()))
    }
}

/// What one trumpet part plays.
#[derive(Debug, Clone, PartialEq)]
pub struct Usage {
    /// The part's name.
    pub part: String,
    /// Its notes, from the lowest.
    pub notes: Vec<UsedNote>,
}

/// A note of a keyboard part whose accidental the keyboard does not have.
#[derive(Debug, Clone, PartialEq)]
pub struct MissingKey {
    /// The part's name.
    pub part: String,
    /// What is written.
    pub note: Note,
    /// The key that is struck for it.
    pub struck: Note,
    /// How often.
    pub count: usize,
    /// How long in all, in quarter notes.
    pub quarters: f64,
    /// The bars it begins in, in order.
    pub bars: Vec<String>,
}

/// A note of a part, summed up.
struct Total {
    note: Note,
    body: usize,
    count: usize,
    lasts: Ticks,
    bars: Vec<String>,
}

impl Piece {
    /// What the trumpet parts play; the partials' distances are those under `choice`.
    pub fn usage(&self, choice: &Choice) -> Vec<Usage> {
        let grid = self.grid(choice);
        self.parts_of(Side::Trumpets)
            .map(|part| {
                let notes = self.totals(part).into_iter().map(|total| {
                    let partial = self.bodies[total.body].partial;
                    let place = partial.and_then(|partial| grid.partial(partial));
                    UsedNote {
                        note: total.note,
                        partial,
                        from_tempered: place.map(|place| place.above(grid.tempered(total.note))),
                        count: total.count,
                        quarters: self.score.bars.quarters(total.lasts),
                        bars: total.bars,
                    }
                });
                Usage {
                    part: self.players[part].name.clone(),
                    notes: notes.collect(),
                }
            })
            .collect()
    }

    /// The keyboard's notes that `chain` has no key for.
    pub fn missing_keys(&self, chain: Chain) -> Vec<MissingKey> {
        self.parts_of(Side::Keyboard)
            .flat_map(|part| {
                let missing = self
                    .totals(part)
                    .into_iter()
                    .filter(|total| !chain.contains(total.note.name()));
                missing.map(move |total| MissingKey {
                    part: self.players[part].name.clone(),
                    note: total.note,
                    struck: on_keys(total.note, chain),
                    count: total.count,
                    quarters: self.score.bars.quarters(total.lasts),
                    bars: total.bars,
                })
            })
            .collect()
    }

    /// The parts on one side, counted from 0.
    pub(super) fn parts_of(&self, side: Side) -> impl Iterator<Item = usize> {
        let players = self.players.iter().enumerate();
        players
            .filter(move |(_, player)| player.side == side)
            .map(|(part, _)| part)
    }

    /// The notes of a part, summed up, from the lowest.
    fn totals(&self, part: usize) -> Vec<Total> {
        let mut totals: Vec<Total> = Vec::new();
        for (note, body) in self.score.parts[part].notes.iter().zip(&self.cast[part]) {
            let known = totals.iter().position(|total| total.note == note.note);
            let index = known.unwrap_or_else(|| {
                totals.push(Total {
                    note: note.note,
                    body: *body,
                    count: 0,
                    lasts: Ticks::default(),
                    bars: Vec::new(),
                });
                totals.len() - 1
            });
            let total = &mut totals[index];
            total.count += 1;
            total.lasts = total.lasts + (note.end - note.onset);
            let bar = self.score.bars.place(note.onset).bar;
            if total.bars.last() != Some(&bar) {
                total.bars.push(bar);
            }
        }
        totals.sort_by_key(|total| (total.note.key_number(), total.note.name().fifths()));
        totals
    }
}
