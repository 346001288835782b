//! How the pitch of the ensemble moves over a rehearsal.

mod findings;
mod lines;

use super::ledger::{family_of, grouped, weight};
use super::{Chronicle, Note, robust};
use crate::rehearsal::{Channel, Family};
use crate::tuning::{Tuning, rise_of_winds};
use crate::units::{Celsius, Cents, Seconds};
use lines::{Evidence, line_of, together};

/// One moment of a line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DriftPoint {
    /// The middle of the notes it rests on.
    pub at: Seconds,
    /// The implied A4 in cents above the pitch standard of the beginning.
    pub cents: Cents,
    /// It is right to this distance, 19 times in 20.
    pub margin: Cents,
    /// How many notes it rests on.
    pub count: usize,
}

/// A pitch over time.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct DriftLine {
    /// From early to late.
    pub points: Vec<DriftPoint>,
}

impl DriftLine {
    /// Where it began: none without points.
    pub fn start(&self) -> Option<DriftPoint> {
        self.points.first().copied()
    }

    /// Where it is now: none without points.
    pub fn end(&self) -> Option<DriftPoint> {
        self.points.last().copied()
    }

    /// How far it has moved since the start; none of fewer than two points.
    pub fn moved(&self) -> Option<Cents> {
        let [first, .., last] = self.points.as_slice() else {
            return None;
        };
        Some(last.cents - first.cents)
    }
}

/// What the lines say.
#[derive(Debug, Clone, PartialEq)]
pub enum Finding {
    /// Too little has been heard to say anything.
    TooEarly,
    /// Nobody has moved by more than the lines can tell.
    Still,
    /// All tempered players moved together.
    Everyone {
        /// By how much.
        cents: Cents,
        /// When it began.
        since: Seconds,
    },
    /// One moved against the others.
    One {
        /// The player's place among [`Chronicle::players`].
        player: usize,
        /// By how much against the ensemble.
        cents: Cents,
        /// When it began.
        since: Seconds,
    },
    /// The trumpets' series moved against the tempered players.
    Series {
        /// By how much.
        cents: Cents,
        /// When it began.
        since: Seconds,
    },
}

/// The pitch of all over a stretch of a rehearsal.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Drift {
    /// The tempered players together.
    pub ensemble: DriftLine,
    /// The trumpets' series.
    pub series: DriftLine,
    /// Each player, by the place among [`Chronicle::players`].
    pub players: Vec<(usize, DriftLine)>,
    /// What winds should do by the temperatures that were typed in, from where the winds were
    /// at the first of them; empty with fewer than two temperatures.
    pub expected: Vec<(Seconds, Cents)>,
    /// What the lines say, the most important first; never empty.
    pub findings: Vec<Finding>,
    /// The winds together, or the trumpets where there are no others: what `expected` begins at.
    pub winds: DriftLine,
}

impl Drift {
    /// Where all of `players` who are tempered stood in the middle of the rehearsal, from the
    /// pitch standard of its beginning: the median of the ensemble's line. None of fewer than
    /// three, of whom each would be compared with himself.
    pub fn everyone(&self, players: &[Channel]) -> Option<Cents> {
        let is_tempered = |(player, _): &&(usize, DriftLine)| {
            let family = players.get(*player).map(|player| player.instrument.family);
            family.is_some_and(|family| family != Family::Trumpets)
        };
        if self.players.iter().filter(is_tempered).count() < 3 {
            return None;
        }
        let points = self.ensemble.points.iter();
        let mut cents: Vec<robust::Weighted> = points.map(|p| (p.cents.get(), 1.0)).collect();
        robust::median(&mut cents).map(Cents::new)
    }
}

/// Partials that players bend say how the series moves, and not where it lies.
const BENT: [u8; 4] = [7, 11, 13, 14];

impl Drift {
    /// The drift over the whole of `chronicle`.
    pub fn of(chronicle: &Chronicle) -> Self {
        Self::of_notes(&chronicle.own_notes(), chronicle)
    }

    /// The drift of `own`, its players' own notes.
    pub(in crate::rehearsal) fn of_notes(own: &[&Note], chronicle: &Chronicle) -> Self {
        let Some((_, start)) = chronicle.tunings().first() else {
            return Self {
                findings: vec![Finding::TooEarly],
                ..Self::default()
            };
        };
        let mut notes = own.to_vec();
        notes.sort_by(|a, b| a.middle().get().total_cmp(&b.middle().get()));
        let is_trumpets = |note: &Note| {
            let player = &chronicle.players()[note.channel];
            family_of(player, note.label) == Family::Trumpets
        };
        // One player's evidence at a time: all together would take as much memory as the notes.
        let (mut tempered, mut trumpets) = (Vec::new(), Vec::new());
        for ((player, of_trumpet), notes) in grouped(&notes, |n| (n.channel, is_trumpets(n))) {
            let notes = notes.into_iter();
            if of_trumpet {
                let evidence = notes.filter_map(|note| on_series(note, start));
                trumpets.push((player, line_of(&evidence.collect::<Vec<_>>())));
            } else {
                let evidence = notes.map(|note| on_scale(note, chronicle, start));
                tempered.push((player, line_of(&evidence.collect::<Vec<_>>())));
            }
        }
        let all = |lines: &[(usize, DriftLine)]| {
            together(&lines.iter().map(|(_, line)| line).collect::<Vec<_>>())
        };
        let (ensemble, series) = (all(&tempered), all(&trumpets));
        let singles: Vec<(usize, &DriftLine)> = tempered
            .iter()
            .map(|(player, line)| (*player, line))
            .collect();
        let findings = findings::findings(&ensemble, &series, &singles);
        let winds = tempered
            .iter()
            .filter(|(player, _)| chronicle.players()[*player].instrument.family == Family::Winds);
        let winds: Vec<&DriftLine> = winds.map(|(_, line)| line).collect();
        let winds = if winds.is_empty() {
            series.clone()
        } else {
            together(&winds)
        };
        let expected = expected(chronicle, &winds);
        let mut players = tempered;
        players.extend(trumpets);
        players.sort_by_key(|(player, _)| *player);
        Self {
            ensemble,
            series,
            players,
            expected,
            findings,
            winds,
        }
    }

    /// Takes in what temperatures were typed in meanwhile.
    pub(in crate::rehearsal) fn warm(&mut self, chronicle: &Chronicle) {
        self.expected = expected(chronicle, &self.winds);
    }
}

/// A note of a trumpet: where the series must lie for it, as the A4 that goes with it.
fn on_series(note: &Note, start: &Tuning) -> Option<Evidence> {
    let partial = note.label.partial()?;
    let place = start
        .series()
        .fundamental()
        .times(f64::from(partial.number()));
    Some(Evidence {
        time_s: note.middle().get(),
        cents: note.hertz.above(place).get(),
        weight: weight(note),
        pitch: u32::from(partial.number()),
        counts: !BENT.contains(&partial.number()),
    })
}

/// A note of anybody else: where A4 must lie for it.
fn on_scale(note: &Note, chronicle: &Chronicle, start: &Tuning) -> Evidence {
    let tunings = chronicle.tunings();
    let index = tunings.partition_point(|(from, _)| *from <= note.ended);
    let (_, tuning) = &tunings[index.saturating_sub(1)];
    let standard = tuning.standard().a4().above(start.standard().a4());
    // In another temperament a player's habit of a note is another one.
    let of_tuning = tunings[..index]
        .iter()
        .rposition(|(_, other)| other.scale().temperament() != tuning.scale().temperament())
        .map_or(0, |before| before + 1);
    let tempered = note.places.tempered;
    let pitch = 64 * tempered.note.key_number() + tempered.note.name().fifths() + 16;
    Evidence {
        time_s: note.middle().get(),
        cents: (tempered.cents + standard).get(),
        weight: weight(note),
        pitch: (of_tuning as u32) << 16 | pitch.max(0) as u32,
        counts: true,
    }
}

/// What the winds should do from where they were when the first temperature was read.
fn expected(chronicle: &Chronicle, winds: &DriftLine) -> Vec<(Seconds, Cents)> {
    let [(first_at, first), .., (last_at, _)] = chronicle.temperatures() else {
        return Vec::new();
    };
    if winds.points.is_empty() {
        return Vec::new();
    }
    let level = Cents::new(lines::at(&winds.points, first_at.get()));
    let rise = |celsius: Celsius| level + rise_of_winds(*first, celsius);
    let points = chronicle.temperatures().iter();
    let mut points: Vec<(Seconds, Cents)> =
        points.map(|(at, celsius)| (*at, rise(*celsius))).collect();
    let ended = chronicle.ended();
    if let Some((_, cents)) = points.last().copied()
        && *last_at < ended
    {
        points.push((ended, cents));
    }
    points
}

#[cfg(test)]
mod tests;
