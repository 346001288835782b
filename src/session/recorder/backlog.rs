//! Lines that wait to be written, bounded.

use std::collections::VecDeque;

use crate::rehearsal::Entry;
use crate::session::journal::{Record, line};
use crate::units::Seconds;

/// The most bytes of lines that are held in memory: several hours of eight players.
const MOST_BYTES: usize = 20_000_000;

/// One line that waits.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Line {
    pub(super) text: String,
    pub(super) at: Seconds,
    pub(super) kind: Kind,
}

/// What goes first when there are too many.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    Heard,
    Note,
    /// Decisions and whatever else is rare.
    Other,
}

impl Kind {
    pub(super) fn of(entry: &Entry) -> Self {
        match entry {
            Entry::Heard(_) => Self::Heard,
            Entry::Note(_) | Entry::Fault { .. } | Entry::Lost { .. } => Self::Note,
            _ => Self::Other,
        }
    }
}

/// The lines that wait.
#[derive(Debug, Default)]
pub(super) struct Backlog {
    lines: VecDeque<Line>,
    bytes: usize,
    /// From when to when lines were given up and nothing has told so yet.
    missed: Option<(Seconds, Seconds)>,
}

impl Backlog {
    pub(super) fn push(&mut self, line: Line) {
        self.bytes += line.text.len();
        self.lines.push_back(line);
        for kind in [Kind::Heard, Kind::Note] {
            if self.bytes > MOST_BYTES {
                self.give_up(kind);
            }
        }
    }

    pub(super) fn extend(&mut self, lines: impl IntoIterator<Item = Line>) {
        for line in lines {
            self.push(line);
        }
    }

    pub(super) fn bytes(&self) -> usize {
        self.bytes
    }

    /// Whether lines were given up and this is not yet among what is written.
    pub(super) fn has_missed(&self) -> bool {
        self.missed.is_some()
    }

    /// Takes lines from the front, as bytes: about so many, and at least one line.
    pub(super) fn take(&mut self, most: usize) -> Vec<u8> {
        let mut taken = Vec::new();
        if let Some((from, to)) = self.missed.take() {
            let missed = Record::Missed {
                from: from.into(),
                to: to.into(),
            };
            taken.extend(line(&missed).unwrap_or_default().into_bytes());
        }
        while taken.len() < most
            && let Some(line) = self.lines.pop_front()
        {
            self.bytes -= line.text.len();
            taken.extend(line.text.into_bytes());
        }
        taken
    }

    /// Gives up the oldest lines of a kind: a tenth of the room at once, as it takes a while.
    fn give_up(&mut self, kind: Kind) {
        let enough = MOST_BYTES - MOST_BYTES / 10;
        let (bytes, missed) = (&mut self.bytes, &mut self.missed);
        self.lines.retain(|line| {
            if line.kind != kind || *bytes <= enough {
                return true;
            }
            *bytes -= line.text.len();
            let (from, to) = missed.get_or_insert((line.at, line.at));
            if line.at < *from {
                *from = line.at;
            }
            if *to < line.at {
                *to = line.at;
            }
            false
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line_of(kind: Kind, at: f64, bytes: usize) -> Line {
        Line {
            text: "x".repeat(bytes),
            at: Seconds::new(at),
            kind,
        }
    }

    #[test]
    fn the_oldest_readings_go_first_and_decisions_never() {
        let mut backlog = Backlog::default();
        backlog.push(line_of(Kind::Other, 0.0, 1_000));
        for second in 0..300 {
            backlog.push(line_of(Kind::Heard, f64::from(second), 90_000));
            backlog.push(line_of(Kind::Note, f64::from(second), 10_000));
        }
        assert!(backlog.bytes() <= MOST_BYTES);
        assert!(backlog.has_missed());
        let count = |kind| backlog.lines.iter().filter(|l| l.kind == kind).count();
        assert_eq!((count(Kind::Other), count(Kind::Note)), (1, 300));
        assert!(count(Kind::Heard) < 200);
        let last = backlog.lines.iter().rfind(|l| l.kind == Kind::Heard);
        assert_eq!(last.unwrap().at, Seconds::new(299.0));
        let first = backlog.take(10);
        let first = String::from_utf8_lossy(&first);
        assert!(first.starts_with("Missed(from:0.0,to:"), "{first:.40}");
        assert!(!backlog.has_missed());
    }
}
