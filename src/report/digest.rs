//! One rehearsal with everything that is computed from it, once, for all writers.

use super::wording::plain;
use crate::rehearsal::{Channel, Chronicle, Decision, Drift, Family, Ledger, TrueSeries};
use crate::tuning::Tuning;
use crate::units::{Hertz, NoteName, Seconds};

/// A rehearsal to report on.
#[derive(Debug, Clone)]
pub struct Occasion<'a> {
    /// What it is called: the file's name without its ending.
    pub name: &'a str,
    /// When it began: local date and time with the distance from universal time (RFC 3339).
    pub begun: &'a str,
    /// What happened.
    pub chronicle: &'a Chronicle,
    /// Whether the record was closed; otherwise it breaks off.
    pub ended_well: bool,
    /// What there is to say of a damaged file.
    pub notice: Option<String>,
}

/// A rehearsal and what it adds up to.
#[derive(Debug, Clone)]
pub struct Digest<'a> {
    /// The rehearsal.
    pub occasion: Occasion<'a>,
    /// Who stood where.
    pub ledger: Ledger,
    /// How the pitch moved.
    pub drift: Drift,
    /// The trumpets' series, as far as they are known.
    pub series: Vec<TrueSeries>,
}

impl<'a> Digest<'a> {
    /// Computes all of it.
    pub fn of(occasion: Occasion<'a>) -> Self {
        let chronicle = occasion.chronicle;
        let players = 0..chronicle.players().len();
        Self {
            ledger: Ledger::of(chronicle),
            drift: Drift::of(chronicle),
            series: players
                .filter_map(|player| TrueSeries::of(chronicle, player))
                .collect(),
            occasion,
        }
    }

    /// The record itself.
    pub fn chronicle(&self) -> &'a Chronicle {
        self.occasion.chronicle
    }

    /// The programme or the band; the file's name where nobody sat down.
    pub fn title(&self) -> String {
        let sittings = self.chronicle().sittings();
        let title = sittings.first().map(|sitting| &*sitting.ensemble.title);
        let title = title.filter(|title| !title.trim().is_empty());
        plain(title.unwrap_or(self.occasion.name))
    }

    /// A player's name, safe to show.
    pub fn player(&self, player: usize) -> String {
        let player = self.chronicle().players().get(player);
        player.map_or_else(String::new, |player| plain(&player.name))
    }

    /// The place of the player of this name among the chronicle's.
    pub fn player_named(&self, name: &str) -> Option<usize> {
        let players = self.chronicle().players();
        players.iter().position(|player| player.name == name)
    }

    pub(super) fn channel(&self, player: usize) -> Option<&'a Channel> {
        self.chronicle().players().get(player)
    }

    /// The families of all who played, trumpets first and the keyboard last.
    pub(super) fn families(&self) -> Vec<Family> {
        let players = self.chronicle().players();
        let plays = |family: &Family| players.iter().any(|p| p.instrument.family == *family);
        IN_ORDER.into_iter().filter(plays).collect()
    }

    /// What was measured against in the end.
    pub(super) fn tuning(&self) -> Option<&'a Tuning> {
        self.chronicle().tunings().last().map(|(_, tuning)| tuning)
    }

    /// What was measured against in the beginning.
    pub(super) fn first_tuning(&self) -> Option<&'a Tuning> {
        self.chronicle().tunings().first().map(|(_, tuning)| tuning)
    }

    /// The A4 that a point of a line of drift stands for.
    pub(super) fn implied_a4(&self, cents: crate::units::Cents) -> Option<Hertz> {
        let first = self.first_tuning()?;
        Some(first.standard().a4().raised(cents))
    }
}

/// Families as they are listed everywhere.
pub(super) const IN_ORDER: [Family; 8] = [
    Family::Trumpets,
    Family::Strings,
    Family::Plucked,
    Family::Winds,
    Family::Voices,
    Family::Section,
    Family::Room,
    Family::Keyboard,
];

/// The tuning in force at `at`.
pub(super) fn tuning_at(chronicle: &Chronicle, at: Seconds) -> Option<&Tuning> {
    let tunings = chronicle.tunings();
    let before = tunings.partition_point(|(begun, _)| *begun <= at);
    tunings
        .get(before.saturating_sub(1))
        .map(|(_, tuning)| tuning)
}

/// What was agreed on `note` at that moment.
pub(super) fn decision_at(chronicle: &Chronicle, note: NoteName, at: Seconds) -> Option<&Decision> {
    let mut before = chronicle.decisions().iter().rev();
    let last = before.find(|decision| decision.note == note && decision.at <= at)?;
    last.resolution.is_some().then_some(last)
}
