//! Which partials the ladder shows, what stands on each, and how many rows that takes. Pure.

use crate::rehearsal::{HeldVoice, Voice, VoiceLabel};
use crate::tuning::{Partial, Tuning};
use crate::units::Hertz;

/// The partials shown even when nothing sounds on them.
const LOWEST: u8 = 4;
const HIGHEST: u8 = 16;

/// A partial with all that belongs to it.
#[derive(Debug)]
pub(super) struct Rung<'a> {
    pub(super) partial: Partial,
    pub(super) held: Vec<&'a HeldVoice>,
    pub(super) trumpets: Vec<Voice<'a>>,
    /// Players whose place lies beside this partial.
    pub(super) players: Vec<Voice<'a>>,
}

impl Rung<'_> {
    fn is_bare(&self) -> bool {
        self.held.is_empty() && self.trumpets.is_empty() && self.players.is_empty()
    }

    /// Rows it takes: the first trumpet stands on the rung itself.
    fn rows(&self) -> usize {
        self.trumpets.len().max(1) + self.players.len()
    }
}

/// The ladder from top to bottom, and who has no place on it.
#[derive(Debug)]
pub(super) struct Rungs<'a> {
    pub(super) rungs: Vec<Rung<'a>>,
    pub(super) elsewhere: Vec<Voice<'a>>,
}

impl<'a> Rungs<'a> {
    /// The ladder for these voices in at most `rows` rows.
    pub(super) fn new(
        voices: impl Iterator<Item = Voice<'a>>,
        held: &'a [HeldVoice],
        tuning: &Tuning,
        rows: usize,
    ) -> Self {
        let bare = |partial| Rung {
            partial,
            held: Vec::new(),
            trumpets: Vec::new(),
            players: Vec::new(),
        };
        let mut rungs: Vec<Rung<'a>> = Partial::all().map(bare).collect();
        let mut elsewhere = Vec::new();
        let rung_of = |label: VoiceLabel, hertz: Hertz| {
            let partial = match label {
                VoiceLabel::Partial(partial) => partial,
                VoiceLabel::Note(_) => nearest(hertz, tuning),
            };
            usize::from(partial.number() - 1)
        };
        for voice in held {
            rungs[rung_of(voice.label, voice.hertz)].held.push(voice);
        }
        for voice in voices {
            let hertz = voice.sounding.needle().hertz();
            if voice.is_trumpet() {
                rungs[rung_of(voice.label, hertz)].trumpets.push(voice);
            } else if let Some(matched) = voice.matched {
                let beside = &matched.voice;
                rungs[rung_of(beside.label, beside.hertz)]
                    .players
                    .push(voice);
            } else {
                elsewhere.push(voice);
            }
        }
        rungs.reverse();
        rungs.retain(|rung| (LOWEST..=HIGHEST).contains(&rung.partial.number()) || !rung.is_bare());
        let mut ladder = Self { rungs, elsewhere };
        while ladder.rows() > rows && ladder.drop_one() {}
        ladder
    }

    /// Rows it takes.
    pub(super) fn rows(&self) -> usize {
        self.rungs.iter().map(Rung::rows).sum()
    }

    /// Takes away the bare rung farthest from any that is not; says whether there was one.
    fn drop_one(&mut self) -> bool {
        let taken: Vec<usize> = (0..self.rungs.len())
            .filter(|index| !self.rungs[*index].is_bare())
            .collect();
        let distance = |index: usize| {
            let distances = taken.iter().map(|taken| taken.abs_diff(index));
            distances.min().unwrap_or(index)
        };
        let bare = (0..self.rungs.len()).filter(|index| self.rungs[*index].is_bare());
        match bare.max_by_key(|index| distance(*index)) {
            Some(index) => {
                self.rungs.remove(index);
                true
            }
            None => false,
        }
    }
}

fn nearest(hertz: Hertz, tuning: &Tuning) -> Partial {
    let off = |partial: &Partial| tuning.series().frequency(*partial).above(hertz).abs().get();
    let found = Partial::all().min_by(|a, b| off(a).total_cmp(&off(b)));
    found.unwrap_or_else(|| Partial::all().next().expect("there are partials"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rehearsal::tests::{held_chord, sixth_comma};
    use proptest::prelude::*;

    fn numbers(held: &[(u8, f64)], rows: usize) -> Vec<u8> {
        let chord = held_chord(held);
        let rungs = Rungs::new(std::iter::empty(), &chord.voices, &sixth_comma(), rows);
        rungs
            .rungs
            .iter()
            .map(|rung| rung.partial.number())
            .collect()
    }

    #[test]
    fn bare_rungs_far_from_the_chord_go_first() {
        assert_eq!(numbers(&[(8, 0.0)], 40), (4..=16).rev().collect::<Vec<_>>());
        assert_eq!(numbers(&[(8, 0.0), (12, 0.0)], 5), [13, 12, 11, 9, 8]);
        assert_eq!(numbers(&[(8, 0.0), (12, 0.0)], 2), [12, 8]);
        assert_eq!(
            numbers(&[(3, 0.0), (20, 0.0)], 99).len(),
            15,
            "whatever sounds is shown"
        );
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn what_sounds_stays_and_the_rest_fits(
            partials in prop::collection::btree_set(1_u8..=24, 0..8), rows in 0_usize..40,
        ) {
            let held: Vec<(u8, f64)> = partials.iter().map(|number| (*number, 0.0)).collect();
            let shown = numbers(&held, rows);
            prop_assert!(shown.windows(2).all(|pair| pair[0] > pair[1]), "from high to low");
            prop_assert!(partials.iter().all(|number| shown.contains(number)));
            prop_assert!(shown.len() <= rows.max(partials.len()));
        }
    }
}
