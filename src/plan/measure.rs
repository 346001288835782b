//! How far a programme's meetings are from pure under a choice.

use super::body::Body;
use super::casting::Side;
use super::choice::Choice;
use super::meetings::Meeting;
use super::piece::{Piece, Programme};
use super::roughness::{between, within};
use crate::units::{Cents, Hertz};

/// How much the meetings of each side count in a ranking; the weight of a meeting is the
/// product of both sides'. 1 unless said otherwise, 0 leaves a side out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Weights {
    /// Of trumpets.
    pub trumpets: f64,
    /// Of keyboards.
    pub keyboard: f64,
    /// Of strings, winds and voices: all who can move.
    pub others: f64,
}

impl Default for Weights {
    fn default() -> Self {
        Self {
            trumpets: 1.0,
            keyboard: 1.0,
            others: 1.0,
        }
    }
}

impl Weights {
    fn of(&self, side: Side) -> f64 {
        match side {
            Side::Trumpets => self.trumpets,
            Side::Keyboard => self.keyboard,
            Side::Others => self.others,
        }
    }

    /// The weight of a meeting.
    pub(super) fn of_meeting(&self, lower: &Body, upper: &Body) -> f64 {
        self.of(lower.side) * self.of(upper.side)
    }
}

/// What a choice does to a piece or a programme. Distances are root mean squares of the errors
/// (actual less pure size) of all meetings, weighed by how long they last; none where there is no
/// such meeting.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Measures {
    /// Between a trumpet and anybody else.
    pub trumpet_other: Option<Cents>,
    /// Between trumpets.
    pub trumpet_trumpet: Option<Cents>,
    /// Among all others.
    pub other_other: Option<Cents>,
    /// Of all meetings alike.
    pub all: Option<Cents>,
    /// Of all meetings, by the weights given: what rankings go by.
    pub weighted: Option<Cents>,
    /// Mean beats a second of the lowest partials that meet, by the weights given.
    pub beats_hz: Option<f64>,
    /// Mean roughness of the two tones, by the weights given ([`super::roughness()`]).
    pub roughness: Option<f64>,
}

/// How far two places are from a pure interval; positive is wide.
pub(super) fn error(meeting: &Meeting, lower: Hertz, upper: Hertz) -> Cents {
    (upper.above(lower) - meeting.pure.cents()).nearest_octave()
}

/// A weighted mean of squares, or of plain values.
#[derive(Debug, Clone, Copy, Default)]
struct Mean {
    weight: f64,
    sum: f64,
}

impl Mean {
    fn add(&mut self, weight: f64, value: f64) {
        self.weight += weight;
        self.sum += weight * value;
    }

    fn value(self) -> Option<f64> {
        (self.weight > 0.0).then(|| self.sum / self.weight)
    }

    fn root(self) -> Option<Cents> {
        self.value().map(|mean| Cents::new(mean.sqrt()))
    }
}

#[derive(Debug, Clone, Copy, Default)]
struct Means {
    trumpet_other: Mean,
    trumpet_trumpet: Mean,
    other_other: Mean,
    weighted: Mean,
    beats: Mean,
    roughness: Mean,
}

impl Means {
    fn add(&mut self, piece: &Piece, choice: &Choice, weights: &Weights) {
        let places = piece.places(choice);
        let own: Vec<f64> = places.iter().map(|place| within(place.get())).collect();
        for meeting in &piece.meetings {
            let (lower, upper) = (&piece.bodies[meeting.lower], &piece.bodies[meeting.upper]);
            let (low, high) = (places[meeting.lower], places[meeting.upper]);
            let quarters = piece.score.bars.quarters(meeting.lasts);
            let square = error(meeting, low, high).get().powi(2);
            let trumpets = [lower, upper].map(|body| body.side == Side::Trumpets);
            match trumpets {
                [true, true] => self.trumpet_trumpet.add(quarters, square),
                [false, false] => self.other_other.add(quarters, square),
                [true, false] | [false, true] => self.trumpet_other.add(quarters, square),
            }
            let weight = quarters * weights.of_meeting(lower, upper);
            self.weighted.add(weight, square);
            self.beats
                .add(weight, meeting.pure.beats_hz(high, low).abs());
            let rough = between(low.get(), high.get()) + own[meeting.lower] + own[meeting.upper];
            self.roughness.add(weight, rough);
        }
    }

    fn measures(self) -> Measures {
        let mut all = self.trumpet_other;
        for part in [self.trumpet_trumpet, self.other_other] {
            all.weight += part.weight;
            all.sum += part.sum;
        }
        Measures {
            trumpet_other: self.trumpet_other.root(),
            trumpet_trumpet: self.trumpet_trumpet.root(),
            other_other: self.other_other.root(),
            all: all.root(),
            weighted: self.weighted.root(),
            beats_hz: self.beats.value(),
            roughness: self.roughness.value(),
        }
    }
}

impl Piece {
    /// What `choice` does to this piece.
    pub fn measure(&self, choice: &Choice, weights: &Weights) -> Measures {
        let mut means = Means::default();
        means.add(self, choice, weights);
        means.measures()
    }

    /// Weight and sum of squares of all meetings.
    fn squares(&self, choice: &Choice, weights: &Weights) -> Mean {
        let places = self.places(choice);
        let mut mean = Mean::default();
        for meeting in &self.meetings {
            let (lower, upper) = (meeting.lower, meeting.upper);
            let weight = self.score.bars.quarters(meeting.lasts)
                * weights.of_meeting(&self.bodies[lower], &self.bodies[upper]);
            let square = error(meeting, places[lower], places[upper]).get().powi(2);
            mean.add(weight, square);
        }
        mean
    }
}

impl Programme {
    /// What `choice` does to all pieces: as if they were one long piece, so that each weighs by
    /// the length of its meetings.
    pub fn measure(&self, choice: &Choice, weights: &Weights) -> Measures {
        let mut means = Means::default();
        for piece in self.pieces() {
            means.add(piece, choice, weights);
        }
        means.measures()
    }

    /// What rankings go by: [`Measures::weighted`] alone, sooner.
    pub fn distance(&self, choice: &Choice, weights: &Weights) -> Option<Cents> {
        let mut all = Mean::default();
        for piece in self.pieces() {
            let mean = piece.squares(choice, weights);
            all.weight += mean.weight;
            all.sum += mean.sum;
        }
        all.root()
    }
}
