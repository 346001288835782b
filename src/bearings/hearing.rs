//! Hears two strings that are tuned to each other: how they beat, and where each of them lies.
//!
//! Beats come from the partials that both strings share, as the two lines that are there; pitches
//! from the partials each has for itself. Which line is whose, and so whether the interval is
//! narrow or wide, is said only where the pitches prove it.

mod attack;
mod bank;
mod line;
mod partials;
mod pitch;
#[cfg(test)]
mod tests;
mod two_lines;
mod verdict;

use std::collections::VecDeque;

use rustfft::num_complex::Complex;

use super::{Deed, End, Sense};
use crate::tuning::Ratio;
use crate::units::{Cents, Hertz, SampleRate};
use attack::Attack;
use bank::Bank;
use partials::Sought;

/// Readings a second.
pub const READINGS_A_SECOND: usize = 10;
/// Hops from one reading to the next, at a hundred a second.
const EVERY: usize = 10;
/// Hops that are kept: what a reading can look back on, 2.4 s.
const KEPT: usize = 240;
/// Hops that a reading needs.
const NEEDED: usize = 40;

/// What is listened for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Wanted {
    /// One string that belongs here.
    One(Hertz),
    /// Two strings.
    Two {
        /// Where the lower one belongs.
        lower: Hertz,
        /// Where the upper one belongs.
        upper: Hertz,
        /// The pure interval near theirs, upper to lower.
        ratio: Ratio,
    },
}

impl Wanted {
    /// What sounds in a step.
    pub fn of(deed: &Deed) -> Self {
        match deed {
            Deed::Take(note) => Self::One(note.hertz),
            Deed::Tune { pair, .. } | Deed::Check { pair, .. } | Deed::Leave { pair, .. } => {
                Self::Two {
                    lower: pair.lower.hertz,
                    upper: pair.upper.hertz,
                    ratio: pair.ratio,
                }
            }
        }
    }
}

/// A string that sounds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// Its lowest partial.
    pub hertz: Hertz,
    /// How far it lies above where it belongs.
    pub from_target: Cents,
    /// How far this may be out, nineteen times in twenty.
    pub margin: Cents,
}

/// How two strings beat.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Beats {
    /// Not enough has been heard.
    NotYet,
    /// No beat is heard: pure within so many beats a second, if both sound.
    Still {
        /// Slower beats than this cannot be told.
        within_hz: f64,
    },
    /// They beat.
    Counted {
        /// Beats a second.
        rate_hz: f64,
        /// How far this may be out, nineteen times in twenty.
        margin_hz: f64,
        /// On which side of pure the interval lies, where the pitches prove it.
        sense: Option<Sense>,
    },
}

/// What is heard at a moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Heard {
    /// Nothing that belongs to these strings.
    Quiet,
    /// One string alone.
    One {
        /// Which of the two; the upper one where only one is sought.
        end: End,
        /// Where it lies.
        place: Place,
    },
    /// Both.
    Both {
        /// The lower string; none where it cannot be told from the upper one's sound.
        lower: Option<Place>,
        /// The upper string; likewise.
        upper: Option<Place>,
        /// How they beat.
        beats: Beats,
        /// Whether the upper one has partials of its own. Where it has none, as an octave, and no
        /// beat is heard, the lower one may sound alone.
        is_sure_of_both: bool,
    },
}

/// Ears for one step of the sheet.
pub struct Hearing {
    sought: Sought,
    bank: Bank,
    attack: Attack,
    /// Of each band: the sound around it, hop by hop.
    rows: Vec<VecDeque<Complex<f64>>>,
    hop_s: f64,
    hops: usize,
}

impl Hearing {
    /// Ears for these strings, in sound of this rate.
    pub fn new(wanted: Wanted, rate: SampleRate) -> Self {
        let sought = Sought::new(wanted, rate);
        let centres: Vec<f64> = sought.bands.iter().map(|band| band.centre_hz).collect();
        let bank = Bank::new(&centres, rate);
        Self {
            attack: Attack::new(centres.len()),
            rows: vec![VecDeque::with_capacity(KEPT); centres.len()],
            hop_s: bank.hop_s(),
            sought,
            bank,
            hops: 0,
        }
    }

    /// Takes in samples of one channel; hands on what is heard, ten times a second.
    pub fn push(&mut self, samples: impl Iterator<Item = f32>, mut each: impl FnMut(Heard)) {
        for sample in samples {
            let Some((energy, values)) = self.bank.push(sample) else {
                continue;
            };
            self.attack.take(energy, values);
            for (row, value) in self.rows.iter_mut().zip(values) {
                if row.len() == KEPT {
                    row.pop_front();
                }
                row.push_back(*value);
            }
            self.hops += 1;
            if self.hops.is_multiple_of(EVERY) {
                each(self.heard());
            }
        }
    }

    fn heard(&mut self) -> Heard {
        let count = self.attack.since().min(KEPT).min(self.hops);
        if count < NEEDED {
            return Heard::Quiet;
        }
        let windows: Vec<&[Complex<f64>]> = self
            .rows
            .iter_mut()
            .map(|row| {
                let all = row.make_contiguous();
                &all[all.len() - count.min(all.len())..]
            })
            .collect();
        let sounds: Vec<bool> = windows
            .iter()
            .enumerate()
            .map(|(band, window)| self.attack.is_above_floor(band, window))
            .collect();
        verdict::judge(&self.sought, &windows, &sounds, self.hop_s)
    }
}
