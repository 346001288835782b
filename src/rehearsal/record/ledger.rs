//! Note by note, who stood where: the statistics of a rehearsal.

use std::collections::BTreeMap;

use super::{Chronicle, Decision, Note, robust};
use crate::rehearsal::{Channel, Family, VoiceLabel};
use crate::tuning::{Partial, PartialPlace, TemperedPlace};
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
        Self::of_notes(&chronicle.own_notes(), chronicle)
    }

    /// The table of `own`, its players' own notes.
    pub(in crate::rehearsal) fn of_notes(own: &[&Note], chronicle: &Chronicle) -> Self {
        // Every spelling of a key is a pitch of its own, and so is a partial under each name.
        let rows = grouped(own, |note| {
            let partial = note.label.partial().map(Partial::number);
            let named = note.places.tempered.note;
            let (key, spelling) = (named.key_number(), named.name().fifths());
            (note.channel, partial, key, spelling)
        });
        let rows: Vec<LedgerRow> = rows
            .into_values()
            .filter_map(|notes| LedgerRow::of(&measured(&notes, chronicle)))
            .collect();
        let named = grouped(own, |note| note.places.tempered.note.name().fifths());
        let mut meetings: Vec<Meeting> = named
            .into_values()
            .filter_map(|notes| Meeting::of(&measured(&notes, chronicle), &rows, chronicle))
            .collect();
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

/// A note and the partial that belongs to it.
#[derive(Debug, Clone, Copy)]
struct Measured<'a> {
    note: &'a Note,
    /// The partial it is played on, or the one nearest to the tempered note, whatever the player
    /// was nearest to; with the player's cents from there.
    partial: Option<PartialPlace>,
}

/// What is measured of `notes`. It is reckoned where it is needed: of all notes together it would
/// take as much memory again as they do.
fn measured<'a>(notes: &[&'a Note], chronicle: &Chronicle) -> Vec<Measured<'a>> {
    let notes = notes.iter();
    notes.map(|note| Measured::of(note, chronicle)).collect()
}

impl<'a> Measured<'a> {
    fn of(note: &'a Note, chronicle: &Chronicle) -> Self {
        let tuning = chronicle.tuning_at(note.ended);
        let partial = tuning.and_then(|tuning| match note.label {
            VoiceLabel::Partial(partial) => Some(PartialPlace {
                partial,
                octaves: 0,
                place: tuning.series().frequency(partial),
                cents: Cents::UNISON,
            }),
            VoiceLabel::Note(_) => tuning.places_of(note.places.tempered).partial,
        });
        let partial = partial.map(|partial| PartialPlace {
            cents: note.hertz.above(partial.place),
            ..partial
        });
        Self { note, partial }
    }

    fn tempered_cents(&self) -> Cents {
        self.note.places.tempered.cents
    }

    fn partial_cents(&self) -> Option<Cents> {
        Some(self.partial?.cents)
    }

    /// The partial above the tempered note.
    fn gap(&self) -> Option<Cents> {
        let tempered = self.note.places.tempered.place;
        Some(self.partial?.place.above(tempered))
    }
}

impl LedgerRow {
    /// The row of one player's notes of one pitch, of which there is at least one.
    fn of(notes: &[Measured<'_>]) -> Option<Self> {
        let last = notes.last()?;
        let from_tempered = Spread::of(notes, |note| Some(note.tempered_cents()))?;
        let from_partial = Spread::of(notes, Measured::partial_cents);
        let moment = |measured: &Measured<'_>| {
            let minutes = measured.note.middle().get() / 60.0;
            (minutes, measured.tempered_cents().get())
        };
        let moments: Vec<(f64, f64)> = notes.iter().map(moment).collect();
        let lasts = moments.last()?.0 - moments.first()?.0;
        let trend = robust::slope(&moments, 0.5).filter(|_| lasts >= 2.0);
        Some(Self {
            player: last.note.channel,
            label: last.note.label,
            tempered: TemperedPlace {
                cents: from_tempered.median,
                ..last.note.places.tempered
            },
            partial: last.partial.and_then(|partial| {
                Some(PartialPlace {
                    cents: from_partial?.median,
                    ..partial
                })
            }),
            from_tempered,
            from_partial,
            count: count(notes),
            sounding: sounding(notes),
            trend_per_minute: trend.map(Cents::new),
            last: last.note.ended,
        })
    }
}

impl Meeting {
    /// The meeting on one note, of all who played it.
    fn of(notes: &[Measured<'_>], rows: &[LedgerRow], chronicle: &Chronicle) -> Option<Self> {
        let name = notes.first()?.note.places.tempered.note.name();
        let family = |measured: &Measured<'_>| {
            let note = measured.note;
            family_of(&chronicle.players()[note.channel], note.label)
        };
        let mut families: Vec<Family> = notes.iter().map(family).collect();
        families.sort_by_key(|family| rank(*family));
        families.dedup();
        let group = |of: Family| {
            let own = notes.iter().copied().filter(|note| family(note) == of);
            let own: Vec<Measured<'_>> = own.collect();
            Some(GroupRow {
                family: of,
                from_tempered: Spread::of(&own, |note| Some(note.tempered_cents()))?,
                from_partial: Spread::of(&own, Measured::partial_cents),
                count: count(&own),
                sounding: sounding(&own),
            })
        };
        let groups: Vec<GroupRow> = families.into_iter().filter_map(group).collect();
        let medians = groups.iter().map(|group| group.from_tempered.median.get());
        let low = medians.clone().fold(f64::INFINITY, f64::min);
        let high = medians.fold(f64::NEG_INFINITY, f64::max);
        // The partial that trumpets play there, or the one that belongs to the note; as the
        // places were last, since the tuning may have changed.
        let on_partial = |measured: &&Measured<'_>| measured.note.label.partial().is_some();
        let last = notes.iter().rfind(on_partial).or(notes.last());
        Some(Self {
            note: name,
            gap: last.and_then(Measured::gap),
            partial: last.and_then(|last| Some(last.partial?.partial.number())),
            apart: (groups.len() > 1).then(|| Cents::new(high - low)),
            groups,
            together: together(notes, family),
            decision: chronicle.decision(name).cloned(),
            rows: (0..rows.len())
                .filter(|row| rows[*row].tempered.note.name() == name)
                .collect(),
        })
    }
}

impl Spread {
    /// Of what `cents` says of the notes, each weighed by its steady part up to four seconds;
    /// none if it says nothing.
    fn of<'a>(
        notes: &[Measured<'a>],
        cents: impl Fn(&Measured<'a>) -> Option<Cents>,
    ) -> Option<Self> {
        let mut values: Vec<robust::Weighted> = notes
            .iter()
            .filter_map(|measured| Some((cents(measured)?.get(), weight(measured.note))))
            .collect();
        let median = robust::median(&mut values)?;
        Some(Self {
            median: Cents::new(median),
            spread: Cents::new(robust::spread(&values, median)),
        })
    }
}

/// The notes that have the same `key`, in their order.
pub(super) fn grouped<'a, K: Ord>(
    notes: &[&'a Note],
    key: impl Fn(&Note) -> K,
) -> BTreeMap<K, Vec<&'a Note>> {
    let mut groups: BTreeMap<K, Vec<&Note>> = BTreeMap::new();
    for note in notes {
        groups.entry(key(note)).or_default().push(*note);
    }
    groups
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

/// How many notes: what goes on counts as one.
fn count(notes: &[Measured<'_>]) -> usize {
    let begin = notes
        .iter()
        .filter(|measured| !measured.note.goes_on)
        .count();
    begin.max(usize::from(!notes.is_empty()))
}

fn sounding(notes: &[Measured<'_>]) -> Seconds {
    let seconds = notes.iter().map(|measured| measured.note.sounding().get());
    Seconds::new(seconds.sum())
}

/// How long notes of different families sounded at the same time.
fn together(notes: &[Measured<'_>], family: impl Fn(&Measured<'_>) -> Family) -> Seconds {
    let mut changes: Vec<(f64, u8, i32)> = Vec::new();
    for measured in notes {
        let (note, family) = (measured.note, rank(family(measured)));
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
