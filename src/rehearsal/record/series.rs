//! The trumpets' true series, from the notes they play.

use std::collections::BTreeMap;

use super::ledger::weight;
use super::{Chronicle, Note, robust};
use crate::tuning::Partial;
use crate::units::{Cents, Hertz};

/// Where one partial of one player stands beside the player's own series.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Habit {
    /// The partial.
    pub partial: Partial,
    /// Cents from its place in the fitted series, the median.
    pub cents: Cents,
    /// How far its notes spread.
    pub spread: Cents,
    /// How many notes.
    pub count: usize,
    /// Whether it helped to find the fundamental: 7, 11, 13 and 14 never do, as players bend
    /// them.
    pub counts: bool,
}

/// A tube as it sounds in the hands of its player.
#[derive(Debug, Clone, PartialEq)]
pub struct TrueSeries {
    /// The player's place among [`Chronicle::players`].
    pub player: usize,
    /// The fundamental, as it is now.
    pub fundamental: Hertz,
    /// It is right to this distance, 19 times in 20.
    pub margin: Cents,
    /// Cents from the fundamental that is reckoned with.
    pub from_planned: Cents,
    /// How many notes it rests on.
    pub count: usize,
    /// Partial by partial.
    pub habits: Vec<Habit>,
}

/// The latest stretches of time that are looked at, with the fewest notes and partials that
/// count for each: the shorter the stretch, the straighter a tube's way through it. Then all
/// there is.
const LATELY: [(f64, Fewest); 3] = [
    (
        240.0,
        Fewest {
            notes: 18,
            partials: 4,
        },
    ),
    (
        600.0,
        Fewest {
            notes: 6,
            partials: 3,
        },
    ),
    (
        f64::INFINITY,
        Fewest {
            notes: 6,
            partials: 3,
        },
    ),
];
/// Players bend these, and the others of the third and fourth octave are near enough.
const BENT: [u8; 4] = [7, 11, 13, 14];
/// Partials of one tube lie about this far off its series whoever plays it, in cents: what a
/// partial heard without scatter still leaves open. A choice of this program.
const LEAST_SCATTER: f64 = 1.0;
/// Tukey's biweight keeps 95 % of the efficiency of a mean with this constant (textbook).
const BIWEIGHT: f64 = 4.685;

/// Above this margin a series is no reference: two trumpets that differ by as much are heard
/// apart (common practice, no source).
const SURE_CENTS: f64 = 6.0;

impl TrueSeries {
    /// Whether it is known well enough to be reckoned with.
    pub fn is_sure(&self) -> bool {
        self.margin.get() <= SURE_CENTS
    }

    /// Whether it lies elsewhere than the one that is reckoned with, for all that is known.
    pub fn has_moved(&self) -> bool {
        self.is_sure() && self.from_planned.abs() > self.margin
    }

    /// The series of `player` as of the last four minutes, of the last ten where that is too
    /// little, or of all there is; none while too little is known.
    ///
    /// Each partial stands at the median of its notes, brought forward to the present by the
    /// common trend of all partials; the fundamental is a mean of the partials with Tukey's
    /// biweight, so that neither a lipped note nor a partial that is always lipped pulls it.
    pub fn of(chronicle: &Chronicle, player: usize) -> Option<Self> {
        Self::of_notes(&chronicle.own_notes(), chronicle, player)
    }

    /// The series of `player` from `own`, all players' own notes.
    pub(in crate::rehearsal) fn of_notes(
        own: &[&Note],
        chronicle: &Chronicle,
        player: usize,
    ) -> Option<Self> {
        let (_, tuning) = chronicle.tunings().last()?;
        let planned = tuning.series().fundamental();
        let notes: Vec<Played> = own
            .iter()
            .filter(|note| note.channel == player)
            .filter_map(|note| Played::of(note, planned))
            .collect();
        let now_s = notes.last()?.time_s;
        LATELY.iter().find_map(|(stretch_s, fewest)| {
            let first = notes.partition_point(|note| note.time_s < now_s - stretch_s);
            Self::fit(player, planned, &notes[first..], *fewest)
        })
    }

    /// The same series, reckoned from another fundamental.
    pub(in crate::rehearsal) fn reckon_from(&mut self, planned: Hertz) {
        self.from_planned = self.fundamental.above(planned);
    }

    fn fit(player: usize, planned: Hertz, notes: &[Played], fewest: Fewest) -> Option<Self> {
        let now_s = notes.last()?.time_s;
        let trend = trend(notes);
        let mut partials: BTreeMap<Partial, Vec<robust::Weighted>> = BTreeMap::new();
        for note in notes {
            let cents = note.cents + trend * (now_s - note.time_s);
            let of_partial = partials.entry(note.partial).or_default();
            of_partial.push((cents, note.weight));
        }
        let mut habits: Vec<Habit> = Vec::new();
        for (partial, mut values) in partials {
            let median = robust::median(&mut values)?;
            habits.push(Habit {
                partial,
                cents: Cents::new(median),
                spread: Cents::new(robust::spread(&values, median)),
                count: values.len(),
                counts: !BENT.contains(&partial.number()),
            });
        }
        let counted: Vec<&Habit> = habits.iter().filter(|habit| habit.counts).collect();
        let count: usize = counted.iter().map(|habit| habit.count).sum();
        if count < fewest.notes || counted.len() < fewest.partials {
            return None;
        }
        let (offset, margin) = location(&counted)?;
        for habit in &mut habits {
            habit.cents = habit.cents - Cents::new(offset);
        }
        Some(Self {
            player,
            fundamental: planned.raised(Cents::new(offset)),
            margin: Cents::new(margin),
            from_planned: Cents::new(offset),
            count,
            habits,
        })
    }
}

/// What a fundamental must rest on at least.
#[derive(Debug, Clone, Copy)]
struct Fewest {
    notes: usize,
    partials: usize,
}

/// One note of a trumpet on a partial.
#[derive(Debug, Clone, Copy)]
struct Played {
    time_s: f64,
    partial: Partial,
    /// Above the partial's place in the planned series.
    cents: f64,
    weight: f64,
}

impl Played {
    fn of(note: &Note, planned: Hertz) -> Option<Self> {
        let partial = note.label.partial()?;
        let place = planned.times(f64::from(partial.number()));
        Some(Self {
            time_s: note.middle().get(),
            partial,
            cents: note.hertz.above(place).get(),
            weight: weight(note),
        })
    }
}

/// By how much all partials move, in cents a second: the median over pairs of notes on the same
/// partial; none where there are too few. Of a partial with many notes every other is passed
/// over: pairs grow with the square of them.
fn trend(notes: &[Played]) -> f64 {
    const MOST: usize = 160;
    let mut partials: BTreeMap<Partial, Vec<Played>> = BTreeMap::new();
    for note in notes {
        partials.entry(note.partial).or_default().push(*note);
    }
    let mut slopes = Vec::new();
    for notes in partials.into_values() {
        let step = notes.len().div_ceil(MOST).max(1);
        let notes: Vec<Played> = notes.into_iter().step_by(step).collect();
        for (index, note) in notes.iter().enumerate() {
            for other in &notes[index + 1..] {
                let apart = other.time_s - note.time_s;
                if apart >= 30.0 {
                    let weight = apart * note.weight.min(other.weight);
                    slopes.push(((other.cents - note.cents) / apart, weight));
                }
            }
        }
    }
    if slopes.len() < 10 {
        return 0.0;
    }
    // A room hardly warms by more than two degrees a minute, which are six cents.
    robust::median(&mut slopes).map_or(0.0, |slope| slope.clamp(-0.1, 0.1))
}

/// Where the partials stand together, and how surely.
fn location(partials: &[&Habit]) -> Option<(f64, f64)> {
    // Beyond eight notes a partial knows where it stands as well as it ever will.
    let weigh = |habit: &Habit| (habit.count.min(8) as f64).sqrt();
    let mut values: Vec<robust::Weighted> = partials
        .iter()
        .map(|habit| (habit.cents.get(), weigh(habit)))
        .collect();
    let mut middle = robust::median(&mut values)?;
    let scale = robust::spread(&values, middle).max(LEAST_SCATTER);
    let influence = |cents: f64, middle: f64| {
        let off = (cents - middle) / (BIWEIGHT * scale);
        if off.abs() < 1.0 {
            (1.0 - off * off).powi(2)
        } else {
            0.0
        }
    };
    for _ in 0..30 {
        let weights = values
            .iter()
            .map(|(cents, weight)| weight * influence(*cents, middle));
        let weights: Vec<f64> = weights.collect();
        let sum: f64 = weights.iter().sum();
        let weighted = values
            .iter()
            .zip(&weights)
            .map(|((cents, _), weight)| cents * weight);
        middle = weighted.sum::<f64>() / sum.max(1e-9);
    }
    let (mut sum, mut variance, mut n_partials) = (0.0, 0.0, 0.0);
    for habit in partials {
        let influence = influence(habit.cents.get(), middle);
        let weight = weigh(habit) * influence;
        let own = habit.spread.get().powi(2) / habit.count as f64;
        let off = (habit.cents.get() - middle)
            .powi(2)
            .max(LEAST_SCATTER.powi(2));
        sum += weight;
        variance += weight * weight * (off + own);
        n_partials += influence;
    }
    let error = variance.sqrt() / sum.max(1e-9);
    Some((middle, students_t(n_partials - 1.0) * error))
}

/// The two-sided 95 % quantile of Student's t, from below so many degrees of freedom
/// (standard table).
fn students_t(freedom: f64) -> f64 {
    const TABLE: [f64; 10] = [12.71, 4.30, 3.18, 2.78, 2.57, 2.45, 2.36, 2.31, 2.26, 2.23];
    let index = (freedom.floor() as usize).max(1) - 1;
    TABLE.get(index).copied().unwrap_or(2.0)
}

#[cfg(test)]
mod tests;
