//! One voice that sounds, whichever way it is heard.

use super::{Channel, Doing, Family, Match, Reach, Sounding, Standing, Together, VoiceLabel};
use crate::analysis::chord::Company;
use crate::units::{Cents, Seconds};

/// One voice that sounds, of whatever channel.
#[derive(Debug, Clone, Copy)]
pub struct Voice<'a> {
    /// The channel's place in the ensemble.
    pub channel: usize,
    /// Which of a shared channel's voices it is.
    pub identity: Option<u32>,
    /// Who plays there.
    pub player: &'a Channel,
    /// What it is called.
    pub label: VoiceLabel,
    /// Where it stands against both places.
    pub sounding: &'a Sounding,
    /// The pitch is right to this distance, 19 times in 20.
    pub margin: Cents,
    /// What is said of it.
    pub told: Told<'a>,
    /// Its place beside the trumpets' chord.
    pub matched: Option<&'a Match>,
}

/// What is said of a voice.
#[derive(Debug, Clone, Copy)]
pub enum Told<'a> {
    /// It has a channel of its own.
    Alone(Doing),
    /// It was found in a chord.
    InChord {
        /// What may be said of it.
        standing: Standing,
        /// The voice it cannot be told from.
        together: Option<&'a Together>,
        /// Whether it is known whose voice this is.
        is_named: bool,
        /// What else a lone voice may be called, where that is not known.
        or_label: Option<VoiceLabel>,
        /// How long a stretch of sound its pitch was measured over.
        span: Seconds,
    },
}

impl Voice<'_> {
    /// Whether a trumpet plays it.
    pub fn is_trumpet(&self) -> bool {
        self.player.instrument.family == Family::Trumpets
            || self.player.is_shared() && self.label.company() == Company::Trumpets
    }

    /// Whether it was expected and is not heard.
    pub fn is_absent(&self) -> bool {
        match self.told {
            Told::Alone(_) => false,
            Told::InChord { standing, .. } => standing == Standing::Absent,
        }
    }

    /// Whether it has a pitch of its own: what is merged with another voice has none, and no
    /// number is made up for it.
    pub fn has_pitch(&self) -> bool {
        match self.told {
            Told::Alone(_) => true,
            Told::InChord { standing, .. } => match standing {
                Standing::Clear | Standing::Doubtful => true,
                Standing::Merged { .. } | Standing::Absent => false,
            },
        }
    }

    /// Who it is, on the screen: the player, or the voice of a shared channel. Of two voices
    /// that cannot be told apart both are named, and so is whatever a lone one may be.
    pub fn name(&self) -> String {
        match self.told {
            Told::Alone(_) => self.player.name.clone(),
            Told::InChord {
                together: Some(Together { with, .. }),
                is_named: false,
                ..
            } => format!("{} {}/{with}", self.player.name, self.label),
            Told::InChord {
                or_label: Some(other),
                ..
            } => format!("{} {}/{other}", self.player.name, self.label),
            Told::InChord { .. } => format!("{} {}", self.player.name, self.label),
        }
    }

    /// How far it can be moved from where it is. A trumpet's reach counts from its partial.
    pub(super) fn reach(&self) -> Reach {
        let family = if self.is_trumpet() {
            Family::Trumpets
        } else {
            match self.player.instrument.family {
                // Of a room's other players nobody knows more than that they are no trumpets.
                Family::Room => Family::Section,
                family => family,
            }
        };
        let reach = family.reach();
        match self.sounding.places().partial {
            Some(place) if self.is_trumpet() => reach.after(place.cents),
            _ => reach,
        }
    }
}
