//! The same pitches of the same players over several rehearsals.

mod practice;
mod written;

pub use practice::ComparedPractice;
pub(super) use practice::points;

use super::Digest;
use super::wording::instant;
use crate::rehearsal::{LedgerRow, Spread, VoiceLabel};
use crate::units::{Cents, Hertz, Note, NoteName};

/// A pitch has come back when it was nearer its place by so much in between than before and
/// after: a choice of this program.
const CAME_NEAR: f64 = 3.0;

/// Several rehearsals side by side, in order of date.
#[derive(Debug, Clone)]
pub struct Comparison<'a> {
    digests: Vec<&'a Digest<'a>>,
    /// Pitches heard in two rehearsals or more: first those that came near their place and
    /// moved away again, then those that changed most.
    pub pitches: Vec<ComparedPitch>,
    /// Notes on which something was agreed in any of them.
    pub agreements: Vec<ComparedAgreement>,
    /// Notes of exercises that were held in any of them.
    pub practice: Vec<ComparedPractice>,
}

/// One pitch of one player.
#[derive(Debug, Clone, PartialEq)]
pub struct ComparedPitch {
    /// The player's name, by which players are known again.
    pub player: String,
    /// A trumpet's partial or the note.
    pub label: VoiceLabel,
    /// The tempered note.
    pub note: Note,
    /// For each rehearsal where it stood; none where it was not heard.
    pub stands: Vec<Option<Stand>>,
    /// How far it moved from the first time to the last, against where everybody stood.
    pub change: Cents,
    /// Whether it came near the place it is measured from and moved away again. That is the
    /// agreed place; without one a trumpet's partial or the tempered note.
    pub came_back: bool,
}

/// Where a pitch stood in one rehearsal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stand {
    /// Cents from the tempered place.
    pub from_tempered: Spread,
    /// Cents from the partial.
    pub from_partial: Option<Spread>,
    /// How many notes.
    pub count: usize,
    /// How far from the place it is measured from.
    off: Cents,
}

/// What was agreed on one note.
#[derive(Debug, Clone, PartialEq)]
pub struct ComparedAgreement {
    /// The note.
    pub note: NoteName,
    /// For each rehearsal what held in the end, in words; none where nothing did.
    pub agreed: Vec<Option<String>>,
}

impl<'a> Comparison<'a> {
    /// Compares these rehearsals; their order does not matter.
    pub fn of(digests: &'a [Digest<'a>]) -> Self {
        let mut digests: Vec<&Digest<'_>> = digests.iter().collect();
        // Those without a date that can be read come last, as they were given.
        digests.sort_by_key(|digest| {
            let begun = instant(digest.occasion.begun);
            (begun.is_none(), begun)
        });
        let mut pitches: Vec<ComparedPitch> = Vec::new();
        for (index, digest) in digests.iter().enumerate() {
            for row in &digest.ledger.rows {
                take(&mut pitches, digest, row, index, digests.len());
            }
        }
        let levels: Vec<Cents> = digests
            .iter()
            .map(|d| Self::everyone(d).unwrap_or_default())
            .collect();
        pitches.retain(|pitch| pitch.stands.iter().flatten().count() > 1);
        for pitch in &mut pitches {
            pitch.judge(&levels);
        }
        pitches.sort_by(|a, b| {
            let change = b.change.abs().get().total_cmp(&a.change.abs().get());
            b.came_back.cmp(&a.came_back).then(change)
        });
        Self {
            pitches,
            agreements: agreements(&digests),
            practice: practice::practice(&digests),
            digests,
        }
    }

    /// The rehearsals in order.
    pub fn digests(&self) -> &[&'a Digest<'a>] {
        &self.digests
    }

    /// Where everybody stood in the middle of a rehearsal, from its pitch standard; none of
    /// fewer than three tempered players.
    pub fn everyone(digest: &Digest<'_>) -> Option<Cents> {
        digest.drift.everyone(digest.chronicle().players())
    }

    /// The A4 of the ensemble at the beginning and at the end of a rehearsal, where it was
    /// measured.
    pub fn level(digest: &Digest<'_>) -> Option<(Hertz, Hertz)> {
        let line = &digest.drift.ensemble;
        let start = digest.implied_a4(line.start()?.cents)?;
        Some((start, digest.implied_a4(line.end()?.cents)?))
    }
}

fn take(
    pitches: &mut Vec<ComparedPitch>,
    digest: &Digest<'_>,
    row: &LedgerRow,
    index: usize,
    n_digests: usize,
) {
    let Some(channel) = digest.channel(row.player) else {
        return;
    };
    let known = pitches
        .iter()
        .position(|pitch| pitch.player == channel.name && pitch.label == row.label);
    let place = known.unwrap_or_else(|| {
        pitches.push(ComparedPitch {
            player: channel.name.clone(),
            label: row.label,
            note: row.tempered.note,
            stands: vec![None; n_digests],
            change: Cents::UNISON,
            came_back: false,
        });
        pitches.len() - 1
    });
    // One label may have two rows where the tuning was changed: the longer one stands for it.
    let longer = |stand: &Stand| stand.count >= row.count;
    if !pitches[place].stands[index].as_ref().is_some_and(longer) {
        pitches[place].stands[index] = Some(Stand {
            from_tempered: row.from_tempered,
            from_partial: row.from_partial,
            count: row.count,
            off: off(digest, row),
        });
    }
}

/// How far a pitch stood from the place it is measured from.
fn off(digest: &Digest<'_>, row: &LedgerRow) -> Cents {
    let from_tempered = row.from_tempered.median;
    let places = crate::tuning::Placement {
        partial: row.partial,
        tempered: row.tempered,
    };
    let family = digest.channel(row.player).map(|c| c.instrument.family);
    let agreed = family
        .and_then(|family| digest.chronicle().agreed(family, &places))
        .and_then(|agreed| agreed.place);
    match (agreed, row.label, row.from_partial) {
        (Some(agreed), ..) => from_tempered - agreed.above(row.tempered.place),
        (None, VoiceLabel::Partial(_), Some(from_partial)) => from_partial.median,
        _ => from_tempered,
    }
}

impl ComparedPitch {
    /// `levels` says where everybody stood in each rehearsal.
    fn judge(&mut self, levels: &[Cents]) {
        let heard: Vec<(&Stand, Cents)> = self
            .stands
            .iter()
            .zip(levels)
            .filter_map(|(stand, level)| Some((stand.as_ref()?, *level)))
            .collect();
        let [(first, first_level), between @ .., (last, last_level)] = heard.as_slice() else {
            return;
        };
        // A partial may go by another name the second time, and stays the same place.
        let partials = match self.label {
            VoiceLabel::Partial(_) => last.from_partial.zip(first.from_partial),
            VoiceLabel::Note(_) => None,
        };
        let moved = match partials {
            Some((last, first)) => last.median - first.median,
            None => last.from_tempered.median - first.from_tempered.median,
        };
        let change = moved - (*last_level - *first_level);
        let off = |stand: &Stand| stand.off.abs().get();
        let outside = off(first).min(off(last));
        let came_back = between
            .iter()
            .any(|(stand, _)| off(stand) + CAME_NEAR <= outside);
        (self.change, self.came_back) = (change, came_back);
    }
}

fn agreements(digests: &[&Digest<'_>]) -> Vec<ComparedAgreement> {
    let decisions = digests.iter().flat_map(|d| d.chronicle().decisions());
    let mut notes: Vec<NoteName> = decisions.map(|decision| decision.note).collect();
    notes.sort_by_key(|note| note.fifths());
    notes.dedup();
    let words = |digest: &&Digest<'_>, note| {
        let decision = digest.chronicle().decision(note)?;
        decision.resolution.map(crate::rehearsal::Resolution::words)
    };
    let all = notes.into_iter().map(|note| ComparedAgreement {
        note,
        agreed: digests.iter().map(|digest| words(digest, note)).collect(),
    });
    all.filter(|row| row.agreed.iter().any(Option::is_some))
        .collect()
}
