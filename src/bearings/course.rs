//! Makes the steps of a sheet, one from the other.

use super::compass::{BEARINGS, fifth_or_fourth, lowest, on_key};
use super::order::{along_fifths, outwards};
use super::pair::{Pair, Sounded};
use super::sheet::{Deed, End, Method, SheetError, Step};
use crate::tuning::Scale;
use crate::units::{Cents, Note, NoteName};

/// A fifth farther from pure than this beats too fast to be counted; a third is used instead
/// where there is a better one. A choice of this program, the same as for wolves.
const COUNTABLE: Cents = Cents::new(12.0);
/// A third farther from pure than this is no check of anything. A choice of this program.
const WORST_THIRD: Cents = Cents::new(25.0);
/// Thirds nearer to pure than this are called pure.
const PURE_THIRD: Cents = Cents::new(0.1);
/// Semitones of a major third, and its fifths along the chain.
const THIRD_KEYS: i32 = 4;
const THIRD_FIFTHS: usize = 4;

/// Whether all major thirds of the chain are pure.
pub(super) fn has_pure_thirds(scale: &Scale) -> bool {
    let thirds = scale.temperament().major_thirds_of(scale.chain());
    thirds
        .iter()
        .filter(|third| third.high.fifths() - third.low.fifths() == THIRD_FIFTHS as i32)
        .all(|third| third.from_pure.abs() < PURE_THIRD)
}

/// A sheet in the making.
pub(super) struct Course<'a> {
    scale: &'a Scale,
    /// The twelve names in rising order of fifths.
    names: Vec<NoteName>,
    /// Whether thirds reach across the ends of the chain.
    is_closed: bool,
    tuned: Vec<Note>,
    /// Places of the lower names of thirds that have been listened to or tuned.
    done: Vec<usize>,
    steps: Vec<Step>,
}

impl<'a> Course<'a> {
    pub(super) fn new(scale: &'a Scale) -> Self {
        let temperament = scale.temperament();
        Self {
            scale,
            names: along_fifths(temperament, scale.chain()),
            is_closed: !temperament.extends_along_the_chain(),
            tuned: Vec::new(),
            done: Vec::new(),
            steps: Vec::new(),
        }
    }

    /// All steps from the note `wanted` on.
    pub(super) fn steps(
        mut self,
        wanted: NoteName,
        method: Method,
    ) -> Result<Vec<Step>, SheetError> {
        let is_it =
            |name: &NoteName| *name == wanted || self.is_closed && name.key() == wanted.key();
        let first = self.names.iter().position(is_it);
        let first = first.ok_or(SheetError::NoSuchKey {
            name: wanted,
            chain: self.scale.chain(),
        })?;
        if method == Method::Thirds && !has_pure_thirds(self.scale) {
            return Err(SheetError::ThirdsNotPure);
        }
        self.begin(first);
        match method {
            Method::Fifths => {
                let mut pending = outwards(&self.names, first);
                while let Some((place, from)) = self.take_next(&mut pending) {
                    self.tune_by_fifth(place, from);
                    self.listen_to_thirds(THIRD_FIFTHS);
                }
                // Those across the ends of the chain.
                self.listen_to_thirds(0);
            }
            Method::Thirds => self.by_thirds(first),
        }
        self.leave_the_last();
        Ok(self.steps)
    }

    fn push(&mut self, deed: Deed) {
        self.tuned.extend(deed.tuned().map(|tuned| tuned.note));
        let number = self.steps.len() + 1;
        self.steps.push(Step { number, deed });
    }

    /// The first note where fork or pipe has it, then in the bearings. Forks are of A4 and C5
    /// (common practice).
    fn begin(&mut self, first: usize) {
        let home = lowest(self.names[first]);
        let is_forked = [NoteName::A, NoteName::C].contains(&home.name());
        let fork = home.name().in_octave(home.octave() + i8::from(is_forked));
        self.push(Deed::Take(Sounded::of(self.scale, fork)));
        if is_forked {
            self.tune(fork, home);
        }
    }

    /// Tunes `to` to `from`. A note that lies near no pure interval is taken over.
    fn tune(&mut self, from: Note, to: Note) {
        let is_up = to.key_number() > from.key_number();
        let (lower, upper) = if is_up { (from, to) } else { (to, from) };
        self.push(match Pair::new(self.scale, lower, upper) {
            Some(pair) => Deed::Tune {
                pair,
                tuned: if is_up { End::Upper } else { End::Lower },
            },
            None => Deed::Take(Sounded::of(self.scale, to)),
        });
    }

    /// The next name and where its fifth or fourth comes from: the first that can be counted.
    fn take_next(&self, pending: &mut Vec<(usize, usize)>) -> Option<(usize, usize)> {
        let ways = pending.iter().map(|(place, from)| self.way(*place, *from));
        let offs: Vec<f64> = ways
            .map(|way| way.map_or(f64::INFINITY, |(source, target)| self.off(source, target)))
            .collect();
        let countable = offs.iter().position(|off| *off <= COUNTABLE.get());
        let next = countable.or_else(|| offs.iter().position(|off| off.is_finite()));
        (!pending.is_empty()).then(|| pending.remove(next.unwrap_or(0)))
    }

    /// Tunes the name at `place`, by its fifth or fourth to the name at `from` unless a third
    /// is easier.
    fn tune_by_fifth(&mut self, place: usize, from: usize) {
        let name = self.names[place];
        let Some((source, target)) = self.way(place, from) else {
            self.push(Deed::Take(Sounded::of(self.scale, lowest(name))));
            return;
        };
        self.tune(source, target);
        // Both ends of the octave are wanted where it fits into the bearings: the next note is
        // then a fifth away.
        let above = name.in_octave(target.octave() + 1);
        let is_lowest = target.key_number() == *BEARINGS.start();
        if is_lowest && !self.tuned.contains(&above) {
            self.listen_to_thirds(THIRD_FIFTHS);
            self.tune(target, above);
        }
    }

    /// How far from pure an interval is, in cents.
    fn off(&self, a: Note, b: Note) -> f64 {
        let is_up = b.key_number() > a.key_number();
        let (lower, upper) = if is_up { (a, b) } else { (b, a) };
        let pair = Pair::new(self.scale, lower, upper);
        pair.map_or(f64::INFINITY, |pair| pair.from_pure.abs().get())
    }

    /// The note that stands and the new one: a fifth or a fourth apart, or a third that can be
    /// heard better where these beat too fast.
    fn way(&self, place: usize, from: usize) -> Option<(Note, Note)> {
        let name = self.names[place];
        let off = |way: &(Note, Note)| self.off(way.0, way.1);
        let usual = fifth_or_fourth(&self.tuned, self.names[from], name);
        if usual.is_some_and(|way| off(&way) <= COUNTABLE.get()) {
            return usual;
        }
        let thirds = self.tuned.iter().flat_map(|tuned| {
            [THIRD_KEYS, -THIRD_KEYS].into_iter().filter_map(|step| {
                let key = tuned.key_number() + step;
                let target = BEARINGS.contains(&key).then(|| on_key(name, key))?;
                Some((*tuned, target?))
            })
        });
        thirds.chain(usual).min_by(|a, b| off(a).total_cmp(&off(b)))
    }

    /// The third above the name at `place`, if it is one of the sheet's.
    fn third(&self, place: usize) -> Option<(NoteName, NoteName)> {
        let upper = place + THIRD_FIFTHS;
        (self.is_closed || upper < self.names.len()).then(|| {
            let upper = upper % self.names.len();
            (self.names[place], self.names[upper])
        })
    }

    fn is_tuned(&self, name: NoteName) -> bool {
        self.tuned.iter().any(|note| note.name() == name)
    }

    /// Listens to every third that has come about, but for those of the last names, so many.
    fn listen_to_thirds(&mut self, last: usize) {
        for place in 0..self.names.len() - last {
            let Some((low, high)) = self.third(place) else {
                continue;
            };
            if self.done.contains(&place) || !self.is_tuned(low) || !self.is_tuned(high) {
                continue;
            }
            self.done.push(place);
            let (lower, upper) = placed(low, high, THIRD_KEYS);
            let third = Pair::new(self.scale, lower, upper)
                .filter(|pair| pair.ratio.over() == 5 && pair.from_pure.abs() <= WORST_THIRD);
            if let Some(pair) = third {
                self.copy(lower);
                self.copy(upper);
                let is_check = |step: &Step| matches!(step.deed, Deed::Check { .. });
                let is_first = !self.steps.iter().any(is_check);
                self.push(Deed::Check { pair, is_first });
            }
        }
    }

    /// Tunes a note from its octave, unless it stands already.
    fn copy(&mut self, note: Note) {
        if self.tuned.contains(&note) {
            return;
        }
        let nearest = self
            .tuned
            .iter()
            .filter(|tuned| tuned.name() == note.name())
            .min_by_key(|tuned| (tuned.key_number() - note.key_number()).abs());
        if let Some(from) = nearest.copied() {
            self.tune(from, note);
        }
    }

    /// The fifth between the last name and the first: nobody tunes it.
    fn leave_the_last(&mut self) {
        let (Some(first), Some(last)) = (self.names.first(), self.names.last()) else {
            return;
        };
        let (first, last) = (*first, *last);
        let (mut lower, mut upper) = placed(last, first, 7);
        // What would lie too high is heard as a fourth.
        if upper.key_number() > lowest(NoteName::A).key_number() + 12 {
            (lower, upper) = placed(first, last, 5);
        }
        if let Some(pair) = Pair::new(self.scale, lower, upper) {
            self.copy(lower);
            self.copy(upper);
            let is_wolf = pair.from_pure.abs() > COUNTABLE;
            self.push(Deed::Leave { pair, is_wolf });
        }
    }

    /// A pure third with the first note, the three notes between its ends, and pure thirds from
    /// all of these.
    fn by_thirds(&mut self, first: usize) {
        let is_natural = |place: usize| self.names[place].sharps() == 0;
        let below = first.checked_sub(THIRD_FIFTHS);
        let above = Some(first + THIRD_FIFTHS).filter(|place| *place < self.names.len());
        // Of the two thirds the one on white keys, if there is one.
        let other = [above, below]
            .into_iter()
            .flatten()
            .max_by_key(|place| is_natural(*place))
            .unwrap_or(first);
        let flat_end = first.min(other);
        self.tune_by_third(other, first);
        self.done.push(flat_end);
        // Shared out from the first note on; the last one of these fifths closes by itself.
        let between: Vec<usize> = (flat_end + 1..flat_end + THIRD_FIFTHS).collect();
        let mut from = first;
        let ordered: Vec<usize> = if other > first {
            between
        } else {
            between.into_iter().rev().collect()
        };
        for place in ordered {
            self.tune_by_fifth(place, from);
            from = place;
        }
        self.close(from, other);
        while let Some((place, from)) = self.next_by_third() {
            self.tune_by_third(place, from);
            self.done.push(place.min(from));
        }
    }

    /// The last of the fifths that share a third: it must beat as it should.
    fn close(&mut self, a: usize, b: usize) {
        let (low, high) = (self.names[a.min(b)], self.names[a.max(b)]);
        let notes = |name: NoteName| self.tuned.iter().filter(move |note| note.name() == name);
        let found = notes(low)
            .flat_map(|low| notes(high).map(move |high| (*low, *high)))
            .filter(|(low, high)| (low.key_number() - high.key_number()).abs() <= 7)
            .map(|(a, b)| {
                if a.key_number() < b.key_number() {
                    (a, b)
                } else {
                    (b, a)
                }
            })
            .next();
        if let Some(pair) = found.and_then(|(a, b)| Pair::new(self.scale, a, b)) {
            self.push(Deed::Check {
                pair,
                is_first: false,
            });
        }
    }

    fn next_by_third(&self) -> Option<(usize, usize)> {
        let count = self.names.len();
        // Sharp ends first, nearest to what is there; then the flat ones.
        let sharp = (THIRD_FIFTHS..count).map(|place| (place, place - THIRD_FIFTHS));
        let flat = (0..count - THIRD_FIFTHS)
            .rev()
            .map(|place| (place, place + THIRD_FIFTHS));
        sharp.chain(flat).find(|(place, from)| {
            !self.is_tuned(self.names[*place]) && self.is_tuned(self.names[*from])
        })
    }

    fn tune_by_third(&mut self, place: usize, from: usize) {
        let (low, high) = (self.names[place.min(from)], self.names[place.max(from)]);
        let (lower, upper) = placed(low, high, THIRD_KEYS);
        let (source, target) = if place > from {
            (lower, upper)
        } else {
            (upper, lower)
        };
        self.copy(source);
        self.tune(source, target);
    }
}

/// An interval of so many keys, as low as it lies in the bearings.
fn placed(low: NoteName, high: NoteName, keys: i32) -> (Note, Note) {
    let lower = lowest(low);
    let upper = on_key(high, lower.key_number() + keys);
    (lower, upper.unwrap_or_else(|| lowest(high)))
}
