//! Note by note, who stood where: the statistics of a rehearsal.

use super::{Chronicle, Decision};
use crate::rehearsal::{Family, VoiceLabel};
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
    pub fn of(_chronicle: &Chronicle) -> Self {
        Self::default()
    }
}
