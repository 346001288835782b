//! What was agreed, and where that puts everybody.

use super::Digest;
use super::wording::{self, signed};
use crate::rehearsal::{Decision, Family, Resolution};
use crate::tuning::{Partial, PartialPlace, Placement, TemperedPlace};
use crate::units::{Cents, NoteName};

/// One agreed note.
#[derive(Debug, Clone)]
pub(super) struct AgreedNote<'a> {
    pub(super) decision: &'a Decision,
    pub(super) resolution: Resolution,
    /// Both places of the note; none where nothing was measured against anything.
    pub(super) places: Option<Placement>,
    /// Families that stand at the same place, in cents from the tempered one; no cents where
    /// they are silent, or where no partial is near that they could follow.
    pub(super) stands: Vec<(Vec<Family>, Option<Cents>)>,
}

impl AgreedNote<'_> {
    /// Where everybody stands, in words.
    pub(super) fn stands_in_words(&self) -> Vec<(String, String)> {
        let all = self.stands.len() == 1;
        let words = |(families, cents): &(Vec<Family>, Option<Cents>)| {
            let names: Vec<&str> = families.iter().map(|f| wording::family(*f)).collect();
            let who = if all {
                "all".to_owned()
            } else {
                names.join(", ")
            };
            let leaves_out = matches!(self.resolution, Resolution::KeyboardLeavesOut);
            let place = match cents {
                Some(cents) => signed(*cents),
                None if leaves_out && families.contains(&Family::Keyboard) => "silent".to_owned(),
                None => "no partial near".to_owned(),
            };
            (who, place)
        };
        self.stands.iter().map(words).collect()
    }
}

/// What is agreed in the end, in the order of the notes' fifths.
pub(super) fn agreed_notes<'a>(digest: &Digest<'a>) -> Vec<AgreedNote<'a>> {
    let agreements = digest.chronicle().agreements().into_iter();
    let note = |decision: &'a Decision| {
        let resolution = decision.resolution?;
        let places = places_of(digest, decision.note);
        let mut stands: Vec<(Vec<Family>, Option<Cents>)> = Vec::new();
        for family in families_on(digest, decision.note) {
            let Some(places) = &places else { break };
            let place = resolution.place(family, places);
            let cents = place.map(|place| place.above(places.tempered.place));
            let same = |other: Option<Cents>| match (cents, other) {
                (Some(a), Some(b)) => (a - b).abs().get() < 0.05,
                (a, b) => a.is_none() && b.is_none(),
            };
            match stands.iter_mut().find(|(_, other)| same(*other)) {
                Some((families, _)) => families.push(family),
                None => stands.push((vec![family], cents)),
            }
        }
        Some(AgreedNote {
            decision,
            resolution,
            places,
            stands,
        })
    };
    agreements.filter_map(note).collect()
}

/// The families that played `note`, or all of them if none did.
fn families_on(digest: &Digest<'_>, note: NoteName) -> Vec<Family> {
    let meetings = &digest.ledger.meetings;
    match meetings.iter().find(|meeting| meeting.note == note) {
        Some(meeting) if !meeting.groups.is_empty() => {
            meeting.groups.iter().map(|group| group.family).collect()
        }
        _ => digest.families(),
    }
}

/// Both places of a note: with the partial and the gap it was met with, or else as the tuning
/// has them in the octave above middle C's, where trumpets play most.
fn places_of(digest: &Digest<'_>, name: NoteName) -> Option<Placement> {
    let tuning = digest.tuning()?;
    let note = name.in_octave(5);
    let place = tuning.scale().frequency(note);
    let met = digest.ledger.meetings.iter().find(|m| m.note == name);
    let partial = met.and_then(|met| {
        let gap = met.gap?;
        Some(PartialPlace {
            partial: Partial::new(met.partial?).ok()?,
            octaves: 0,
            place: place.raised(gap),
            cents: -gap,
        })
    });
    let tempered = TemperedPlace {
        note,
        place,
        cents: Cents::UNISON,
    };
    Some(Placement {
        partial: partial.or_else(|| tuning.place(place).partial),
        tempered,
    })
}
