//! `concento replay`: a session once more, on the same screens.

mod playhead;

use std::io::Write;
use std::path::PathBuf;

use clap::Args;

use super::examples::{Example, examples};
use super::screen_arguments::ScreenArguments;
use super::stage;
use super::take_home::TakeHome;
use crate::analysis::chord::Sought;
use crate::rehearsal::{Chronicle, Entry, Rehearsal, Update};
use crate::session::{self, Session};
use crate::tui::{Playback, Recording, Shell, Travel};
use crate::units::Seconds;
use playhead::Playhead;

const EXAMPLES: &[Example] = &[
    (
        "concento replay evening.session",
        "From the beginning, as fast as it was",
    ),
    (
        "concento replay evening.session --at 12:30 --speed 4",
        "From twelve and a half minutes on, four times as fast",
    ),
];

#[derive(Debug, Args)]
#[command(after_help = examples(EXAMPLES))]
pub(super) struct Arguments {
    /// The session file
    session: PathBuf,
    /// Where to begin: 12:30, 1:02:00 or seconds
    #[arg(long, value_name = "TIME", default_value = "0", value_parser = parse_time)]
    at: Seconds,
    /// How many times as fast as it was: 1 to 60
    #[arg(long, value_name = "N", default_value_t = 1,
          value_parser = clap::value_parser!(u8).range(1..=60))]
    speed: u8,
    #[command(flatten)]
    screen: ScreenArguments,
}

fn parse_time(text: &str) -> Result<Seconds, String> {
    let wrong = || format!("'{text}' is no time: write 12:30, 1:02:00 or seconds");
    let parts: Vec<&str> = text.split(':').collect();
    if parts.len() > 3 {
        return Err(wrong());
    }
    let mut seconds = 0.0;
    for (index, part) in parts.iter().enumerate() {
        let is_last = index + 1 == parts.len();
        let is_plain = |c: char| c.is_ascii_digit() || is_last && c == '.';
        let number: f64 = part
            .parse()
            .ok()
            .filter(|_| part.chars().all(is_plain))
            .ok_or_else(wrong)?;
        if index > 0 && number >= 60.0 {
            return Err(wrong());
        }
        seconds = 60.0 * seconds + number;
    }
    Ok(Seconds::new(seconds))
}

pub(super) fn run(arguments: &Arguments, _out: &mut dyn Write) -> anyhow::Result<()> {
    let session = session::load_session(&arguments.session)?;
    anyhow::ensure!(
        session.entries.iter().any(is_seated),
        "nothing in '{}' can be replayed: it holds no rehearsal, only chords at the most",
        arguments.session.display()
    );
    stage::needs_terminal()?;
    let told = session.recovered.notice();
    let mut screening = Screening::new(session, arguments.speed)?;
    let rehearsal = screening.seek(arguments.at);
    stage::show(
        rehearsal,
        told,
        &mut screening,
        &arguments.screen.options()?,
    )
}

fn is_seated(entry: &Entry) -> bool {
    matches!(entry, Entry::Seated { .. })
}

/// A rehearsal as a replay shows it at this moment of its session; none where nobody played.
///
/// # Errors
///
/// None but of the shipped files, which tests rule out.
pub fn replayed(session: Session, at: Seconds) -> anyhow::Result<Option<Rehearsal>> {
    if !session.entries.iter().any(is_seated) {
        return Ok(None);
    }
    Ok(Some(Screening::new(session, 1)?.seek(at)))
}

/// A session that is played to the screen.
struct Screening {
    playhead: Playhead,
    /// The rehearsal before anything has happened.
    blank: Rehearsal,
    /// How long the screen had been up when it last asked.
    elapsed: Seconds,
    /// Whether the playhead has gone elsewhere since the rehearsal was made.
    has_travelled: bool,
    /// All that happened, and where the page of it goes.
    whole: Chronicle,
    take_home: TakeHome,
}

impl Screening {
    fn new(session: Session, speed: u8) -> anyhow::Result<Self> {
        let length = session.length();
        let first = session.entries.iter().find_map(|entry| match entry {
            Entry::Seated { ensemble, .. } => Some((**ensemble).clone()),
            _ => None,
        });
        let ensemble = first.unwrap_or_else(|| session::default_ensemble(1));
        Ok(Self {
            blank: Rehearsal::new(ensemble, session::temperaments(None)?).replaying(),
            playhead: Playhead::new(session.entries, length, speed),
            elapsed: Seconds::default(),
            has_travelled: false,
            take_home: TakeHome::of_session(&session.path, session.begun),
            whole: session.chronicle,
        })
    }

    /// The rehearsal as it was at a moment.
    fn seek(&mut self, to: Seconds) -> Rehearsal {
        self.playhead.go_to(to);
        self.present()
    }

    /// The rehearsal as it was where the playhead stands.
    fn present(&mut self) -> Rehearsal {
        let mut rehearsal = self.blank.clone();
        self.playhead.catch_up(&mut rehearsal);
        rehearsal
    }
}

impl Shell for Screening {
    fn fetch(&mut self) -> Vec<Update> {
        self.playhead.fetch()
    }

    fn now(&mut self, elapsed: Seconds) -> Seconds {
        let passed = elapsed - self.elapsed;
        self.elapsed = elapsed;
        self.playhead.advance(passed);
        self.playhead.at()
    }

    fn write_page(&mut self, _so_far: &Chronicle) -> String {
        self.take_home.write(&self.whole)
    }

    fn record(&mut self, _entries: Vec<Entry>) -> Option<String> {
        None
    }

    fn recording(&self) -> Recording {
        Recording::Nowhere
    }

    fn playback(&self) -> Option<Playback> {
        Some(Playback {
            at: self.playhead.at(),
            length: self.playhead.length(),
            speed: self.playhead.speed(),
            is_paused: self.playhead.is_paused(),
        })
    }

    fn travel(&mut self, travel: Travel) {
        let to = match travel {
            Travel::Pause => {
                self.playhead.toggle_pause();
                return;
            }
            Travel::Faster => {
                self.playhead.step_speed(true);
                return;
            }
            Travel::Slower => {
                self.playhead.step_speed(false);
                return;
            }
            Travel::By(by) => self.playhead.at() + by,
            Travel::NextMark => self.playhead.next_mark(),
            Travel::PreviousMark => self.playhead.previous_mark(),
        };
        self.playhead.go_to(to);
        self.has_travelled = true;
    }

    fn arrive(&mut self) -> Option<Rehearsal> {
        std::mem::take(&mut self.has_travelled).then(|| self.present())
    }

    fn seek(&mut self, _sought: Vec<Option<Sought>>) {
        // What was heard then was sought then.
    }
}

#[cfg(test)]
mod tests;
