//! All that can happen to the screen, and what it asks of the shell in return.

use ratatui::crossterm::event::KeyEvent;
use ratatui::layout::Size;

use crate::analysis::Reading;
use crate::sound::{SourceState, StreamFormat};
use crate::units::Seconds;

/// News from the listening thread.
#[derive(Debug, Clone, PartialEq)]
pub enum Update {
    /// Readings in the order they were made, each with the place of its channel in the
    /// ensemble, from 0.
    Readings(Vec<(usize, Reading)>),
    /// What the source is doing has changed.
    State(SourceState),
    /// The stream starts, or starts again.
    Started(StreamFormat),
    /// Blocks lost since the start, all told.
    Lost(u64),
}

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
