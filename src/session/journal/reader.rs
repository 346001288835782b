//! Reads a journal line by line, whatever state it is in.

use std::io::{self, BufRead, Read};
use std::path::Path;

use serde::Deserialize;

use super::record::Record;
use super::{HEAD, JournalError, LARGEST, Recovered};
use crate::session::file_error::parse;
use crate::units::Seconds;

/// The longest line that is read, in bytes.
const LONGEST_LINE: u64 = 65_536;

/// The first line, of whatever version.
#[derive(Deserialize)]
struct Head {
    version: u64,
    journal: String,
    // Later versions may say more.
}

/// How much of a journal is wanted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Wanted {
    /// All there is.
    Everything,
    /// Of what was heard only when, and the line as it stands: enough for a list, and much
    /// quicker.
    WithoutHeard,
}

/// One line that could be read.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::session) enum Said {
    Record(Box<Record>),
    /// Something was heard then; the line says what (see [`record_in`]).
    Heard(Seconds, Box<str>),
}

/// The record that a line is.
pub(in crate::session) fn record_in(line: &str) -> Option<Record> {
    Record::heard_at_once(line).or_else(|| parse(line).ok())
}

/// Reads the journal in `file`, called `path`, and says what must be written before another
/// record can follow.
pub(in crate::session) fn read_journal(
    file: impl Read,
    path: &Path,
    wanted: Wanted,
    mut take: impl FnMut(Said),
) -> Result<(Recovered, String), JournalError> {
    let foreign = || JournalError::Foreign(path.to_owned());
    let failed = |reason| JournalError::Read {
        path: path.to_owned(),
        reason,
    };
    let mut lines = Lines::new(io::BufReader::with_capacity(1 << 16, file));
    let first = lines.next().map_err(failed)?;
    if HEAD.as_bytes().starts_with(&lines.line) && lines.line.len() < HEAD.len() {
        // New, or cut off within the head, which is completed.
        let rest = &HEAD[lines.line.len()..];
        return Ok((Recovered::default(), rest.to_owned()));
    }
    check_head(&lines.line, path)?;
    if first != Found::Line {
        return Err(foreign());
    }
    let mut recovered = Recovered::default();
    loop {
        let found = lines.next().map_err(failed)?;
        if lines.taken > LARGEST {
            return Err(JournalError::TooLarge(path.to_owned()));
        }
        match found {
            Found::End => break,
            Found::TooLong => recovered.pass_over(lines.number),
            Found::Line => {
                let line = lines.line.trim_ascii();
                if line.is_empty() {
                    continue;
                }
                match std::str::from_utf8(line).ok().and_then(|l| said(l, wanted)) {
                    Some(said) => {
                        if let Said::Record(record) = &said
                            && let Record::Missed { from, to } = **record
                        {
                            recovered.missed_s += (to.0 - from.0).max(0.0);
                        }
                        take(said);
                    }
                    None => recovered.pass_over(lines.number),
                }
            }
        }
    }
    let before_next = if lines.ends_whole { "" } else { "\n" };
    Ok((recovered, before_next.to_owned()))
}

fn said(line: &str, wanted: Wanted) -> Option<Said> {
    if wanted == Wanted::WithoutHeard
        && let Some(time) = Record::heard_when(line)
    {
        return Some(Said::Heard(time, line.into()));
    }
    Some(Said::Record(Box::new(record_in(line)?)))
}

fn check_head(line: &[u8], path: &Path) -> Result<(), JournalError> {
    let head = std::str::from_utf8(line).ok();
    let head: Option<Head> = head.and_then(|head| parse(head).ok());
    match head {
        Some(Head {
            version: 1,
            journal,
        }) if journal == "concento" => Ok(()),
        Some(Head { version, journal }) if journal == "concento" => Err(JournalError::Version {
            path: path.to_owned(),
            version,
        }),
        _ => Err(JournalError::Foreign(path.to_owned())),
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Found {
    Line,
    /// The line is not held.
    TooLong,
    End,
}

/// Lines of bounded length.
struct Lines<R> {
    from: R,
    /// With its end.
    line: Vec<u8>,
    /// Counted from 1.
    number: usize,
    taken: u64,
    ends_whole: bool,
}

impl<R: BufRead> Lines<R> {
    fn new(from: R) -> Self {
        Self {
            from,
            line: Vec::new(),
            number: 0,
            taken: 0,
            ends_whole: true,
        }
    }

    fn next(&mut self) -> io::Result<Found> {
        self.line.clear();
        let mut limited = self.from.by_ref().take(LONGEST_LINE);
        let length = limited.read_until(b'\n', &mut self.line)? as u64;
        if length == 0 {
            return Ok(Found::End);
        }
        self.number += 1;
        self.taken += length;
        self.ends_whole = self.line.ends_with(b"\n");
        if self.ends_whole || length < LONGEST_LINE {
            return Ok(Found::Line);
        }
        loop {
            let held = self.from.fill_buf()?;
            if held.is_empty() {
                return Ok(Found::TooLong);
            }
            let end = held.iter().position(|byte| *byte == b'\n');
            let passed = end.map_or(held.len(), |end| end + 1);
            self.from.consume(passed);
            self.taken += passed as u64;
            if end.is_some() || self.taken > LARGEST {
                self.ends_whole = end.is_some();
                return Ok(Found::TooLong);
            }
        }
    }
}
