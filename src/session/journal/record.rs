//! What a line of the journal says.

use serde::{Deserialize, Deserializer, Serialize, Serializer, de::Error};

use super::heard::{channel_from_text, channel_to_text, number};
use super::held::HeldRecord;
use super::number::{Pitch, Size, Time, rounded};
use super::setting::{KeptChannels, KeptTuning, MOST_CHANNELS, ensemble};
use super::tried::TriedRecord;
use super::voices::{voices_from_text, voices_to_text};
use crate::rehearsal::{
    Decision, Entry, HeardChannel, HeardSpan, HeardVoices, Mark, Note, Resolution, VoiceLabel,
};
use crate::session::dates::{Date, later};
use crate::session::fields::{Line, Prose};
use crate::tuning::{Partial, PartialPlace, Placement, TemperedPlace};
use crate::units::{Celsius, Cents, Dbfs, NoteName, Seconds};

/// One line. Times are seconds from the beginning of the sitting.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(in crate::session) enum Record {
    /// A sitting has begun at this local date and time.
    Begun { at: Date, program: Line },
    /// Who plays, in what tuning.
    Seated {
        at: Time,
        title: Line,
        tuning: Box<KeptTuning>,
        channels: KeptChannels,
    },
    /// The tuning has changed.
    Tuned { at: Time, tuning: Box<KeptTuning> },
    /// Half a second of what was heard, as compact text.
    Heard {
        at: Time,
        ch: Vec<ChannelText>,
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        chords: Vec<VoicesText>,
    },
    /// A note has ended.
    Note {
        ch: u8,
        /// Where it is not called by its tempered note.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        label: Option<VoiceLabel>,
        from: Time,
        to: Time,
        steady: Time,
        hz: Pitch,
        margin: Size,
        spread: Size,
        db: i16,
        #[serde(default, skip_serializing_if = "std::ops::Not::not")]
        goes_on: bool,
        /// The tempered note, and cents from it.
        note: crate::units::Note,
        cents: Size,
        /// The partial, octaves from where it sounds, and cents from it.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        partial: Option<(Partial, i8, Size)>,
    },
    /// A chord of the trumpets was held.
    Held(HeldRecord),
    /// A note of an exercise has ended.
    Tried(TriedRecord),
    /// Something was agreed, or taken back.
    Decided {
        at: Time,
        note: NoteName,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        what: Option<What>,
        #[serde(default)]
        remark: Prose,
    },
    /// A moment was marked.
    Marked { at: Time, text: Prose },
    /// The room's temperature was read.
    Warmth { at: Time, celsius: Celsius },
    /// The source failed.
    Fault { at: Time, text: Prose },
    /// The source delivers.
    Running { at: Time, source: Prose },
    /// Blocks of sound were lost.
    Lost { at: Time, blocks: u64 },
    /// What was heard between these times could not be written, for want of room.
    Missed { from: Time, to: Time },
    /// The sitting has ended as it should.
    Ended { at: Time },
}

/// What was agreed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub(in crate::session) enum What {
    FollowPartial,
    FollowTemperament,
    MeetBetween(Size),
    TrumpetLips,
    KeyboardLeavesOut,
    LeaveExposed,
}

impl From<Resolution> for What {
    fn from(resolution: Resolution) -> Self {
        match resolution {
            Resolution::FollowPartial => Self::FollowPartial,
            Resolution::FollowTemperament => Self::FollowTemperament,
            Resolution::MeetBetween(cents) => Self::MeetBetween(cents.into()),
            Resolution::TrumpetLips => Self::TrumpetLips,
            Resolution::KeyboardLeavesOut => Self::KeyboardLeavesOut,
            Resolution::LeaveExposed => Self::LeaveExposed,
        }
    }
}

impl From<What> for Resolution {
    fn from(what: What) -> Self {
        match what {
            What::FollowPartial => Self::FollowPartial,
            What::FollowTemperament => Self::FollowTemperament,
            What::MeetBetween(cents) => Self::MeetBetween(cents.get()),
            What::TrumpetLips => Self::TrumpetLips,
            What::KeyboardLeavesOut => Self::KeyboardLeavesOut,
            What::LeaveExposed => Self::LeaveExposed,
        }
    }
}

/// A channel's half second.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::session) struct ChannelText(HeardChannel);

/// A shared channel's voices.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::session) struct VoicesText(HeardVoices);

/// Reads and writes what has a compact text of its own.
macro_rules! as_text {
    ($kind:ident, $to_text:ident, $from_text:ident) => {
        impl Serialize for $kind {
            fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                serializer.serialize_str(&$to_text(&self.0))
            }
        }
        impl<'de> Deserialize<'de> for $kind {
            fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                let text = String::deserialize(deserializer)?;
                let heard = $from_text(&text);
                heard
                    .map(Self)
                    .ok_or_else(|| D::Error::custom("this is nothing that was heard"))
            }
        }
    };
}
as_text!(ChannelText, channel_to_text, channel_from_text);
as_text!(VoicesText, voices_to_text, voices_from_text);

impl Record {
    /// The record of `entry` of the sitting that began at this date and time.
    pub(in crate::session) fn of(entry: &Entry, begun: &str) -> Self {
        let prose = Prose::tidied;
        match entry {
            Entry::Seated { at, ensemble } => Self::Seated {
                at: (*at).into(),
                title: Line::tidied(&ensemble.title),
                tuning: Box::new(KeptTuning(ensemble.tuning.clone())),
                channels: KeptChannels(ensemble.channels.clone()),
            },
            Entry::Tuned { at, tuning } => Self::Tuned {
                at: (*at).into(),
                tuning: Box::new(KeptTuning((**tuning).clone())),
            },
            Entry::Heard(span) => Self::Heard {
                at: span.at.into(),
                ch: span.channels.iter().cloned().map(ChannelText).collect(),
                chords: span.chords.iter().cloned().map(VoicesText).collect(),
            },
            Entry::Note(note) => Self::note(note),
            Entry::Held { at, chord } => {
                Self::Held(HeldRecord::new(chord, Some(*at), &later(begun, *at)))
            }
            Entry::Tried(trial) => Self::Tried(TriedRecord::of(trial)),
            Entry::Decided(decision) => Self::Decided {
                at: decision.at.into(),
                note: decision.note,
                what: decision.resolution.map(What::from),
                remark: prose(&decision.remark),
            },
            Entry::Marked(mark) => Self::Marked {
                at: mark.at.into(),
                text: prose(&mark.text),
            },
            Entry::Warmth { at, celsius } => Self::Warmth {
                at: (*at).into(),
                celsius: *celsius,
            },
            Entry::Fault { at, text } => Self::Fault {
                at: (*at).into(),
                text: prose(text),
            },
            Entry::Running { at, source } => Self::Running {
                at: (*at).into(),
                source: prose(source),
            },
            Entry::Lost { at, blocks } => Self::Lost {
                at: (*at).into(),
                blocks: *blocks,
            },
        }
    }

    fn note(note: &Note) -> Self {
        let partial = note.places.partial;
        let called = VoiceLabel::Note(note.places.tempered.note);
        let hundredths = |cents: Cents| Cents::new(rounded(cents.get(), 100.0)).into();
        Self::Note {
            ch: note.channel.min(MOST_CHANNELS - 1) as u8,
            label: Some(note.label).filter(|label| *label != called),
            from: note.begun.into(),
            to: note.ended.into(),
            steady: note.steady.into(),
            hz: note.hertz.into(),
            margin: hundredths(note.margin),
            spread: hundredths(note.spread),
            db: note.level.get().round() as i16,
            goes_on: note.goes_on,
            note: note.places.tempered.note,
            cents: note.places.tempered.cents.into(),
            partial: partial.map(|place| (place.partial, place.octaves, place.cents.into())),
        }
    }

    /// What happened, for what is an entry. `held_at` puts a chord of the first sessions on
    /// the sitting's clock.
    pub(in crate::session) fn into_entry(
        self,
        held_at: impl FnOnce(&str) -> Seconds,
    ) -> Option<Entry> {
        Some(match self {
            Self::Begun { .. } | Self::Missed { .. } | Self::Ended { .. } => return None,
            Self::Seated {
                at,
                title,
                tuning,
                channels,
            } => Entry::Seated {
                at: at.get(),
                ensemble: Box::new(ensemble(title, *tuning, channels)),
            },
            Self::Tuned { at, tuning } => Entry::Tuned {
                at: at.get(),
                tuning: Box::new(tuning.0),
            },
            Self::Heard { at, ch, chords } => Entry::Heard(HeardSpan {
                at: at.get(),
                channels: ch.into_iter().map(|text| text.0).collect(),
                chords: chords.into_iter().map(|text| text.0).collect(),
            }),
            Self::Note {
                ch,
                label,
                from,
                to,
                steady,
                hz,
                margin,
                spread,
                db,
                goes_on,
                note,
                cents,
                partial,
            } => Entry::Note(Note {
                channel: usize::from(ch).min(MOST_CHANNELS - 1),
                label: label.unwrap_or(VoiceLabel::Note(note)),
                begun: from.get(),
                ended: to.get(),
                steady: steady.get(),
                hertz: hz.get(),
                margin: margin.get(),
                spread: spread.get(),
                level: Dbfs::new(db.into()),
                goes_on,
                places: placement(hz, note, cents.get(), partial),
            }),
            Self::Held(held) => Entry::Held {
                at: held.time().unwrap_or_else(|| held_at(&held.at.0)),
                chord: Box::new(held.chord()?),
            },
            Self::Tried(tried) => Entry::Tried(Box::new(tried.trial())),
            Self::Decided {
                at,
                note,
                what,
                remark,
            } => Entry::Decided(Decision {
                at: at.get(),
                note,
                resolution: what.map(Resolution::from),
                remark: remark.0,
            }),
            Self::Marked { at, text } => Entry::Marked(Mark {
                at: at.get(),
                text: text.0,
            }),
            Self::Warmth { at, celsius } => Entry::Warmth {
                at: at.get(),
                celsius,
            },
            Self::Fault { at, text } => Entry::Fault {
                at: at.get(),
                text: text.0,
            },
            Self::Running { at, source } => Entry::Running {
                at: at.get(),
                source: source.0,
            },
            Self::Lost { at, blocks } => Entry::Lost {
                at: at.get(),
                blocks,
            },
        })
    }

    /// A line of what was heard as this program writes it, without the general reader, which
    /// takes several times as long; none if it is anything else.
    pub(super) fn heard_at_once(line: &str) -> Option<Self> {
        let rest = line.strip_prefix("Heard(at:")?;
        let (at, rest) = rest.split_once(",ch:[")?;
        let at = Time::try_from(number(at)?).ok()?;
        let (ch, rest) = texts(rest, |text| Some(ChannelText(channel_from_text(text)?)))?;
        let (chords, rest) = match rest.strip_prefix(",chords:[") {
            Some(rest) => texts(rest, |text| Some(VoicesText(voices_from_text(text)?)))?,
            None => (Vec::new(), rest),
        };
        (rest.trim_end() == ")").then_some(Self::Heard { at, ch, chords })
    }

    /// The time of a line of what was heard, from its beginning alone.
    pub(super) fn heard_when(line: &str) -> Option<Seconds> {
        let (at, _) = line.strip_prefix("Heard(at:")?.split_once(',')?;
        line.trim_end().ends_with("])").then_some(())?;
        Some(Time::try_from(number(at)?).ok()?.get())
    }
}

/// The quoted texts up to a closing bracket, and what follows it.
fn texts<T>(mut rest: &str, read: impl Fn(&str) -> Option<T>) -> Option<(Vec<T>, &str)> {
    let mut found = Vec::with_capacity(8);
    if let Some(rest) = rest.strip_prefix(']') {
        return Some((found, rest));
    }
    loop {
        let (text, after) = rest.strip_prefix('"')?.split_once('"')?;
        found.push(read(text)?);
        match after.strip_prefix(',') {
            Some(more) => rest = more,
            None => return Some((found, after.strip_prefix(']')?)),
        }
    }
}

/// Where a note lay, from its pitch and how far it lay from both places.
fn placement(
    hz: Pitch,
    note: crate::units::Note,
    cents: Cents,
    partial: Option<(Partial, i8, Size)>,
) -> Placement {
    let hertz = hz.get();
    Placement {
        partial: partial.map(|(partial, octaves, cents)| PartialPlace {
            partial,
            octaves,
            place: hertz.raised(-cents.get()),
            cents: cents.get(),
        }),
        tempered: TemperedPlace {
            note,
            place: hertz.raised(-cents),
            cents,
        },
    }
}
