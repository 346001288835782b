//! The other end: finds the rehearsals that run on this machine, and hears of one of them.
//!
//! Whatever comes in is taken as from a stranger: lines have a greatest length, what cannot be
//! read is passed over, and nothing is ever waited for once a rehearsal is watched.

use std::io::{self, Read};
use std::os::unix::net::UnixStream;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use rustix::event::{PollFd, PollFlags, Timespec, poll};

use super::news::{News, Sitting};
use super::place;
use super::wire::{self, Greeting, LONGEST_LINE};

/// The most bytes that are taken at once.
const PIECE: usize = 65_536;

/// The most bytes of what was kept that are taken of one rehearsal: as long as a session file
/// that can be read.
const MOST_KEPT: usize = 400_000_000;

/// A rehearsal that runs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Found {
    /// Its socket.
    pub path: PathBuf,
    /// Whose it is.
    pub sitting: Sitting,
}

/// What a look around has found.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Looked {
    /// The rehearsals that run.
    pub found: Vec<Found>,
    /// The version one of them speaks, which this program does not understand.
    pub other_version: Option<u64>,
}

/// The rehearsals that run, as far as they answer within `patience` each. What killed programs
/// have left is removed.
pub fn look(folders: &[PathBuf], patience: Duration) -> Looked {
    let mut looked = Looked::default();
    for path in folders.iter().flat_map(|folder| place::sockets(folder)) {
        let Some(mut connection) = Connection::open(&path) else {
            continue;
        };
        match connection.greet(patience) {
            Some(sitting) => looked.found.push(Found { path, sitting }),
            None => looked.other_version = connection.other_version.or(looked.other_version),
        }
    }
    looked
}

/// One rehearsal that is watched.
#[derive(Debug)]
pub struct Connection {
    stream: UnixStream,
    /// The line that has begun.
    line: Vec<u8>,
    /// Whether it is too long, and is passed over to its end.
    is_too_long: bool,
    n_lines: usize,
    kept_bytes: usize,
    sitting: Option<Sitting>,
    other_version: Option<u64>,
}

/// What came of listening for a moment.
#[derive(Debug, Clone, PartialEq)]
pub enum Taken {
    /// This, and nothing more for now.
    News(Vec<News>),
    /// This was the last.
    Last(Vec<News>),
}

impl Connection {
    /// Knocks at a socket; none if nobody of ours answers.
    pub fn open(path: &Path) -> Option<Self> {
        let stream = place::sweep(path)?;
        if !place::is_ours(&stream) {
            return None;
        }
        stream.set_nonblocking(true).ok()?;
        Some(Self {
            stream,
            line: Vec::new(),
            is_too_long: false,
            n_lines: 0,
            kept_bytes: 0,
            sitting: None,
            other_version: None,
        })
    }

    /// Whose rehearsal it is, once it has said so.
    pub fn sitting(&self) -> Option<&Sitting> {
        self.sitting.as_ref()
    }

    /// Waits until it has said whose it is; none if it does not within `patience`.
    fn greet(&mut self, patience: Duration) -> Option<Sitting> {
        let until = Instant::now() + patience;
        while self.sitting.is_none() {
            if let Taken::Last(_) = self.take(PIECE) {
                break;
            }
            if self.sitting.is_none() {
                let left = until.saturating_duration_since(Instant::now());
                if left.is_zero() {
                    break;
                }
                let mut fds = [PollFd::new(&self.stream, PollFlags::IN)];
                let _ = poll(&mut fds, Timespec::try_from(left).ok().as_ref());
            }
        }
        self.sitting.clone()
    }

    /// What has come since the last call, about `most` bytes of it at the utmost; waits for
    /// nothing.
    pub fn take(&mut self, most: usize) -> Taken {
        let mut news = Vec::new();
        let mut bytes = vec![0; PIECE];
        let mut taken = 0;
        while taken < most {
            match self.stream.read(&mut bytes) {
                Ok(0) => return Taken::Last(news),
                Ok(count) => {
                    taken += count;
                    if !self.hear(&bytes[..count], &mut news) {
                        return Taken::Last(news);
                    }
                }
                Err(error) if error.kind() == io::ErrorKind::WouldBlock => break,
                Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
                Err(_) => return Taken::Last(news),
            }
        }
        Taken::News(news)
    }

    /// Puts bytes together to lines; says whether this goes on to be a stand.
    fn hear(&mut self, bytes: &[u8], news: &mut Vec<News>) -> bool {
        for part in bytes.split_inclusive(|byte| *byte == b'\n') {
            if self.line.len() + part.len() > LONGEST_LINE {
                self.is_too_long = true;
                self.line.clear();
            }
            if !self.is_too_long {
                self.line.extend_from_slice(part);
            }
            if part.ends_with(b"\n") {
                let line = std::mem::take(&mut self.line);
                let is_whole = !std::mem::take(&mut self.is_too_long);
                self.n_lines += 1;
                let line = std::str::from_utf8(&line).ok().filter(|_| is_whole);
                if !self.heed(line, news) {
                    return false;
                }
            }
        }
        true
    }

    /// Takes in a line, none if it could not be read; says whether this goes on to be a stand.
    fn heed(&mut self, line: Option<&str>, news: &mut Vec<News>) -> bool {
        match (self.n_lines, &self.sitting) {
            (1, _) => match line.map_or(Greeting::Foreign, wire::greeting) {
                Greeting::Ours => true,
                Greeting::Version(version) => {
                    self.other_version = Some(version);
                    false
                }
                Greeting::Foreign => false,
            },
            (_, None) => {
                self.sitting = line.and_then(wire::sitting_from_line);
                self.sitting.is_some()
            }
            (_, Some(_)) => {
                let told = line.and_then(wire::news);
                if let (Some(News::Entry(_)), Some(line)) = (&told, line) {
                    self.kept_bytes += line.len();
                }
                news.extend(told);
                self.kept_bytes <= MOST_KEPT
            }
        }
    }
}
