//! The tuner's screen: one step of the sheet at a time, its tones sounded, and what is heard of
//! the strings meanwhile. Run apart from a rehearsal, with the same terminal, keys and colours.

mod desk;
mod figures;
#[cfg(test)]
mod tests;
mod view;

use std::time::Instant;

pub use desk::Desk;

use super::event::Event;
use super::keys::{Heard as Pressed, Keys};
use super::screen::Screen;
use super::signals::{self, Asked, Signals};
use super::{Ending, Error, FRAME, Options, give_back};
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
/// As [`super::run`].
pub fn run_bearings<G>(
    sheet: Sheet,
    can_sound: bool,
    shell: &mut impl BearingsShell,
    options: Options,
    guard: G,
) -> Result<Ending, Error> {
    let failed = |operation| move |source| Error::Terminal { operation, source };
    let mut screen = Screen::open()?;
    let mut signals = Signals::catch().map_err(failed("guarded against signals"))?;
    let mut desk = Desk::new(sheet, can_sound, options);
    let ending = listen(&mut desk, &mut screen, &mut signals, shell);
    shell.play(drone::Wanted::silence());
    give_back(screen, guard, ending)
}

fn listen(
    desk: &mut Desk,
    screen: &mut Screen,
    signals: &mut Signals,
    shell: &mut impl BearingsShell,
) -> Result<Ending, Error> {
    let failed = |operation| move |source| Error::Terminal { operation, source };
    let keys = Keys::open().map_err(failed("read from"))?;
    let begun = Instant::now();
    let mut due = begun;
    loop {
        let mut is_suspended = false;
        match keys.until(due).map_err(failed("read from"))? {
            Pressed::Events(events) => {
                for event in events {
                    match event {
                        Event::Key(key) if desk::is_suspend(key) => is_suspended = true,
                        Event::Key(key) => {
                            if desk.press(key) {
                                return Ok(Ending::Quit);
                            }
                        }
                        _ => desk.touch(),
                    }
                }
            }
            Pressed::HungUp => return Ok(Ending::Signal(signals::HANGUP)),
        }
        for asked in signals.pending() {
            match asked {
                Asked::End(number) => return Ok(Ending::Signal(number)),
                Asked::Suspend => is_suspended = true,
                Asked::GoneOn => take_again(desk, screen)?,
            }
        }
        if is_suspended {
            shell.play(drone::Wanted::silence());
            screen.close()?;
            Signals::stop().map_err(failed("left for a while"))?;
            take_again(desk, screen)?;
        }
        desk.tick(Seconds::new(begun.elapsed().as_secs_f64()));
        for news in shell.fetch() {
            desk.take(news);
        }
        if let Some(wanted) = desk.to_play() {
            shell.play(wanted);
        }
        if let Some(wanted) = desk.to_hear() {
            shell.listen(wanted);
        }
        if desk.take_stale() {
            let drawn = screen
                .terminal()
                .draw(|frame| frame.render_widget(&*desk, frame.area()));
            drawn.map_err(failed("drawn on"))?;
        }
        due = (due + FRAME).max(Instant::now());
    }
}

fn take_again(desk: &mut Desk, screen: &mut Screen) -> Result<(), Error> {
    screen.reopen()?;
    desk.touch();
    Ok(())
}
