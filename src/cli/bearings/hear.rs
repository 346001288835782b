//! The sheet with its sound: tones on the loudspeaker, the keyboard in the microphone.

use std::path::PathBuf;

use anyhow::Context;
use clap::Args;

use super::super::screen_arguments::ScreenArguments;
use super::super::stage;
use crate::bearings::Sheet;
use crate::bearings::hearing::Wanted;
use crate::drone;
use crate::listening::{self, DroneKeys, StringListener, StringNews};
use crate::rehearsal::Loudspeaker;
use crate::sound::capture::{Capture, InputChoice};
use crate::sound::playback::{OutputChoice, Playback, PlaybackState};
use crate::sound::recording::Recording;
use crate::sound::{Pace, Source};
use crate::tui::{BearingsNews, BearingsShell};

/// How the keyboard is heard.
#[derive(Debug, Args)]
pub(super) struct HearArguments {
    /// Go through the sheet on the screen: hear the tones of each step, and see how the strings
    /// beat that are struck
    #[arg(long)]
    pub(super) hear: bool,
    /// The input to listen to, by its name in 'concento devices' or a part of it
    #[arg(long, value_name = "DEVICE", requires = "hear")]
    input: Option<String>,
    /// Which of its channels the keyboard is heard through
    #[arg(long, value_name = "N", default_value_t = 1, requires = "hear",
          value_parser = clap::value_parser!(u8).range(1..=32))]
    channel: u8,
    /// The loudspeaker to play on, by its name in 'concento devices' or a part of it
    #[arg(long, value_name = "DEVICE", requires = "hear")]
    speaker: Option<String>,
    /// Listen to a recording of the keyboard instead, at its own speed; no tones sound then
    #[arg(long, value_name = "FILE", requires = "hear", conflicts_with = "input")]
    recording: Option<PathBuf>,
    #[command(flatten)]
    screen: ScreenArguments,
}

/// What the screen needs.
struct Workshop {
    ears: StringListener,
    loudspeaker: Option<(Playback, DroneKeys)>,
}

impl BearingsShell for Workshop {
    fn fetch(&mut self) -> Vec<BearingsNews> {
        let mut news: Vec<BearingsNews> = self
            .ears
            .fetch()
            .into_iter()
            .map(|news| match news {
                StringNews::Heard(heard) => BearingsNews::Heard(heard),
                StringNews::State(state) => BearingsNews::Source(state),
            })
            .collect();
        if let Some((playback, _)) = &mut self.loudspeaker {
            while let Some(state) = playback.news() {
                news.push(BearingsNews::Loudspeaker(match state {
                    PlaybackState::Opening => Loudspeaker::Opening,
                    PlaybackState::Running { name, .. } => Loudspeaker::Running(name),
                    PlaybackState::Waiting(fault) => Loudspeaker::Waiting(fault.to_string()),
                }));
            }
        }
        news
    }

    fn play(&mut self, wanted: drone::Wanted) {
        if let Some((_, keys)) = &self.loudspeaker {
            keys.play(wanted, true);
        }
    }

    fn listen(&mut self, wanted: Option<Wanted>) {
        self.ears.want(wanted);
    }
}

/// Shows the sheet until it is ended.
pub(super) fn hear(sheet: Sheet, arguments: &HearArguments) -> anyhow::Result<()> {
    let options = arguments.screen.options()?;
    stage::needs_terminal()?;
    let channel = usize::from(arguments.channel);
    let source: Box<dyn Source> = match &arguments.recording {
        Some(path) => Box::new(Recording::open(path, Pace::RealTime)?),
        None => Box::new(Capture::open(InputChoice {
            name: arguments.input.clone(),
            channels: (channel > 2).then_some(channel),
        })),
    };
    let loudspeaker = arguments.recording.is_none().then(|| {
        // Nobody listens through the tones: the ears are closed while they sound.
        let (player, keys, _) = listening::drone();
        let choice = OutputChoice {
            name: arguments.speaker.clone(),
        };
        (Playback::open(choice, Box::new(player)), keys)
    });
    let ears =
        StringListener::start(source, channel - 1).context("no thread can be had to listen")?;
    let mut workshop = Workshop { ears, loudspeaker };
    let can_sound = workshop.loudspeaker.is_some();
    let shown = stage::tune(sheet, can_sound, &mut workshop, &options);
    if let Some((playback, _)) = workshop.loudspeaker.take() {
        playback.close();
    }
    shown
}
