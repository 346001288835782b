//! `concento demo`: a rehearsal of an invented ensemble.

use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use anyhow::Context;
use clap::Args;

use super::examples::{Example, examples};
use super::keeping::Keeping;
use super::planning::Outlook;
use super::record::Hearing;
use super::screen_arguments::ScreenArguments;
use super::wave_file::WaveForm;
use super::{Usage, stage};
use crate::listening::Inputs;
use crate::rehearsal::{Rehearsal, Resolution};
use crate::scene::{AtEnd, LeaderAct, Player, Renderer, Scene};
use crate::session::{demo_scene, demo_scenes, scene_ensemble, temperaments};
use crate::sound::Pace;
use crate::sound::scene::SceneSource;
use crate::stand::What;
use crate::units::{Celsius, Cents, SampleRate, Seconds};

/// The longest recording that can be asked for, in seconds.
const LONGEST_S: f64 = 3_600.0;

/// Frames a second of a demo on the screen.
const SHOWN_RATE: u32 = 48_000;

/// Frames a second of a demo that is only recorded: enough for all that is measured, in half
/// the time.
const RECORDED_RATE: u32 = 24_000;

const EXAMPLES: &[Example] = &[
    (
        "concento demo",
        "An invented ensemble in rehearsal, on the screen; needs no microphone",
    ),
    (
        "concento demo --list",
        "The rehearsals there are, and who plays in them",
    ),
    ("concento demo warming-room", "One of them"),
    (
        "concento demo alone --write alone.wav",
        "Its sound as a file, a channel for each player",
    ),
    (
        "concento demo twenty-minutes --record evening.session",
        "A whole session at once, to replay and report",
    ),
];

#[derive(Debug, Args)]
#[command(after_help = examples(EXAMPLES))]
pub(super) struct Arguments {
    /// Which rehearsal; the first of the list if left out
    name: Option<String>,
    /// List the rehearsals and who plays in them
    #[arg(long, conflicts_with_all = ["name", "write"])]
    list: bool,
    /// Save the sound instead of playing it: WAV, one channel for each player
    #[arg(long, value_name = "FILE.wav")]
    write: Option<PathBuf>,
    /// How much of it to save, in seconds; once through if left out or if it does not repeat
    #[arg(long, value_name = "N", requires = "write", value_parser = seconds)]
    seconds: Option<Seconds>,
    /// Frames a second of the saved sound
    #[arg(long, value_name = "HZ", requires = "write", default_value = "48000", value_parser = rate)]
    rate: SampleRate,
    /// Hear it faster than real time, without a screen, and write its session there, to be
    /// replayed and reported
    #[arg(long, value_name = "FILE", conflicts_with_all = ["list", "write", "session"])]
    record: Option<PathBuf>,
    /// The file it is recorded into, gone on with if it exists; not recorded if left out
    #[arg(long, value_name = "FILE", conflicts_with_all = ["list", "write"])]
    session: Option<PathBuf>,
    #[command(flatten)]
    screen: ScreenArguments,
}

fn seconds(text: &str) -> Result<Seconds, String> {
    text.parse()
        .ok()
        .filter(|seconds| (0.1..=LONGEST_S).contains(seconds))
        .map(Seconds::new)
        .ok_or_else(|| format!("give 0.1 to {LONGEST_S} seconds"))
}

fn rate(text: &str) -> Result<SampleRate, String> {
    let rate: u32 = text
        .parse()
        .map_err(|_| "give a whole number, such as 48000".to_owned())?;
    SampleRate::new(rate).map_err(|error| error.to_string())
}

pub(super) fn run(arguments: &Arguments, out: &mut dyn Write) -> anyhow::Result<()> {
    if arguments.list {
        return list(out);
    }
    let demo = demo_scene(arguments.name.as_deref()).map_err(|unknown| {
        let names: Vec<&str> = demo_scenes().iter().map(|scene| scene.name).collect();
        Usage(match unknown.meant() {
            Some(_) => format!("{unknown} (there are {})", names.join(", ")),
            None => unknown.to_string(),
        })
    })?;
    let scene = demo.load()?;
    match (&arguments.write, &arguments.record) {
        (Some(path), _) => write(scene, arguments, path, out),
        (None, Some(path)) => record(scene, path, out),
        (None, None) => show(scene, arguments),
    }
}

fn show(scene: Scene, arguments: &Arguments) -> anyhow::Result<()> {
    let options = arguments.screen.options()?;
    let keeping = match arguments.session.as_deref() {
        Some(path) => Keeping::given(path)?,
        None => Keeping::nowhere(),
    };
    stage::needs_terminal()?;
    let rehearsal = Rehearsal::new(scene_ensemble(&scene)?, temperaments(None)?);
    let rate = SampleRate::new(SHOWN_RATE).context("no such rate")?;
    let source = SceneSource::new(Arc::new(scene), rate, Pace::RealTime);
    let performance = stage::Performance {
        what: What::Demo,
        rehearsal,
        source: Box::new(source),
        inputs: Inputs::Every,
        keeping,
        outlook: Outlook::default(),
    };
    stage::play(performance, &options)
}

/// Hears all of a scene and writes its session; what the scene's leader types is in it.
fn record(scene: Scene, path: &Path, out: &mut dyn Write) -> anyhow::Result<()> {
    let keeping = Keeping::given(path)?;
    let rehearsal = Rehearsal::new(scene_ensemble(&scene)?, temperaments(None)?);
    let rate = SampleRate::new(RECORDED_RATE).context("no such rate")?;
    let length = scene.length();
    let mut acts = scene.leader().to_vec();
    acts.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut acts = acts.into_iter().peekable();
    let source = SceneSource::new(Arc::new(scene), rate, Pace::Fast).ending(AtEnd::Stop);
    let hearing = Hearing {
        rehearsal,
        source: Box::new(source),
        inputs: Inputs::Every,
        length: Some(length),
    };
    let act = |rehearsal: &mut Rehearsal, now: Seconds| {
        while let Some((_, act)) = acts.next_if(|(minutes, _)| 60.0 * minutes <= now.get()) {
            lead(rehearsal, &act);
        }
    };
    hearing.into_session(keeping, path, act, out)
}

/// Does what a scene's leader does.
fn lead(rehearsal: &mut Rehearsal, act: &LeaderAct) {
    let (note, resolution) = match act {
        LeaderAct::Celsius(degrees) => {
            if let Ok(celsius) = Celsius::new(*degrees) {
                rehearsal.set_temperature(celsius);
            }
            return;
        }
        LeaderAct::Mark(text) => return rehearsal.mark(text),
        LeaderAct::FollowPartial(note) => (note, Resolution::FollowPartial),
        LeaderAct::FollowTemperament(note) => (note, Resolution::FollowTemperament),
        LeaderAct::MeetBetween(note, cents) => (note, Resolution::MeetBetween(Cents::new(*cents))),
        LeaderAct::TrumpetLips(note) => (note, Resolution::TrumpetLips),
        LeaderAct::KeyboardLeavesOut(note) => (note, Resolution::KeyboardLeavesOut),
        LeaderAct::LeaveExposed(note) => (note, Resolution::LeaveExposed),
    };
    rehearsal.decide(*note, Some(resolution), "");
}

fn list(out: &mut dyn Write) -> anyhow::Result<()> {
    for demo in demo_scenes() {
        let scene = demo.load()?;
        let players: Vec<&str> = scene.players().iter().map(Player::name).collect();
        let length_s = scene.length().get();
        let end = match scene.at_end() {
            AtEnd::Stop => "then ends",
            AtEnd::Repeat => "then begins again",
        };
        writeln!(out, "{}: {}", demo.name, scene.title())?;
        writeln!(out, "  {}", scene.about())?;
        writeln!(out, "  {}; {length_s} s, {end}", players.join(", "))?;
    }
    Ok(())
}

fn write(
    scene: Scene,
    arguments: &Arguments,
    path: &Path,
    out: &mut dyn Write,
) -> anyhow::Result<()> {
    let length = match (arguments.seconds, scene.at_end()) {
        (None, _) => scene.length(),
        (Some(seconds), AtEnd::Repeat) => seconds,
        (Some(seconds), AtEnd::Stop) => Seconds::new(seconds.get().min(scene.length().get())),
    };
    let n_channels = scene.players().len();
    let form = WaveForm {
        rate: arguments.rate,
        n_channels,
        length,
    };
    let mut renderer = Renderer::new(Arc::new(scene), arguments.rate);
    form.write(path, |block| renderer.render(block))?;
    writeln!(out, "{}: {} s", path.display(), length.get())?;
    for (index, player) in renderer.scene().players().iter().enumerate() {
        writeln!(out, "  channel {}: {}", index + 1, player.name())?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use std::fs;

    use super::*;

    fn arguments(words: &[&str]) -> Result<Arguments, clap::Error> {
        #[derive(Debug, clap::Parser)]
        struct Line {
            #[command(flatten)]
            arguments: Arguments,
        }
        let words = std::iter::once(&"demo").chain(words);
        <Line as clap::Parser>::try_parse_from(words).map(|line| line.arguments)
    }

    fn carry_out(words: &[&str]) -> anyhow::Result<String> {
        let mut out = Vec::new();
        run(&arguments(words).unwrap(), &mut out)?;
        Ok(String::from_utf8(out)?)
    }

    #[test]
    fn the_list_names_scenes_and_players() {
        let list = carry_out(&["--list"]).unwrap();
        for words in [
            "strings-find-a-chord",
            "warming-room",
            "alone",
            "Harpsichord",
            "72 s",
        ] {
            assert!(list.contains(words), "{words}: {list}");
        }
    }

    #[test]
    fn an_unknown_scene_is_a_usage_error_with_the_list() {
        for name in ["orchestra", "warm-room"] {
            let error = carry_out(&[name]).unwrap_err();
            assert!(error.is::<Usage>());
            assert!(
                error.to_string().contains("strings-find-a-chord"),
                "{error}"
            );
        }
    }

    #[test]
    fn senseless_arguments_are_refused() {
        for words in [
            &["--seconds", "3"][..],
            &["--list", "alone"],
            &["--write", "x.wav", "--seconds", "0"],
            &["--write", "x.wav", "--seconds", "nan"],
            &["--write", "x.wav", "--rate", "4000"],
        ] {
            assert!(arguments(words).is_err(), "{words:?}");
        }
    }

    #[test]
    fn sound_is_saved_once_and_never_over_another_file() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("alone.wav");
        let words = ["alone", "--seconds", "1.5", "--rate", "8000", "--write"];
        let words = [&words[..], &[path.to_str().unwrap()]].concat();
        carry_out(&words).unwrap();
        let mut reader = hound::WavReader::open(&path).unwrap();
        assert_eq!(reader.spec().channels, 1);
        assert_eq!(reader.spec().sample_rate, 8_000);
        assert_eq!(reader.duration(), 12_000);
        let loudest = reader
            .samples::<f32>()
            .fold(0.0_f32, |a, s| a.max(s.unwrap().abs()));
        assert!(loudest > 0.05 && loudest < 1.0, "{loudest}");
        let error = carry_out(&words).unwrap_err().to_string();
        assert!(error.contains("exists already"), "{error}");
        // Nothing but the recording is left behind.
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
    }

    #[test]
    fn a_folder_that_is_not_there_is_named() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("no").join("alone.wav");
        let error = carry_out(&["alone", "--write", path.to_str().unwrap()]).unwrap_err();
        assert!(format!("{error:#}").contains("folder exists"), "{error:#}");
    }

    #[test]
    fn a_recording_too_large_for_wav_is_refused() {
        let words = ["--seconds", "3600", "--rate", "192000", "--write", "x.wav"];
        let error = carry_out(&words).unwrap_err();
        assert!(error.is::<Usage>(), "{error}");
    }
}
