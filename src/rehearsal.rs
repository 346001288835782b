//! What is played and by whom: the ensemble, and what each channel is doing. Knows no
//! terminal, device or file, and no clock: time is passed in.

mod chord;
mod clock;
mod dashboard;
mod doing;
mod ensemble;
mod held;
mod matching;
mod meter;
mod needle;
mod picture;
mod practice;
mod pulse;
mod purity;
mod record;
mod sought;
mod sounding;
mod state;
mod steady;
mod sure;
mod trace;
mod update;
mod voice;

#[cfg(test)]
pub(crate) mod tests;

pub use chord::{ChordState, ChordVoice, Standing, Together};
pub use dashboard::{NotAdopted, NothingHeld, Part, Rehearsal, Silence, Survey};
pub use doing::Doing;
pub use ensemble::{Channel, Ensemble, Family, Instrument, MOST_PLAYERS, Reach};
pub use held::{HeldChord, HeldVoice, Moment, SHELF, Setting, Shelf};
pub use matching::{Match, Way};
pub use meter::Meter;
pub use needle::Needle;
pub use picture::LivePurity;
pub use practice::{
    Accompaniment, Approach, Beating, Beats, Course, Exercise, Hold, Loudspeaker, Place, Practice,
    Step, Steps, Tally, TallyRow, Target, Trial,
};
pub use pulse::Pulse;
pub use purity::{ChordNote, Move, PureInterval, Purity};
pub use record::{
    Agreed, Chronicle, Decision, Drift, DriftLine, DriftPoint, Entry, Finding, GroupRow, Habit,
    HeardChannel, HeardSpan, HeardVoices, Ledger, LedgerRow, Mark, Meeting, Note, Notes,
    Resolution, SPAN, Sample, SampledVoice, Sitting, Spread, TrueSeries, notes_cut_off,
};
pub use sought::{SoughtVoices, VoiceLabel, VoiceLabelError};
pub use sounding::Sounding;
pub use state::ChannelState;
pub use trace::{Trace, TracePoint};
pub use update::{Update, Watched};
pub use voice::{Told, Voice};
