//! What a plan says: which tuning serves a programme, and the notes that will hurt.

mod data;
mod table;

use crate::plan::{
    BestFraction, Choice, Clash, Measures, MissingKey, Programme, Proposal, Ranked, RankedAnchor,
    RankedChain, Side, Usage, Weights,
};
use crate::tuning::Temperament;
use crate::units::Cents;

/// How many of the worst meetings are told.
const WORST: usize = 10;

/// Everything a plan finds out, worked out once.
#[derive(Debug, Clone)]
pub struct PlanReport<'a> {
    programme: &'a Programme,
    temperaments: &'a [Temperament],
    weights: Weights,
    /// In the temperament the rest is told of.
    chosen: Choice,
    /// The nearest to pure first.
    ranked: Vec<Ranked>,
    /// For each piece, in the order of `temperaments`.
    by_piece: Vec<Vec<Measures>>,
    best_fraction: Option<BestFraction>,
    anchors: Vec<RankedAnchor>,
    best_shift: Option<(Cents, Cents)>,
    chains: Vec<RankedChain>,
    worst: Vec<Clash>,
    proposals: Vec<Proposal>,
    /// For each piece.
    usage: Vec<Vec<Usage>>,
    /// For each piece.
    missing: Vec<Vec<MissingKey>>,
}

impl<'a> PlanReport<'a> {
    /// How many steps the work has for `temperaments` of them.
    pub fn steps(programme: &Programme, temperaments: usize) -> u64 {
        (temperaments * (programme.pieces().len() + 1) + 5) as u64
    }

    /// Works out everything, in the rest of `choice`; what is told of one temperament is told of
    /// the nearest to pure of those given. `step` is called [`Self::steps`] times.
    pub fn new(
        programme: &'a Programme,
        temperaments: &'a [Temperament],
        choice: &Choice,
        weights: Weights,
        mut step: impl FnMut(),
    ) -> Self {
        let ranked = programme.rank(temperaments, choice, &weights, &mut step);
        let mut by_piece = Vec::new();
        for piece in programme.pieces() {
            let mut measures = Vec::new();
            for temperament in temperaments {
                measures.push(piece.measure(&choice.in_temperament(temperament), &weights));
                step();
            }
            by_piece.push(measures);
        }
        let chosen = ranked.first().map_or_else(
            || choice.clone(),
            |first| choice.in_temperament(&temperaments[first.temperament]),
        );
        let best_fraction = programme.best_fraction(&chosen, &weights);
        step();
        let anchors = programme.anchors(&chosen, &weights);
        step();
        let chains = programme.chains(&chosen, &weights);
        step();
        let worst = programme.worst(&chosen, WORST);
        step();
        let proposals = programme.proposals(&chosen, &weights);
        step();
        let pieces = programme.pieces().iter();
        Self {
            programme,
            temperaments,
            weights,
            ranked,
            by_piece,
            best_fraction,
            anchors,
            best_shift: programme.best_shift(&chosen),
            chains,
            worst,
            proposals,
            usage: pieces.clone().map(|piece| piece.usage(&chosen)).collect(),
            missing: pieces
                .map(|piece| piece.missing_keys(chosen.chain))
                .collect(),
            chosen,
        }
    }

    /// The tuning that is told of in detail: the nearest to pure.
    pub fn chosen(&self) -> &Choice {
        &self.chosen
    }

    /// Whether there was anything to compare the temperaments by.
    pub fn has_compared(&self) -> bool {
        self.ranked
            .first()
            .is_some_and(|first| first.measures.weighted.is_some())
    }

    /// Who yields, in the tuning chosen.
    pub fn proposals(&self) -> &[Proposal] {
        &self.proposals
    }

    /// What `temperament` does to the whole programme.
    fn measures_of(&self, temperament: usize) -> Measures {
        self.ranked
            .iter()
            .find(|ranked| ranked.temperament == temperament)
            .map(|ranked| ranked.measures)
            .unwrap_or_default()
    }

    /// The names of the parts on one side in a piece.
    fn parts_of(&self, piece: usize, side: Side) -> Vec<&str> {
        let players = self.programme.pieces()[piece].players().iter();
        players
            .filter(|player| player.side == side)
            .map(|player| player.name.as_str())
            .collect()
    }
}
