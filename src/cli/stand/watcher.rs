//! What the screen of a stand needs: a rehearsal that is heard of through a socket, and joined
//! again whenever it comes back.

use std::path::PathBuf;
use std::time::Duration;

use crate::analysis::chord::Sought;
use crate::rehearsal::{Entry, Update, Watched};
use crate::sound::SourceState;
use crate::stand::{Connection, Found, News, Sitting, Taken, look};
use crate::tui::{Recording, Shell, Watching};
use crate::units::Seconds;

/// Bytes that are taken in a frame at the most: an hour of what was kept takes a second.
const MOST_BYTES: usize = 262_144;

/// Time between two looks whether a rehearsal has come back, and what each that runs is given
/// to answer: the screen waits for that.
const LOOK_EVERY: Seconds = Seconds::new(1.0);
const PATIENCE: Duration = Duration::from_millis(100);

/// A rehearsal that is watched.
pub(super) struct Watcher {
    folders: Vec<PathBuf>,
    found: Found,
    connection: Option<Connection>,
    clock: Clock,
    elapsed: Seconds,
    looked: Seconds,
    /// Whether nothing was heard of it yet since it was joined.
    is_joining: bool,
    standing: Standing,
}

/// How it stands with it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Standing {
    Live,
    /// It has said that it has ended.
    Ended,
    /// It says nothing any more.
    BrokenOff,
    /// Too many watch it.
    Full,
}

impl Watcher {
    pub(super) fn new(folders: Vec<PathBuf>, found: Found) -> Self {
        Self {
            folders,
            connection: Connection::open(&found.path),
            found,
            clock: Clock::default(),
            elapsed: Seconds::default(),
            looked: Seconds::default(),
            is_joining: true,
            standing: Standing::Live,
        }
    }

    /// Looks whether it has come back: the same program, or another that writes into the same
    /// file.
    fn look_again(&mut self) {
        if (self.elapsed - self.looked) < LOOK_EVERY {
            return;
        }
        self.looked = self.elapsed;
        let session = &self.found.sitting.session;
        let is_it = |found: &Found| {
            found.path == self.found.path || session.is_some() && found.sitting.session == *session
        };
        let found = look(&self.folders, PATIENCE).found.into_iter().find(is_it);
        if let Some(found) = found {
            self.connection = Connection::open(&found.path);
            self.found = found;
            self.is_joining = true;
        }
    }

    fn hear(&mut self, news: News, updates: &mut Vec<Update>) {
        // Whatever comes first is told from the beginning.
        if self.is_joining && news != News::Full {
            self.is_joining = false;
            self.standing = Standing::Live;
            self.clock = Clock::default();
            updates.push(Update::Watched(Watched::Anew));
        }
        match news {
            News::Now(now) => self.clock.hear(now, self.elapsed),
            News::Session(name) => self.found.sitting.session = Some(name),
            News::Full => self.standing = Standing::Full,
            News::Ended => self.standing = Standing::Ended,
            news => updates.extend(news.into_update()),
        }
    }

    /// Nothing more comes: the last picture stays.
    fn be_left(&mut self, updates: &mut Vec<Update>) {
        self.connection = None;
        self.looked = self.elapsed;
        if self.standing == Standing::Live {
            self.standing = Standing::BrokenOff;
        }
        updates.push(Update::State(SourceState::Ended));
    }
}

impl Shell for Watcher {
    fn fetch(&mut self) -> Vec<Update> {
        let mut updates = Vec::new();
        if self.connection.is_none() {
            self.look_again();
        }
        let Some(connection) = &mut self.connection else {
            if self.standing == Standing::Live {
                self.be_left(&mut updates);
            }
            return updates;
        };
        let (news, is_over) = match connection.take(MOST_BYTES) {
            Taken::News(news) => (news, false),
            Taken::Last(news) => (news, true),
        };
        for news in news {
            self.hear(news, &mut updates);
        }
        if is_over {
            self.be_left(&mut updates);
        }
        updates
    }

    fn now(&mut self, elapsed: Seconds) -> Seconds {
        self.elapsed = elapsed;
        self.clock.now(elapsed)
    }

    fn record(&mut self, _entries: Vec<Entry>) -> Option<String> {
        None
    }

    fn recording(&self) -> Recording {
        Recording::Nowhere
    }

    fn watching(&self) -> Option<Watching> {
        let what = self.found.sitting.what.word();
        Some(match self.standing {
            Standing::Live => Watching::Live(whose(&self.found.sitting)),
            Standing::Ended => Watching::Over(format!("the {what} has ended; q leaves")),
            Standing::BrokenOff => Watching::Over(format!("the {what} has broken off; q leaves")),
            Standing::Full => {
                let told = "too many screens watch already: close one of them; q leaves";
                Watching::Over(told.to_owned())
            }
        })
    }

    fn seek(&mut self, _sought: Vec<Option<Sought>>) {
        // The ears are elsewhere.
    }
}

/// Whose rehearsal it is, in words.
fn whose(sitting: &Sitting) -> String {
    let what = sitting.what.word();
    match &sitting.session {
        Some(path) => {
            let name = path.rsplit('/').next().unwrap_or(path);
            format!("{what} in {name}")
        }
        None => format!("{what} in process {}", sitting.process),
    }
}

/// The clock of the rehearsal, as far as one hears of it.
#[derive(Debug, Default)]
struct Clock {
    /// Seconds to add to how long the screen has been up.
    offset_s: Option<f64>,
    latest: Seconds,
}

impl Clock {
    /// A difference beyond this is another clock, not one that is heard of late.
    const JUMP_S: f64 = 0.5;
    /// The share of a small difference made up at once.
    const PULL: f64 = 0.05;

    /// It was `now` there when the screen here had been up for `elapsed`.
    fn hear(&mut self, now: Seconds, elapsed: Seconds) {
        let fresh = (now - elapsed).get();
        self.offset_s = Some(match self.offset_s {
            Some(offset) if (fresh - offset).abs() < Self::JUMP_S => {
                offset + Self::PULL * (fresh - offset)
            }
            _ => {
                self.latest = Seconds::default();
                fresh
            }
        });
    }

    /// The time there; never before an earlier answer, unless it is another clock.
    fn now(&mut self, elapsed: Seconds) -> Seconds {
        let now = elapsed + Seconds::new(self.offset_s.unwrap_or_default());
        if self.latest < now {
            self.latest = now;
        }
        self.latest
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_clock_follows_the_first_screen() {
        let mut clock = Clock::default();
        let at = Seconds::new;
        assert_eq!(clock.now(at(3.0)), at(3.0));
        clock.hear(at(600.0), at(3.0));
        assert_eq!(clock.now(at(4.0)), at(601.0));
        let mut before = 601.0;
        for frame in 0..300 {
            // Now and then it is heard of late.
            let elapsed = 4.0 + f64::from(frame) / 30.0;
            let late = if frame % 7 == 0 { 0.2 } else { 0.01 };
            clock.hear(at(597.0 + elapsed - late), at(elapsed));
            let now = clock.now(at(elapsed)).get();
            assert!(now >= before, "time goes back from {before} to {now}");
            assert!((597.0 + elapsed - now).abs() < 0.1);
            before = now;
        }
        clock.hear(at(2.0), at(20.0));
        assert_eq!(clock.now(at(20.0)), at(2.0));
    }
}
