//! `concento setup`: the questions of the first five minutes, and the ensemble file they lead to.

use std::io::{self, IsTerminal, Write};
use std::path::{Path, PathBuf};
use std::sync::mpsc::{self, Receiver, Sender};
use std::thread;

use clap::Args;

use super::examples::{Example, examples};
use super::screen_arguments::ScreenArguments;
use super::{Usage, rehearse, stage};
use crate::listening::{Inputs, Listener};
use crate::plain::as_argument;
use crate::rehearsal::Ensemble;
use crate::session;
use crate::sound::capture::{Capture, InputChoice};
use crate::sound::device::{self, Direction};
use crate::sound::recording::Recording;
use crate::sound::{Pace, Source};
use crate::tui::{Beginning, Listened, Outcome, SetupInput, SetupNews, SetupShell};

/// How many names are tried for the file that is proposed.
const MOST_NAMES: u32 = 999;

const EXAMPLES: &[Example] = &[
    (
        "concento setup",
        "Go through the questions, and write ensemble.ron",
    ),
    (
        "concento setup --recording sound-check.wav",
        "The same with a recording in place of the microphone",
    ),
];

#[derive(Debug, Args)]
#[command(after_help = examples(EXAMPLES))]
pub(super) struct Arguments {
    /// The file to write, which must not exist yet; the name can still be changed on the screen
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
    /// Listen to a recording in place of a microphone, at its own speed
    #[arg(long, value_name = "FILE")]
    recording: Option<PathBuf>,
    #[command(flatten)]
    screen: ScreenArguments,
}

pub(super) fn run(arguments: &Arguments, out: &mut dyn Write) -> anyhow::Result<()> {
    if !io::stdout().is_terminal() {
        return Err(Usage(
            "setting up needs a terminal and stdout is none: leave out '|' and '>'; without \
             questions, 'concento new' writes an ensemble file and 'concento temperaments --fit' \
             tells a temperament"
                .to_owned(),
        )
        .into());
    }
    if let Some(path) = &arguments.output
        && path.symlink_metadata().is_ok()
    {
        return Err(session::NewFileError::Exists(path.clone()).into());
    }
    let options = arguments.screen.options()?;
    let beginning = Beginning {
        instruments: session::instruments().to_vec(),
        temperaments: session::temperaments(None)?,
        file: match &arguments.output {
            Some(path) => path.display().to_string(),
            None => free_name(Path::new("")),
        },
        is_recording: arguments.recording.is_some(),
    };
    // A recording that cannot be read is told before the screen comes.
    let recording = arguments
        .recording
        .as_ref()
        .map(|path| Recording::open(path, Pace::RealTime))
        .transpose()?;
    let mut room = Room::new(recording);
    stage::set_up(beginning, &mut room, &options)?;
    let Outcome {
        file,
        is_rehearsing,
        input,
        channels,
    } = std::mem::take(&mut room.outcome);
    // The microphone is let go before it is taken again.
    drop(room);
    let Some(file) = file else {
        writeln!(
            out,
            "nothing was written: 'concento setup' begins once more"
        )?;
        return Ok(());
    };
    if is_rehearsing {
        let from = arguments.recording.clone();
        // Of a recording neither input nor channels are to be chosen.
        let channels = channels.filter(|_| from.is_none());
        return rehearse::begin(
            file.into(),
            input,
            channels,
            from,
            arguments.screen.clone(),
            out,
        );
    }
    writeln!(
        out,
        "wrote '{file}': to begin the rehearsal, type: concento rehearse {}",
        as_argument(&file)
    )?;
    Ok(())
}

/// `ensemble.ron` in a folder, or the first name after it that is free.
fn free_name(folder: &Path) -> String {
    let names = (1..=MOST_NAMES).map(|number| match number {
        1 => "ensemble.ron".to_owned(),
        number => format!("ensemble-{number}.ron"),
    });
    let is_free = |name: &String| folder.join(name).symlink_metadata().is_err();
    names.into_iter().find(is_free).unwrap_or_default()
}

/// What the screen needs.
struct Room {
    recording: Option<Recording>,
    listener: Option<Listener>,
    to_us: Sender<SetupNews>,
    news: Receiver<SetupNews>,
    outcome: Outcome,
}

impl Room {
    fn new(recording: Option<Recording>) -> Self {
        let (to_us, news) = mpsc::channel();
        Self {
            recording,
            listener: None,
            to_us,
            news,
            outcome: Outcome::default(),
        }
    }

    fn tell(&self, news: SetupNews) {
        // The other end is ours as well.
        let _ = self.to_us.send(news);
    }
}

impl SetupShell for Room {
    fn fetch(&mut self) -> Vec<SetupNews> {
        let mut news: Vec<SetupNews> = self.news.try_iter().collect();
        if let Some(listener) = &self.listener {
            news.extend(listener.fetch().into_iter().map(SetupNews::Heard));
        }
        news
    }

    fn list(&mut self) {
        self.listener = None;
        if let Some(recording) = &self.recording {
            let format = recording.format();
            self.tell(SetupNews::Inputs(Ok(vec![SetupInput {
                id: String::new(),
                description: session::shown(&format.name),
                channels: format.channels,
                most_channels: format.channels,
                is_default: true,
            }])));
            return;
        }
        let to_us = self.to_us.clone();
        let spawned = thread::Builder::new()
            .name("list inputs".to_owned())
            .spawn(move || {
                let _ = to_us.send(SetupNews::Inputs(inputs()));
            });
        if let Err(error) = spawned {
            self.tell(SetupNews::Inputs(Err(format!(
                "the inputs cannot be listed ({error})"
            ))));
        }
    }

    fn listen(&mut self, listened: &Listened) {
        // The old one lets go of the device by itself.
        self.listener = None;
        let source: Box<dyn Source> = match self.recording.take() {
            Some(recording) => Box::new(recording),
            None => Box::new(Capture::open(InputChoice {
                name: listened.input.clone(),
                channels: listened.channels,
            })),
        };
        match Listener::start(source, Inputs::Every, Vec::new()) {
            Ok(started) => self.listener = Some(started),
            Err(error) => {
                let reason = format!("no thread can be had to listen ({error})");
                self.tell(SetupNews::Inputs(Err(reason)));
            }
        }
    }

    fn text(&self, ensemble: &Ensemble) -> String {
        session::ensemble_text(ensemble)
    }

    fn write(&mut self, name: &str, text: &str) {
        let written = session::write_new(Path::new(name), text);
        self.tell(SetupNews::Written(match written {
            Ok(()) => Ok(name.to_owned()),
            Err(error) => Err(error.to_string()),
        }));
    }

    fn conclude(&mut self, outcome: Outcome) {
        self.outcome = outcome;
    }
}

fn inputs() -> Result<Vec<SetupInput>, String> {
    let devices = device::devices().map_err(|frozen| frozen.to_string())?;
    let inputs = devices
        .usable
        .into_iter()
        .filter(|entry| entry.direction == Direction::Input);
    Ok(inputs
        .map(|entry| SetupInput {
            description: session::shown(&entry.description),
            id: entry.id,
            channels: entry.channels,
            most_channels: entry.most_channels,
            is_default: entry.is_default,
        })
        .collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_proposed_that_is_free() {
        let folder = tempfile::tempdir().unwrap();
        assert_eq!(free_name(folder.path()), "ensemble.ron");
        std::fs::write(folder.path().join("ensemble.ron"), "mine").unwrap();
        assert_eq!(free_name(folder.path()), "ensemble-2.ron");
    }
}
