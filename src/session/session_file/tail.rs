//! The end of a sitting, kept while its file is read: enough to tell which notes sounded, should
//! it break off there.

use std::collections::VecDeque;

use crate::rehearsal::{Entry, HeardSpan, Note, notes_cut_off};
use crate::session::journal::record_in;
use crate::units::Seconds;

/// How much of what was heard is kept: no note is longer without being written in part.
const KEPT: Seconds = Seconds::new(30.0);

/// What a sitting's last notes are told from. Times are on its own clock.
#[derive(Debug, Default)]
pub(super) struct Tail {
    /// Who plays and in what tuning: the last lines that say so.
    seats: Vec<Entry>,
    /// The last note of each channel that was written down.
    notes: Vec<Note>,
    heard: VecDeque<Heard>,
}

/// What was heard in half a second.
#[derive(Debug)]
enum Heard {
    Read(HeardSpan),
    /// When, and the line: most are never needed.
    Unread(Seconds, Box<str>),
}

impl Heard {
    fn at(&self) -> Seconds {
        match self {
            Self::Read(span) => span.at,
            Self::Unread(at, _) => *at,
        }
    }

    fn read(self) -> Option<Entry> {
        match self {
            Self::Read(span) => Some(Entry::Heard(span)),
            Self::Unread(_, line) => record_in(&line)?.into_entry(|_| Seconds::default()),
        }
    }
}

impl Tail {
    /// Takes in the next entry of the sitting.
    pub(super) fn take(&mut self, entry: &Entry) {
        match entry {
            // Nobody's note goes on over a change of players.
            Entry::Seated { .. } => {
                *self = Self::default();
                self.seats.push(entry.clone());
            }
            Entry::Tuned { .. } => {
                self.seats.truncate(1);
                self.seats.push(entry.clone());
            }
            Entry::Note(note) => {
                self.notes.retain(|last| last.channel != note.channel);
                self.notes.push(*note);
            }
            Entry::Heard(span) => self.hear(Heard::Read(span.clone())),
            _ => {}
        }
    }

    /// Takes in what was heard at this moment, as its line stands.
    pub(super) fn hear_line(&mut self, at: Seconds, line: Box<str>) {
        self.hear(Heard::Unread(at, line));
    }

    fn hear(&mut self, heard: Heard) {
        let at = heard.at();
        while self.heard.front().is_some_and(|f| at - f.at() > KEPT) {
            self.heard.pop_front();
        }
        self.heard.push_back(heard);
    }

    /// The notes that sounded at its end and were not written down any more.
    pub(super) fn cut_off(self) -> Vec<Entry> {
        if self.seats.is_empty() || self.heard.is_empty() {
            return Vec::new();
        }
        let heard = self.heard.into_iter().filter_map(Heard::read);
        let notes = self.notes.into_iter().map(Entry::Note);
        let entries: Vec<Entry> = self.seats.into_iter().chain(notes).chain(heard).collect();
        notes_cut_off(&entries)
    }
}
