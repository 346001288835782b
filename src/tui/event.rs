//! All that can happen to the screen, and what it asks of the shell in return.

use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyModifiers};
use ratatui::layout::{Position, Size};

use crate::analysis::chord::Sought;
use crate::plain::steers;
use crate::plan::Settled;
use crate::rehearsal::{Rehearsal, Update};
use crate::units::Seconds;

/// Something that happened.
#[derive(Debug, Clone)]
pub enum Event {
    /// A key was pressed.
    Key(KeyEvent),
    /// Text was pasted, of whatever length and with whatever is in it.
    Pasted(String),
    /// The mouse was pressed at this place of the window.
    Click(Position),
    /// The wheel was turned by one step, towards the user or away.
    Wheel {
        /// Towards the user: what is below comes up.
        down: bool,
    },
    /// The window has this size, or the picture on it was lost.
    Resized(Size),
    /// News.
    Update(Update),
    /// It is now this long since the start.
    Tick(Seconds),
    /// The shell has something to say.
    Told(String),
    /// Whether the session is being recorded has changed.
    Recording(Recording),
    /// Where a replay stands.
    Playing(Playback),
    /// How it stands with the rehearsal that is watched.
    Watching(Watching),
    /// A replay has gone to another place: everything begins anew from there.
    Rewound(Box<Rehearsal>),
}

/// Of a pasted text no more is taken than this, in characters.
const MOST_PASTED: usize = 500;

/// A pasted text as keys for a line that is being typed: what parts words or lines is one blank,
/// and no character does anything.
pub(super) fn as_typed(pasted: &str) -> Vec<KeyEvent> {
    let begun: String = pasted.trim().chars().take(MOST_PASTED).collect();
    let words: Vec<&str> = begun.split_whitespace().collect();
    let line = words.join(" ");
    let harmless = line.chars().filter(|c| !steers(*c));
    harmless
        .map(|c| KeyEvent::new(KeyCode::Char(c), KeyModifiers::NONE))
        .collect()
}

/// Whether what happens is being put into a session file.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub enum Recording {
    /// It was not asked for, or there is no place for it.
    #[default]
    Nowhere,
    /// It is, into the file of this name.
    Into(String),
    /// It cannot be written, for this reason; it is kept in memory and tried again.
    Failing(String),
}

/// How it stands with a rehearsal that is only watched.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Watching {
    /// It goes on; whose it is, in words.
    Live(String),
    /// It does not, for the reason told; the last picture stays.
    Over(String),
}

/// Where a replay stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Playback {
    /// Now.
    pub at: Seconds,
    /// The end.
    pub length: Seconds,
    /// How many times as fast as it was.
    pub speed: u8,
    /// Whether it stands still.
    pub is_paused: bool,
}

/// Where to go in a replay.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Travel {
    /// Stand still, or go on.
    Pause,
    /// So far on; back if negative.
    By(Seconds),
    /// To the next mark, or the end.
    NextMark,
    /// To the mark before, or the beginning.
    PreviousMark,
    /// Faster, up to 60 times.
    Faster,
    /// Slower, down to the speed it was.
    Slower,
}

/// Something the shell has to do.
#[derive(Debug, Clone, PartialEq)]
pub enum Effect {
    /// End.
    Quit,
    /// Give the terminal back and stop until the shell says go on.
    Suspend,
    /// Go to another place of the replay.
    Travel(Travel),
    /// Let the ears seek other voices: what is sought on each channel of the ensemble, none
    /// where one player is heard.
    Seek(Vec<Option<Sought>>),
    /// Write the page everyone takes home.
    WritePage,
    /// Put a plan into a file.
    WritePlan(Box<Settled>),
}
