//! The other end: finds the rehearsals that run on this machine, and hears of one of them.
//!
//! Whatever comes in is taken as from a stranger: lines have a greatest length, what cannot be
//! read is passed over, and nothing is ever waited for once a rehearsal is watched.

use std::io::{self, Read};
use std::os::unix::net::UnixStream;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use rustix::event::{PollFd, PollFlags, Timespec, poll};

use super::incoming::Incoming;
use super::news::{News, Sitting};
use super::place;

/// The most bytes that are taken at once.
const PIECE: usize = 65_536;

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
            None => {
                looked.other_version = connection.incoming.other_version().or(looked.other_version);
            }
        }
    }
    looked
}

/// One rehearsal that is watched.
#[derive(Debug)]
pub struct Connection {
    stream: UnixStream,
    incoming: Incoming,
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
            incoming: Incoming::default(),
        })
    }

    /// Whose rehearsal it is, once it has said so.
    pub fn sitting(&self) -> Option<&Sitting> {
        self.incoming.sitting()
    }

    /// Waits until it has said whose it is; none if it does not within `patience`.
    fn greet(&mut self, patience: Duration) -> Option<Sitting> {
        let until = Instant::now() + patience;
        while self.sitting().is_none() {
            if let Taken::Last(_) = self.take(PIECE) {
                break;
            }
            if self.sitting().is_none() {
                let left = until.saturating_duration_since(Instant::now());
                if left.is_zero() {
                    break;
                }
                let mut fds = [PollFd::new(&self.stream, PollFlags::IN)];
                let _ = poll(&mut fds, Timespec::try_from(left).ok().as_ref());
            }
        }
        self.sitting().cloned()
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
                    if !self.incoming.hear(&bytes[..count], &mut news) {
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
}
