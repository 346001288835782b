//! The thread that writes: one batch after another, resumed exactly where a disk refused.

use std::io;
use std::sync::PoisonError;
use std::time::{Duration, Instant};

use super::paper::{Desk, FileDesk, Paper};
use super::{Preamble, Shared, Status, file_name};
use crate::session::journal::HEAD;
use crate::session::reason;

/// Bytes that are handed over at once.
const BATCH: usize = 256_000;
/// Time between two attempts after a failure, and the longest time without a look around.
const RETRY: Duration = Duration::from_secs(1);
/// Time between two syncs.
const SYNC_EVERY: Duration = Duration::from_secs(5);
/// Time between two looks whether the file is still there.
const LOOK_EVERY: Duration = Duration::from_secs(2);

/// What begins the lines that are told again on new paper.
const LASTING: [&[u8]; 4] = [b"Decided(", b"Marked(", b"Warmth(", b"Held("];

/// What is being written, and how far.
#[derive(Debug, Default)]
pub(super) struct Pen {
    bytes: Vec<u8>,
    written: usize,
}

impl Pen {
    pub(super) fn is_empty(&self) -> bool {
        self.written == self.bytes.len()
    }

    /// Takes up the next bytes; the ones before are all written.
    pub(super) fn take_up(&mut self, bytes: Vec<u8>) {
        *self = Self { bytes, written: 0 };
    }

    /// Begins again on new paper, with `head` first.
    fn begin(&mut self, head: String) {
        let mut bytes = head.into_bytes();
        // What lies on the old paper for good is not said twice.
        if !self.is_empty() {
            bytes.append(&mut self.bytes);
        }
        *self = Self { bytes, written: 0 };
    }

    /// Goes on upon new paper, below all that lay on the old one.
    fn copy(&mut self, mut before: Vec<u8>) {
        before.extend(&self.bytes[self.written..]);
        *self = Self {
            bytes: before,
            written: 0,
        };
    }

    /// The lines in hand that are told again where the old paper cannot be read: few, and
    /// what was decided must not be lost.
    fn lasting(&self) -> impl Iterator<Item = &[u8]> {
        let lasts = |line: &&[u8]| LASTING.iter().any(|kind| line.starts_with(kind));
        let lines = self.bytes.split_inclusive(|byte| *byte == b'\n');
        lines.filter(lasts)
    }

    /// Writes as much as the paper takes. After an error it goes on with the very next byte.
    pub(super) fn write(&mut self, paper: &mut dyn Paper) -> io::Result<()> {
        while self.written < self.bytes.len() {
            match paper.write(&self.bytes[self.written..]) {
                Ok(0) => return Err(io::ErrorKind::WriteZero.into()),
                Ok(count) => self.written += count,
                Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
                Err(error) => return Err(error),
            }
        }
        Ok(())
    }
}

/// Everything the thread has.
struct Writer<'a> {
    shared: &'a Shared,
    desk: Box<dyn Desk>,
    paper: Option<Box<dyn Paper>>,
    /// The paper that was taken away, until there is other paper.
    lost: Option<Box<dyn Paper>>,
    /// Lines already written that are told again where the paper was lost.
    lasting: Vec<u8>,
    /// Whether a sheet has been laid before.
    has_begun: bool,
    /// The name of the file, or the one it will have.
    name: String,
    pen: Pen,
    synced: Instant,
    is_synced: bool,
    looked: Instant,
}

/// Writes what comes until the recorder is closed and everything is on the disk, as far as that
/// goes.
pub(super) fn write_until_closed(shared: &Shared, desk: Box<dyn Desk>) {
    let now = Instant::now();
    let mut writer = Writer {
        shared,
        name: file_name(desk.wanted()),
        desk,
        paper: None,
        lost: None,
        lasting: Vec::new(),
        has_begun: false,
        pen: Pen::default(),
        synced: now,
        is_synced: true,
        looked: now,
    };
    loop {
        let is_closing = writer.wait();
        let outcome = writer.step(is_closing);
        let mut failed = outcome.is_err();
        writer.tell(outcome);
        if is_closing && failed && writer.rescue().is_ok() {
            failed = false;
        }
        let mut state = shared.lock();
        let is_through = state.backlog.bytes() == 0 && writer.pen.is_empty();
        if is_closing && (failed || is_through) {
            state.is_done = true;
            drop(state);
            shared.changed.notify_all();
            return;
        }
    }
}

impl Writer<'_> {
    /// Waits for something to do, and takes it up; says whether the recorder is closing.
    fn wait(&mut self) -> bool {
        let mut state = self.shared.lock();
        let is_failing = matches!(state.status, Status::Failing(_));
        let has_work = |bytes: usize| bytes > 0 && !is_failing;
        if !state.is_closing && !has_work(state.backlog.bytes()) {
            let until = Instant::now() + RETRY;
            loop {
                let left = until.saturating_duration_since(Instant::now());
                if left.is_zero() || state.is_closing || has_work(state.backlog.bytes()) {
                    break;
                }
                let waited = self.shared.changed.wait_timeout(state, left);
                state = waited.unwrap_or_else(PoisonError::into_inner).0;
            }
        }
        if self.pen.is_empty() && state.backlog.bytes() > 0 {
            if state.backlog.has_missed() {
                let told = "there was no room for so long that some of what was heard is missing";
                state.notices.push(told.to_owned());
            }
            let bytes = state.backlog.take(BATCH);
            let lasting = self.pen.lasting();
            lasting.for_each(|line| self.lasting.extend(line));
            self.pen.take_up(bytes);
        }
        state.is_closing
    }

    /// Writes what is in hand, and looks around.
    fn step(&mut self, is_closing: bool) -> io::Result<()> {
        if self.looked.elapsed() >= LOOK_EVERY || is_closing {
            self.looked = Instant::now();
            if self
                .paper
                .as_ref()
                .is_some_and(|paper| !paper.is_in_place())
            {
                self.lost = self.paper.take();
            }
        }
        if self.paper.is_none() && (self.has_begun || !self.pen.is_empty()) {
            self.lay()?;
        }
        let Some(paper) = &mut self.paper else {
            return Ok(());
        };
        if !self.pen.is_empty() {
            self.is_synced = false;
            self.pen.write(&mut **paper)?;
        }
        if !self.is_synced && (is_closing || self.synced.elapsed() >= SYNC_EVERY) {
            self.synced = Instant::now();
            paper.sync()?;
            self.is_synced = true;
        }
        Ok(())
    }

    fn lay(&mut self) -> io::Result<()> {
        let sheet = self.desk.lay()?;
        let before = self.lost.take().and_then(|mut lost| lost.contents().ok());
        let before = before.filter(|bytes| bytes.starts_with(HEAD.as_bytes()));
        let mut state = self.shared.lock();
        let Preamble {
            begun,
            seated,
            tuned,
        } = &state.preamble;
        let again = self.has_begun;
        let head = if again {
            let lasting = String::from_utf8_lossy(&self.lasting);
            format!("{}{begun}{seated}{tuned}{lasting}", sheet.head)
        } else {
            format!("{}{begun}", sheet.head)
        };
        let name = file_name(&sheet.path);
        if again {
            state.notices.push(format!(
                "the session file was taken away: recording goes on in '{name}'"
            ));
        } else if sheet.path != self.desk.wanted() {
            state.notices.push(format!(
                "recording into '{name}', as the name asked for was in use"
            ));
        }
        self.name.clone_from(&name);
        state.path = Some(sheet.path.clone());
        // A disk that failed before is told to be well when something was written.
        if !matches!(state.status, Status::Failing(_)) {
            state.status = Status::Into(name);
        }
        drop(state);
        match before {
            Some(before) => self.pen.copy(before),
            // Seated stands among the lines of the first sheet already.
            None => self.pen.begin(head),
        }
        self.has_begun = true;
        self.paper = Some(sheet.paper);
        Ok(())
    }

    /// At the very end, where the disk still fails: all there is goes into a new file elsewhere,
    /// what lies on the old paper included if it can be read.
    fn rescue(&mut self) -> io::Result<()> {
        let state = self.shared.lock();
        let Some(path) = state.rescue.clone() else {
            return Err(io::ErrorKind::Unsupported.into());
        };
        drop(state);
        self.lost = self.paper.take().or(self.lost.take());
        self.desk = Box::new(FileDesk::new(&path, true));
        self.lay()?;
        let Some(paper) = &mut self.paper else {
            return Ok(());
        };
        loop {
            self.pen.write(&mut **paper)?;
            let mut state = self.shared.lock();
            if state.backlog.bytes() == 0 {
                break;
            }
            self.pen.take_up(state.backlog.take(BATCH));
        }
        paper.sync()?;
        self.shared.lock().rescued = Some(path.with_file_name(&self.name));
        Ok(())
    }

    fn tell(&self, outcome: io::Result<()>) {
        let mut state = self.shared.lock();
        match outcome {
            Ok(()) => {
                if matches!(state.status, Status::Failing(_)) {
                    state
                        .notices
                        .push("the session is being written again".to_owned());
                    state.status = Status::Into(self.name.clone());
                }
            }
            Err(error) => state.status = Status::Failing(reason(&error)),
        }
    }
}
