//! The command line: arguments, wiring and exit codes. No logic of its own: each command
//! lives in a file named after it.

mod analyse;
mod bearings;
mod chord;
mod compare;
mod completions;
mod demo;
mod devices;
mod doctor;
mod examples;
mod guarded;
mod home;
mod keeping;
mod log;
mod manual;
mod new;
mod plan;
mod planning;
mod practise;
mod progress;
mod record;
mod rehearse;
mod replay;
mod report;
mod retune;
mod screen_arguments;
mod series;
mod sessions;
mod settings;
mod setup;
mod stage;
#[cfg(unix)]
mod stand;
mod take_home;
mod temperaments;
mod tuning_arguments;
mod wave_file;

use std::io::{self, IsTerminal, Write};
use std::panic::catch_unwind;
use std::process::ExitCode;

use clap::{Parser, Subcommand, ValueEnum};

use examples::{Example, examples};
use guarded::{Guarded, tell};

use crate::plain::{steers, written_out};
use crate::session::reason;
pub use replay::replayed;

const EXAMPLES: &[Example] = &[
    ("concento", "The first screen, which offers what there is"),
    (
        "concento setup",
        "Who plays into which input, pitch and temperament: by ear",
    ),
    (
        "concento doctor",
        "Whether microphone, loudspeaker and terminal are ready",
    ),
    (
        "concento demo",
        "An invented ensemble in rehearsal; needs no microphone",
    ),
    ("concento rehearse ensemble.ron", "Listen to them"),
];

/// Hear how far each player lies from the natural harmonic and from the tempered note.
#[derive(Debug, Parser)]
#[command(
    args_conflicts_with_subcommands = true,
    name = "concento",
    version,
    about,
    after_help = examples(EXAMPLES),
    max_term_width = 100
)]
struct Arguments {
    /// What to do; without it the first screen offers what there is
    #[command(subcommand)]
    command: Option<Command>,
    #[command(flatten)]
    screen: screen_arguments::ScreenArguments,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Listen to the ensemble and show both deviations of every player
    Rehearse(rehearse::Arguments),
    /// Practise alone with a drone, heard through it
    Practise(practise::Arguments),
    /// A rehearsal of an invented ensemble, rendered to sound and heard as if through a
    /// microphone
    Demo(demo::Arguments),
    /// Watch the rehearsal that runs in another terminal, on a screen of its own
    #[cfg(unix)]
    Stand(stand::Arguments),
    /// Look at a session once more, on the same screens
    Replay(replay::Arguments),
    /// List the sessions that were recorded
    Sessions(sessions::Arguments),
    /// Measure a recording from beginning to end, as fast as it can
    Analyse(analyse::Arguments),
    /// Hear a recording of a rehearsal, faster than it was, and write its session
    Record(record::Arguments),
    /// Hear the voices of chords in a recording made with one microphone
    Chord(chord::Arguments),
    /// Write the page everyone takes home from a rehearsal, or its notes as data
    Report(report::Arguments),
    /// Show what changed from one rehearsal to the next
    Compare(compare::Arguments),
    /// Plan a programme from its scores: which temperament, and which notes will clash
    Plan(plan::Arguments),
    /// Set up an ensemble by playing: microphones, players, the keyboard's pitch and temperament
    Setup(setup::Arguments),
    /// Write a commented ensemble file to start from
    New(new::Arguments),
    /// Tell where settings are and what is so: colours, keys, pictures a second
    Settings(settings::Arguments),
    /// List the inputs that can be listened to and the outputs that can be played on
    Devices(devices::Arguments),
    /// Look whether sound, terminal and folders are as a rehearsal needs them
    Doctor(doctor::Arguments),
    /// Show the temperaments, or one of them note by note
    Temperaments(temperaments::Arguments),
    /// Lay out the tuner's sheet for the keyboard: step by step, with the beats of each
    Bearings(bearings::Arguments),
    /// Write the temperament for a synthesiser, as messages of the MIDI Tuning Standard
    Retune(retune::Arguments),
    /// Show the trumpets' partials beside the tempered notes
    Series(series::Arguments),
    /// Write the manual pages, from the same words as the help
    Manual(manual::Arguments),
    /// Write what a shell needs to complete commands and options
    Completions(completions::Arguments),
}

/// How a table is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Form {
    /// Columns for reading
    Table,
    /// JSON for scripts
    Json,
    /// Comma-separated values for spreadsheets
    Csv,
}

/// How a table is written where a spreadsheet form would make no sense.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum PlainForm {
    /// Columns for reading
    Table,
    /// JSON for scripts
    Json,
}

/// A request that cannot be carried out as it was put: exit code 2.
#[derive(Debug, thiserror::Error)]
#[error("{0}")]
pub(crate) struct Usage(pub(crate) String);

/// Runs the program with the process's arguments.
pub fn run() -> ExitCode {
    let arguments = match Arguments::try_parse() {
        Ok(arguments) => arguments,
        Err(error) => {
            // Help and version are answers, not errors, and a closed pipe is no reason to fail.
            let code = u8::try_from(error.exit_code()).unwrap_or(1);
            let told = error.to_string();
            // A value that is quoted must not steer the terminal; help keeps its colours.
            if error.use_stderr() && told.contains(|c| c != '\n' && steers(c)) {
                let _ = write!(io::stderr(), "{}", written_out(&told));
            } else {
                let _ = error.print();
            }
            return ExitCode::from(code);
        }
    };
    std::panic::set_hook(Box::new(|panic| {
        tell(&format!(
            "the program has failed, which is its own fault: {panic}"
        ));
    }));
    let outcome = catch_unwind(|| {
        let mut out = Guarded::new(io::BufWriter::new(io::stdout().lock()));
        arguments.carry_out(&mut out)?;
        Ok(out.flush()?)
    });
    // The hook has told what there is to tell of a panic.
    let Ok(outcome) = outcome else {
        return ExitCode::FAILURE;
    };
    match outcome {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) if is_closed_pipe(&error) => ExitCode::SUCCESS,
        Err(error) => {
            // Nothing but the system's own words: it is what is told here that could not be written.
            let alone = error.chain().nth(1).is_none();
            match error.downcast_ref::<io::Error>().filter(|_| alone) {
                Some(refused) => tell(&format!(
                    "what was asked for cannot be written ({}): send it elsewhere",
                    reason(refused)
                )),
                None => tell(&format!("{error:#}")),
            }
            ExitCode::from(if error.is::<Usage>() { 2 } else { 1 })
        }
    }
}

impl Arguments {
    fn carry_out(self, out: &mut dyn Write) -> anyhow::Result<()> {
        match self.command {
            Some(command) => command.carry_out(out),
            None if io::stdout().is_terminal() => home::run(&self.screen, out),
            // Nobody could choose anything.
            None => Err(Usage(
                "say what to do, as in 'concento demo': 'concento --help' lists everything, and in \
                 a terminal 'concento' alone offers it"
                    .to_owned(),
            )
            .into()),
        }
    }
}

impl Command {
    fn carry_out(self, out: &mut dyn Write) -> anyhow::Result<()> {
        match self {
            Self::Rehearse(arguments) => rehearse::run(&arguments, out),
            Self::Practise(arguments) => practise::run(&arguments, out),
            Self::Demo(arguments) => demo::run(&arguments, out),
            #[cfg(unix)]
            Self::Stand(arguments) => stand::run(&arguments, out),
            Self::Replay(arguments) => replay::run(&arguments, out),
            Self::Sessions(arguments) => sessions::run(&arguments, out),
            Self::Analyse(arguments) => analyse::run(&arguments, out),
            Self::Record(arguments) => record::run(&arguments, out),
            Self::Chord(arguments) => chord::run(&arguments, out),
            Self::Report(arguments) => report::run(&arguments, out),
            Self::Compare(arguments) => compare::run(&arguments, out),
            Self::Plan(arguments) => plan::run(&arguments, out),
            Self::Setup(arguments) => setup::run(&arguments, out),
            Self::New(arguments) => new::run(&arguments, out),
            Self::Settings(arguments) => settings::run(&arguments, out),
            Self::Devices(arguments) => devices::run(&arguments, out),
            Self::Doctor(arguments) => doctor::run(&arguments, out),
            Self::Temperaments(arguments) => temperaments::run(&arguments, out),
            Self::Bearings(arguments) => bearings::run(&arguments, out),
            Self::Retune(arguments) => retune::run(&arguments, out),
            Self::Series(arguments) => series::run(&arguments, out),
            Self::Manual(arguments) => manual::run(&arguments, out),
            Self::Completions(arguments) => completions::run(&arguments, out),
        }
    }
}

fn is_closed_pipe(error: &anyhow::Error) -> bool {
    error.chain().any(|cause| {
        let kind = match cause.downcast_ref::<csv::Error>().map(csv::Error::kind) {
            Some(csv::ErrorKind::Io(error)) => Some(error.kind()),
            _ => cause.downcast_ref::<io::Error>().map(io::Error::kind),
        };
        kind == Some(io::ErrorKind::BrokenPipe)
    })
}

#[cfg(test)]
mod tests;
