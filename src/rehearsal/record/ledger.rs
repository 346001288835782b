//! Note by note, who stood where: the statistics of a rehearsal.

use std::collections::BTreeMap;

use super::{Chronicle, Decision, Note, robust};
use crate::rehearsal::{Channel, Family, VoiceLabel};
use crate::tuning::{PartialPlace, TemperedPlace};
use crate::units::{Cents, NoteName, Seconds};

/// The middle of several values and how far they spread.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    /// The median, weighed by how long each note was held.
    pub median: Cents,
    /// 1.4826 times the median distance from it: the standard deviation, if they were normally
    /// distributed (textbook).
    pub spread: Cents,
}

/// One pitch of one player.
#[derive(Debug, Clone, PartialEq)]
pub struct LedgerRow {
    /// The player's place among [`Chronicle::players`].
    pub player: usize,
    /// A trumpet's partial or the note.
    pub label: VoiceLabel,
    /// The tempered place it was measured from; its `cents` are the median.
    pub tempered: TemperedPlace,
    /// The partial it was measured from, where one is near; its `cents` are the median.
    pub partial: Option<PartialPlace>,
    /// Cents from the tempered place.
    pub from_tempered: Spread,
    /// Cents from the partial.
    pub from_partial: Option<Spread>,
    /// How many notes.
    pub count: usize,
    /// How long they sounded together.
    pub sounding: Seconds,
    /// By how much it moved, in cents a minute; none of few notes or a short time.
    pub trend_per_minute: Option<Cents>,
    /// When it was last heard.
    pub last: Seconds,
}

/// One family on one note.
#[derive(Debug, Clone, PartialEq)]
pub struct GroupRow {
    /// The family; a room's and a section's voices are told by whether they are trumpets.
    pub family: Family,
    /// Cents from the tempered place.
    pub from_tempered: Spread,
    /// Cents from the partial.
    pub from_partial: Option<Spread>,
    /// How many notes.
    pub count: usize,
    /// How long.
    pub sounding: Seconds,
}

/// One note in all octaves, and where each family stood on it.
#[derive(Debug, Clone, PartialEq)]
pub struct Meeting {
    /// The tempered note.
    pub note: NoteName,
    /// The partial above (+) or below (−) the tempered place, where one is near.
    pub gap: Option<Cents>,
    /// The partial's number, where one is near.
    pub partial: Option<u8>,
    /// The families that played it, trumpets first and the keyboard last.
    pub groups: Vec<GroupRow>,
    /// The distance between the two families that stood farthest apart; none where one was
    /// alone.
    pub apart: Option<Cents>,
    /// How long notes of different families sounded at the same time.
    pub together: Seconds,
    /// What was agreed.
    pub decision: Option<Decision>,
    /// Its rows by player and octave, indices into [`Ledger::rows`].
    pub rows: Vec<usize>,
}

/// The whole table.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Ledger {
    /// Every pitch of every player, in the order of players and pitches.
    pub rows: Vec<LedgerRow>,
    /// The same by note, those farthest apart first.
    pub meetings: Vec<Meeting>,
}

impl Ledger {
    /// The table of `chronicle`.
    pub fn of(chronicle: &Chronicle) -> Self {
        let notes = chronicle.own_notes();
        let mut pitches: BTreeMap<(usize, i32, bool), Vec<&Note>> = BTreeMap::new();
        for note in &notes {
            let (height, is_partial) = match note.label {
                VoiceLabel::Partial(partial) => (i32::from(partial.number()), true),
                // Every spelling of a key is a pitch of its own.
                VoiceLabel::Note(note) => (64 * note.key_number() + note.name().fifths(), false),
            };
            let pitch = (note.channel, height, is_partial);
            pitches.entry(pitch).or_default().push(note);
        }
        let rows: Vec<LedgerRow> = pitches
            .into_values()
            .filter_map(|notes| LedgerRow::of(&notes))
            .collect();
        let mut names: Vec<NoteName> = rows.iter().map(|row| row.tempered.note.name()).collect();
        names.sort_by_key(|name| name.fifths());
        names.dedup();
        let meeting = |name| Meeting::of(name, &notes, &rows, chronicle);
        let mut meetings: Vec<Meeting> = names.into_iter().map(meeting).collect();
        // Families that never sounded together have not met.
        let clash = |meeting: &Meeting| {
            let apart = meeting.apart.map_or(-1.0, Cents::get);
            (meeting.together > Seconds::new(0.0), apart)
        };
        meetings.sort_by(|a, b| {
            let ((a_met, a_apart), (b_met, b_apart)) = (clash(a), clash(b));
            b_met.cmp(&a_met).then(b_apart.total_cmp(&a_apart))
        });
        Self { rows, meetings }
    }
}

impl Ledger {
    /// Takes in what was agreed meanwhile.
    pub(in crate::rehearsal) fn agree(&mut self, chronicle: &Chronicle) {
        for meeting in &mut self.meetings {
            meeting.decision = chronicle.decision(meeting.note).cloned();
        }
    }
}

impl LedgerRow {
    /// The row of one player's notes of one pitch, of which there is at least one.
    fn of(notes: &[&Note]) -> Option<Self> {
        let first = notes.first()?;
        // At the edge between two spellings the one that lasted longer counts.
        let name = most_of(notes, |note| Some(note.places.tempered.note))?;
        let as_named = |note: &&&Note| note.places.tempered.note == name;
        let notes: Vec<&Note> = notes.iter().filter(as_named).copied().collect();
        let partial = most_of(&notes, |note| {
            let place = note.places.partial?;
            Some((place.partial, place.octaves))
        });
        let last = notes.last()?;
        let from_tempered = Spread::of(&notes, |note| Some(note.places.tempered.cents))?;
        let on_partial = |note: &Note| {
            let place = note.places.partial?;
            (Some((place.partial, place.octaves)) == partial).then_some(place.cents)
        };
        let from_partial = Spread::of(&notes, on_partial);
        let with_partial = notes.iter().rev().find(|note| on_partial(note).is_some());
        let moments: Vec<(f64, f64)> = notes
            .iter()
            .map(|note| (note.middle().get() / 60.0, note.places.tempered.cents.get()))
            .collect();
        let lasts = moments.last()?.0 - moments.first()?.0;
        let trend = robust::slope(&moments, 0.5).filter(|_| lasts >= 2.0);
        Some(Self {
            player: first.channel,
            label: first.label,
            tempered: TemperedPlace {
                cents: from_tempered.median,
                ..last.places.tempered
            },
            partial: with_partial.and_then(|note| {
                Some(PartialPlace {
                    cents: from_partial?.median,
                    ..note.places.partial?
                })
            }),
            from_tempered,
            from_partial,
            count: count(&notes),
            sounding: sounding(&notes),
            trend_per_minute: trend.map(Cents::new),
            last: last.ended,
        })
    }
}

impl Meeting {
    fn of(name: NoteName, notes: &[&Note], rows: &[LedgerRow], chronicle: &Chronicle) -> Self {
        let named = |note: &&Note| note.places.tempered.note.name() == name;
        let notes: Vec<&Note> = notes.iter().copied().filter(named).collect();
        let family = |note: &Note| family_of(&chronicle.players()[note.channel], note.label);
        let mut families: Vec<Family> = notes.iter().map(|note| family(note)).collect();
        families.sort_by_key(|family| rank(*family));
        families.dedup();
        let group = |of: Family| {
            let own: Vec<&Note> = notes.iter().copied().filter(|n| family(n) == of).collect();
            Some(GroupRow {
                family: of,
                from_tempered: Spread::of(&own, |note| Some(note.places.tempered.cents))?,
                from_partial: Spread::of(&own, |note| Some(note.places.partial?.cents)),
                count: count(&own),
                sounding: sounding(&own),
            })
        };
        let groups: Vec<GroupRow> = families.into_iter().filter_map(group).collect();
        let medians = groups.iter().map(|group| group.from_tempered.median.get());
        let low = medians.clone().fold(f64::INFINITY, f64::min);
        let high = medians.fold(f64::NEG_INFINITY, f64::max);
        // The places as they were last, since the tuning may have changed.
        let partial = most_of(&notes, |note| Some(note.places.partial?.partial.number()));
        let by_partial = notes.iter().rev().find(|note| {
            let place = note.places.partial;
            place.is_some_and(|place| Some(place.partial.number()) == partial)
        });
        Self {
            note: name,
            gap: by_partial.and_then(|note| note.places.gap()),
            partial,
            apart: (groups.len() > 1).then(|| Cents::new(high - low)),
            groups,
            together: together(&notes, family),
            decision: chronicle.decision(name).cloned(),
            rows: (0..rows.len())
                .filter(|row| rows[*row].tempered.note.name() == name)
                .collect(),
        }
    }
}

impl Spread {
    /// Of what `cents` says of the notes, each weighed by its steady part up to four seconds;
    /// none if it says nothing.
    fn of(notes: &[&Note], cents: impl Fn(&Note) -> Option<Cents>) -> Option<Self> {
        let mut values: Vec<robust::Weighted> = notes
            .iter()
            .filter_map(|note| Some((cents(note)?.get(), weight(note))))
            .collect();
        let median = robust::median(&mut values)?;
        Some(Self {
            median: Cents::new(median),
            spread: Cents::new(robust::spread(&values, median)),
        })
    }
}

/// How much a note counts for.
pub(super) fn weight(note: &Note) -> f64 {
    note.steady.get().clamp(0.1, 4.0)
}

/// Which family plays a note: of a room and of a section that of the voice.
pub(super) fn family_of(player: &Channel, label: VoiceLabel) -> Family {
    match (player.instrument.family, label) {
        (Family::Room, VoiceLabel::Partial(_)) => Family::Trumpets,
        (Family::Room, VoiceLabel::Note(_)) if player.is_shared() => Family::Section,
        (family, _) => family,
    }
}

/// Trumpets first, the keyboard last.
fn rank(family: Family) -> u8 {
    match family {
        Family::Trumpets => 0,
        Family::Winds => 1,
        Family::Voices => 2,
        Family::Strings => 3,
        Family::Plucked => 4,
        Family::Section => 5,
        Family::Room => 6,
        Family::Keyboard => 7,
    }
}

/// What `key` says of most of the notes, by how long they sounded.
fn most_of<K: PartialEq>(notes: &[&Note], key: impl Fn(&Note) -> Option<K>) -> Option<K> {
    let mut found: Vec<(K, f64)> = Vec::new();
    for note in notes {
        let Some(of_note) = key(note) else { continue };
        let weight = note.sounding().get().max(1e-3);
        match found.iter_mut().find(|(known, _)| *known == of_note) {
            Some((_, sum)) => *sum += weight,
            None => found.push((of_note, weight)),
        }
    }
    let most = found.into_iter().max_by(|a, b| a.1.total_cmp(&b.1));
    most.map(|(key, _)| key)
}

/// How many notes: what goes on counts as one.
fn count(notes: &[&Note]) -> usize {
    let begin = notes.iter().filter(|note| !note.goes_on).count();
    begin.max(usize::from(!notes.is_empty()))
}

fn sounding(notes: &[&Note]) -> Seconds {
    let seconds = notes.iter().map(|note| note.sounding().get());
    Seconds::new(seconds.sum())
}

/// How long notes of different families sounded at the same time.
fn together(notes: &[&Note], family: impl Fn(&Note) -> Family) -> Seconds {
    let mut changes: Vec<(f64, u8, i32)> = Vec::new();
    for note in notes {
        let family = rank(family(note));
        changes.push((note.begun.get(), family, 1));
        changes.push((note.ended.get(), family, -1));
    }
    changes.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut sound = [0_i32; 8];
    let (mut since, mut total) = (0.0, 0.0);
    for (time, family, change) in changes {
        if sound.iter().filter(|count| **count > 0).count() > 1 {
            total += time - since;
        }
        since = time;
        sound[usize::from(family)] += change;
    }
    Seconds::new(total)
}

#[cfg(test)]
mod tests;
