//! The terminal while the screen is up: taken, given back, and taken again.

use std::fmt;
use std::io::{self, IsTerminal};

use ratatui::DefaultTerminal;
use ratatui::crossterm::cursor::Show;
use ratatui::crossterm::event::{DisableBracketedPaste, EnableBracketedPaste};
use ratatui::crossterm::terminal::{
    EnterAlternateScreen, LeaveAlternateScreen, disable_raw_mode, enable_raw_mode,
};
use ratatui::crossterm::{Command, execute};

use super::Error;

/// The terminal in the program's hands. It goes back when this is dropped, also by a panic.
pub(super) struct Screen {
    terminal: DefaultTerminal,
    is_up: bool,
    /// Whether the terminal tells of the mouse.
    mouse: bool,
}

fn failed(operation: &'static str) -> impl Fn(io::Error) -> Error {
    move |source| Error::Terminal { operation, source }
}

/// Asks for the mouse's buttons and wheel, with places counted without end (xterm's modes 1000
/// and 1006). Crossterm's own command asks for every movement, too, which nobody here needs and a
/// slow line would feel.
struct Buttons {
    on: bool,
}

impl Command for Buttons {
    fn write_ansi(&self, f: &mut impl fmt::Write) -> fmt::Result {
        f.write_str(if self.on {
            "\u{1b}[?1000h\u{1b}[?1006h"
        } else {
            "\u{1b}[?1006l\u{1b}[?1000l"
        })
    }

    #[cfg(windows)]
    fn execute_winapi(&self) -> io::Result<()> {
        Ok(())
    }

    #[cfg(windows)]
    fn is_ansi_code_supported(&self) -> bool {
        true
    }
}

impl Screen {
    /// Takes the terminal, with the mouse or without.
    pub(super) fn open(mouse: bool) -> Result<Self, Error> {
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
        let screen = Self {
            terminal,
            is_up: true,
            mouse,
        };
        screen.listen().map_err(failed("listened to"))?;
        Ok(screen)
    }

    /// Asks for what is pasted as one piece, so that it is not taken for keys, and for the mouse.
    fn listen(&self) -> io::Result<()> {
        imp::never_wait()?;
        execute!(io::stdout(), EnableBracketedPaste)?;
        if self.mouse {
            execute!(io::stdout(), Buttons { on: true })
        } else {
            Ok(())
        }
    }

    /// The terminal to draw on.
    pub(super) fn terminal(&mut self) -> &mut DefaultTerminal {
        &mut self.terminal
    }

    /// Gives the terminal back as it was.
    pub(super) fn close(&mut self) -> Result<(), Error> {
        self.is_up = false;
        let raw = disable_raw_mode();
        let mouse = if self.mouse {
            execute!(io::stdout(), Buttons { on: false })
        } else {
            Ok(())
        };
        let left = execute!(
            io::stdout(),
            DisableBracketedPaste,
            LeaveAlternateScreen,
            Show
        );
        raw.and(mouse).and(left).map_err(failed("given back"))
    }

    /// Takes the terminal again, whatever has been done to it in between.
    pub(super) fn reopen(&mut self) -> Result<(), Error> {
        // What is raw by our own account may have been reset by the shell.
        let taken = disable_raw_mode()
            .and_then(|()| enable_raw_mode())
            .and_then(|()| execute!(io::stdout(), EnterAlternateScreen))
            .and_then(|()| self.terminal.hide_cursor())
            .and_then(|()| self.listen())
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

#[cfg(unix)]
mod imp {
    use std::io;

    use rustix::termios::{OptionalActions, SpecialCodeIndex, tcgetattr, tcsetattr};

    /// Lets reading from the terminal end where there is nothing to read. In raw mode it would wait
    /// for another byte, and so would the whole screen in the middle of a sequence of keys that is
    /// never finished. Leaving raw mode puts this back as well.
    pub(super) fn never_wait() -> io::Result<()> {
        let input = io::stdin();
        let Ok(mut modes) = tcgetattr(&input) else {
            // Keys come from another terminal than standard input then, as after a pipe.
            return Ok(());
        };
        modes.special_codes[SpecialCodeIndex::VMIN] = 0;
        modes.special_codes[SpecialCodeIndex::VTIME] = 0;
        Ok(tcsetattr(&input, OptionalActions::Now, &modes)?)
    }
}

#[cfg(not(unix))]
mod imp {
    use std::io;

    /// Nothing has to be done for that here.
    pub(super) fn never_wait() -> io::Result<()> {
        Ok(())
    }
}
