//! Which columns the ledger has room for.

use crate::rehearsal::{Family, Ledger};
use crate::tui::text::Precision;

/// A column from its left edge.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Place {
    pub(super) x: u16,
    pub(super) width: u16,
}

/// The order of the families: trumpets first, the keyboard and whoever shares an input last.
const FAMILIES: [Family; 8] = [
    Family::Trumpets,
    Family::Strings,
    Family::Plucked,
    Family::Winds,
    Family::Voices,
    Family::Keyboard,
    Family::Section,
    Family::Room,
];

/// The columns of the table, the same for every row.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Columns {
    pub(super) note: Place,
    pub(super) partial: Option<Place>,
    pub(super) gap: Place,
    pub(super) families: Vec<(Family, Place)>,
    /// Whether the families' spreads have room.
    pub(super) has_spreads: bool,
    pub(super) apart: Place,
    pub(super) together: Option<Place>,
    pub(super) count: Option<Place>,
    pub(super) agreed: Place,
}

/// What can be left out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Luxury {
    Count,
    Spreads,
    Together,
    Partial,
}

/// What is kept, from all to nothing: the number of notes goes first, and the spreads only
/// where that is not enough.
const KEPT: [&[Luxury]; 6] = {
    use Luxury::{Count, Partial, Spreads, Together};
    [
        &[Count, Spreads, Together, Partial],
        &[Spreads, Together, Partial],
        &[Count, Together, Partial],
        &[Together, Partial],
        &[Partial],
        &[],
    ]
};

/// Columns that a decision needs to be understood.
const AGREED: u16 = 13;

impl Columns {
    /// Columns for a table of `width`.
    pub(super) fn new(width: u16, ledger: &Ledger, precision: Precision) -> Self {
        let is_present = |family: &Family| {
            let mut groups = ledger.meetings.iter().flat_map(|meeting| &meeting.groups);
            groups.any(|group| group.family == *family)
        };
        let families: Vec<Family> = FAMILIES.into_iter().filter(is_present).collect();
        let arranged = KEPT.map(|kept| Self::arranged(width, &families, precision, kept));
        let [.., least] = &arranged;
        let fitting = arranged
            .iter()
            .find(|columns| columns.agreed.width >= AGREED);
        fitting.unwrap_or(least).clone()
    }

    fn arranged(width: u16, families: &[Family], precision: Precision, kept: &[Luxury]) -> Self {
        let gap = if width >= 110 { 2 } else { 1 };
        let tenths = match precision {
            Precision::Whole => 0,
            Precision::Tenths => 2,
        };
        let has = |luxury| kept.contains(&luxury);
        let mut x = 1;
        let mut take = |columns: u16| {
            let place = Place { x, width: columns };
            x += columns + gap;
            place
        };
        let note = take(4);
        let partial = has(Luxury::Partial).then(|| take(2));
        let gap_place = take(4 + tenths);
        let each = if has(Luxury::Spreads) {
            8 + 2 * tenths
        } else {
            5 + tenths
        };
        let families = families
            .iter()
            .map(|family| (*family, take(each)))
            .collect();
        let apart = take(5);
        let together = has(Luxury::Together).then(|| take(8));
        let count = has(Luxury::Count).then(|| take(5));
        let agreed = Place {
            x,
            width: width.saturating_sub(x + 1),
        };
        Self {
            note,
            partial,
            gap: gap_place,
            families,
            has_spreads: has(Luxury::Spreads),
            apart,
            together,
            count,
            agreed,
        }
    }
}

/// A family in the plural, in eight columns or in five.
pub(super) fn words(family: Family, is_roomy: bool) -> &'static str {
    match (family, is_roomy) {
        (Family::Trumpets, true) => "trumpets",
        (Family::Trumpets, false) => "trump",
        (Family::Strings, true) => "strings",
        (Family::Strings, false) => "strng",
        (Family::Plucked, true) => "plucked",
        (Family::Plucked, false) => "pluck",
        (Family::Winds, _) => "winds",
        (Family::Voices, true) => "voices",
        (Family::Voices, false) => "voice",
        (Family::Keyboard, true) => "keyboard",
        (Family::Keyboard, false) => "keybd",
        (Family::Section, true) => "section",
        (Family::Section, false) => "sectn",
        (Family::Room, _) => "room",
    }
}
