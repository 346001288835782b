//! The meetings that lie farthest from pure.

use std::collections::HashMap;

use super::body::Body;
use super::casting::Side;
use super::choice::Choice;
use super::measure::error;
use super::meetings::{Occurrence, PLACES};
use super::piece::{Piece, Programme};
use crate::score::ScorePlace;
use crate::tuning::{Partial, Ratio};
use crate::units::{Cents, Note};

/// One side of a clash.
#[derive(Debug, Clone, PartialEq)]
pub struct ClashNote {
    /// The part where it first happens.
    pub part: String,
    /// What sounds.
    pub note: Note,
    /// Where it stands.
    pub side: Side,
    /// The partial, where it stands on one.
    pub partial: Option<Partial>,
}

impl ClashNote {
    fn of(body: &Body) -> Self {
        Self {
            part: String::new(),
            note: body.note,
            side: body.side,
            partial: body.partial,
        }
    }
}

/// All meetings of the same two notes on the same sides in one piece.
#[derive(Debug, Clone, PartialEq)]
pub struct Clash {
    /// The piece, counted from 0.
    pub piece: usize,
    /// The lower note.
    pub lower: ClashNote,
    /// The upper note.
    pub upper: ClashNote,
    /// The pure size of the written interval.
    pub pure: Ratio,
    /// How far from it; positive is wide.
    pub error: Cents,
    /// Beats a second of the lowest partials that meet; positive when wide.
    pub beats_hz: f64,
    /// How often it happens.
    pub count: u32,
    /// How long in all, in quarter notes.
    pub quarters: f64,
    /// Where it happens first; at most sixteen places, in order.
    pub places: Vec<ScorePlace>,
}

/// Above this many a second nobody counts beats.
const COUNTABLE_HZ: f64 = 15.0;

impl Clash {
    /// Beats a second, where they are slow enough to be counted.
    pub fn countable_hz(&self) -> Option<f64> {
        Some(self.beats_hz.abs()).filter(|hz| *hz <= COUNTABLE_HZ)
    }

    /// What it adds to the error of the whole: quarter notes times cents squared.
    pub fn burden(&self) -> f64 {
        self.quarters * self.error.get().powi(2)
    }
}

/// The same two notes on the same sides, whoever plays them.
type Same = (Note, Side, Note, Side);

impl Piece {
    /// Every kind of meeting under `choice`.
    fn clashes(&self, index: usize, choice: &Choice) -> Vec<Clash> {
        let places = self.places(choice);
        let mut found: Vec<(Clash, Vec<Occurrence>)> = Vec::new();
        let mut known: HashMap<Same, usize> = HashMap::new();
        for meeting in &self.meetings {
            let (lower, upper) = (&self.bodies[meeting.lower], &self.bodies[meeting.upper]);
            let (low, high) = (places[meeting.lower], places[meeting.upper]);
            let quarters = self.score.bars.quarters(meeting.lasts);
            let same = (lower.note, lower.side, upper.note, upper.side);
            if let Some(at) = known.get(&same) {
                let (clash, occurrences) = &mut found[*at];
                clash.count = clash.count.saturating_add(meeting.count);
                clash.quarters += quarters;
                occurrences.extend(&meeting.places);
                continue;
            }
            known.insert(same, found.len());
            let clash = Clash {
                piece: index,
                lower: ClashNote::of(lower),
                upper: ClashNote::of(upper),
                pure: meeting.pure,
                error: error(meeting, low, high),
                beats_hz: meeting.pure.beats_hz(high, low),
                count: meeting.count,
                quarters,
                places: Vec::new(),
            };
            found.push((clash, meeting.places.clone()));
        }
        let located = found.into_iter().map(|(mut clash, mut occurrences)| {
            occurrences.sort_by_key(|occurrence| occurrence.at);
            occurrences.truncate(PLACES);
            if let Some(first) = occurrences.first() {
                clash
                    .lower
                    .part
                    .clone_from(&self.players[first.lower_part].name);
                clash
                    .upper
                    .part
                    .clone_from(&self.players[first.upper_part].name);
            }
            let place = |occurrence: &Occurrence| self.score.bars.place(occurrence.at);
            clash.places = occurrences.iter().map(place).collect();
            clash
        });
        located.collect()
    }

    /// The `count` meetings farthest from pure, worst first; of equally far ones the longest.
    pub fn worst(&self, choice: &Choice, count: usize) -> Vec<Clash> {
        farthest(self.clashes(0, choice), count)
    }
}

impl Programme {
    /// The `count` meetings farthest from pure, worst first; of equally far ones the longest.
    pub fn worst(&self, choice: &Choice, count: usize) -> Vec<Clash> {
        let pieces = self.pieces().iter().enumerate();
        farthest(
            pieces
                .flat_map(|(index, piece)| piece.clashes(index, choice))
                .collect(),
            count,
        )
    }
}

fn farthest(mut clashes: Vec<Clash>, count: usize) -> Vec<Clash> {
    // Whole thousandths, so that equal distances computed in two ways stay equal.
    let rank = |clash: &Clash| (clash.error.get().abs() * 1000.0).round();
    clashes.sort_by(|a, b| {
        rank(b)
            .total_cmp(&rank(a))
            .then(b.quarters.total_cmp(&a.quarters))
    });
    clashes.truncate(count);
    clashes
}
