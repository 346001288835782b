//! The rehearsal as a record: what outlasts the moment. Readings become notes, notes become
//! statistics, drift and the trumpets' true series; decisions stand beside them.
//!
//! Pure, like all of `rehearsal`: an [`Entry`] is what a journal keeps a line of, and a
//! [`Chronicle`] is what entries add up to, live, replayed and in reports alike.

mod chronicle;
mod decision;
mod drift;
mod entry;
mod leak;
mod ledger;
mod note;
mod notes;
pub(super) mod robust;
mod scribe;
mod seat;
mod series;
mod taking;
#[cfg(test)]
mod tests;
mod torn;
mod voices;

pub use chronicle::{Chronicle, Sitting};
pub use decision::{Agreed, Decision, Resolution};
pub use drift::{Drift, DriftLine, DriftPoint, Finding};
pub use entry::{Entry, HeardChannel, HeardSpan, HeardVoices, Mark, SPAN, Sample, SampledVoice};
pub use ledger::{GroupRow, Ledger, LedgerRow, Meeting, Spread};
pub use note::Note;
pub use notes::Notes;
pub(super) use scribe::Scribe;
pub(super) use seat::Seat;
pub use series::{Habit, TrueSeries};
pub(super) use taking::{NoteTaker, Taken};
pub use torn::notes_cut_off;
pub(super) use voices::VoiceTaker;
