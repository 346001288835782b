//! What is said of a chord at one moment.

use crate::units::{Cents, Dbfs, Hertz, Seconds};

/// Who may play a voice. Two voices nearly in unison are looked for only where both
/// companies play on the channel.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Company {
    /// Bound to the harmonic series.
    Trumpets,
    /// Strings, winds, voices and keyboard.
    Others,
}

/// A place where a voice may stand: a partial of the trumpets or a note of the scale.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// Its frequency.
    pub hertz: Hertz,
    /// Who plays it.
    pub company: Company,
}

/// What is known of the voices beforehand.
#[derive(Debug, Clone, PartialEq)]
pub enum Sought {
    /// Exactly these voices are expected; each is reported, heard or not.
    Expected(Vec<Place>),
    /// Some of these places, `most` at once at the utmost.
    Free {
        /// Where voices may stand.
        places: Vec<Place>,
        /// How many voices at the most, 1 to 8.
        most: usize,
    },
}

impl Sought {
    /// All places that are looked at.
    pub fn places(&self) -> &[Place] {
        let (Self::Expected(places) | Self::Free { places, .. }) = self;
        places
    }
}

/// All voices of a channel over one span of sound.
#[derive(Debug, Clone, PartialEq)]
pub struct HeardChord {
    /// The centre of the span, from the start of the stream.
    pub time: Seconds,
    /// The end of the span: the first moment a live program could show it.
    pub available: Seconds,
    /// How long a stretch of sound was measured.
    pub span: Seconds,
    /// RMS level over the span.
    pub level: Dbfs,
    /// What the chord is doing.
    pub sound: ChordSound,
    /// The voices from low to high; none unless the chord is held.
    pub voices: Vec<HeardVoice>,
}

/// What a chord channel does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum ChordSound {
    /// Nothing sounds.
    Silent,
    /// The chord has begun or changed, and the span does not hold the new one alone yet.
    Settling,
    /// One chord sounds over the whole span.
    Held,
}

/// One voice of a chord.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeardVoice {
    /// Stays the same as long as the voice is followed.
    pub identity: u32,
    /// Its place among those sought, from 0.
    pub place: usize,
    /// The fundamental, as the mean over the span. Of a merged voice, that of the pair; of an
    /// absent one, the place where it was sought.
    pub hertz: Hertz,
    /// The true pitch lies within this distance about 19 times in 20.
    pub margin: Cents,
    /// How sure it is that this voice sounds, 0 to 1.
    pub confidence: f64,
    /// What may be said of it.
    pub status: VoiceStatus,
    /// The voice almost in unison with it, with which it beats.
    pub beating: Option<Beating>,
    /// Whether it is known whose voice this is. It is not where two stand almost in unison and
    /// neither was there before, nor where one stands between a place of the trumpets and one
    /// of the others.
    pub is_named: bool,
    /// The place, from 0, that it may belong to instead, where it is not named.
    pub or_place: Option<usize>,
}

/// What may be said of a voice.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum VoiceStatus {
    /// Heard, with a pitch of its own.
    Ok,
    /// It lies on a partial of a lower voice and has no pitch of its own that could be told.
    Merged {
        /// The lower voice, by its position among the voices.
        with: usize,
        /// The partial of the lower voice; 1 for a unison.
        partial: u8,
    },
    /// Probably there; the pitch is a rough one.
    Doubtful,
    /// Expected and not heard.
    Absent,
}

impl VoiceStatus {
    /// The word for machines.
    pub fn word(self) -> &'static str {
        match self {
            Self::Ok => "ok",
            Self::Merged { .. } => "merged",
            Self::Doubtful => "doubtful",
            Self::Absent => "absent",
        }
    }
}

/// Two voices nearly in unison.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Beating {
    /// The other voice, by its position among the voices.
    pub with: usize,
    /// Beats a second.
    pub rate_hz: f64,
}
