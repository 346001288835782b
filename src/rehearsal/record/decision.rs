//! What the ensemble agrees on a note that has two true places.

use std::fmt;

use crate::rehearsal::Family;
use crate::tuning::Placement;
use crate::units::{Cents, Hertz, NoteName, Seconds};

/// Who yields.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Resolution {
    /// All play where the partial stands.
    FollowPartial,
    /// All play where the keyboard stands.
    FollowTemperament,
    /// All meet so far above (+) or below (−) the tempered place.
    MeetBetween(Cents),
    /// The trumpet is bent to the tempered place.
    TrumpetLips,
    /// The keyboard is silent on this note, the others follow the partial.
    KeyboardLeavesOut,
    /// Each stays where it is, and the clash is heard.
    LeaveExposed,
}

impl Resolution {
    /// In a few words, for people.
    pub fn words(self) -> String {
        match self {
            Self::FollowPartial => "follow the partial".to_owned(),
            Self::FollowTemperament => "follow the temperament".to_owned(),
            Self::MeetBetween(cents) => format!("meet at {cents} from tempered"),
            Self::TrumpetLips => "trumpet lips".to_owned(),
            Self::KeyboardLeavesOut => "keyboard leaves it out".to_owned(),
            Self::LeaveExposed => "leave it exposed".to_owned(),
        }
    }

    /// Where a player of `family` stands for it, on a note with these places
    /// ([`Tuning::places_of`](crate::tuning::Tuning::places_of)); none where it
    /// is silent or no partial is near. Who cannot move stays at the tempered place.
    pub fn place(self, family: Family, places: &Placement) -> Option<Hertz> {
        let tempered = places.tempered.place;
        let partial = places.partial.map(|partial| partial.place);
        let is_keyboard = family == Family::Keyboard;
        let is_trumpet = family == Family::Trumpets;
        match self {
            Self::KeyboardLeavesOut if is_keyboard => None,
            // Whatever is agreed, keys and set strings stay where they are.
            _ if family.is_fixed() => Some(tempered),
            Self::FollowPartial | Self::KeyboardLeavesOut => partial,
            Self::LeaveExposed if is_trumpet => partial,
            Self::FollowTemperament | Self::TrumpetLips | Self::LeaveExposed => Some(tempered),
            Self::MeetBetween(cents) => Some(tempered.raised(cents)),
        }
    }
}

impl fmt::Display for Resolution {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.words())
    }
}

/// A decision, or its withdrawal.
#[derive(Debug, Clone, PartialEq)]
pub struct Decision {
    /// When it was taken.
    pub at: Seconds,
    /// The tempered note it is about, in every octave.
    pub note: NoteName,
    /// What was agreed; none takes back what was agreed before.
    pub resolution: Option<Resolution>,
    /// A short remark; empty for none.
    pub remark: String,
}

/// What is agreed for a note that sounds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Agreed<'a> {
    /// The decision.
    pub decision: &'a Decision,
    /// Where this player stands for it; none where silent.
    pub place: Option<Hertz>,
}
