//! `concento demo`: a rehearsal of an invented ensemble.

use std::fs::{self, File, OpenOptions};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use anyhow::Context;
use clap::Args;
use indicatif::{ProgressBar, ProgressStyle};

use super::keeping::Keeping;
use super::{Usage, stage};
use crate::listening::Inputs;
use crate::rehearsal::{Channel, Ensemble, Rehearsal};
use crate::scene::{AtEnd, Player, Renderer, Scene};
use crate::session::{demo_scene, demo_scenes, instrument, temperaments};
use crate::sound::Pace;
use crate::sound::scene::SceneSource;
use crate::units::{SampleRate, Seconds};

/// The longest recording that can be asked for, in seconds.
const LONGEST_S: f64 = 3_600.0;

/// Frames a second of a demo on the screen.
const SHOWN_RATE: u32 = 48_000;

/// What the header of a WAV file can count, less the header itself.
const LARGEST_BYTES: u64 = u32::MAX as u64 - 4_096;

#[derive(Debug, Args)]
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
    /// The file it is recorded into, gone on with if it exists; not recorded if left out
    #[arg(long, value_name = "FILE", conflicts_with_all = ["list", "write"])]
    session: Option<PathBuf>,
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
    match &arguments.write {
        Some(path) => write(scene, arguments, path, out),
        None => show(scene, arguments.session.as_deref()),
    }
}

fn show(scene: Scene, session: Option<&Path>) -> anyhow::Result<()> {
    let keeping = match session {
        Some(path) => Keeping::given(path)?,
        None => Keeping::nowhere(),
    };
    stage::needs_terminal()?;
    let ensemble = Ensemble {
        title: scene.title().to_owned(),
        tuning: scene.tuning().clone(),
        channels: scene
            .players()
            .iter()
            .enumerate()
            .map(|(index, player)| {
                Ok(Channel {
                    name: player.name().to_owned(),
                    instrument: instrument(player.instrument())?.clone(),
                    input: index + 1,
                    visible: true,
                    chain: None,
                    players: 1,
                })
            })
            .collect::<anyhow::Result<_>>()?,
    };
    let rehearsal = Rehearsal::new(ensemble, temperaments(None)?);
    let rate = SampleRate::new(SHOWN_RATE).context("no such rate")?;
    let source = SceneSource::new(Arc::new(scene), rate, Pace::RealTime);
    stage::play(rehearsal, Box::new(source), Inputs::Every, keeping)
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
    if path
        .extension()
        .is_none_or(|ending| !ending.eq_ignore_ascii_case("wav"))
    {
        return Err(Usage(format!(
            "'{}' does not end in '.wav', and only WAV is written: give another name",
            path.display()
        ))
        .into());
    }
    let n_frames = arguments.rate.frames_in(length).get();
    let n_channels = scene.players().len();
    if n_frames * n_channels as u64 * 4 > LARGEST_BYTES {
        return Err(Usage(format!(
            "{} s at {} Hz do not fit into a WAV file: save fewer seconds or a lower rate",
            length.get(),
            arguments.rate.get()
        ))
        .into());
    }
    let mut renderer = Renderer::new(Arc::new(scene), arguments.rate);
    let (sibling, file) = open_beside(path)?;
    save(&mut renderer, n_frames, file)
        .and_then(|()| put_in_place(&sibling.0, path))
        .with_context(|| format!("cannot write '{}'", path.display()))?;
    writeln!(out, "{}: {} s", path.display(), length.get())?;
    for (index, player) in renderer.scene().players().iter().enumerate() {
        writeln!(out, "  channel {}: {}", index + 1, player.name())?;
    }
    Ok(())
}

/// A file being written under another name; removed again unless it was put in place.
struct Sibling(PathBuf);

impl Drop for Sibling {
    fn drop(&mut self) {
        // It is gone already if all went well, and nothing can be done if it will not go.
        let _ = fs::remove_file(&self.0);
    }
}

/// Opens a new file beside `path`, which must not exist.
fn open_beside(path: &Path) -> anyhow::Result<(Sibling, File)> {
    refuse_existing(path)?;
    let name = path
        .file_name()
        .ok_or_else(|| Usage(format!("'{}' is no file name: add one", path.display())))?;
    let mut name = name.to_owned();
    name.push(format!(".{}.part", std::process::id()));
    let sibling = path.with_file_name(name);
    let file = OpenOptions::new()
        .write(true)
        .create_new(true)
        .open(&sibling)
        .with_context(|| {
            format!(
                "cannot write beside '{}': check that the folder exists and is yours",
                path.display()
            )
        })?;
    Ok((Sibling(sibling), file))
}

fn refuse_existing(path: &Path) -> anyhow::Result<()> {
    // A link that leads nowhere counts as existing too.
    anyhow::ensure!(
        path.symlink_metadata().is_err(),
        "'{}' exists already: give another name or remove it first",
        path.display()
    );
    Ok(())
}

fn put_in_place(sibling: &Path, path: &Path) -> anyhow::Result<()> {
    // Somebody may have made the file in the meantime.
    refuse_existing(path)?;
    Ok(fs::rename(sibling, path)?)
}

/// Renders `n_frames` into `file` as 32-bit floats.
fn save(renderer: &mut Renderer, n_frames: u64, file: File) -> anyhow::Result<()> {
    let synced = file.try_clone()?;
    let spec = hound::WavSpec {
        channels: renderer.channels() as u16,
        sample_rate: renderer.rate().get(),
        bits_per_sample: 32,
        sample_format: hound::SampleFormat::Float,
    };
    let mut writer = hound::WavWriter::new(BufWriter::new(file), spec).map_err(plainly)?;
    let bar = progress(n_frames, renderer.rate());
    let mut block = vec![0.0; 4_096 * renderer.channels()];
    let mut left = n_frames;
    while left > 0 {
        let wanted = left.min(4_096) as usize * renderer.channels();
        let frames = renderer.render(&mut block[..wanted]);
        if frames == 0 {
            break;
        }
        for sample in &block[..frames * renderer.channels()] {
            writer.write_sample(*sample).map_err(plainly)?;
        }
        left -= frames as u64;
        bar.inc(frames as u64);
    }
    writer.finalize().map_err(plainly)?;
    bar.finish_and_clear();
    synced.sync_all()?;
    Ok(())
}

/// The system's own reason where there is one.
fn plainly(error: hound::Error) -> anyhow::Error {
    match error {
        hound::Error::IoError(error) => error.into(),
        other => other.into(),
    }
}

/// A bar on standard error, which hides itself where that is no terminal.
fn progress(n_frames: u64, rate: SampleRate) -> ProgressBar {
    use io::IsTerminal;
    if !io::stderr().is_terminal() {
        return ProgressBar::hidden();
    }
    let bar = ProgressBar::new(n_frames);
    if let Ok(style) = ProgressStyle::with_template("{bar:40} {percent:>3} % of {msg}") {
        bar.set_style(style);
    }
    bar.set_message(format!("{:.0} s of sound", n_frames as f64 / rate.hz()));
    bar
}

#[cfg(test)]
mod tests {
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
