//! What a player is doing, in a word that describes and does not judge.

use std::fmt;

use super::chord::ChordState;
use crate::analysis::Motion;
use crate::analysis::chord::ChordSound;
use crate::units::{Cents, Seconds};

/// A trend from here on is called rising or falling, in cents a second: a held wind note
/// wanders by less (common practice, no source).
const TREND: f64 = 8.0;

/// A spread up to here is called steady, in cents: about what a listener takes for one pitch
/// in a held chord (common practice, no source).
const STEADY: f64 = 6.0;

/// What one channel is doing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Doing {
    /// Nothing has been heard of this input.
    Unheard,
    /// The stream has fewer channels than this one's input number.
    NoInput(usize),
    /// Nothing sounds.
    Quiet {
        /// For how long.
        lasting: Seconds,
    },
    /// Sound without one pitch.
    Noise,
    /// More than one note.
    TwoNotes,
    /// On the drone, and not to be told from it.
    OnDrone,
    /// A pitch too unsure to be shown.
    Unclear,
    /// So many voices of a chord.
    Voices(usize),
    /// A chord that has begun or changed.
    Settling,
    /// A note too young to say more of.
    Sounding,
    /// A held pitch.
    Steady {
        /// Standard deviation over the last second.
        spread: Cents,
    },
    /// The pitch goes up.
    Rising,
    /// The pitch goes down.
    Falling,
    /// A regular swing.
    Vibrato {
        /// From the centre to the turning point.
        extent: Cents,
    },
    /// The pitch wanders.
    Unsteady {
        /// Standard deviation over the last second.
        spread: Cents,
    },
}

impl Doing {
    /// What a note with this motion does.
    pub(super) fn of_note(motion: Option<Motion>) -> Self {
        let Some(motion) = motion else {
            return Self::Sounding;
        };
        let drift = motion.drift_per_second.get();
        if let Some(vibrato) = motion.vibrato {
            Self::Vibrato {
                extent: vibrato.extent,
            }
        } else if drift >= TREND {
            Self::Rising
        } else if drift <= -TREND {
            Self::Falling
        } else if motion.spread.get() <= STEADY {
            Self::Steady {
                spread: motion.spread,
            }
        } else {
            Self::Unsteady {
                spread: motion.spread,
            }
        }
    }

    /// What a shared channel does.
    pub(super) fn of_chord(chord: &ChordState) -> Self {
        match chord.sound() {
            None => Self::Unheard,
            Some(ChordSound::Silent) => Self::Quiet {
                lasting: chord.quiet_for().unwrap_or_default(),
            },
            Some(ChordSound::Settling) => Self::Settling,
            Some(ChordSound::Held) => Self::Voices(chord.voices().count()),
        }
    }

    /// The word without its number, at most nine columns.
    pub fn word(self) -> &'static str {
        match self {
            Self::Unheard => "\u{2014}",
            Self::NoInput(_) => "no input",
            Self::Quiet { .. } => "quiet",
            Self::Noise => "no pitch",
            Self::TwoNotes => "two notes",
            Self::OnDrone => "on drone",
            Self::Unclear => "unclear",
            Self::Voices(1) => "1 voice",
            Self::Voices(_) => "voices",
            Self::Settling => "settling",
            Self::Sounding => "sounding",
            Self::Steady { .. } => "steady",
            Self::Rising => "rising",
            Self::Falling => "falling",
            Self::Vibrato { .. } => "vibrato",
            Self::Unsteady { .. } => "unsteady",
        }
    }

    /// Whether a note sounds that can be said something of.
    fn is_note(self) -> bool {
        match self {
            Self::Sounding
            | Self::Steady { .. }
            | Self::Rising
            | Self::Falling
            | Self::Vibrato { .. }
            | Self::Unsteady { .. } => true,
            Self::Unheard
            | Self::NoInput(_)
            | Self::Quiet { .. }
            | Self::Noise
            | Self::TwoNotes
            | Self::OnDrone
            | Self::Voices(_)
            | Self::Settling
            | Self::Unclear => false,
        }
    }
}

impl fmt::Display for Doing {
    /// At most twelve columns for anything that lasts less than 100 minutes.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let word = self.word();
        let about = |cents: Cents| cents.abs().get().round();
        match *self {
            Self::NoInput(number) => f.pad(&format!("{word} {number}")),
            Self::Quiet { lasting } => {
                let seconds = lasting.get().max(0.0) as u64;
                f.pad(&format!("{word} {}:{:02}", seconds / 60, seconds % 60))
            }
            Self::Steady { spread: size }
            | Self::Vibrato { extent: size }
            | Self::Unsteady { spread: size } => f.pad(&format!("{word} \u{b1}{}", about(size))),
            Self::Voices(count) if count != 1 => f.pad(&format!("{count} {word}")),
            Self::Unheard
            | Self::Noise
            | Self::TwoNotes
            | Self::OnDrone
            | Self::Unclear
            | Self::Voices(_)
            | Self::Settling
            | Self::Sounding
            | Self::Rising
            | Self::Falling => f.pad(word),
        }
    }
}

/// Lets a word stand long enough to be read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Word {
    shown: Doing,
    /// When what is heard first differed in kind from what is shown.
    differs_since: Option<Seconds>,
}

impl Word {
    /// How long another word must hold before it is shown.
    const PATIENCE: Seconds = Seconds::new(0.3);

    pub(super) fn new(doing: Doing) -> Self {
        Self {
            shown: doing,
            differs_since: None,
        }
    }

    pub(super) fn shown(self) -> Doing {
        self.shown
    }

    /// Takes in what is heard now.
    pub(super) fn hear(&mut self, doing: Doing, now: Seconds) {
        let same_kind = std::mem::discriminant(&doing) == std::mem::discriminant(&self.shown);
        let from_nothing = !self.shown.is_note() && doing.is_note();
        let since = *self.differs_since.get_or_insert(now);
        if same_kind || from_nothing || now - since >= Self::PATIENCE {
            *self = Self::new(doing);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::Vibrato;
    use crate::units::Hertz;

    fn motion(spread: f64, drift: f64, vibrato: Option<f64>) -> Motion {
        Motion {
            centre: Hertz::new(440.0).unwrap(),
            spread: Cents::new(spread),
            drift_per_second: Cents::new(drift),
            vibrato: vibrato.map(|extent| Vibrato {
                rate_hz: 5.5,
                extent: Cents::new(extent),
            }),
            span: Seconds::new(1.0),
        }
    }

    fn check(motion: Motion, word: &str) {
        assert_eq!(Doing::of_note(Some(motion)).to_string(), word);
    }

    #[test]
    fn motions_have_words() {
        check(motion(2.2, 1.0, None), "steady \u{b1}2");
        check(motion(9.0, 14.0, None), "rising");
        check(motion(9.0, -14.0, None), "falling");
        check(motion(14.0, 0.0, Some(20.3)), "vibrato \u{b1}20");
        check(motion(12.0, 3.0, None), "unsteady \u{b1}12");
        assert_eq!(Doing::of_note(None).to_string(), "sounding");
        let lasting = Seconds::new(760.9);
        assert_eq!(Doing::Quiet { lasting }.to_string(), "quiet 12:40");
    }

    #[test]
    fn a_word_stands_until_another_has_held() {
        let steady = Doing::Steady {
            spread: Cents::new(2.0),
        };
        let mut word = Word::new(steady);
        word.hear(Doing::Rising, Seconds::new(1.0));
        word.hear(Doing::Rising, Seconds::new(1.2));
        assert_eq!(word.shown(), steady);
        word.hear(steady, Seconds::new(1.25));
        word.hear(Doing::Rising, Seconds::new(1.35));
        assert_eq!(word.shown(), steady, "the count begins again");
        word.hear(Doing::Rising, Seconds::new(1.7));
        assert_eq!(word.shown(), Doing::Rising);
    }

    #[test]
    fn a_note_out_of_silence_is_named_at_once() {
        let mut word = Word::new(Doing::Noise);
        word.hear(Doing::Sounding, Seconds::new(0.0));
        assert_eq!(word.shown(), Doing::Sounding);
    }
}
