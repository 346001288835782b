//! A session file, opened to be looked at or gone on with.

mod tail;

use std::io::Read;
use std::path::{Path, PathBuf};

use super::dates::{between, date_of, later};
use super::journal::{self, JournalError, Opened, Record, Recovered, Said, Wanted, read_journal};
use crate::rehearsal::{Chronicle, Decision, Entry, HeardSpan, Mark, Moment, Note, Trial};
use crate::units::Seconds;
use tail::Tail;

/// A session file, read.
#[derive(Debug, Clone, PartialEq)]
pub struct Session {
    /// Where it lies.
    pub path: PathBuf,
    /// Its name without folder and ending.
    pub name: String,
    /// When the first sitting began: local date and time with the distance from universal
    /// time (RFC 3339). Empty for a file without anything in it.
    pub begun: String,
    /// What it adds up to.
    pub chronicle: Chronicle,
    /// All that happened in all sittings; times count from the beginning of the first.
    pub entries: Vec<Entry>,
    /// Whether the last sitting was ended as it should be, and not by a crash.
    pub ended_well: bool,
    /// Whether it was being recorded when it was read, so that its end is still to come.
    pub is_running: bool,
    /// What could not be read of it.
    pub recovered: Recovered,
    /// The last moment of anything.
    length: Seconds,
}

impl Session {
    /// Date and time of a moment counted from the beginning.
    pub fn date(&self, at: Seconds) -> String {
        later(&self.begun, at)
    }

    /// The last moment of anything, from the beginning.
    pub fn length(&self) -> Seconds {
        self.length
    }

    /// How long after the beginning `date` lies; not before the end.
    pub fn resumed(&self, date: &str) -> Seconds {
        let since = between(&self.begun, date).unwrap_or_default();
        if since < self.length {
            self.length
        } else {
            since
        }
    }
}

/// A session that a new sitting is added to.
#[derive(Debug)]
pub struct GoingOn {
    /// What there was, without what was heard from moment to moment.
    pub session: Session,
    pub(super) opened: Opened,
}

/// Reads the session file at `path`; it is not changed, and may be one that is being written.
///
/// # Errors
///
/// It cannot be read, or it is something else.
pub fn load_session(path: &Path) -> Result<Session, JournalError> {
    let mut gatherer = Gatherer::default();
    let looked = journal::look(path, Wanted::Everything, |said| gatherer.take(said))?;
    Ok(gatherer.finish(path, looked))
}

/// The same without what was heard from moment to moment, which takes a fraction of the time.
///
/// # Errors
///
/// As for [`load_session`].
pub fn survey_session(path: &Path) -> Result<Session, JournalError> {
    let mut gatherer = Gatherer::default();
    let looked = journal::look(path, Wanted::WithoutHeard, |said| gatherer.take(said))?;
    Ok(gatherer.finish(path, looked))
}

/// Reads a session from its bytes, of a file that nobody writes to; `path` names it.
///
/// # Errors
///
/// As for [`load_session`].
pub fn read_session(from: impl Read, path: &Path, wanted: Wanted) -> Result<Session, JournalError> {
    let mut gatherer = Gatherer::default();
    let (recovered, _) = read_journal(from, path, wanted, |said| gatherer.take(said))?;
    Ok(gatherer.finish(path, (recovered, false)))
}

/// Opens the session file at `path` for another sitting. Nobody else can do so meanwhile.
///
/// # Errors
///
/// It cannot be read or written, another program is writing to it, or it is something else;
/// nothing has changed then.
pub fn go_on(path: &Path) -> Result<GoingOn, JournalError> {
    let mut gatherer = Gatherer::default();
    let (opened, recovered) = journal::open(path, |said| gatherer.take(said))?;
    Ok(GoingOn {
        session: gatherer.finish(path, (recovered, false)),
        opened,
    })
}

/// Whether the file at `path` begins as a session does.
pub fn is_session(path: &Path) -> bool {
    journal::is_journal(path)
}

/// Puts the records of several sittings on one clock.
#[derive(Debug, Default)]
struct Gatherer {
    begun: Option<String>,
    /// Where the present sitting's clock stood at zero.
    offset: Seconds,
    length: Seconds,
    chronicle: Chronicle,
    entries: Vec<Entry>,
    /// The end of the present sitting, should it break off.
    tail: Tail,
    ended_well: bool,
}

impl Gatherer {
    fn take(&mut self, said: Said) {
        self.ended_well = false;
        let record = match said {
            Said::Heard(at, line) => {
                self.tail.hear_line(at, line);
                return self.reach(at);
            }
            Said::Record(record) => *record,
        };
        match record {
            Record::Begun { at, .. } => match &self.begun {
                None => self.begun = Some(at.0),
                Some(begun) => {
                    let since = between(begun, &at.0).unwrap_or_default();
                    self.sit_down(since);
                }
            },
            Record::Ended { at } => {
                self.reach(at.get());
                self.tail = Tail::default();
                self.ended_well = true;
            }
            Record::Missed { .. } => {}
            record => {
                if let (None, Record::Held(held)) = (&self.begun, &record) {
                    // The first sessions were nothing but chords, each with its date.
                    self.begun = Some(held.at.0.clone());
                }
                let (begun, offset) = (self.begun.clone().unwrap_or_default(), self.offset);
                let on_clock = |date: &str| {
                    let since = between(&begun, date).unwrap_or_default() - offset;
                    if since < Seconds::default() {
                        Seconds::default()
                    } else {
                        since
                    }
                };
                if let Some(entry) = record.into_entry(on_clock) {
                    self.add(entry);
                }
            }
        }
    }

    fn add(&mut self, mut entry: Entry) {
        // Where the line that begins a sitting was lost, its clock has begun anew all the same.
        let is_seated = matches!(entry, Entry::Seated { .. });
        if is_seated && self.offset + entry.at() + Seconds::new(1.0) < self.length {
            self.sit_down(self.length);
        }
        if let Entry::Held { at, chord } = &mut entry
            && matches!(chord.moment, Moment::Now(_))
        {
            chord.moment = Moment::Now(self.offset + *at);
        }
        self.tail.take(&entry);
        self.keep(entry);
    }

    fn keep(&mut self, entry: Entry) {
        self.reach(entry.at());
        self.chronicle.take(&entry);
        self.entries.push(moved(entry, self.offset));
    }

    fn sit_down(&mut self, offset: Seconds) {
        self.break_off();
        self.offset = if offset < self.length {
            self.length
        } else {
            offset
        };
        self.chronicle.sit_down(self.offset);
        self.reach(Seconds::default());
    }

    fn reach(&mut self, at: Seconds) {
        let at = self.offset + at;
        if self.length < at {
            self.length = at;
        }
    }

    /// Adds the notes that sounded when the present sitting broke off, as far as their samples
    /// tell. One that ended as it should has left nothing open.
    fn break_off(&mut self) {
        for note in std::mem::take(&mut self.tail).cut_off() {
            self.keep(note);
        }
    }

    fn finish(mut self, path: &Path, (recovered, is_running): (Recovered, bool)) -> Session {
        self.break_off();
        let name = path.file_stem().unwrap_or_default();
        // A file without a date of its own has at least that of its last change.
        let changed = || {
            let changed = path.metadata().ok()?.modified().ok()?;
            let since = changed.duration_since(std::time::UNIX_EPOCH).ok()?;
            date_of(since.as_secs() as i64)
        };
        Session {
            path: path.to_owned(),
            name: name.to_string_lossy().into_owned(),
            begun: self.begun.or_else(changed).unwrap_or_default(),
            chronicle: self.chronicle,
            entries: self.entries,
            ended_well: self.ended_well,
            is_running,
            recovered,
            length: self.length,
        }
    }
}

/// The same entry on a clock that began so much earlier.
fn moved(entry: Entry, by: Seconds) -> Entry {
    if by == Seconds::default() {
        return entry;
    }
    match entry {
        Entry::Seated { at, ensemble } => Entry::Seated {
            at: at + by,
            ensemble,
        },
        Entry::Tuned { at, tuning } => Entry::Tuned {
            at: at + by,
            tuning,
        },
        Entry::Heard(span) => Entry::Heard(HeardSpan {
            at: span.at + by,
            ..span
        }),
        Entry::Note(note) => Entry::Note(Note {
            begun: note.begun + by,
            ended: note.ended + by,
            ..note
        }),
        Entry::Tried(trial) => Entry::Tried(Box::new(Trial {
            begun: trial.begun + by,
            ended: trial.ended + by,
            ..*trial
        })),
        Entry::Held { at, chord } => Entry::Held { at: at + by, chord },
        Entry::Decided(decision) => Entry::Decided(Decision {
            at: decision.at + by,
            ..decision
        }),
        Entry::Marked(mark) => Entry::Marked(Mark {
            at: mark.at + by,
            ..mark
        }),
        Entry::Warmth { at, celsius } => Entry::Warmth {
            at: at + by,
            celsius,
        },
        Entry::Fault { at, text } => Entry::Fault { at: at + by, text },
        Entry::Running { at, source } => Entry::Running {
            at: at + by,
            source,
        },
        Entry::Lost { at, blocks } => Entry::Lost {
            at: at + by,
            blocks,
        },
    }
}

#[cfg(test)]
mod tests;
