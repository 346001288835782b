//! The loop that every full screen runs in: keys and signals in, a picture out, thirty times a
//! second at the most. What is shown, and what it needs from outside, is an [`Act`].

use std::time::Instant;

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::event::Event;
use super::keys::{Heard, Keys};
use super::screen::Screen;
use super::signals::{self, Asked, Signals};
use super::text;
use super::theme::Theme;
use super::{Ending, Error, Options};
use crate::units::Seconds;

/// One full screen with all it needs of the program around it.
pub trait Act {
    /// Takes in a key or a change of size.
    fn heed(&mut self, event: Event) -> Flow;

    /// Once a frame, when the screen has been up for `elapsed`: news are fetched, and what is due
    /// is done.
    fn tick(&mut self, elapsed: Seconds) -> Flow;

    /// Whether the picture has changed since this was last asked.
    fn take_stale(&mut self) -> bool;

    /// Draws the picture.
    fn draw(&self, area: Rect, buffer: &mut Buffer);

    /// The colours of the picture; its ground is laid below whatever is drawn.
    fn theme(&self) -> &Theme;

    /// The terminal is about to be given back for a while.
    fn leave(&mut self) {}
}

/// How a screen goes on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Flow {
    /// As before.
    GoOn,
    /// After the terminal was given back for a while.
    Suspend,
    /// Not at all.
    Quit,
}

/// Shows `act` until it ends itself or a signal ends it. `guard` is whatever must last as long as
/// the screen is up, such as a hold on stderr; it is dropped when the terminal has been given back.
///
/// # Errors
///
/// [`Error::NotATerminal`] before anything is changed; [`Error::Terminal`] with the terminal
/// given back as far as it allows.
pub fn perform<G>(act: &mut impl Act, options: &Options, guard: G) -> Result<Ending, Error> {
    let mut screen = Screen::open(options.mouse)?;
    let mut signals = Signals::catch().map_err(failed("guarded against signals"))?;
    let ending = go_round(act, &mut screen, &mut signals, options);
    let closed = screen.close();
    drop(guard);
    match ending {
        // A terminal that hung up can be given nothing back.
        Ok(Ending::Signal(number)) => Ok(Ending::Signal(number)),
        Ok(Ending::Quit) => closed.map(|()| Ending::Quit),
        Err(error) => Err(error),
    }
}

fn failed(operation: &'static str) -> impl Fn(std::io::Error) -> Error {
    move |source| Error::Terminal { operation, source }
}

fn go_round(
    act: &mut impl Act,
    screen: &mut Screen,
    signals: &mut Signals,
    options: &Options,
) -> Result<Ending, Error> {
    let keys = Keys::open().map_err(failed("read from"))?;
    tell_size(act, screen);
    let begun = Instant::now();
    let mut due = begun;
    loop {
        let mut is_left = false;
        match keys.until(due).map_err(failed("read from"))? {
            Heard::Events(events) => {
                for event in events {
                    match act.heed(event) {
                        Flow::GoOn => {}
                        Flow::Suspend => is_left = true,
                        Flow::Quit => return Ok(Ending::Quit),
                    }
                }
            }
            Heard::HungUp => return Ok(Ending::Signal(signals::HANGUP)),
        }
        for asked in signals.pending() {
            match asked {
                Asked::End(number) => return Ok(Ending::Signal(number)),
                Asked::Suspend => is_left = true,
                Asked::GoneOn => take_again(act, screen)?,
            }
        }
        if is_left {
            act.leave();
            screen.close()?;
            Signals::stop().map_err(failed("left for a while"))?;
            take_again(act, screen)?;
        }
        match act.tick(Seconds::new(begun.elapsed().as_secs_f64())) {
            // What asks to leave the terminal is a key, never the time.
            Flow::GoOn | Flow::Suspend => {}
            Flow::Quit => return Ok(Ending::Quit),
        }
        if act.take_stale() {
            let drawn = screen.terminal().draw(|frame| {
                let area = frame.area();
                act.draw(area, frame.buffer_mut());
                act.theme().lay_ground(area, frame.buffer_mut());
                text::calm(frame.buffer_mut());
            });
            drawn.map_err(failed("drawn on"))?;
        }
        due = (due + options.frame).max(Instant::now());
    }
}

fn take_again(act: &mut impl Act, screen: &mut Screen) -> Result<(), Error> {
    screen.reopen()?;
    tell_size(act, screen);
    Ok(())
}

/// The size of the window, which also says that the picture on it was lost.
fn tell_size(act: &mut impl Act, screen: &mut Screen) {
    let size = screen.terminal().size().unwrap_or_default();
    // A change of size asks for nothing.
    let _ = act.heed(Event::Resized(size));
}
