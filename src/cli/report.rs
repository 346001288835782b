//! `concento report`: the page everyone takes home, and the same as data.

use std::io::Write;
use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::Usage;
use super::examples::{Example, examples};
use super::guarded::tell;
use crate::report::{Digest, Occasion, rehearsal_page, rehearsals_csv, rehearsals_json};
use crate::session::{Session, load_session, write_new};

const EXAMPLES: &[Example] = &[
    (
        "concento report evening.session -o evening.html",
        "The page everyone takes home",
    ),
    (
        "concento report evening.session --player 'Trumpet II' -o two.html",
        "The same with a page for one player",
    ),
    (
        "concento report friday.session sunday.session --format csv > notes.csv",
        "Every note of two rehearsals, for a spreadsheet",
    ),
];

#[derive(Debug, Args)]
#[command(after_help = examples(EXAMPLES))]
pub(super) struct Arguments {
    /// The files that rehearsals were kept in
    #[arg(required = true, value_name = "SESSION")]
    sessions: Vec<PathBuf>,
    /// Where the report is written, which must not exist yet; standard output if left out
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
    /// A page for reading and printing, or the notes as data
    #[arg(long, value_enum, default_value_t = ReportForm::Html)]
    format: ReportForm,
    /// Add the own page of this player
    #[arg(long, value_name = "NAME")]
    player: Option<String>,
}

/// What is written of a rehearsal.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum ReportForm {
    /// One file to be read on a telephone or printed
    Html,
    /// Every note, a line each
    Csv,
    /// Every note, what was agreed, and what is computed from them
    Json,
}

pub(super) fn run(arguments: &Arguments, out: &mut dyn Write) -> anyhow::Result<()> {
    if arguments.player.is_some() && arguments.format != ReportForm::Html {
        let message = "--player adds a page, and only '--format html' has pages: leave one out";
        return Err(Usage(message.to_owned()).into());
    }
    let sessions = load(&arguments.sessions)?;
    let occasions: Vec<Occasion<'_>> = sessions.iter().map(occasion).collect();
    if let Some(player) = &arguments.player {
        check_player(player, &occasions)?;
    }
    let text = match arguments.format {
        ReportForm::Html => rehearsal_page(&digests(&occasions), arguments.player.as_deref()),
        ReportForm::Csv => rehearsals_csv(&occasions),
        ReportForm::Json => rehearsals_json(&digests(&occasions)),
    };
    let mut chronicles = occasions.iter().map(|occasion| occasion.chronicle);
    if arguments.format == ReportForm::Csv && chronicles.all(|c| c.notes().is_empty()) {
        tell("no note was held: the table has nothing but its headings");
    }
    match &arguments.output {
        Some(path) => Ok(write_new(path, &text)?),
        None => Ok(out.write_all(text.as_bytes())?),
    }
}

/// Reads all of them, or says of the first that cannot be read why.
pub(super) fn load(paths: &[PathBuf]) -> anyhow::Result<Vec<Session>> {
    let sessions = paths.iter().map(|path| load_session(path));
    Ok(sessions.collect::<Result<_, _>>()?)
}

pub(super) fn occasion(session: &Session) -> Occasion<'_> {
    Occasion {
        name: &session.name,
        begun: &session.begun,
        chronicle: &session.chronicle,
        ended_well: session.ended_well,
        is_running: session.is_running,
        notice: session.recovered.notice(),
    }
}

pub(super) fn digests<'a>(occasions: &[Occasion<'a>]) -> Vec<Digest<'a>> {
    occasions.iter().cloned().map(Digest::of).collect()
}

fn check_player(player: &str, occasions: &[Occasion<'_>]) -> anyhow::Result<()> {
    let channels = occasions.iter().flat_map(|o| o.chronicle.players());
    let mut names: Vec<&str> = channels.map(|channel| &*channel.name).collect();
    if names.contains(&player) {
        return Ok(());
    }
    names.sort_unstable();
    names.dedup();
    let known = if names.is_empty() {
        "nobody is down as playing".to_owned()
    } else {
        format!("give one of {}", names.join(", "))
    };
    Err(Usage(format!(
        "'{}' plays in none of these rehearsals: {known}",
        player.escape_debug()
    ))
    .into())
}
