//! Tells a rehearsal to whoever watches it, on a thread of its own.
//!
//! What the screen hands over lies in a bounded queue until that thread takes it; nobody waits
//! for anybody. The thread keeps the lines that a late reader needs, and writes to each reader
//! only what it takes at once.

mod audience;
mod queue;

use std::io::Write;
use std::os::unix::net::{UnixListener, UnixStream};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::thread::{self, JoinHandle};
use std::time::Duration;

use super::news::{News, Sitting};
use super::place::{self, PlaceError};
use audience::Audience;
use queue::Queue;

/// What readers may ask of the program.
#[derive(Debug, Clone, Copy)]
pub struct Limits {
    /// The most readers at once.
    pub readers: usize,
    /// The most bytes that wait for a reader; one for whom more would have to wait is dropped.
    pub waiting_bytes: usize,
    /// A reader that takes nothing for so long is dropped, if something waits for it.
    pub patience: Duration,
    /// The most bytes a reader may send, none of which is read.
    pub sent_bytes: usize,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            readers: 16,
            waiting_bytes: 1_000_000,
            patience: Duration::from_secs(30),
            sent_bytes: 4_096,
        }
    }
}

/// A rehearsal that can be watched from other screens.
#[derive(Debug)]
pub struct Publisher {
    shared: Arc<Shared>,
    thread: Option<JoinHandle<()>>,
    /// Wakes the thread.
    bell: UnixStream,
    path: PathBuf,
}

/// What the screen and the thread share.
#[derive(Debug)]
struct Shared {
    state: Mutex<State>,
    /// How many readers there are.
    n_readers: AtomicUsize,
}

#[derive(Debug, Default)]
struct State {
    queue: Queue,
    is_closing: bool,
}

impl Shared {
    /// Nobody panics while holding the lock; were it so, the state would still be sound.
    fn lock(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Publisher {
    /// Publishes a rehearsal in `folder` from now on.
    ///
    /// # Errors
    ///
    /// The folder is not ours alone, or the system refuses; nothing is published then.
    pub fn open(folder: &Path, sitting: Sitting, limits: Limits) -> Result<Self, PlaceError> {
        let (listener, path) = place::listen(folder)?;
        let refused = |reason| PlaceError::Refused {
            path: path.clone(),
            reason,
        };
        let begin = || {
            let (bell, ear) = UnixStream::pair()?;
            bell.set_nonblocking(true)?;
            ear.set_nonblocking(true)?;
            let shared = Arc::new(Shared {
                state: Mutex::default(),
                n_readers: AtomicUsize::new(0),
            });
            let theirs = Arc::clone(&shared);
            let audience = Audience::new(sitting, limits);
            let builder = thread::Builder::new().name("stand".to_owned());
            let thread = builder.spawn(move || publish(&theirs, &listener, &ear, audience))?;
            Ok((shared, thread, bell))
        };
        let (shared, thread, bell) = begin().map_err(|reason| {
            let _ = std::fs::remove_file(&path);
            refused(reason)
        })?;
        Ok(Self {
            shared,
            thread: Some(thread),
            bell,
            path,
        })
    }

    /// Where it can be watched.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// How many watch now.
    pub fn n_readers(&self) -> usize {
        self.shared.n_readers.load(Ordering::Relaxed)
    }

    /// Takes what has happened; waits for nobody.
    pub fn tell(&self, news: impl IntoIterator<Item = News>) {
        let is_watched = self.n_readers() > 0;
        let mut state = self.shared.lock();
        let before = state.queue.len();
        for news in news {
            state.queue.push(news, is_watched);
        }
        let has_come = state.queue.len() > before;
        drop(state);
        if has_come {
            self.ring();
        }
    }

    /// A bell that is ringing already rings.
    fn ring(&self) {
        let _ = (&self.bell).write(&[1]);
    }
}

impl Drop for Publisher {
    /// Tells every reader that the rehearsal has ended, as far as they listen.
    fn drop(&mut self) {
        self.shared.lock().is_closing = true;
        self.ring();
        if let Some(thread) = self.thread.take() {
            // It waits for nobody but for a last moment.
            let _ = thread.join();
        }
        let _ = std::fs::remove_file(&self.path);
    }
}

/// Takes what has come, tells it, and waits for more, until the rehearsal ends.
fn publish(shared: &Shared, listener: &UnixListener, ear: &UnixStream, mut audience: Audience) {
    loop {
        let mut state = shared.lock();
        let is_closing = state.is_closing;
        let taken = state.queue.take();
        drop(state);
        match taken {
            Some(news) => audience.tell(news),
            // What has holes is not shown.
            None => return,
        }
        if is_closing {
            audience.part();
            return;
        }
        audience.write();
        shared
            .n_readers
            .store(audience.n_readers(), Ordering::Relaxed);
        audience.wait(listener, ear);
        shared
            .n_readers
            .store(audience.n_readers(), Ordering::Relaxed);
    }
}
