//! The first five minutes: which microphone, who plays into which input, the keyboard's pitch and
//! temperament by ear, the trumpets' key, and the ensemble file that comes of it. One question at
//! a time, each of which can be left out or gone back to. Opens no device and writes no file.

mod desk;
mod devices;
mod file;
mod hearing;
mod keyboard;
mod keys;
mod meters;
mod naming;
mod players;
mod steady;
#[cfg(test)]
mod tests;
mod trumpets;
mod view;

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::widgets::Widget;

pub use desk::{Beginning, SetupDesk};

use super::event::{Event, as_typed};
use super::theme::Theme;
use super::{Act, Ending, Error, Flow, Options, perform};
use crate::rehearsal::{Ensemble, Update};
use crate::units::Seconds;

/// An input that can be chosen.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SetupInput {
    /// The name that finds it.
    pub id: String,
    /// The name for people.
    pub description: String,
    /// Channels it has unless more are asked for.
    pub channels: usize,
    /// The most it claims to have.
    pub most_channels: usize,
    /// Whether it is used when none is named.
    pub is_default: bool,
}

/// What to listen to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Listened {
    /// The input's id; the default one if none.
    pub input: Option<String>,
    /// How many channels to ask for; the device's own count if none.
    pub channels: Option<usize>,
}

/// News for the screen.
#[derive(Debug, Clone, PartialEq)]
pub enum SetupNews {
    /// The inputs there are, or why they cannot be listed.
    Inputs(Result<Vec<SetupInput>, String>),
    /// Something was heard, or the source has something to tell.
    Heard(Update),
    /// The file was written under this name, or why it was not.
    Written(Result<String, String>),
}

/// What the screen needs of the program around it.
pub trait SetupShell {
    /// What has come since the last call; asked once a frame.
    fn fetch(&mut self) -> Vec<SetupNews>;

    /// Lists the inputs, hearing none meanwhile; they come as news, as a sound system may take its
    /// time.
    fn list(&mut self);

    /// Hears all channels of this from now on, and nothing else.
    fn listen(&mut self, listened: &Listened);

    /// The ensemble as the text of a file.
    fn text(&self, ensemble: &Ensemble) -> String;

    /// Writes it to a new file; what came of it is told as news.
    fn write(&mut self, name: &str, text: &str);

    /// The screen is over, with this.
    fn conclude(&mut self, outcome: Outcome);
}

/// What came of setting up.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Outcome {
    /// The file that was written, if one was.
    pub file: Option<String>,
    /// Whether the rehearsal is to begin at once.
    pub is_rehearsing: bool,
    /// The input that was chosen, if it is not the default one.
    pub input: Option<String>,
    /// The channels it was opened with, where they were asked for.
    pub channels: Option<usize>,
}

/// Goes through the questions until they are answered or given up. `guard` lasts as long as the
/// screen is up.
///
/// # Errors
///
/// As for [`perform`].
pub fn run_setup<G>(
    beginning: Beginning,
    shell: &mut impl SetupShell,
    options: &Options,
    guard: G,
) -> Result<Ending, Error> {
    let desk = SetupDesk::new(beginning, options);
    let mut act = SettingUp { desk, shell };
    let ending = perform(&mut act, options, guard);
    let outcome = act.desk.outcome();
    act.shell.conclude(outcome);
    ending
}

/// The screen, and the program around it.
struct SettingUp<'a, S> {
    desk: SetupDesk,
    shell: &'a mut S,
}

impl<S: SetupShell> Act for SettingUp<'_, S> {
    fn heed(&mut self, event: Event) -> Flow {
        match event {
            Event::Key(key) => return self.desk.press(key),
            Event::Pasted(text) if self.desk.is_typing() => {
                for key in as_typed(&text) {
                    self.desk.press(key);
                }
            }
            _ => {}
        }
        self.desk.touch();
        Flow::GoOn
    }

    fn tick(&mut self, elapsed: Seconds) -> Flow {
        for news in self.shell.fetch() {
            self.desk.take(news);
        }
        self.desk.tick(elapsed);
        self.desk.carry_out(self.shell);
        Flow::GoOn
    }

    fn take_stale(&mut self) -> bool {
        self.desk.take_stale()
    }

    fn draw(&self, area: Rect, buffer: &mut Buffer) {
        (&self.desk).render(area, buffer);
    }

    fn theme(&self) -> &Theme {
        &self.desk.theme
    }
}
