//! All that can happen to the screen, and what it asks of the shell in return.

use ratatui::crossterm::event::KeyEvent;
use ratatui::layout::Size;

use crate::analysis::chord::Sought;
use crate::rehearsal::{HeldChord, Update};
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
    /// The shell has something to say.
    Told(String),
}

/// Something the shell has to do.
#[derive(Debug, Clone, PartialEq)]
pub enum Effect {
    /// End.
    Quit,
    /// Give the terminal back and stop until the shell says go on.
    Suspend,
    /// Put a chord into the session's journal.
    Keep(Box<HeldChord>),
    /// Let the ears seek other voices: what is sought on each channel of the ensemble, none
    /// where one player is heard.
    Seek(Vec<Option<Sought>>),
}
