//! The meetings that lie farthest from pure.

use super::casting::Side;
use super::choice::Choice;
use super::measure::error;
use super::meetings::Occurrence;
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

/// All meetings of the same two notes, by the same kinds of players, in one piece.
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

impl Clash {
    /// What it adds to the error of the whole: quarter notes times cents squared.
    pub fn burden(&self) -> f64 {
        self.quarters * self.error.get().powi(2)
    }
}

impl Piece {
    /// Every kind of meeting under `choice`.
    fn clashes(&self, index: usize, choice: &Choice) -> Vec<Clash> {
        let places = self.places(choice);
        let note = |body: usize, part: usize| ClashNote {
            part: self.players[part].name.clone(),
            note: self.bodies[body].note,
            side: self.bodies[body].side,
            partial: self.bodies[body].partial,
        };
        let clash = |meeting: &super::meetings::Meeting| {
            let (low, high) = (places[meeting.lower], places[meeting.upper]);
            let first = meeting.places.first()?;
            let place = |at: &Occurrence| self.score.bars.place(at.at);
            Some(Clash {
                piece: index,
                lower: note(meeting.lower, first.lower_part),
                upper: note(meeting.upper, first.upper_part),
                pure: meeting.pure,
                error: error(meeting, low, high),
                beats_hz: meeting.pure.beats_hz(high, low),
                count: meeting.count,
                quarters: self.score.bars.quarters(meeting.lasts),
                places: meeting.places.iter().map(place).collect(),
            })
        };
        self.meetings.iter().filter_map(clash).collect()
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
