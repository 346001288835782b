//! A rehearsal heard without a screen, as fast as the sound can be had.

use std::time::Duration;

use super::{Hearer, Inputs};
use crate::rehearsal::{Entry, Rehearsal, Update};
use crate::sound::{Source, SourceState};
use crate::units::Seconds;

/// How long a fast source may take for its next block.
const PATIENCE: Duration = Duration::from_secs(5);

/// How often time passes for the rehearsal: what it computes then need not be done each block.
const TICK: Seconds = Seconds::new(0.05);

/// A rehearsal that was heard to its end.
#[derive(Debug)]
pub struct HeardOut {
    /// The rehearsal.
    pub rehearsal: Rehearsal,
    /// What should be known of the sound, such as a recording that is damaged in the middle.
    pub warning: Option<String>,
}

/// Hears `source` to its end. Before each tick `act` may do what a leader would do at that
/// moment; what is to be kept goes to `keep`, in order.
///
/// # Errors
///
/// What `keep` says; nothing more is heard then.
pub fn hear_out<E>(
    mut rehearsal: Rehearsal,
    source: Box<dyn Source>,
    inputs: Inputs,
    mut act: impl FnMut(&mut Rehearsal, Seconds),
    mut keep: impl FnMut(Vec<Entry>) -> Result<(), E>,
) -> Result<HeardOut, E> {
    let mut hearer = Hearer::new(source, inputs, rehearsal.wishes());
    let mut revision = rehearsal.sought_revision();
    let mut news = Vec::new();
    let mut ticked = Seconds::default();
    loop {
        hearer.step(PATIENCE, |update| news.push(update));
        let mut has_ended = false;
        for update in news.drain(..) {
            has_ended |= update == Update::State(SourceState::Ended);
            // The moment of a reading is the rehearsal's present.
            let now = match &update {
                Update::Reading(_, reading) => Some(reading.available),
                Update::Chord(_, chord) => Some(chord.available),
                _ => None,
            };
            if let Some(now) = now.filter(|now| *now - ticked >= TICK) {
                act(&mut rehearsal, now);
                rehearsal.tick(now);
                ticked = now;
                keep(rehearsal.take_entries())?;
            }
            rehearsal.take(update);
        }
        if revision != rehearsal.sought_revision() {
            revision = rehearsal.sought_revision();
            hearer.seek(rehearsal.wishes());
        }
        if has_ended {
            rehearsal.finish();
            keep(rehearsal.take_entries())?;
            return Ok(HeardOut {
                warning: hearer.damage.take(),
                rehearsal,
            });
        }
    }
}
