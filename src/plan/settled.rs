//! What was settled before a rehearsal, so that it can begin there.

use std::path::PathBuf;

use super::casting::{Casting, Pattern};
use super::choice::Choice;
use super::measure::Weights;
use super::piece::{Piece, Programme};
use super::yielding::Proposal;
use crate::rehearsal::{Decision, Reach, Resolution};
use crate::tuning::{Anchor, Chain, PitchStandard, Temperament, Tuning};
use crate::units::{NoteName, Seconds};

/// The trumpets of a piece: their key, and what ties their series to the keyboard.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SettledTrumpets {
    /// The key.
    pub key: NoteName,
    /// What ties their series to a pitch.
    pub anchor: Anchor,
}

/// A piece, and where it is written.
#[derive(Debug, Clone, PartialEq)]
pub struct SettledPiece {
    /// Its title.
    pub title: String,
    /// Its score, as it can be opened from here.
    pub score: PathBuf,
    /// Its trumpets; none where none plays.
    pub trumpets: Option<SettledTrumpets>,
}

/// What is to be tried first on a note that has two true places.
#[derive(Debug, Clone, PartialEq)]
pub struct SettledNote {
    /// The note, in every octave.
    pub note: NoteName,
    /// The key of the trumpets it is meant for; none for all.
    pub key: Option<NoteName>,
    /// Who yields.
    pub resolution: Resolution,
    /// Why, in a few words; empty for no reason.
    pub remark: String,
}

/// What a leader settled for a programme.
#[derive(Debug, Clone, PartialEq)]
pub struct Settled {
    /// The programme.
    pub title: String,
    /// The pitch standard.
    pub standard: PitchStandard,
    /// The temperament.
    pub temperament: Temperament,
    /// The keyboard's twelve keys.
    pub chain: Chain,
    /// The trumpets the rehearsal begins with; none where none plays.
    pub trumpets: Option<SettledTrumpets>,
    /// Who yields on which note, what matters most first.
    pub notes: Vec<SettledNote>,
    /// The pieces it was made from.
    pub pieces: Vec<SettledPiece>,
    /// The trumpets' parts, where their names did not tell.
    pub trumpet_parts: Option<Pattern>,
    /// The keyboard's parts, where their names did not tell.
    pub keyboard_parts: Option<Pattern>,
    /// Who can be moved otherwise than usual.
    pub reaches: Vec<(Pattern, Reach)>,
}

impl Settled {
    /// What `choice` means for `programme`, with the proposals as they stand. `scores` are the
    /// files of its pieces in their order; `casting` says by what the players were told apart.
    pub fn new(
        title: &str,
        programme: &Programme,
        scores: &[PathBuf],
        casting: &Casting,
        choice: &Choice,
        weights: &Weights,
    ) -> Self {
        let trumpets = |piece: &Piece| {
            piece.key().map(|key| SettledTrumpets {
                key: key.name,
                anchor: choice.anchor_in(key.name),
            })
        };
        let pieces = programme.pieces();
        let proposals = programme.proposals(choice, weights);
        Self {
            title: title.to_owned(),
            standard: choice.standard,
            temperament: choice.temperament.clone(),
            chain: choice.chain,
            trumpets: pieces.iter().find_map(trumpets),
            notes: proposals.iter().map(SettledNote::from).collect(),
            pieces: pieces
                .iter()
                .zip(scores)
                .map(|(piece, score)| SettledPiece {
                    title: piece.title().to_owned(),
                    score: score.clone(),
                    trumpets: trumpets(piece),
                })
                .collect(),
            trumpet_parts: casting.trumpets.clone(),
            keyboard_parts: casting.keyboard.clone(),
            reaches: casting.reaches.clone(),
        }
    }

    /// What a rehearsal that would begin in `tuning` is measured against instead. Without
    /// trumpets in the plan, theirs stay as they are.
    pub fn tuning(&self, tuning: &Tuning) -> Tuning {
        let (key, anchor) = match self.trumpets {
            Some(trumpets) => (trumpets.key, trumpets.anchor),
            None => (tuning.series().key(), tuning.series().anchor()),
        };
        Tuning::new(self.standard, &self.temperament, self.chain, key, anchor)
    }

    /// What is agreed from the start with trumpets in `key`.
    pub fn decisions(&self, key: NoteName) -> Vec<Decision> {
        let meant = self.notes.iter().filter(|note| is_for(note, key));
        meant
            .map(|note| Decision {
                at: Seconds::default(),
                note: note.note,
                resolution: Some(note.resolution),
                remark: note.remark.clone(),
            })
            .collect()
    }

    /// How many notes are settled for trumpets in other keys than `key`.
    pub fn n_elsewhere(&self, key: NoteName) -> usize {
        let elsewhere = self.notes.iter().filter(|note| !is_for(note, key));
        elsewhere.count()
    }

    /// The key of all trumpets, where all play in one: what the pieces are looked at in.
    pub fn common_key(&self) -> Option<NoteName> {
        let mut keys = self.pieces.iter().filter_map(|piece| piece.trumpets);
        let first = keys.next()?.key;
        keys.all(|other| other.key == first).then_some(first)
    }

    /// How the players are told apart, beside those `known` by their names.
    pub fn casting(&self, known: Casting) -> Casting {
        Casting {
            known: known.known,
            trumpets: self.trumpet_parts.clone(),
            keyboard: self.keyboard_parts.clone(),
            reaches: self.reaches.clone(),
        }
    }
}

fn is_for(note: &SettledNote, key: NoteName) -> bool {
    note.key.is_none_or(|of| of == key)
}

impl From<&Proposal> for SettledNote {
    /// The reason is told in figures that a leader can check.
    fn from(proposal: &Proposal) -> Self {
        let number = proposal.partial.number();
        let gap = proposal.gap;
        let exposed = proposal.exposed.get();
        let settled = proposal.settled.get();
        let times = proposal.count;
        let meetings = if times == 1 { "meeting" } else { "meetings" };
        let distance = match proposal.resolution {
            Resolution::LeaveExposed => format!("{exposed:.1} cents from pure"),
            _ => format!("{exposed:.1} to {settled:.1} cents from pure"),
        };
        Self {
            note: proposal.note,
            key: Some(proposal.key),
            resolution: proposal.resolution,
            remark: format!(
                "where trumpets play it: partial {number} lies {gap:.1}; {times} {meetings}, \
                 {distance}"
            ),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tuning::Partial;
    use crate::units::Cents;

    fn name(text: &str) -> NoteName {
        text.parse().unwrap()
    }

    fn trumpets(key: &str) -> SettledTrumpets {
        SettledTrumpets {
            key: name(key),
            anchor: Anchor::tonic(name(key)),
        }
    }

    fn piece(key: Option<&str>) -> SettledPiece {
        SettledPiece {
            title: "Invented".to_owned(),
            score: PathBuf::from("invented.mid"),
            trumpets: key.map(trumpets),
        }
    }

    fn settled() -> Settled {
        let tuning = crate::rehearsal::tests::sixth_comma();
        let note = |note: &str, key: Option<&str>| SettledNote {
            note: name(note),
            key: key.map(name),
            resolution: Resolution::FollowPartial,
            remark: "why".to_owned(),
        };
        Settled {
            title: "Evening".to_owned(),
            standard: PitchStandard::new(466.0).unwrap(),
            temperament: tuning.scale().temperament().clone(),
            chain: Chain::usual(),
            trumpets: Some(trumpets("C")),
            notes: vec![note("F", Some("C")), note("G", Some("D")), note("A", None)],
            pieces: Vec::new(),
            trumpet_parts: None,
            keyboard_parts: None,
            reaches: Vec::new(),
        }
    }

    #[test]
    fn only_what_is_meant_for_the_key_is_agreed() {
        let check = |key: &str, notes: &[&str], elsewhere: usize| {
            let settled = settled();
            let agreed: Vec<String> = settled
                .decisions(name(key))
                .iter()
                .map(|decision| decision.note.ascii())
                .collect();
            assert_eq!(agreed, notes, "{key}");
            assert_eq!(settled.n_elsewhere(name(key)), elsewhere, "{key}");
        };
        check("C", &["F", "A"], 1);
        check("D", &["G", "A"], 1);
        check("Bb", &["A"], 2);
    }

    #[test]
    fn the_plan_s_tuning_takes_the_place_of_the_other() {
        let before = crate::rehearsal::tests::sixth_comma();
        let after = settled().tuning(&before);
        assert!((after.standard().a4().get() - 466.0).abs() < 1e-9);
        assert_eq!(after.series().key(), name("C"));
        let without = Settled {
            trumpets: None,
            ..settled()
        };
        let kept = without.tuning(&before);
        assert_eq!(kept.series().key(), before.series().key());
        assert_eq!(kept.series().anchor(), before.series().anchor());
    }

    #[test]
    fn a_common_key_is_one_that_all_trumpets_share() {
        let check = |keys: &[Option<&str>], common: Option<&str>| {
            let settled = Settled {
                pieces: keys.iter().map(|key| piece(*key)).collect(),
                ..settled()
            };
            assert_eq!(settled.common_key(), common.map(name), "{keys:?}");
        };
        check(&[Some("D"), None, Some("D")], Some("D"));
        check(&[Some("D"), Some("C")], None);
        check(&[None], None);
        check(&[], None);
    }

    #[test]
    fn a_proposal_says_why_in_figures() {
        let proposal = |resolution, count| Proposal {
            key: name("D"),
            note: name("G#"),
            partial: Partial::new(11).unwrap(),
            gap: Cents::new(-38.26),
            resolution,
            exposed: Cents::new(31.04),
            settled: Cents::new(4.5),
            count,
            quarters: 12.0,
        };
        let check = |resolution, count, remark: &str| {
            let note = SettledNote::from(&proposal(resolution, count));
            assert_eq!(note.remark, remark);
            assert_eq!(note.key, Some(name("D")));
        };
        check(
            Resolution::FollowPartial,
            12,
            "where trumpets play it: partial 11 lies \u{2212}38.3; 12 meetings, 31.0 to 4.5 cents from pure",
        );
        check(
            Resolution::LeaveExposed,
            1,
            "where trumpets play it: partial 11 lies \u{2212}38.3; 1 meeting, 31.0 cents from pure",
        );
    }
}
