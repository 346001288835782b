//! What is said about all notes of a rehearsal together: it takes long when there are many, so it is
//! made now and then and may be made on another thread.

use crate::rehearsal::{Chronicle, Drift, Ledger, TrueSeries};
use crate::units::Seconds;

/// How often what is said about the chronicle is computed anew, if it has grown; less often
/// the more there is, as it takes longer then and changes less: with ten thousand notes every
/// ten seconds.
const SURVEY_EVERY: Seconds = Seconds::new(2.0);
const NOTES_PER_SECOND: f64 = 1_000.0;

/// What a chronicle says.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Survey {
    pub(super) ledger: Ledger,
    pub(super) drift: Option<Drift>,
    /// For each player.
    pub(super) series: Vec<Option<TrueSeries>>,
    pub(super) made_at: Option<Seconds>,
    /// Notes, decisions and temperatures it was made of.
    size: (usize, usize, usize),
    /// How many tunings there had been.
    n_tunings: usize,
}

impl Survey {
    /// What `chronicle` says.
    pub fn of(chronicle: &Chronicle) -> Self {
        let own = chronicle.own_notes();
        let players = 0..chronicle.players().len();
        Self {
            ledger: Ledger::of_notes(&own, chronicle),
            drift: Some(Drift::of_notes(&own, chronicle)),
            series: players
                .map(|player| TrueSeries::of_notes(&own, chronicle, player))
                .collect(),
            made_at: None,
            size: size(chronicle),
            n_tunings: chronicle.tunings().len(),
        }
    }

    /// Whether another should be made of it now.
    pub(super) fn is_due(&self, chronicle: &Chronicle, now: Seconds) -> bool {
        let n_notes = chronicle.notes().len();
        let every = SURVEY_EVERY.get().max(n_notes as f64 / NOTES_PER_SECOND);
        let is_old = |made: Seconds| (now - made).get() >= every || now < made;
        size(chronicle) != self.size && self.made_at.is_none_or(is_old)
    }

    /// What was agreed, how warm it is and what is reckoned with count at once, as they change
    /// little.
    pub(super) fn amend(&mut self, chronicle: &Chronicle) {
        let size = size(chronicle);
        let n_tunings = chronicle.tunings().len();
        if size.1 != self.size.1 {
            self.ledger.agree(chronicle);
            self.size.1 = size.1;
        } else if size.2 != self.size.2 {
            if let Some(drift) = &mut self.drift {
                drift.warm(chronicle);
            }
            self.size.2 = size.2;
        } else if n_tunings != self.n_tunings {
            // A series is told by how far it lies from the one that is reckoned with.
            if let Some((_, tuning)) = chronicle.tunings().last() {
                let planned = tuning.series().fundamental();
                for series in self.series.iter_mut().flatten() {
                    series.reckon_from(planned);
                }
            }
            self.n_tunings = n_tunings;
        }
    }
}

fn size(chronicle: &Chronicle) -> (usize, usize, usize) {
    (
        chronicle.notes().len(),
        chronicle.decisions().len(),
        chronicle.temperatures().len(),
    )
}
