//! One rehearsal with everything that is computed from it, once, for all writers.

use super::wording::plain;
use crate::rehearsal::{Channel, Chronicle, Decision, Drift, Family, Ledger, TrueSeries};
use crate::tuning::Tuning;
use crate::units::{Hertz, NoteName, Seconds};

/// A tuning in which nothing was held and that stood for less was only passed by.
const STANDS: Seconds = Seconds::new(10.0);

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
    /// Whether it is still being recorded.
    pub is_running: bool,
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

    /// When the sittings began and ended.
    pub(super) fn sittings(&self) -> Vec<(Seconds, Seconds)> {
        let sittings = self.chronicle().sittings().iter();
        sittings
            .map(|sitting| (sitting.begun, sitting.ended))
            .collect()
    }

    /// The tunings that mattered and since when, no two of the same one after the other: those
    /// that stood for a while or in which something was held. One steps through several to get
    /// to another.
    pub(super) fn tunings_that_stood(&self) -> Vec<(Seconds, &'a Tuning)> {
        let chronicle = self.chronicle();
        let tunings = chronicle.tunings();
        let sittings = self.sittings();
        let stood = |place: usize| {
            let (begun, _) = tunings[place];
            // A break is no time in which it stood.
            let sitting = sittings.iter().rfind(|(sat_down, _)| *sat_down <= begun);
            let sitting_ended = sitting.map_or(begun, |(_, ended)| *ended);
            let next = tunings.get(place + 1).map(|(next, _)| *next);
            let ended = next.filter(|next| *next < sitting_ended);
            let is_within = |at: Seconds| begun <= at && next.is_none_or(|next| at < next);
            ended.unwrap_or(sitting_ended) - begun >= STANDS
                || chronicle.notes().iter().any(|note| is_within(note.begun))
                || chronicle.held().iter().any(|(at, _)| is_within(*at))
        };
        let mut kept: Vec<usize> = (0..tunings.len()).filter(|place| stood(*place)).collect();
        if kept.is_empty() {
            kept.extend(tunings.len().checked_sub(1));
        }
        let mut kept: Vec<(Seconds, &Tuning)> = kept
            .into_iter()
            .map(|place| (tunings[place].0, &tunings[place].1))
            .collect();
        kept.dedup_by(|later, before| later.1 == before.1);
        kept
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rehearsal::Entry;
    use crate::rehearsal::tests::{band, held_chord, regular, sixth_comma};

    fn tuned(at: f64, name: &str) -> Entry {
        Entry::Tuned {
            at: Seconds::new(at),
            tuning: Box::new(sixth_comma().in_temperament(&regular(name, "-1/5 SC"))),
        }
    }

    fn warmth(at: f64) -> Entry {
        Entry::Warmth {
            at: Seconds::new(at),
            celsius: crate::units::Celsius::new(19.0).unwrap(),
        }
    }

    fn stood(sittings: &[&[Entry]]) -> Vec<(f64, String)> {
        let mut chronicle = Chronicle::default();
        for (index, entries) in sittings.iter().enumerate() {
            chronicle.sit_down(Seconds::new(3_600.0 * index as f64));
            chronicle.take(&Entry::Seated {
                at: Seconds::default(),
                ensemble: Box::new(band(&["Violin I"])),
            });
            entries.iter().for_each(|entry| chronicle.take(entry));
        }
        let digest = Digest::of(Occasion {
            name: "evening",
            begun: "2026-11-25T19:40:00+01:00",
            chronicle: &chronicle,
            ended_well: true,
            is_running: false,
            notice: None,
        });
        let stood = digest.tunings_that_stood().into_iter();
        let name = |tuning: &Tuning| tuning.scale().temperament().name.clone();
        stood.map(|(at, tuning)| (at.get(), name(tuning))).collect()
    }

    #[test]
    fn a_tuning_that_was_passed_by_is_not_told() {
        let held = Entry::Held {
            at: Seconds::new(103.5),
            chord: Box::new(held_chord(&[(8, 0.0)])),
        };
        let first = [
            tuned(100.0, "a"),
            tuned(101.0, "b"),
            tuned(103.0, "c"),
            held,
            tuned(104.0, "d"),
            tuned(105.0, "e"),
            tuned(120.0, "f"),
            tuned(121.0, "e"),
            warmth(140.0),
            // Nothing stands while nobody is there.
            tuned(141.0, "g"),
            warmth(143.0),
        ];
        let second = [tuned(0.0, "e"), warmth(60.0)];
        let told = stood(&[&first, &second]);
        let expected = [(0.0, "sixth-comma"), (103.0, "c"), (105.0, "e")];
        assert_eq!(told, expected.map(|(at, name)| (at, name.to_owned())));
    }

    #[test]
    fn something_is_told_of_the_shortest_session() {
        let told = stood(&[&[warmth(1.0)]]);
        assert_eq!(told, [(0.0, "sixth-comma".to_owned())]);
        assert_eq!(stood(&[]), []);
    }
}
