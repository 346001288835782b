//! Keys and changes of size, as the terminal sends them.

use std::io;
use std::time::{Duration, Instant};

use ratatui::crossterm::event::{
    self as terminal_event, Event as TerminalEvent, KeyEventKind, MouseButton, MouseEvent,
    MouseEventKind,
};
use ratatui::layout::{Position, Size};

use super::event::Event;

/// How long is waited for another key of a burst. With no time at all nothing would be read.
const BURST: Duration = Duration::from_millis(1);

/// What came of waiting for the terminal.
#[derive(Debug)]
pub(super) enum Heard {
    /// These events; none when the time was over.
    Events(Vec<Event>),
    /// The terminal is gone: nothing can be read from it or written to it any more.
    HungUp,
}

/// The terminal's side that speaks.
pub(super) struct Keys(imp::Line);

impl Keys {
    /// Listens to the terminal that the process belongs to.
    pub(super) fn open() -> io::Result<Self> {
        imp::Line::open().map(Self)
    }

    /// Waits until `due` or until something comes, and takes all there is.
    pub(super) fn until(&self, due: Instant) -> io::Result<Heard> {
        let mut events = Vec::new();
        let mut patience = due.saturating_duration_since(Instant::now());
        loop {
            // Asked first, as the reader of keys would read for ever from a line hung up.
            if !self.0.wait(patience)? {
                return Ok(Heard::HungUp);
            }
            patience = Duration::ZERO;
            if !terminal_event::poll(BURST)? {
                return Ok(Heard::Events(events));
            }
            match terminal_event::read()? {
                TerminalEvent::Key(key) if key.kind == KeyEventKind::Press => {
                    events.push(Event::Key(key));
                }
                TerminalEvent::Paste(text) => events.push(Event::Pasted(text)),
                TerminalEvent::Mouse(mouse) => events.extend(of_mouse(mouse)),
                TerminalEvent::Resize(width, height) => {
                    events.push(Event::Resized(Size { width, height }));
                }
                _ => {}
            }
        }
    }
}

fn of_mouse(mouse: MouseEvent) -> Option<Event> {
    match mouse.kind {
        MouseEventKind::Down(MouseButton::Left) => {
            Some(Event::Click(Position::new(mouse.column, mouse.row)))
        }
        MouseEventKind::ScrollDown => Some(Event::Wheel { down: true }),
        MouseEventKind::ScrollUp => Some(Event::Wheel { down: false }),
        _ => None,
    }
}

#[cfg(unix)]
mod imp {
    use std::fs::File;
    use std::io::{self, IsTerminal};
    use std::os::fd::{AsFd, OwnedFd};
    use std::time::Duration;

    use rustix::event::{PollFd, PollFlags, Timespec, poll};
    use rustix::io::Errno;

    /// The line keys come through: standard input, or the terminal itself where that is a pipe.
    pub(super) struct Line(OwnedFd);

    impl Line {
        pub(super) fn open() -> io::Result<Self> {
            let input = io::stdin();
            if input.is_terminal() {
                input.as_fd().try_clone_to_owned().map(Self)
            } else {
                File::open("/dev/tty").map(|file| Self(file.into()))
            }
        }

        /// Waits for something to read; false when the line is hung up.
        pub(super) fn wait(&self, patience: Duration) -> io::Result<bool> {
            let mut lines = [PollFd::new(&self.0, PollFlags::IN)];
            let patience = Timespec::try_from(patience).unwrap_or_default();
            match poll(&mut lines, Some(&patience)) {
                // A signal: a change of size, say.
                Ok(_) | Err(Errno::INTR) => {}
                Err(error) => return Err(error.into()),
            }
            let ended = PollFlags::HUP | PollFlags::ERR | PollFlags::NVAL;
            Ok(!lines[0].revents().intersects(ended))
        }
    }
}

#[cfg(not(unix))]
mod imp {
    use std::io;
    use std::time::Duration;

    use ratatui::crossterm::event::poll;

    pub(super) struct Line;

    impl Line {
        pub(super) fn open() -> io::Result<Self> {
            Ok(Self)
        }

        pub(super) fn wait(&self, patience: Duration) -> io::Result<bool> {
            poll(patience).map(|_| true)
        }
    }
}
