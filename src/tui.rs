//! The full screen: events, actions, views and colours. Knows no device and no file.
//!
//! One thread owns all state. It waits for keys until the next frame is due, drains what the
//! listening thread has to say, and draws once if anything has changed. Nothing else may
//! print while the screen is up.

mod app;
mod axis;
mod bearings;
mod beats;
mod caution;
mod chord;
mod decide;
mod digits;
mod drift;
mod event;
mod far;
mod field;
mod frame;
mod help;
mod home;
mod inputs;
mod keymap;
mod keys;
mod ladder;
mod layout;
mod ledger;
mod marking;
mod overlay;
mod plan;
mod players;
mod portrait;
mod practice;
mod run;
mod rungs;
mod screen;
mod setup;
mod signals;
mod strip;
mod surveyor;
#[cfg(test)]
mod tests;
mod text;
mod theme;
mod warmth;

use std::io;
use std::time::Duration;

use ratatui::buffer::Buffer;
use ratatui::layout::{Rect, Size};
use ratatui::widgets::Widget;

pub use app::App;
pub use bearings::{BearingsNews, BearingsShell, Desk, run_bearings};
pub use event::{Effect, Event, Playback, Recording, Travel, Watching};
pub use home::{Choice, Door, Home, show_home};
pub use keymap::{KeyFault, Keymap, KeysOf};
pub use layout::{LEAST_COLUMNS, LEAST_ROWS};
pub use plan::{PlanShell, Planning, show_plan};
pub use run::{Act, Flow, perform};
pub use setup::{
    Beginning, Listened, Outcome, SetupDesk, SetupInput, SetupNews, SetupShell, run_setup,
};

pub use theme::{Basic, Colours, Palette, Rgb, Role, Theme};

use surveyor::Surveyor;

use crate::analysis::chord::Sought;
use crate::drone::Wanted;
use crate::plan::Settled;
use crate::rehearsal::{Chronicle, Entry, Rehearsal, Update};
use crate::units::Seconds;

/// Pictures a second, if nothing else is asked for.
pub const FRAMES_PER_SECOND: u32 = 30;

/// Why the screen cannot be shown.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// Output goes to a file or a pipe. A question of usage: exit code 2.
    #[error(
        "the screen needs a terminal and stdout is none: leave out '|' and '>', or use 'concento analyse' for a recording"
    )]
    NotATerminal,
    /// The terminal refuses something.
    #[error("the terminal cannot be {operation}")]
    Terminal {
        /// What was tried.
        operation: &'static str,
        /// What came of it.
        source: io::Error,
    },
}

/// How a screen is shown.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Options {
    /// Colours.
    pub theme: Theme,
    /// All themes by name, for the key that changes them.
    pub themes: Vec<(String, Theme)>,
    /// Whether the mouse is listened to.
    pub mouse: bool,
    /// Which key does what.
    pub keymap: Keymap,
    /// Time between two pictures at least.
    pub frame: Duration,
    /// Whether a practice begins with its cautions.
    pub cautions: bool,
}

impl Options {
    /// Options in these colours, all else as usual.
    pub fn new(theme: Theme) -> Self {
        Self {
            theme,
            themes: Vec::new(),
            mouse: false,
            keymap: Keymap::default(),
            frame: Duration::from_secs(1) / FRAMES_PER_SECOND,
            cautions: false,
        }
    }

    /// The same with so many pictures a second at most.
    pub fn at_most(self, frames_per_second: u32) -> Self {
        Self {
            frame: Duration::from_secs(1) / frames_per_second.max(1),
            ..self
        }
    }

    /// The same, but a practice begins with its cautions where they `are_due`.
    pub fn cautioning(self, are_due: bool) -> Self {
        Self {
            cautions: are_due,
            ..self
        }
    }
}

/// How a screen ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ending {
    /// By a key.
    Quit,
    /// By a signal of this number; the caller may tidy up and then pass it on.
    Signal(i32),
}

/// What the screen needs of the program around it.
pub trait Shell {
    /// What has been heard since the last call; asked once a frame.
    fn fetch(&mut self) -> Vec<Update>;

    /// The moment on the rehearsal's clock when the screen has been up for `elapsed`.
    fn now(&mut self, elapsed: Seconds) -> Seconds {
        elapsed
    }

    /// Takes what is to be kept, and says what must be told about that once, if anything. It
    /// must not wait for a disk.
    fn record(&mut self, entries: Vec<Entry>) -> Option<String>;

    /// Whether what was taken is being kept.
    fn recording(&self) -> Recording;

    /// Where the replay stands, if this is one.
    fn playback(&self) -> Option<Playback> {
        None
    }

    /// How it stands with the rehearsal that is watched, if this is a stand.
    fn watching(&self) -> Option<Watching> {
        None
    }

    /// Once a frame, after all else: how the rehearsal stands now, for whoever else shows it.
    fn show_around(&mut self, _rehearsal: &Rehearsal) {}

    /// Goes elsewhere in a replay, or on in another way.
    fn travel(&mut self, _travel: Travel) {}

    /// Once a frame: the rehearsal as it was where it has gone since, or none if it goes on as it
    /// is. However many steps there were, it is made once.
    fn arrive(&mut self) -> Option<Rehearsal> {
        None
    }

    /// Lets the loudspeaker play this from now on, to a player with headphones or without. Only a
    /// practice has something to play.
    fn play(&mut self, _wanted: Wanted, _has_headphones: bool) {}

    /// Lets the ears seek other voices on the shared channels. What was sought at the start
    /// is told by [`Rehearsal::sought`] before the screen is shown.
    fn seek(&mut self, sought: Vec<Option<Sought>>);

    /// Writes the page everyone takes home, of what has happened so far, and says where it is or
    /// why it cannot be.
    fn write_page(&mut self, _chronicle: &Chronicle) -> String {
        "there is nothing to take home from here".to_owned()
    }

    /// Puts a plan into a file, and says where it is or why it cannot be. Only asked where
    /// there is one to look at.
    fn write_plan(&mut self, _settled: &Settled) -> String {
        "there is no place for a plan here".to_owned()
    }
}

/// What the screen begins with.
#[derive(Debug, Clone)]
pub struct Opening {
    /// What is shown.
    pub rehearsal: Rehearsal,
    /// The first thing to say, if there is any.
    pub told: Option<String>,
    /// The plan it was prepared with, if it can be looked at.
    pub planning: Option<Planning>,
    /// Whether the plan is all there is to be shown.
    pub is_plan_alone: bool,
}

impl Opening {
    /// A rehearsal without a plan.
    pub fn new(rehearsal: Rehearsal, told: Option<String>) -> Self {
        Self {
            rehearsal,
            told,
            planning: None,
            is_plan_alone: false,
        }
    }
}

/// Shows `opening` until it is ended by key or signal. `guard` is whatever must last as long as the screen is up, such
/// as a hold on stderr; it is dropped when the terminal has been given back.
///
/// # Errors
///
/// As for [`perform`].
pub fn run<G>(
    opening: Opening,
    shell: &mut impl Shell,
    options: &Options,
    guard: G,
) -> Result<Ending, Error> {
    let mut app =
        App::new(opening.rehearsal, options, Size::default()).cautioning(options.cautions);
    if let Some(planning) = opening.planning {
        app = app.planning(planning, opening.is_plan_alone);
    }
    if let Some(told) = opening.told {
        app.update(Event::Told(told));
    }
    let surveyor = Surveyor::start();
    if surveyor.is_some() {
        app.survey_elsewhere();
    }
    let mut performance = Performance {
        app,
        shell,
        surveyor,
    };
    let ending = perform(&mut performance, options, guard);
    // However it ended: what still sounded is kept too. Nothing can be told any more.
    let last = performance.app.finish();
    let _ = performance.shell.record(last);
    ending
}

/// A rehearsal on the screen, and the program around it.
struct Performance<'a, S> {
    app: App,
    shell: &'a mut S,
    surveyor: Option<Surveyor>,
}

impl<S: Shell> Performance<'_, S> {
    fn carry_out(&mut self, effect: Effect) -> Flow {
        match effect {
            Effect::Quit => return Flow::Quit,
            Effect::Suspend => return Flow::Suspend,
            Effect::Travel(travel) => self.shell.travel(travel),
            Effect::Seek(sought) => self.shell.seek(sought),
            Effect::WritePage => {
                let told = self.shell.write_page(self.app.rehearsal().chronicle());
                self.app.update(Event::Told(told));
            }
            Effect::WritePlan(settled) => {
                let told = self.shell.write_plan(&settled);
                self.app.update(Event::Told(told));
            }
        }
        Flow::GoOn
    }

    fn survey(&mut self) {
        let Some(surveyor) = &self.surveyor else {
            return;
        };
        if let Some(chronicle) = self.app.take_survey_order() {
            surveyor.order(chronicle);
        }
        if let Some(survey) = surveyor.fetch() {
            self.update(Event::Update(Update::Surveyed(Box::new(survey))));
        }
    }

    fn update(&mut self, event: Event) -> Flow {
        match self.app.update(event) {
            Some(effect) => self.carry_out(effect),
            None => Flow::GoOn,
        }
    }
}

impl<S: Shell> Act for Performance<'_, S> {
    fn heed(&mut self, event: Event) -> Flow {
        self.update(event)
    }

    fn tick(&mut self, elapsed: Seconds) -> Flow {
        if let Some(mut rehearsal) = self.shell.arrive() {
            if self.surveyor.is_some() {
                rehearsal.survey_elsewhere();
            }
            self.app.update(Event::Rewound(Box::new(rehearsal)));
        }
        let now = self.shell.now(elapsed);
        self.update(Event::Tick(now));
        for update in self.shell.fetch() {
            self.update(Event::Update(update));
        }
        self.survey();
        if let Some((wanted, has_headphones)) = self.app.take_wanted() {
            self.shell.play(wanted, has_headphones);
        }
        if let Some(told) = self.shell.record(self.app.take_entries()) {
            self.update(Event::Told(told));
        }
        self.update(Event::Recording(self.shell.recording()));
        if let Some(playback) = self.shell.playback() {
            self.update(Event::Playing(playback));
        }
        if let Some(watching) = self.shell.watching() {
            self.update(Event::Watching(watching));
        }
        self.shell.show_around(self.app.rehearsal());
        Flow::GoOn
    }

    fn take_stale(&mut self) -> bool {
        self.app.take_stale()
    }

    fn draw(&self, area: Rect, buffer: &mut Buffer) {
        self.app.render(area, buffer);
    }

    fn theme(&self) -> &Theme {
        self.app.theme()
    }
}
