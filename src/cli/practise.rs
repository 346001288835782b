//! `concento practise`: alone, with a drone.

use std::fs;
use std::io::Write;
use std::path::PathBuf;

use clap::Args;

use super::examples::{Example, examples};
use super::keeping::{Keeping, Plan};
use super::log::state_folder;
use super::screen_arguments::ScreenArguments;
use super::tuning_arguments::{LevelArguments, named};
use super::wave_file::WaveForm;
use super::{Usage, stage};
use crate::drone::{
    CEILING, Drone, HIGHEST_CEILING, RAMP, Sounding, Synth, Timbre, Tone, ToneError, Tones, Wanted,
};
use crate::private::{self, FolderError};
use crate::rehearsal::{Channel, Course, Ensemble, Practice, Rehearsal};
use crate::report::exercise_list;
use crate::session::{self, Unknown};
use crate::sound::Pace;
use crate::sound::Source;
use crate::sound::capture::{Capture, InputChoice};
use crate::sound::playback::OutputChoice;
use crate::sound::recording::Recording;
use crate::tuning::{Anchor, Ratio, Temperament, Tuning};
use crate::units::{Dbfs, NoteName, SampleRate, Seconds};

/// The longest drone that can be saved, in seconds.
const LONGEST_S: f64 = 7_200.0;

const EXAMPLES: &[Example] = &[
    (
        "concento practise",
        "A drone on tonic and fifth; Enter begins it",
    ),
    (
        "concento practise --drone D3,A3 --temperament sixth-comma",
        "Two notes, as the keyboard tunes them",
    ),
    (
        "concento practise --drone 8,12 --key D",
        "Partials 8 and 12 of trumpets in D",
    ),
    (
        "concento practise --exercise ladder --headphones",
        "Up and down the partials, the drone in your ears only",
    ),
    ("concento practise --list", "The exercises there are"),
];

#[derive(Debug, Args)]
#[command(after_help = examples(EXAMPLES))]
pub(super) struct Arguments {
    /// The tones: notes ('D3,A3'), partials of the trumpets ('8,12'), pure ratios to the first
    /// one ('D3,3/2') or to another ('D3,5/4,6/5@2'), agreed notes ('agreed:F#4'). It begins at
    /// once; without it the tonic and its fifth wait for Enter
    #[arg(long, value_name = "TONES", value_parser = parse_tones)]
    drone: Option<Tones>,
    /// What it sounds like
    #[arg(long, value_name = "SOUND", default_value = "organ", value_parser = parse_timbre)]
    timbre: Timbre,
    /// Octaves up, or down if negative (-3 to 3)
    #[arg(long, value_name = "N", default_value_t = 0, allow_negative_numbers = true,
          value_parser = clap::value_parser!(i8).range(-3..=3))]
    octave: i8,
    /// Put the tones on both sides
    #[arg(long)]
    apart: bool,
    /// RMS level that is not passed, in dBFS; a higher one is loud (-60 to -12)
    #[arg(long, value_name = "DBFS", allow_negative_numbers = true, value_parser = parse_ceiling)]
    ceiling: Option<Dbfs>,
    /// The player wears headphones: nothing is taken out of what the microphone hears
    #[arg(long)]
    headphones: bool,
    /// The exercise to begin with
    #[arg(long, value_name = "NAME")]
    exercise: Option<String>,
    /// Exercises of your own
    #[arg(long, value_name = "FILE")]
    exercises: Option<PathBuf>,
    /// List the exercises
    #[arg(long)]
    list: bool,
    /// What is played, as in an ensemble file
    #[arg(long, value_name = "NAME", default_value = "natural-trumpet")]
    instrument: String,
    /// The key of the trumpets
    #[arg(long, value_name = "NOTE", default_value = "D")]
    key: NoteName,
    /// The temperament of the keyboard
    #[arg(long, value_name = "NAME", default_value = "sixth-comma")]
    temperament: String,
    #[command(flatten)]
    level: LevelArguments,
    /// The input to listen to, by its name in 'concento devices' or a part of it
    #[arg(long, value_name = "DEVICE", conflicts_with = "from")]
    input: Option<String>,
    /// Which of its channels the player is heard through
    #[arg(long, value_name = "N", default_value_t = 1,
          value_parser = clap::value_parser!(u8).range(1..=32))]
    channel: u8,
    /// The loudspeaker to play on, by its name in 'concento devices' or a part of it
    #[arg(long, value_name = "DEVICE")]
    output: Option<String>,
    /// Listen to a recording instead, at its own speed; there is no drone in it to be taken out
    #[arg(long, value_name = "FILE")]
    from: Option<PathBuf>,
    /// The file the practice is recorded into: gone on with if it exists. A new one in the data
    /// folder if left out
    #[arg(long, value_name = "FILE")]
    session: Option<PathBuf>,
    /// Take over what was agreed in an earlier session
    #[arg(long, value_name = "FILE")]
    agreed: Option<PathBuf>,
    /// Practise for what a plan settled (see 'concento plan'): in its tuning, with who yields on
    /// which note
    #[arg(long, value_name = "FILE",
          conflicts_with_all = ["temperament", "key", "a4", "kept_by", "chain"])]
    plan: Option<PathBuf>,
    /// Save the drone instead of playing it, in stereo and at its ceiling
    #[arg(long, value_name = "FILE.wav")]
    write: Option<PathBuf>,
    /// How much of it to save, in seconds
    #[arg(long, value_name = "N", requires = "write", default_value = "60", value_parser = parse_seconds)]
    seconds: Seconds,
    /// Frames a second of the saved sound (8000 to 192000)
    #[arg(long, value_name = "HZ", requires = "write", default_value = "48000", value_parser = parse_rate)]
    rate: SampleRate,
    #[command(flatten)]
    screen: ScreenArguments,
}

fn parse_tones(text: &str) -> Result<Tones, String> {
    text.parse().map_err(|error: ToneError| error.to_string())
}

fn parse_timbre(text: &str) -> Result<Timbre, String> {
    let found = Timbre::ALL.into_iter().find(|timbre| timbre.word() == text);
    found.ok_or_else(|| {
        let words = Timbre::ALL.map(Timbre::word);
        format!("there are {}", words.join(", "))
    })
}

fn parse_ceiling(text: &str) -> Result<Dbfs, String> {
    let within = |db: &f64| (-60.0..=HIGHEST_CEILING.get()).contains(db);
    let db = text.parse().ok().filter(within);
    db.map(Dbfs::new).ok_or_else(|| {
        format!(
            "a ceiling lies within -60 and {} dBFS; {} is usual",
            HIGHEST_CEILING.get(),
            CEILING.get()
        )
    })
}

fn parse_seconds(text: &str) -> Result<Seconds, String> {
    let within = |s: &f64| (0.1..=LONGEST_S).contains(s);
    let seconds = text.parse().ok().filter(within);
    let seconds = seconds.map(Seconds::new);
    seconds.ok_or_else(|| format!("give a number of seconds from 0.1 to {LONGEST_S}"))
}

fn parse_rate(text: &str) -> Result<SampleRate, String> {
    let rate = text
        .parse()
        .ok()
        .and_then(|rate| SampleRate::new(rate).ok());
    rate.ok_or_else(|| "give a rate from 8000 to 192000 Hz, such as 48000".to_owned())
}

pub(super) fn run(arguments: &Arguments, out: &mut dyn Write) -> anyhow::Result<()> {
    let exercises = session::exercises(arguments.exercises.as_deref())?;
    if arguments.list {
        return Ok(out.write_all(exercise_list(&exercises).as_bytes())?);
    }
    let plan = arguments.plan.as_deref().map(Plan::load).transpose()?;
    let (tuning, temperaments) = arguments.tuning(plan.as_ref())?;
    let instrument = session::instrument(&arguments.instrument)
        .map_err(|unknown: Unknown| Usage(unknown.to_string()))?;
    let mut drone = arguments.drone(tuning.series().key());
    let course = course(exercises, arguments.exercise.as_deref())?;
    let channel = usize::from(arguments.channel);
    let ensemble = Ensemble {
        title: "Practice".to_owned(),
        tuning,
        channels: vec![Channel {
            name: instrument.title.clone(),
            instrument: instrument.clone(),
            input: channel,
            visible: true,
            chain: None,
            players: 1,
        }],
    };
    let keeping = match (&arguments.session, &arguments.write) {
        (_, Some(_)) => Keeping::nowhere(),
        (Some(path), _) => Keeping::given(path)?,
        (None, _) => Keeping::by_date()?,
    };
    let keeping = keeping
        .with_agreed(arguments.agreed.as_deref())?
        .with_plan(plan);
    if let Some(path) = &arguments.write {
        drone.toggle();
        let drone = drone.at_level(Dbfs::new(0.0));
        let practice = Practice::new(drone, course);
        let rehearsal = Rehearsal::new(ensemble, temperaments).practising(practice);
        let (rehearsal, _, _) = keeping.begin(rehearsal);
        return arguments.save(&rehearsal, path, out);
    }
    stage::needs_terminal()?;
    let source: Box<dyn Source> = match &arguments.from {
        Some(path) => Box::new(Recording::open(path, Pace::RealTime)?),
        None => Box::new(Capture::open(InputChoice {
            name: arguments.input.clone(),
            channels: (channel > 2).then_some(channel),
        })),
    };
    let is_caution_due = is_caution_due()?;
    // Whoever has not read the cautions yet begins it by hand.
    if arguments.drone.is_some() && !is_caution_due {
        drone.toggle();
    }
    let has_headphones = arguments.headphones || arguments.from.is_some();
    let practice = Practice::new(drone, course).with_headphones(has_headphones);
    let mut rehearsal = Rehearsal::new(ensemble, temperaments).practising(practice);
    if arguments.from.is_none() {
        rehearsal = rehearsal.through_microphone();
    }
    let study = stage::Study {
        rehearsal,
        source,
        input: channel - 1,
        output: OutputChoice {
            name: arguments.output.clone(),
        },
        keeping,
        is_caution_due,
    };
    stage::study(study, &arguments.screen.options()?)
}

impl Arguments {
    /// What is measured against, and the temperaments it can be changed to.
    fn tuning(&self, plan: Option<&Plan>) -> anyhow::Result<(Tuning, Vec<Temperament>)> {
        let temperaments = self.level.temperaments()?;
        let tuning = Tuning::new(
            self.level.standard(),
            named(&temperaments, &self.temperament)?,
            self.level.chain,
            self.key,
            Anchor::tonic(self.key),
        );
        Ok(match plan {
            Some(plan) => (plan.settled.tuning(&tuning), plan.among(temperaments)),
            None => (tuning, temperaments),
        })
    }

    /// The drone, silent as yet: on the tonic of trumpets in `key` where nothing else is wanted.
    fn drone(&self, key: NoteName) -> Drone {
        let tones = self.drone.clone().or_else(|| {
            let tonic = Tone::Tempered(key.in_octave(3));
            Tones::new(vec![tonic, Tone::Above(Ratio::new(3, 2), 0)]).ok()
        });
        // Two tones are neither none nor too many.
        let drone = Drone::new(tones.unwrap_or_default())
            .in_timbre(self.timbre)
            .in_octave(self.octave)
            .apart(self.apart);
        match self.ceiling {
            Some(ceiling) => drone.under(ceiling),
            None => drone,
        }
    }

    /// Saves the drone of `rehearsal`.
    fn save(
        &self,
        rehearsal: &Rehearsal,
        path: &std::path::Path,
        out: &mut dyn Write,
    ) -> anyhow::Result<()> {
        let mut synth = Synth::new(self.rate);
        synth.want(rehearsal.wanted());
        let form = WaveForm {
            rate: self.rate,
            n_channels: 2,
            length: self.seconds,
        };
        let audible = |sounding: &Sounding| sounding.hertz.get() < 0.45 * self.rate.hz();
        if !rehearsal.drone_soundings().iter().all(audible) {
            return Err(Usage(format!(
                "a tone is too high for {} Hz: choose a lower octave or a higher rate",
                self.rate.get()
            ))
            .into());
        }
        let mut left = self.rate.frames_in(self.seconds).get();
        let ramp = self.rate.frames_in(RAMP).get();
        form.write(path, |stereo| {
            // It dies away within its length.
            for frames in stereo.chunks_mut(2 * 64) {
                if left <= ramp + 64 {
                    synth.want(Wanted::silence());
                }
                synth.render(frames, |_| {});
                left = left.saturating_sub(frames.len() as u64 / 2);
            }
            stereo.len() / 2
        })?;
        writeln!(out, "{}: {} s", path.display(), self.seconds.get())?;
        for sounding in rehearsal.drone_soundings() {
            writeln!(out, "  {}: {:.6} Hz", sounding.tone, sounding.hertz.get())?;
        }
        Ok(())
    }
}

fn course(
    exercises: Vec<crate::rehearsal::Exercise>,
    wanted: Option<&str>,
) -> anyhow::Result<Course> {
    let names: Vec<String> = exercises.iter().map(|e| e.name.clone()).collect();
    let course = Course::new(exercises).ok_or_else(|| anyhow::anyhow!("there is no exercise"))?;
    let Some(wanted) = wanted else {
        return Ok(course);
    };
    course.beginning_with(wanted).ok_or_else(|| {
        let names = names.join(", ");
        Usage(format!(
            "there is no exercise '{wanted}': there are {names}"
        ))
        .into()
    })
}

/// Whether the cautions have not been shown today. From now on they have.
fn is_caution_due() -> Result<bool, FolderError> {
    let Some(folder) = state_folder()? else {
        return Ok(true);
    };
    let path = folder.join("cautioned");
    let now = session::date_now();
    let today = now.get(..10).unwrap_or(&now);
    if fs::read_to_string(&path).is_ok_and(|shown| shown.trim() == today) {
        return Ok(false);
    }
    // Where that cannot be noted they are shown once more, which does no harm.
    let _ = private::open_emptied(&path).and_then(|mut file| file.write_all(today.as_bytes()));
    Ok(true)
}

#[cfg(test)]
mod tests;
