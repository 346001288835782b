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
mod rungs;
mod screen;
mod signals;
mod strip;
#[cfg(test)]
mod tests;
mod text;
mod theme;
mod warmth;

use std::io;
use std::time::{Duration, Instant};

pub use app::App;
pub use bearings::{BearingsNews, BearingsShell, Desk, run_bearings};
pub use event::{Effect, Event, Playback, Recording, Travel};
pub use plan::{PlanShell, Planning, show_plan};

pub use theme::{Palette, Theme};

use crate::analysis::chord::Sought;
use crate::drone::Wanted;
use crate::plan::Settled;
use crate::rehearsal::{Entry, Rehearsal, Update};
use crate::units::Seconds;
use keys::{Heard, Keys};
use screen::Screen;
use signals::{Asked, Signals};

/// Time between two pictures at most.
const FRAME: Duration = Duration::from_nanos(1_000_000_000 / 30);

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
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Options {
    /// Colours.
    pub palette: Palette,
    /// Whether a practice begins with its cautions.
    pub cautions: bool,
}

impl Options {
    /// Options by the process's environment.
    pub fn from_environment() -> Self {
        Self {
            palette: Palette::from_environment(|name| std::env::var(name).ok()),
            cautions: false,
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

    /// Goes elsewhere in a replay: the rehearsal as it was there, or none if it goes on as it is.
    fn travel(&mut self, _travel: Travel) -> Option<Rehearsal> {
        None
    }

    /// Lets the loudspeaker play this from now on, to a player with headphones or without. Only a
    /// practice has something to play.
    fn play(&mut self, _wanted: Wanted, _has_headphones: bool) {}

    /// Lets the ears seek other voices on the shared channels. What was sought at the start
    /// is told by [`Rehearsal::sought`] before the screen is shown.
    fn seek(&mut self, sought: Vec<Option<Sought>>);

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
/// [`Error::NotATerminal`] before anything is changed; [`Error::Terminal`] with the terminal
/// given back as far as it allows.
pub fn run<G>(
    opening: Opening,
    shell: &mut impl Shell,
    options: Options,
    guard: G,
) -> Result<Ending, Error> {
    let mut screen = Screen::open()?;
    let mut signals = Signals::catch().map_err(|source| Error::Terminal {
        operation: "guarded against signals",
        source,
    })?;
    let size = screen.terminal().size().unwrap_or_default();
    let mut app = App::new(opening.rehearsal, options.palette, size).cautioning(options.cautions);
    if let Some(planning) = opening.planning {
        app = app.planning(planning, opening.is_plan_alone);
    }
    if let Some(told) = opening.told {
        app.update(Event::Told(told));
    }
    let ending = listen(&mut app, &mut screen, &mut signals, shell);
    // However it ended: what still sounded is kept too. Nothing can be told any more.
    let _ = shell.record(app.finish());
    give_back(screen, guard, ending)
}

/// Gives the terminal back, then lets go of `guard`; an error on the way out counts only where
/// nothing else ended the screen.
fn give_back<G>(
    mut screen: Screen,
    guard: G,
    ending: Result<Ending, Error>,
) -> Result<Ending, Error> {
    let closed = screen.close();
    drop(guard);
    match ending {
        // A terminal that hung up can be given nothing back.
        Ok(Ending::Signal(number)) => Ok(Ending::Signal(number)),
        Ok(Ending::Quit) => closed.map(|()| Ending::Quit),
        Err(error) => Err(error),
    }
}

fn listen(
    app: &mut App,
    screen: &mut Screen,
    signals: &mut Signals,
    shell: &mut impl Shell,
) -> Result<Ending, Error> {
    let failed = |operation| move |source| Error::Terminal { operation, source };
    let keys = Keys::open().map_err(failed("read from"))?;
    let begun = Instant::now();
    let mut due = begun;
    loop {
        let mut effects = Vec::new();
        match keys.until(due).map_err(failed("read from"))? {
            Heard::Events(events) => {
                effects.extend(events.into_iter().filter_map(|event| app.update(event)));
            }
            Heard::HungUp => return Ok(Ending::Signal(signals::HANGUP)),
        }
        for asked in signals.pending() {
            match asked {
                Asked::End(number) => return Ok(Ending::Signal(number)),
                Asked::Suspend => effects.push(Effect::Suspend),
                Asked::GoneOn => take_again(app, screen)?,
            }
        }
        for effect in effects {
            match effect {
                Effect::Quit => return Ok(Ending::Quit),
                Effect::Suspend => {
                    screen.close()?;
                    Signals::stop().map_err(failed("left for a while"))?;
                    take_again(app, screen)?;
                }
                Effect::Travel(travel) => {
                    if let Some(rehearsal) = shell.travel(travel) {
                        app.update(Event::Rewound(Box::new(rehearsal)));
                    }
                }
                Effect::Seek(sought) => shell.seek(sought),
                Effect::WritePlan(settled) => {
                    let told = shell.write_plan(&settled);
                    app.update(Event::Told(told));
                }
            }
        }
        let now = shell.now(Seconds::new(begun.elapsed().as_secs_f64()));
        app.update(Event::Tick(now));
        for update in shell.fetch() {
            if let Some(Effect::Seek(sought)) = app.update(Event::Update(update)) {
                shell.seek(sought);
            }
        }
        if let Some((wanted, has_headphones)) = app.take_wanted() {
            shell.play(wanted, has_headphones);
        }
        if let Some(told) = shell.record(app.take_entries()) {
            app.update(Event::Told(told));
        }
        app.update(Event::Recording(shell.recording()));
        if let Some(playback) = shell.playback() {
            app.update(Event::Playing(playback));
        }
        if app.take_stale() {
            let drawn = screen
                .terminal()
                .draw(|frame| frame.render_widget(&*app, frame.area()));
            drawn.map_err(failed("drawn on"))?;
        }
        due = (due + FRAME).max(Instant::now());
    }
}

fn take_again(app: &mut App, screen: &mut Screen) -> Result<(), Error> {
    screen.reopen()?;
    let size = screen.terminal().size().unwrap_or_default();
    app.update(Event::Resized(size));
    Ok(())
}
