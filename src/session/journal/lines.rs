//! The journal's lines one by one, for whoever tells a rehearsal elsewhere while it goes on.
//! What is read is held to the same bounds as a journal.

use serde::Serialize;
use serde::de::DeserializeOwned;

use super::record::Record;
use super::{heard, line, record_in, voices};
use crate::rehearsal::{Entry, HeardVoices, Moment};
use crate::session::file_error::{parse, written};
use crate::units::{Cents, Hertz, Seconds};

use super::held::HeldRecord;
use super::number::Time;

/// The line of an entry of a rehearsal that began at this date and time, with its end.
///
/// Unlike in a file, a chord held in an earlier sitting keeps that date and has no time on this
/// one's clock.
pub(crate) fn entry_to_line(entry: &Entry, begun: &str) -> Option<String> {
    match entry {
        Entry::Held { chord, .. } if let Moment::Earlier(date) = &chord.moment => {
            line(&Record::Held(HeldRecord::new(chord, None, date)))
        }
        entry => line(&Record::of(entry, begun)),
    }
}

/// The entry a line tells; none if it tells none or cannot be read.
pub(crate) fn entry_from_line(line: &str) -> Option<Entry> {
    record_in(line)?.into_entry(|_| Seconds::default())
}

/// Any value in the journal's syntax on one line, without an end.
pub(crate) fn value_to_line(value: &impl Serialize) -> Option<String> {
    written(value)
}

/// The same back.
pub(crate) fn value_from_line<T: DeserializeOwned>(line: &str) -> Option<T> {
    parse(line).ok()
}

/// A chord as compact text.
pub(crate) fn voices_to_text(heard: &HeardVoices) -> String {
    voices::voices_to_text(heard)
}

/// The same back.
pub(crate) fn voices_from_text(text: &str) -> Option<HeardVoices> {
    voices::voices_from_text(text)
}

/// The number of a channel, from 0.
pub(crate) fn channel_number(word: &str) -> Option<usize> {
    heard::channel_number(word)
}

/// A plain decimal number.
pub(crate) fn number(word: &str) -> Option<f64> {
    heard::number(word)
}

/// A frequency of music.
pub(crate) fn hertz(word: &str) -> Option<Hertz> {
    heard::hertz(word)
}

/// An interval of music.
pub(crate) fn cents(word: &str) -> Option<Cents> {
    heard::cents(word)
}

/// A moment of a rehearsal.
pub(crate) fn seconds(word: &str) -> Option<Seconds> {
    Some(Time::try_from(number(word)?).ok()?.get())
}
