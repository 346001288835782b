//! One voice of a shared channel, followed by its identity.

use crate::analysis::chord::HeardVoice;
use crate::rehearsal::steady::SteadyPart;
use crate::rehearsal::{Pulse, Sounding, Trace, VoiceLabel};
use crate::tuning::Tuning;
use crate::units::{Cents, Seconds};

/// The share of a margin that is kept from one chord to the next.
const MARGIN_KEPT: f64 = 0.7;

/// What is said of a voice.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Standing {
    /// It has a pitch of its own.
    Clear,
    /// It lies on a partial of another and has none.
    Merged {
        /// The other voice.
        with: VoiceLabel,
        /// The partial of it; 1 for a unison.
        partial: u8,
    },
    /// Probably there; the pitch is a rough one.
    Doubtful,
    /// Expected and not heard.
    Absent,
}

/// Two voices too near one another for two pitches.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Together {
    /// The other voice.
    pub with: VoiceLabel,
    /// Its identity.
    pub identity: u32,
    /// The beats between them.
    pub pulse: Pulse,
}

/// One voice, followed by its identity.
#[derive(Debug, Clone, PartialEq)]
pub struct ChordVoice {
    pub(super) identity: u32,
    pub(super) label: VoiceLabel,
    pub(super) sounding: Sounding,
    margin: Cents,
    standing: Standing,
    /// Another standing heard once: it is shown when heard twice.
    another: Option<Standing>,
    pub(super) together: Option<Together>,
    is_named: bool,
    /// Of a lone voice that is not named, whose else it may be.
    pub(super) or_label: Option<VoiceLabel>,
    /// Whether another stands almost in unison with it.
    is_of_two: bool,
    pub(super) heard_at: Seconds,
    history: Trace,
}

impl ChordVoice {
    pub(super) fn begin(
        heard: &HeardVoice,
        label: VoiceLabel,
        standing: Standing,
        tuning: &Tuning,
    ) -> Self {
        Self {
            identity: heard.identity,
            label,
            sounding: Sounding::begin(heard.hertz, tuning),
            margin: heard.margin,
            standing,
            another: None,
            together: None,
            is_named: heard.is_named,
            or_label: None,
            is_of_two: heard.beating.is_some(),
            heard_at: Seconds::new(f64::NEG_INFINITY),
            history: Trace::new(Seconds::new(20.0), Seconds::new(0.1)),
        }
    }

    pub(super) fn go_on(
        &mut self,
        heard: &HeardVoice,
        standing: Standing,
        time: Seconds,
        tuning: &Tuning,
    ) {
        let elapsed = time - self.heard_at;
        let was_absent = self.standing == Standing::Absent;
        if standing == self.standing || self.another == Some(standing) {
            self.standing = standing;
            self.another = None;
        } else {
            self.another = Some(standing);
        }
        if was_absent && standing != Standing::Absent {
            // A voice that enters comes from nowhere.
            self.sounding = Sounding::begin(heard.hertz, tuning);
            self.standing = standing;
            self.history = Trace::new(self.history.span(), Seconds::new(0.1));
        }
        if elapsed.get().is_finite() {
            let mut needle = self.sounding.needle();
            needle.follow(heard.hertz, elapsed);
            self.sounding.go_on(needle, tuning);
        }
        let kept = (self.margin * MARGIN_KEPT).get();
        self.margin = Cents::new(heard.margin.get().max(kept));
        self.is_named = heard.is_named;
        self.is_of_two = heard.beating.is_some();
        self.heard_at = time;
        if standing != Standing::Absent {
            self.history.push(time, heard.hertz);
        }
    }

    /// Stays the same as long as the voice is followed.
    pub fn identity(&self) -> u32 {
        self.identity
    }

    /// What it is called.
    pub fn label(&self) -> VoiceLabel {
        self.label
    }

    /// Where it stands, of an absent voice where it is expected.
    pub fn sounding(&self) -> &Sounding {
        &self.sounding
    }

    /// The true pitch lies within this distance, 19 times in 20.
    pub fn margin(&self) -> Cents {
        self.margin
    }

    /// What may be said of it.
    pub fn standing(&self) -> Standing {
        self.standing
    }

    /// The voice it cannot be told from, if there is one.
    pub fn together(&self) -> Option<&Together> {
        self.together.as_ref()
    }

    /// What else it may be called: of a lone voice between a partial and a note of the others,
    /// the note.
    pub fn or_label(&self) -> Option<VoiceLabel> {
        self.or_label
    }

    /// Whether it is known whose voice this is.
    pub fn is_named(&self) -> bool {
        self.is_named
    }

    /// When it was last heard.
    pub(in crate::rehearsal) fn heard_at(&self) -> Seconds {
        self.heard_at
    }

    /// Where it has stood, and when it was last heard; none where that cannot be said.
    pub(in crate::rehearsal) fn steady(&self) -> Option<SteadyPart> {
        let has_pitch = match self.standing {
            Standing::Clear | Standing::Merged { .. } => true,
            Standing::Doubtful | Standing::Absent => false,
        };
        let part = SteadyPart::of_means(self.history.points())?;
        // Of two almost in unison nobody knows which pitch is whose; a lone one has its own,
        // whoever plays it.
        (has_pitch && (self.is_named || !self.is_of_two)).then_some(part)
    }
}
