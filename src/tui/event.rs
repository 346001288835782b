//! All that can happen to the screen, and what it asks of the shell in return.

use ratatui::crossterm::event::KeyEvent;
use ratatui::layout::Size;

use crate::rehearsal::Update;
use crate::units::Seconds;

/// Something that happened.
#[derive(Debug, Clone, PartialEq)]
pub enum Event {
    /// A key was pressed.
    Key(KeyEvent),
    /// The window has this size, or the picture on it was lost.
    Resized(Size),
    /// News.
    Update(Update),
    /// It is now this long since the start.
    Tick(Seconds),
}

/// Something the shell has to do.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Effect {
    /// End.
    Quit,
    /// Give the terminal back and stop until the shell says go on.
    Suspend,
}
