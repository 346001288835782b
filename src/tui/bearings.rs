//! The tuner's screen: one step of the sheet at a time, its tones sounded, and what is heard of
//! the strings meanwhile. Run apart from a rehearsal, with the same terminal, keys and colours.

mod desk;
mod figures;
#[cfg(test)]
mod tests;
mod view;

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::widgets::Widget;

pub use desk::Desk;

use super::event::Event;
use super::theme::Theme;
use super::{Act, Ending, Error, Flow, Options, perform};
use crate::bearings::Sheet;
use crate::bearings::hearing::{Heard, Wanted};
use crate::drone;
use crate::rehearsal::Loudspeaker;
use crate::sound::SourceState;
use crate::units::Seconds;

/// News for the tuner's screen.
#[derive(Debug, Clone, PartialEq)]
pub enum BearingsNews {
    /// What is heard of the strings of the present step.
    Heard(Heard),
    /// What the microphone or the recording is doing.
    Source(SourceState),
    /// What the loudspeaker is doing.
    Loudspeaker(Loudspeaker),
}

/// What the tuner's screen needs of the program around it.
pub trait BearingsShell {
    /// What has come since the last call; asked once a frame.
    fn fetch(&mut self) -> Vec<BearingsNews>;

    /// Lets the loudspeaker play this from now on.
    fn play(&mut self, wanted: drone::Wanted);

    /// Lets the ears hear these strings from now on, and nothing else; nothing at all while
    /// there are none, as when the program itself sounds.
    fn listen(&mut self, wanted: Option<Wanted>);
}

/// Shows `sheet` step by step until it is ended; `can_sound` tells whether there is a loudspeaker
/// to sound the tones. `guard` lasts as long as the screen is up.
///
/// # Errors
///
/// As for [`perform`].
pub fn run_bearings<G>(
    sheet: Sheet,
    can_sound: bool,
    shell: &mut impl BearingsShell,
    options: &Options,
    guard: G,
) -> Result<Ending, Error> {
    let desk = Desk::new(sheet, can_sound, options);
    let mut tuning = TuningAct { desk, shell };
    let ending = perform(&mut tuning, options, guard);
    shell.play(drone::Wanted::silence());
    ending
}

/// The tuner's screen, and the program around it.
struct TuningAct<'a, S> {
    desk: Desk,
    shell: &'a mut S,
}

impl<S: BearingsShell> Act for TuningAct<'_, S> {
    fn heed(&mut self, event: Event) -> Flow {
        match event {
            Event::Key(key) => return self.desk.press(key),
            Event::Click(_) | Event::Wheel { .. } => {}
            _ => self.desk.touch(),
        }
        Flow::GoOn
    }

    fn tick(&mut self, elapsed: Seconds) -> Flow {
        self.desk.tick(elapsed);
        for news in self.shell.fetch() {
            self.desk.take(news);
        }
        if let Some(wanted) = self.desk.to_play() {
            self.shell.play(wanted);
        }
        if let Some(wanted) = self.desk.to_hear() {
            self.shell.listen(wanted);
        }
        Flow::GoOn
    }

    fn take_stale(&mut self) -> bool {
        self.desk.take_stale()
    }

    fn draw(&self, area: Rect, buffer: &mut Buffer) {
        self.desk.render(area, buffer);
    }

    fn theme(&self) -> &Theme {
        &self.desk.theme
    }

    fn leave(&mut self) {
        self.shell.play(drone::Wanted::silence());
    }
}
