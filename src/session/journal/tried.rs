//! A note of an exercise as a line of the journal.

use serde::{Deserialize, Serialize};

use super::number::{Pitch, Size, Time, rounded};
use crate::rehearsal::{Approach, Place, Trial};
use crate::session::fields::Line;
use crate::tuning::Partial;
use crate::units::{Cents, Note};

/// How one note was held.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(in crate::session) struct TriedRecord {
    exercise: Line,
    note: Note,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    partial: Option<Partial>,
    place: Place,
    target: Pitch,
    tolerance: Size,
    from: Time,
    to: Time,
    inside: Time,
    off: Size,
    spread: Size,
    /// Cents a second.
    drift: Size,
    approach: Approach,
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    blind: bool,
}

impl TriedRecord {
    pub(super) fn of(trial: &Trial) -> Self {
        let hundredths = |cents: Cents| Cents::new(rounded(cents.get(), 100.0)).into();
        Self {
            exercise: Line::tidied(&trial.exercise),
            note: trial.note,
            partial: trial.partial,
            place: trial.place,
            target: trial.target.into(),
            tolerance: hundredths(trial.tolerance),
            from: trial.begun.into(),
            to: trial.ended.into(),
            inside: trial.inside.into(),
            off: hundredths(trial.off),
            spread: hundredths(trial.spread),
            drift: hundredths(trial.drift_per_second),
            approach: trial.approach,
            blind: trial.was_blind,
        }
    }

    pub(super) fn trial(self) -> Trial {
        Trial {
            exercise: self.exercise.0,
            note: self.note,
            partial: self.partial,
            place: self.place,
            target: self.target.get(),
            tolerance: self.tolerance.get(),
            begun: self.from.get(),
            ended: self.to.get(),
            inside: self.inside.get(),
            off: self.off.get(),
            spread: self.spread.get(),
            drift_per_second: self.drift.get(),
            approach: self.approach,
            was_blind: self.blind,
        }
    }
}
