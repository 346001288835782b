//! Who yields: the place that costs least on each note that has two true places.

use std::collections::HashMap;

use super::body::Body;
use super::casting::Side;
use super::choice::Choice;
use super::measure::{Weights, error};
use super::piece::{Piece, Programme};
use crate::rehearsal::Resolution;
use crate::tuning::Partial;
use crate::units::{Cents, NoteName};

/// Places nearer to each other than this need no agreement: a choice of this program.
const APART: Cents = Cents::new(5.0);

/// Nobody is asked to move a note farther than this, whatever the reach: a player can, but no
/// ensemble keeps it up. A choice of this program.
const MOST_ASKED: Cents = Cents::new(30.0);

/// Partials whose gaps differ by more than this under one name (in D the seventh and the
/// thirteenth are both a B) are two matters; the one that sounds longer is told.
const ONE_MATTER: Cents = Cents::new(25.0);

/// Bending to the end of one's reach costs as much as a meeting this far from pure, and half of
/// it a quarter of that: a choice of this program.
const EFFORT: Cents = Cents::new(8.0);

/// A keyboard's silence costs as much as a meeting this far from pure: a choice of this program.
const SILENCE: Cents = Cents::new(15.0);

/// What the rehearsal could start from on one note.
#[derive(Debug, Clone, PartialEq)]
pub struct Proposal {
    /// The key of the trumpets it is about; pieces in other keys have proposals of their own.
    pub key: NoteName,
    /// The note, in every octave.
    pub note: NoteName,
    /// The partial that most of the trumpets' time on that note is played with.
    pub partial: Partial,
    /// How far that partial lies above the tempered note.
    pub gap: Cents,
    /// What costs least.
    pub resolution: Resolution,
    /// How far its meetings lie from pure when everyone stays in place (RMS).
    pub exposed: Cents,
    /// How far when it is done.
    pub settled: Cents,
    /// How often trumpets on that note meet anybody.
    pub count: u32,
    /// How long in all, in quarter notes.
    pub quarters: f64,
}

impl Proposal {
    /// What there is to gain: quarter notes times cents squared.
    fn burden(&self) -> f64 {
        self.quarters * self.exposed.get().powi(2)
    }
}

/// A change that brings the meetings nearer to pure by less than this is not worth asking for: a
/// choice of this program.
const WORTHWHILE: Cents = Cents::new(2.0);

/// A meeting in which the note in question takes part.
#[derive(Debug, Clone, Copy)]
struct Stake {
    piece: usize,
    lower: usize,
    upper: usize,
    count: u32,
    quarters: f64,
    /// The product of the weights of both sides, and of the share of the time that matters.
    weight: f64,
    /// How far from pure when everyone stays in place.
    error: Cents,
}

/// Someone's note of the name in question.
#[derive(Debug, Clone, Copy)]
struct Holder {
    piece: usize,
    body: usize,
    /// How long it sounds together with a trumpet on that name, in quarter notes: only then is
    /// there anything to decide.
    quarters: f64,
    /// Which share of its time that is.
    share: f64,
}

/// All that hangs on one note.
struct Matter<'a> {
    note: NoteName,
    gap: Cents,
    pieces: &'a [&'a Piece],
    /// How far each trumpet body's own partial lies above its tempered place.
    gaps: &'a [Vec<Cents>],
    stakes: Vec<Stake>,
    holders: Vec<Holder>,
}

impl Programme {
    /// A proposal for each note on which partial and temperament differ by five cents or more and
    /// trumpets meet somebody: the place that costs least, the errors of all meetings and the
    /// effort of all who move counted, as long as a trumpet sounds it. What matters most comes
    /// first.
    pub fn proposals(&self, choice: &Choice, weights: &Weights) -> Vec<Proposal> {
        let mut keys: Vec<NoteName> = Vec::new();
        for key in self.pieces().iter().filter_map(Piece::key) {
            if !keys.contains(&key.name) {
                keys.push(key.name);
            }
        }
        let mut proposals: Vec<Proposal> = keys
            .into_iter()
            .flat_map(|key| self.proposals_in(key, choice, weights))
            .collect();
        proposals.sort_by(|a, b| b.burden().total_cmp(&a.burden()));
        proposals
    }

    fn proposals_in(&self, key: NoteName, choice: &Choice, weights: &Weights) -> Vec<Proposal> {
        let pieces: Vec<&Piece> = self
            .pieces()
            .iter()
            .filter(|piece| piece.key().is_some_and(|other| other.name == key))
            .collect();
        let gaps: Vec<Vec<Cents>> = pieces.iter().map(|piece| piece.gaps(choice)).collect();
        let lengths: Vec<Vec<f64>> = pieces.iter().map(|piece| piece.lengths()).collect();
        let stakes = stakes(&pieces, choice, weights);
        // By name, then by partial: how long the trumpets play it, and its gap.
        let mut names: Vec<NoteName> = Vec::new();
        let mut played: HashMap<NoteName, HashMap<Partial, (f64, Cents)>> = HashMap::new();
        for (index, piece) in pieces.iter().enumerate() {
            for (body_index, body) in piece.bodies.iter().enumerate() {
                let Some(partial) = body.partial else {
                    continue;
                };
                let name = body.note.name();
                if !names.contains(&name) {
                    names.push(name);
                }
                let time = played.entry(name).or_default().entry(partial).or_default();
                time.0 += lengths[index][body_index];
                time.1 = gaps[index][body_index];
            }
        }
        names
            .into_iter()
            .filter_map(|name| {
                let mut partials: Vec<_> = played.get(&name)?.iter().collect();
                partials.sort_by_key(|(partial, _)| **partial);
                let (partial, (_, gap)) = partials
                    .into_iter()
                    .max_by(|a, b| a.1.0.total_cmp(&b.1.0))?;
                let matter = Matter::new(name, *gap, &pieces, &gaps, &stakes, &lengths);
                matter.proposal(key, *partial)
            })
            .collect()
    }
}

/// Every meeting of `pieces`.
fn stakes(pieces: &[&Piece], choice: &Choice, weights: &Weights) -> Vec<Stake> {
    let mut stakes = Vec::new();
    for (index, piece) in pieces.iter().enumerate() {
        let places = piece.places(choice);
        for meeting in &piece.meetings {
            let (lower, upper) = (meeting.lower, meeting.upper);
            stakes.push(Stake {
                piece: index,
                lower,
                upper,
                count: meeting.count,
                quarters: piece.score.bars.quarters(meeting.lasts),
                weight: weights.of_meeting(&piece.bodies[lower], &piece.bodies[upper]),
                error: error(meeting, places[lower], places[upper]),
            });
        }
    }
    stakes
}

impl Piece {
    /// How far the partial of each body lies above its tempered place; nothing without one.
    fn gaps(&self, choice: &Choice) -> Vec<Cents> {
        let grid = self.grid(choice);
        let gap = |body: &Body| {
            body.partial
                .and_then(|partial| grid.partial(partial))
                .map_or(Cents::UNISON, |place| place.above(grid.tempered(body.note)))
        };
        self.bodies.iter().map(gap).collect()
    }

    /// How long each body sounds in all, in quarter notes.
    fn lengths(&self) -> Vec<f64> {
        let mut lengths = vec![0.0; self.bodies.len()];
        for (part, cast) in self.score.parts.iter().zip(&self.cast) {
            for (note, body) in part.notes.iter().zip(cast) {
                lengths[*body] += self.score.bars.quarters(note.end - note.onset);
            }
        }
        lengths
    }
}

impl<'a> Matter<'a> {
    /// What hangs on `note`: the meetings of the trumpets on it, and those of all others on it as
    /// far as they sound together with a trumpet on it.
    fn new(
        note: NoteName,
        gap: Cents,
        pieces: &'a [&'a Piece],
        gaps: &'a [Vec<Cents>],
        stakes: &[Stake],
        lengths: &[Vec<f64>],
    ) -> Self {
        let mut holders = Vec::new();
        for (piece, lengths) in lengths.iter().enumerate() {
            let bodies = pieces[piece].bodies.iter().enumerate();
            let of_matter = |(index, body): &(usize, &Body)| {
                let is_other =
                    body.partial.is_some() && (gaps[piece][*index] - gap).abs() > ONE_MATTER;
                body.note.name() == note && !is_other
            };
            for (body, _) in bodies.filter(of_matter) {
                holders.push(Holder {
                    piece,
                    body,
                    quarters: lengths[body],
                    share: 1.0,
                });
            }
        }
        let is_trumpet = |piece: usize, body: usize| {
            let gap_here = gaps[piece][body];
            let body = &pieces[piece].bodies[body];
            let is_of_matter = (gap_here - gap).abs() <= ONE_MATTER;
            body.partial.is_some() && body.note.name() == note && is_of_matter
        };
        for holder in &mut holders {
            let Holder { piece, body, .. } = *holder;
            if is_trumpet(piece, body) {
                continue;
            }
            let shared = stakes.iter().filter(|stake| {
                stake.piece == piece
                    && ((stake.lower == body && is_trumpet(piece, stake.upper))
                        || (stake.upper == body && is_trumpet(piece, stake.lower)))
            });
            // Two trumpets on the note at once count for one.
            let shared: f64 = shared.map(|stake| stake.quarters).sum();
            let shared = shared.min(holder.quarters);
            holder.share = shared / holder.quarters.max(f64::MIN_POSITIVE);
            holder.quarters = shared;
        }
        let share = |piece: usize, body: usize| {
            let mut all = holders.iter();
            all.find(|holder| holder.piece == piece && holder.body == body)
                .map(|holder| holder.share)
        };
        let stakes = stakes.iter().filter_map(|stake| {
            let both = [stake.lower, stake.upper].map(|body| share(stake.piece, body));
            let share = both.into_iter().flatten().reduce(f64::max)?;
            Some(Stake {
                weight: stake.weight * stake.quarters * share,
                ..*stake
            })
        });
        Self {
            note,
            gap,
            pieces,
            gaps,
            stakes: stakes.collect(),
            holders,
        }
    }

    /// The proposal, where there is something to decide and somebody to decide it with.
    fn proposal(&self, key: NoteName, partial: Partial) -> Option<Proposal> {
        if self.gap.abs() < APART {
            return None;
        }
        let exposed = self.distance(Resolution::LeaveExposed)?;
        let cheapest = self
            .candidates()
            .into_iter()
            .map(|resolution| (resolution, self.cost(resolution)))
            .min_by(|a, b| a.1.total_cmp(&b.1))?
            .0;
        // Left out by all it would meet nobody.
        let settled = self.distance(cheapest).unwrap_or_default();
        let (resolution, settled) = if exposed - settled < WORTHWHILE {
            (Resolution::LeaveExposed, exposed)
        } else {
            (cheapest, settled)
        };
        let (mut count, mut quarters) = (0_u32, 0.0);
        for stake in &self.stakes {
            let of_trumpet = [stake.lower, stake.upper].into_iter().any(|body| {
                let has_partial = self.pieces[stake.piece].bodies[body].partial.is_some();
                has_partial && self.is_held(stake.piece, body)
            });
            if of_trumpet {
                count = count.saturating_add(stake.count);
                quarters += stake.quarters;
            }
        }
        Some(Proposal {
            key,
            note: self.note,
            partial,
            gap: self.gap,
            resolution,
            exposed,
            settled,
            count,
            quarters,
        })
    }

    /// What can be done, what is done most simply first.
    fn candidates(&self) -> Vec<Resolution> {
        let is_played_by = |side: Side| {
            let mut holders = self.holders.iter();
            holders.any(|holder| {
                self.pieces[holder.piece].bodies[holder.body].side == side && holder.share > 0.0
            })
        };
        let mut candidates = vec![Resolution::LeaveExposed];
        if is_played_by(Side::Others) {
            candidates.push(Resolution::FollowPartial);
        }
        candidates.push(Resolution::TrumpetLips);
        let towards = self.gap.get().signum();
        let steps = (self.gap.get().abs() - APART.get()).max(0.0) as i32;
        candidates.extend(
            (APART.get() as i32..=steps)
                .map(|step| Resolution::MeetBetween(Cents::new(towards * f64::from(step)))),
        );
        if is_played_by(Side::Keyboard) {
            candidates.push(Resolution::KeyboardLeavesOut);
        }
        candidates.retain(|candidate| self.is_in_reach(*candidate));
        candidates
    }

    /// Whether all who would have to move can go so far.
    fn is_in_reach(&self, resolution: Resolution) -> bool {
        let mut heard = self.holders.iter().filter(|holder| holder.share > 0.0);
        heard.all(|holder| {
            let reach = self.pieces[holder.piece].bodies[holder.body].reach;
            self.moved(resolution, holder.piece, holder.body)
                .is_none_or(|moved| {
                    moved <= reach.up && -moved <= reach.down && moved.abs() <= MOST_ASKED
                })
        })
    }

    /// How far a body of that name moves from where it stands by itself; none where it is silent.
    fn moved(&self, resolution: Resolution, piece: usize, body: usize) -> Option<Cents> {
        let gap = self.gaps[piece][body];
        let body = &self.pieces[piece].bodies[body];
        let moved = match (resolution, body.side) {
            (Resolution::KeyboardLeavesOut, Side::Keyboard) => return None,
            (_, Side::Keyboard) => Cents::UNISON,
            // Set strings and drums stay where they were tuned, and do not keep others from moving.
            _ if body.reach.up.get() <= 0.0 && body.reach.down.get() <= 0.0 => Cents::UNISON,
            (Resolution::LeaveExposed, _)
            | (Resolution::FollowPartial | Resolution::KeyboardLeavesOut, Side::Trumpets)
            | (Resolution::FollowTemperament | Resolution::TrumpetLips, Side::Others) => {
                Cents::UNISON
            }
            (Resolution::FollowPartial | Resolution::KeyboardLeavesOut, Side::Others) => self.gap,
            (Resolution::FollowTemperament | Resolution::TrumpetLips, Side::Trumpets) => -gap,
            (Resolution::MeetBetween(cents), Side::Trumpets) if body.partial.is_some() => {
                cents - gap
            }
            (Resolution::MeetBetween(cents), Side::Trumpets | Side::Others) => cents,
        };
        Some(moved)
    }

    /// Whether it is one of those it is about.
    fn is_held(&self, piece: usize, body: usize) -> bool {
        let mut holders = self.holders.iter();
        holders.any(|holder| holder.piece == piece && holder.body == body)
    }

    /// Weight and sum of squares of the meetings.
    fn squares(&self, resolution: Resolution) -> (f64, f64) {
        let moved = |piece: usize, body: usize| {
            if self.is_held(piece, body) {
                self.moved(resolution, piece, body)
            } else {
                Some(Cents::UNISON)
            }
        };
        let (mut weight, mut squares) = (0.0, 0.0);
        for stake in &self.stakes {
            let both = (
                moved(stake.piece, stake.lower),
                moved(stake.piece, stake.upper),
            );
            if let (Some(lower), Some(upper)) = both {
                weight += stake.weight;
                squares += stake.weight * (stake.error + upper - lower).get().powi(2);
            }
        }
        (weight, squares)
    }

    /// How far the meetings lie from pure (RMS).
    fn distance(&self, resolution: Resolution) -> Option<Cents> {
        let (weight, squares) = self.squares(resolution);
        (weight > 0.0).then(|| Cents::new((squares / weight).sqrt()))
    }

    /// What it costs: the meetings, and the effort and silence of all who play the note.
    fn cost(&self, resolution: Resolution) -> f64 {
        let (_, squares) = self.squares(resolution);
        let efforts = self.holders.iter().map(|holder| {
            let effort = match self.moved(resolution, holder.piece, holder.body) {
                None => SILENCE,
                Some(moved) => {
                    let reach = self.pieces[holder.piece].bodies[holder.body].reach;
                    let limit = if moved.get() > 0.0 {
                        reach.up
                    } else {
                        reach.down
                    };
                    if moved == Cents::UNISON || limit.get() <= 0.0 {
                        Cents::UNISON
                    } else {
                        EFFORT * (moved.get() / limit.get())
                    }
                }
            };
            holder.quarters * effort.get().powi(2)
        });
        squares + efforts.sum::<f64>()
    }
}
