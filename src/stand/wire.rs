//! News as lines of text and back.
//!
//! The first line states the version, the second whose rehearsal it is. What was kept is told in
//! the lines of a session file; what is not in one begins with a small letter: `now 12.34`,
//! `lost 3`, and a reading in a form of its own (`reading`). All that is read is held to bounds,
//! and text that would steer a terminal is refused.

mod reading;

use serde::{Deserialize, Serialize};

use super::news::{News, Sitting, What};
use crate::analysis::Effort;
use crate::rehearsal::{Entry, SHELF};
use crate::session;
use crate::sound::{SourceState, StreamFormat};
use crate::units::Seconds;
use reading::{reading_from_text, reading_to_text};

/// The first line of every stand.
pub(super) const HEAD: &str = "(version: 1, stand: \"concento\")\n";

/// The longest line that is read, in bytes.
pub(super) const LONGEST_LINE: usize = 65_536;

/// The longest name of a device or a file, in characters.
const LONGEST_NAME: usize = 1_024;

/// The most channels of a stream.
const MOST_CHANNELS: usize = 64;

/// The first line, of whatever version.
#[derive(Deserialize)]
struct Head {
    version: u64,
    stand: String,
    // Later versions may say more.
}

/// What a first line is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Greeting {
    /// That of this version.
    Ours,
    /// That of another version.
    Version(u64),
    /// Something else.
    Foreign,
}

/// What the first line says.
pub(super) fn greeting(line: &str) -> Greeting {
    match session::value_from_line::<Head>(line.trim_end()) {
        Some(head) if head.stand != "concento" => Greeting::Foreign,
        Some(Head { version: 1, .. }) => Greeting::Ours,
        Some(Head { version, .. }) => Greeting::Version(version),
        None => Greeting::Foreign,
    }
}

/// The second line.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct SittingFields {
    what: What,
    session: Option<String>,
    begun: String,
    process: u32,
}

/// The line that says whose rehearsal it is, with its end.
pub(super) fn sitting_to_line(sitting: &Sitting) -> String {
    let fields = SittingFields {
        what: sitting.what,
        session: sitting.session.clone(),
        begun: sitting.begun.clone(),
        process: sitting.process,
    };
    let line = session::value_to_line(&fields).unwrap_or_default();
    format!("{line}\n")
}

/// The same back.
pub(super) fn sitting_from_line(line: &str) -> Option<Sitting> {
    let fields: SittingFields = session::value_from_line(line.trim_end())?;
    let is_plain = fields.session.as_deref().is_none_or(is_name);
    (is_plain && is_name(&fields.begun)).then_some(Sitting {
        what: fields.what,
        session: fields.session,
        begun: fields.begun,
        process: fields.process,
    })
}

/// The line of a piece of news, with its end, of a rehearsal that began at this date and time;
/// none of what is not told.
pub(super) fn line(news: &News, begun: &str) -> Option<String> {
    Some(match news {
        News::Now(now) => format!("now {}\n", moment(*now)),
        News::Reading(channel, reading) => {
            format!("r {}\n", reading_to_text(*channel, reading))
        }
        News::Chord(available, chord) => {
            let text = session::voices_to_text(chord);
            format!("c {} {text}\n", moment(*available))
        }
        News::State(state) => format!("state {}\n", session::value_to_line(state)?),
        News::Started(format) => format!("stream {}\n", session::value_to_line(format)?),
        News::Lost(blocks) => format!("lost {blocks}\n"),
        // How many steps below everything.
        News::Effort(effort) => format!("effort {}\n", *effort as usize),
        News::InUse(None) => "in-use none\n".to_owned(),
        News::InUse(Some(number)) => format!("in-use {number}\n"),
        News::Session(name) => format!("session {}\n", session::value_to_line(name)?),
        News::SatDown(offset) => format!("sat-down {}\n", moment(*offset)),
        // What was heard has been told as it was.
        News::Entry(entry) if matches!(**entry, Entry::Heard(_)) => return None,
        News::Entry(entry) => session::entry_to_line(entry, begun)?,
        News::Full => "full\n".to_owned(),
        News::Ended => "ended\n".to_owned(),
    })
}

/// What a line tells; none if it cannot be read.
pub(super) fn news(line: &str) -> Option<News> {
    if line.len() > LONGEST_LINE {
        return None;
    }
    let line = line.trim_end();
    if line.starts_with(|c: char| c.is_ascii_uppercase()) {
        let entry = session::entry_from_line(line)?;
        return Some(News::Entry(Box::new(entry)));
    }
    let (word, rest) = line.split_once(' ').unwrap_or((line, ""));
    Some(match word {
        "now" => News::Now(session::seconds(rest)?),
        "r" => {
            let (channel, reading) = reading_from_text(rest)?;
            News::Reading(channel, reading)
        }
        "c" => {
            let (available, chord) = rest.split_once(' ')?;
            News::Chord(
                session::seconds(available)?,
                session::voices_from_text(chord)?,
            )
        }
        "state" => News::State(state(rest)?),
        "stream" => News::Started(format(rest)?),
        "lost" => News::Lost(rest.parse().ok()?),
        "effort" => News::Effort(*Effort::ALL.get(rest.parse::<usize>().ok()?)?),
        "in-use" if rest == "none" => News::InUse(None),
        "in-use" => {
            let number: usize = rest.parse().ok()?;
            (1..=SHELF)
                .contains(&number)
                .then_some(News::InUse(Some(number)))?
        }
        "session" => {
            let name: String = session::value_from_line(rest)?;
            is_name(&name).then_some(News::Session(name))?
        }
        "sat-down" => News::SatDown(session::seconds(rest)?),
        "full" => News::Full,
        "ended" => News::Ended,
        _ => return None,
    })
}

/// A moment to a thousandth of a second.
fn moment(at: Seconds) -> String {
    format!("{:.3}", at.get().clamp(0.0, 999_999.0))
}

fn state(text: &str) -> Option<SourceState> {
    let state: SourceState = session::value_from_line(text)?;
    let is_plain = match &state {
        SourceState::Waiting(fault) => is_name(&fault.to_string()),
        SourceState::Opening | SourceState::Running | SourceState::Ended => true,
    };
    is_plain.then_some(state)
}

fn format(text: &str) -> Option<StreamFormat> {
    let format: StreamFormat = session::value_from_line(text)?;
    let fits = (1..=MOST_CHANNELS).contains(&format.channels) && is_name(&format.name);
    fits.then_some(format)
}

/// Whether a text may be shown on a terminal.
fn is_name(text: &str) -> bool {
    text.chars().count() <= LONGEST_NAME && !text.contains(session::steers)
}

#[cfg(test)]
mod tests;
