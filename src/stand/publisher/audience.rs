//! Those who watch, what they have been told, and all that a late one has to be told.

use std::collections::VecDeque;
use std::io::{self, Read, Write};
use std::mem::{Discriminant, discriminant};
use std::os::unix::net::{UnixListener, UnixStream};
use std::time::{Duration, Instant};

use rustix::event::{PollFd, PollFlags, Timespec, poll};

use super::Limits;
use crate::stand::news::{Lasting, News, Sitting};
use crate::stand::place;
use crate::stand::wire::{self, HEAD};

/// Lines that are kept are handed to a late reader in pieces of so many bytes.
const PIECE: usize = 65_536;

/// The longest wait without a look at those who take nothing.
const LOOK_EVERY: Duration = Duration::from_secs(1);

/// How long readers are given to take the last lines.
const LAST_MOMENT: Duration = Duration::from_millis(200);

/// Those who watch.
#[derive(Debug)]
pub(super) struct Audience {
    sitting: Sitting,
    limits: Limits,
    /// The lines of all that was kept, in order.
    kept: Vec<Box<str>>,
    /// How things stand: the last line of each kind.
    present: Vec<(Discriminant<News>, String)>,
    readers: Vec<Reader>,
}

/// One who watches.
#[derive(Debug)]
struct Reader {
    stream: UnixStream,
    /// How many of the kept lines it was handed.
    n_kept: usize,
    /// Whether it was handed all of them, so that it hears what happens as it happens.
    is_live: bool,
    /// What waits for it, from `written` on.
    waiting: Vec<u8>,
    written: usize,
    /// When it last took something, or nothing waited for it.
    took_at: Instant,
    sent_bytes: usize,
    is_gone: bool,
}

impl Audience {
    pub(super) fn new(sitting: Sitting, limits: Limits) -> Self {
        Self {
            sitting,
            limits,
            kept: Vec::new(),
            present: Vec::new(),
            readers: Vec::new(),
        }
    }

    pub(super) fn n_readers(&self) -> usize {
        self.readers.len()
    }

    /// Takes in what has happened: what must be kept is, and those who are up with it are told.
    pub(super) fn tell(&mut self, news: VecDeque<News>) {
        let mut told = Vec::new();
        for news in news {
            let Some(line) = wire::line(&news, &self.sitting.begun) else {
                continue;
            };
            told.extend_from_slice(line.as_bytes());
            match news.lasting() {
                Lasting::Fleeting => {}
                Lasting::Kept => self.kept.push(line.into()),
                Lasting::Present => {
                    if let News::Session(name) = &news {
                        self.sitting.session = Some(name.clone());
                    }
                    let kind = discriminant(&news);
                    self.present.retain(|(other, _)| *other != kind);
                    self.present.push((kind, line));
                }
            }
        }
        let n_kept = self.kept.len();
        for reader in self.readers.iter_mut().filter(|reader| reader.is_live) {
            reader.n_kept = n_kept;
            reader.wait_for(&told, self.limits.waiting_bytes);
        }
    }

    /// Hands everybody what they take at once.
    pub(super) fn write(&mut self) {
        let (kept, present, limits) = (&self.kept, &self.present, &self.limits);
        for reader in &mut self.readers {
            reader.write(kept, present);
            let is_patient = reader.took_at.elapsed() < limits.patience;
            reader.is_gone |= reader.is_waited_for() && !is_patient;
        }
        self.readers.retain(|reader| !reader.is_gone);
    }

    /// Tells those who are up with it that it is over.
    pub(super) fn part(&mut self) {
        self.tell(VecDeque::from([News::Ended]));
        let until = Instant::now() + LAST_MOMENT;
        loop {
            self.write();
            let mut waiting: Vec<PollFd<'_>> = self
                .readers
                .iter()
                .filter(|reader| reader.is_waited_for())
                .map(|reader| PollFd::new(&reader.stream, PollFlags::OUT))
                .collect();
            let left = until.saturating_duration_since(Instant::now());
            if waiting.is_empty() || left.is_zero() {
                return;
            }
            let _ = poll(&mut waiting, Some(&timespec(left)));
        }
    }

    /// Waits until the bell rings, somebody comes or goes, or takes more.
    pub(super) fn wait(&mut self, listener: &UnixListener, bell: &UnixStream) {
        let is_ready = |flags: PollFlags| !flags.is_empty();
        let mut fds = vec![
            PollFd::new(bell, PollFlags::IN),
            PollFd::new(listener, PollFlags::IN),
        ];
        for reader in &self.readers {
            let out = if reader.is_waited_for() {
                PollFlags::OUT
            } else {
                PollFlags::empty()
            };
            fds.push(PollFd::new(&reader.stream, PollFlags::IN | out));
        }
        if poll(&mut fds, Some(&timespec(LOOK_EVERY))).is_err() {
            return;
        }
        let ready: Vec<bool> = fds.iter().map(|fd| is_ready(fd.revents())).collect();
        drop(fds);
        if ready.first() == Some(&true) {
            let mut rung = [0; 64];
            while matches!((&*bell).read(&mut rung), Ok(count) if count == rung.len()) {}
        }
        let sent = self.limits.sent_bytes;
        for (reader, _) in self
            .readers
            .iter_mut()
            .zip(ready.iter().skip(2))
            .filter(|(_, is_ready)| **is_ready)
        {
            reader.ignore(sent);
        }
        self.readers.retain(|reader| !reader.is_gone);
        if ready.get(1) == Some(&true) {
            self.let_in(listener);
        }
    }

    /// Lets in whoever knocks.
    fn let_in(&mut self, listener: &UnixListener) {
        loop {
            match listener.accept() {
                Ok((stream, _)) => self.seat(stream),
                Err(error) if error.kind() == io::ErrorKind::WouldBlock => return,
                Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
                Err(_) => {
                    // No descriptor is left: whoever knocks goes on doing so.
                    std::thread::sleep(Duration::from_millis(50));
                    return;
                }
            }
        }
    }

    fn seat(&mut self, stream: UnixStream) {
        if !place::is_ours(&stream) || stream.set_nonblocking(true).is_err() {
            return;
        }
        let sitting = wire::sitting_to_line(&self.sitting);
        let mut greeting = format!("{HEAD}{sitting}");
        if self.readers.len() >= self.limits.readers {
            greeting += &wire::line(&News::Full, &self.sitting.begun).unwrap_or_default();
            // A fresh socket takes so few bytes at once.
            let _ = (&stream).write(greeting.as_bytes());
            return;
        }
        self.readers.push(Reader {
            stream,
            n_kept: 0,
            is_live: false,
            waiting: greeting.into_bytes(),
            written: 0,
            took_at: Instant::now(),
            sent_bytes: 0,
            is_gone: false,
        });
    }
}

impl Reader {
    fn is_waited_for(&self) -> bool {
        self.written < self.waiting.len()
    }

    /// Lets these lines wait for it; it goes if there are too many.
    fn wait_for(&mut self, lines: &[u8], most: usize) {
        if self.waiting.len() - self.written + lines.len() > most {
            self.is_gone = true;
            return;
        }
        if !self.is_waited_for() {
            self.took_at = Instant::now();
        }
        self.waiting.drain(..self.written);
        self.written = 0;
        self.waiting.extend_from_slice(lines);
    }

    /// Hands it what it takes, and the next piece of what was kept once it has taken that.
    fn write(&mut self, kept: &[Box<str>], present: &[(Discriminant<News>, String)]) {
        while !self.is_gone {
            if !self.is_waited_for() {
                self.took_at = Instant::now();
                if self.is_live {
                    return;
                }
                self.take_up(kept, present);
            }
            match self.stream.write(&self.waiting[self.written..]) {
                Ok(0) => self.is_gone = true,
                Ok(count) => {
                    self.written += count;
                    self.took_at = Instant::now();
                }
                Err(error) if error.kind() == io::ErrorKind::WouldBlock => return,
                Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
                Err(_) => self.is_gone = true,
            }
        }
    }

    /// Takes up the next piece of what was kept; after the last one, how things stand.
    fn take_up(&mut self, kept: &[Box<str>], present: &[(Discriminant<News>, String)]) {
        self.waiting.clear();
        self.written = 0;
        while self.waiting.len() < PIECE
            && let Some(line) = kept.get(self.n_kept)
        {
            self.waiting.extend_from_slice(line.as_bytes());
            self.n_kept += 1;
        }
        if self.n_kept == kept.len() {
            self.is_live = true;
            for (_, line) in present {
                self.waiting.extend_from_slice(line.as_bytes());
            }
        }
    }

    /// Passes over what it sends; one that sends much, or has left, goes.
    fn ignore(&mut self, most: usize) {
        let mut sent = [0; 1_024];
        loop {
            match self.stream.read(&mut sent) {
                Ok(0) => self.is_gone = true,
                Ok(count) => {
                    self.sent_bytes += count;
                    self.is_gone |= self.sent_bytes > most;
                }
                Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
                Err(error) if error.kind() == io::ErrorKind::WouldBlock => return,
                Err(_) => self.is_gone = true,
            }
            if self.is_gone {
                return;
            }
        }
    }
}

fn timespec(time: Duration) -> Timespec {
    // No wait is longer than a second.
    Timespec::try_from(time).unwrap_or(Timespec {
        tv_sec: 1,
        tv_nsec: 0,
    })
}
