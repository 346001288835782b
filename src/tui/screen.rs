//! The terminal while the screen is up: taken, given back, and taken again.

use std::io::{self, IsTerminal};

use ratatui::DefaultTerminal;
use ratatui::crossterm::cursor::Show;
use ratatui::crossterm::execute;
use ratatui::crossterm::terminal::{
    EnterAlternateScreen, LeaveAlternateScreen, disable_raw_mode, enable_raw_mode,
};

use super::Error;

/// The terminal in the program's hands. It goes back when this is dropped, also by a panic.
pub(super) struct Screen {
    terminal: DefaultTerminal,
    is_up: bool,
}

fn failed(operation: &'static str) -> impl Fn(io::Error) -> Error {
    move |source| Error::Terminal { operation, source }
}

impl Screen {
    /// Takes the terminal.
    pub(super) fn open() -> Result<Self, Error> {
        if !io::stdout().is_terminal() {
            return Err(Error::NotATerminal);
        }
        let terminal = ratatui::try_init().map_err(|source| {
            ratatui::restore();
            Error::Terminal {
                operation: "set up",
                source,
            }
        })?;
        // Ratatui's hook would give the terminal back for a panic on any thread, while this one
        // goes on drawing. Here the terminal goes back when its owner is dropped.
        std::panic::set_hook(Box::new(|panic| tracing::error!("{panic}")));
        Ok(Self {
            terminal,
            is_up: true,
        })
    }

    /// The terminal to draw on.
    pub(super) fn terminal(&mut self) -> &mut DefaultTerminal {
        &mut self.terminal
    }

    /// Gives the terminal back as it was.
    pub(super) fn close(&mut self) -> Result<(), Error> {
        self.is_up = false;
        let raw = disable_raw_mode();
        let left = execute!(io::stdout(), LeaveAlternateScreen, Show);
        raw.and(left).map_err(failed("given back"))
    }

    /// Takes the terminal again, whatever has been done to it in between.
    pub(super) fn reopen(&mut self) -> Result<(), Error> {
        // What is raw by our own account may have been reset by the shell.
        let taken = disable_raw_mode()
            .and_then(|()| enable_raw_mode())
            .and_then(|()| execute!(io::stdout(), EnterAlternateScreen))
            .and_then(|()| self.terminal.hide_cursor())
            .and_then(|()| self.terminal.clear());
        self.is_up = true;
        taken.map_err(failed("taken again"))
    }
}

impl Drop for Screen {
    fn drop(&mut self) {
        if self.is_up {
            // On the way out of an error there is nobody left to tell of another.
            let _ = self.close();
        }
    }
}
