//! All that the practice view shows, at one moment.

use crate::drone::Tone;
use crate::rehearsal::{
    Doing, Exercise, Family, Hold, Part, Place, Practice, Rehearsal, Sounding, Target, Trial,
};
use crate::sound::SourceState;
use crate::tui::axis::{AGREED, NATURE, TEMPERED};
use crate::tui::text::Precision;
use crate::tui::theme::Theme;
use crate::tuning::Placement;
use crate::units::{Cents, Hertz, Note};
use ratatui::style::Style;

/// From so far off on the player is on another note, and cents would tell nothing.
const ANOTHER_NOTE: Cents = Cents::new(99.5);

/// What is shown.
#[derive(Debug, Clone)]
pub(super) struct Glance<'a> {
    pub(super) part: Part<'a>,
    pub(super) practice: &'a Practice,
    pub(super) exercise: &'a Exercise,
    /// Which step of how many, from 0; none where whatever is played is held.
    pub(super) step: Option<(usize, usize)>,
    pub(super) target: Option<Target>,
    /// What is agreed on the note that is meant, or else on the one that sounds.
    pub(super) agreed: Option<Hertz>,
    /// Notes of the drone that should sound where it was agreed, though nothing was.
    pub(super) undecided: Vec<Note>,
    pub(super) hold: Option<&'a Hold>,
    pub(super) trials: &'a [Trial],
    pub(super) is_hidden: bool,
    /// Whether there is an input to hear the player by.
    pub(super) has_input: bool,
}

/// What stands where the large number does.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Figure {
    /// How far the player is from a place.
    Cents(String, Place),
    /// The player is on another note: whether the target lies higher, and how far.
    Elsewhere(bool, Cents),
    /// How far the last note lay from its place.
    Last(String, Place),
    /// No number, in so many words.
    Words(Vec<String>),
}

impl<'a> Glance<'a> {
    /// What a practice shows; none where there is none.
    pub(super) fn of(rehearsal: &'a Rehearsal) -> Option<Self> {
        let practice = rehearsal.practice()?;
        let part = rehearsal.parts().find(|part| part.index == 0)?;
        let course = practice.course();
        let target = rehearsal.target();
        let places = part.state.sounding().map(Sounding::places);
        let on_sounding = || {
            let agreed = rehearsal.agreed(part.channel, places.as_ref()?)?;
            agreed.place
        };
        Some(Self {
            part,
            practice,
            exercise: course.exercise(),
            step: course.has_steps().then(|| course.place_in_steps()),
            target,
            agreed: match target {
                Some(target) => target.agreed,
                None => on_sounding(),
            },
            undecided: undecided(rehearsal, practice),
            hold: course.hold(),
            trials: course.trials(),
            is_hidden: course.is_hidden(),
            has_input: matches!(rehearsal.source(), SourceState::Running),
        })
    }

    /// The places of the note that is meant, or else of the one that sounds.
    pub(super) fn places(&self) -> Option<Placement> {
        let sounding = || Some(self.part.state.sounding()?.places());
        self.target.map(|target| target.places).or_else(sounding)
    }

    /// The place that cents are counted from. Without a target it is what one would expect: the
    /// agreed one, or the partial of a trumpet.
    pub(super) fn counted(&self) -> Option<(Place, Hertz)> {
        if let Some(target) = self.target {
            let is_agreed = target.agreed.is_some();
            let place = match target.place {
                Place::Agreed if !is_agreed => Place::Tempered,
                place => place,
            };
            return Some((place, target.hertz));
        }
        let places = self.places()?;
        let is_trumpet = self.part.channel.instrument.family == Family::Trumpets;
        Some(match (self.agreed, places.partial) {
            (Some(agreed), _) => (Place::Agreed, agreed),
            (None, Some(partial)) if is_trumpet => (Place::Partial, partial.place),
            (None, _) => (Place::Tempered, places.tempered.place),
        })
    }

    /// What stands where the large number does.
    pub(super) fn figure(&self, precision: Precision) -> Figure {
        let words = |lines: &[&str]| Figure::Words(lines.iter().map(ToString::to_string).collect());
        if self.is_hidden && self.has_input {
            return if self.part.state.sounding().is_some() || self.hold.is_some() {
                words(&["hidden until", "the note ends"])
            } else {
                let mut lines = vec![self.wanted()];
                lines.push("it is shown when the note ends".to_owned());
                lines.extend(self.begin_drone());
                Figure::Words(lines)
            };
        }
        // At once, though a note lingers for a moment: no number stands for what is not heard.
        if self.part.doing == Doing::OnDrone {
            return words(&["on the drone:", "too near to tell apart"]);
        }
        if let (Some(sounding), Some((place, hertz))) = (self.part.state.sounding(), self.counted())
        {
            let off = sounding.needle().hertz().above(hertz);
            return if off.abs() < ANOTHER_NOTE {
                Figure::Cents(precision.deviation(sounding, hertz), place)
            } else {
                Figure::Elsewhere(off < Cents::UNISON, off.abs())
            };
        }
        match self.trials.last() {
            // What was played in another exercise says nothing about this one.
            Some(trial) if self.has_input && trial.exercise == self.exercise.name => {
                Figure::Last(precision.cents(trial.off), trial.place)
            }
            _ => Figure::Words(self.what_next()),
        }
    }

    /// Nothing has been heard yet: what to do next.
    fn what_next(&self) -> Vec<String> {
        let mut lines = Vec::new();
        match self.part.doing {
            _ if !self.has_input => {
                lines.push("no input yet:".to_owned());
                lines.push("the line above says why".to_owned());
                return lines;
            }
            Doing::NoInput(number) => {
                lines.push(format!("there is no input {number}:"));
                lines.push("choose another with --input".to_owned());
                return lines;
            }
            Doing::TwoNotes => lines.push("two notes at once".to_owned()),
            Doing::Noise => lines.push("a sound without pitch".to_owned()),
            Doing::Unclear => lines.push("a pitch too unsure to tell".to_owned()),
            Doing::Unheard
            | Doing::Quiet { .. }
            | Doing::OnDrone
            | Doing::Voices(_)
            | Doing::Settling
            | Doing::Sounding
            | Doing::Steady { .. }
            | Doing::Rising
            | Doing::Falling
            | Doing::Vibrato { .. }
            | Doing::Unsteady { .. } => lines.push("nothing heard yet".to_owned()),
        }
        lines.push(self.wanted());
        lines.extend(self.begin_drone());
        lines
    }

    fn wanted(&self) -> String {
        match self.target.filter(|_| self.step.is_some()) {
            Some(target) => format!("play {} and hold it", target.note()),
            None => "play a note and hold it".to_owned(),
        }
    }

    fn begin_drone(&self) -> Option<String> {
        let is_silent = !self.practice.drone().is_sounding();
        is_silent.then(|| "Enter begins the drone".to_owned())
    }
}

fn undecided(rehearsal: &Rehearsal, practice: &Practice) -> Vec<Note> {
    let chronicle = rehearsal.chronicle();
    let tones = practice.drone().tones().list().iter();
    let undecided = tones.filter_map(|tone| match tone {
        Tone::Agreed(note) if chronicle.decision(note.name()).is_none() => Some(*note),
        _ => None,
    });
    undecided.collect()
}

/// The mark of a place.
pub(super) fn mark(place: Place) -> &'static str {
    match place {
        Place::Partial => NATURE,
        Place::Tempered => TEMPERED,
        Place::Agreed => AGREED,
    }
}

/// A place in a word.
pub(super) fn word(place: Place) -> &'static str {
    match place {
        Place::Partial => "partial",
        Place::Tempered => "tempered",
        Place::Agreed => "agreed",
    }
}

/// The hue of a place.
pub(super) fn hue(place: Place, theme: &Theme) -> Style {
    match place {
        Place::Partial => theme.nature,
        Place::Tempered => theme.tempered,
        Place::Agreed => theme.agreed,
    }
}
