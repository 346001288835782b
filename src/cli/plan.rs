//! `concento plan`.

use std::io::Write;
use std::path::PathBuf;

use clap::Args;

use super::examples::{Example, examples};
use super::screen_arguments::ScreenArguments;
use super::tuning_arguments::{LevelArguments, named};
use super::{PlainForm, Usage, progress, stage};
use crate::plan::{Casting, Choice, Pattern, PlanError, Programme, Settled, Weights};
use crate::rehearsal::Reach;
use crate::report::PlanReport;
use crate::session;
use crate::tui::Planning;
use crate::tuning::{Partial, Temperament};
use crate::units::{Cents, NoteName};

const EXAMPLES: &[Example] = &[
    (
        "concento plan sonata.musicxml chorus.mxl",
        "What to decide before the first rehearsal, and why",
    ),
    (
        "concento plan sonata.musicxml --screen",
        "The same on the screen, to try other choices",
    ),
    (
        "concento plan sonata.musicxml --trumpets 'Clarino*' --keyboard Basso",
        "Where part names do not tell who is a trumpet or a keyboard",
    ),
    (
        "concento plan sonata.musicxml --write plan.ron",
        "Keep the choice, for 'concento rehearse --plan plan.ron'",
    ),
];

#[derive(Debug, Args)]
#[command(after_help = examples(EXAMPLES))]
pub(super) struct Arguments {
    /// The scores of the programme (MusicXML: .musicxml, .xml, .mxl; MIDI: .mid)
    #[arg(required = true, value_name = "SCORE")]
    scores: Vec<PathBuf>,
    /// The key of the trumpets; without it, guessed for each piece from what they play
    #[arg(long, value_name = "NOTE")]
    key: Option<NoteName>,
    /// Which parts are natural trumpets, where their names do not tell: 'Tromba*,Clarino*', or
    /// none
    #[arg(long, value_name = "NAMES", value_parser = parse_pattern)]
    trumpets: Option<Pattern>,
    /// Which parts a keyboard plays, where their names do not tell: 'Basso', or none. A continuo
    /// is a keyboard's unless this says otherwise
    #[arg(long, value_name = "NAMES", value_parser = parse_pattern)]
    keyboard: Option<Pattern>,
    /// A temperament to compare; may be given several times. All, if left out
    #[arg(long, value_name = "NAME")]
    temperament: Vec<String>,
    #[command(flatten)]
    level: LevelArguments,
    /// The partial the trumpets tune by: it sounds its tempered note
    #[arg(long, value_name = "PARTIAL", default_value = "8", value_parser = parse_anchor)]
    anchor: Partial,
    /// How much meetings of each side count in the ranking: trumpets=2,keyboard=1,others=0.5
    #[arg(long, value_name = "SIDE=N,...", value_parser = parse_weights)]
    weights: Option<Weights>,
    /// How far players move a held note, in cents up and down: 'Trumpet*=20/30'; may be given
    /// several times
    #[arg(long, value_name = "NAMES=UP/DOWN", value_parser = parse_reach)]
    reach: Vec<(Pattern, Reach)>,
    /// How the plan is written
    #[arg(long, value_enum, default_value_t = PlainForm::Table)]
    format: PlainForm,
    /// Write what costs least into a file too, for 'concento rehearse --plan FILE': pitch,
    /// temperament (the nearest to pure of those compared), keys, anchors and who yields
    #[arg(long, value_name = "FILE")]
    write: Option<PathBuf>,
    /// Look at the plan on the whole screen and try other choices
    #[arg(long, conflicts_with_all = ["format", "write"])]
    screen: bool,
    #[command(flatten)]
    shown: ScreenArguments,
}

pub(super) fn run(arguments: &Arguments, out: &mut dyn Write) -> anyhow::Result<()> {
    let all = arguments.level.temperaments()?;
    let temperaments: Vec<Temperament> = if arguments.temperament.is_empty() {
        all
    } else {
        let mut chosen: Vec<Temperament> = Vec::new();
        for name in &arguments.temperament {
            let temperament = named(&all, name)?;
            if !chosen.contains(temperament) {
                chosen.push(temperament.clone());
            }
        }
        chosen
    };
    if arguments.screen {
        stage::needs_terminal()?;
    }
    let bar = progress::bar(Some(arguments.scores.len() as u64));
    let mut scores = Vec::new();
    for path in &arguments.scores {
        scores.push(session::load_score(path)?);
        bar.inc(1);
    }
    bar.finish_and_clear();
    let casting = Casting {
        known: session::part_names().to_vec(),
        trumpets: arguments.trumpets.clone(),
        keyboard: arguments.keyboard.clone(),
        reaches: arguments.reach.clone(),
    };
    let programme =
        Programme::new(scores, &casting, arguments.key).map_err(|error| match error {
            PlanError::NoSuchPart { .. } | PlanError::NoScore => Usage(error.to_string()).into(),
            PlanError::TooDense(_) | PlanError::Silent(_) => anyhow::Error::from(error),
        })?;
    let Some(first) = temperaments.first() else {
        return Err(Usage("there is no temperament to compare".to_owned()).into());
    };
    let choice = Choice {
        temperament: first.clone(),
        chain: arguments.level.chain,
        standard: arguments.level.standard(),
        anchor: arguments.anchor,
    };
    let weights = arguments.weights.unwrap_or_default();
    let title = title(&programme);
    if arguments.screen {
        let ranked = programme.rank(&temperaments, &choice, &weights, || {});
        let nearest = ranked.first().map(|first| &temperaments[first.temperament]);
        let choice = choice.in_temperament(nearest.unwrap_or(first));
        let planning = Planning {
            title,
            programme,
            scores: arguments.scores.clone(),
            casting,
            temperaments,
            choice,
            weights,
        };
        return stage::show_plan(planning, None, &arguments.shown.options()?);
    }
    let bar = progress::bar(Some(PlanReport::steps(&programme, temperaments.len())));
    let report = PlanReport::new(&programme, &temperaments, &choice, weights, || bar.inc(1));
    bar.finish_and_clear();
    let text = match arguments.format {
        PlainForm::Table => report.to_table(),
        PlainForm::Json => report.to_json(),
    };
    if let Some(path) = &arguments.write {
        anyhow::ensure!(
            report.has_compared() || temperaments.len() == 1,
            "no temperament is nearer to pure than another, as no notes that count meet: name the \
             one to write with --temperament"
        );
        let settled = Settled::new(
            &title,
            &programme,
            &arguments.scores,
            &casting,
            report.chosen(),
            &weights,
        );
        session::write_plan(path, &settled)?;
    }
    Ok(out.write_all(text.as_bytes())?)
}

/// What the programme is called: its first piece, and how many more there are.
fn title(programme: &Programme) -> String {
    let pieces = programme.pieces();
    let first = pieces.first().map_or("", |piece| piece.title());
    match pieces.len() {
        0 | 1 => first.to_owned(),
        2 => format!("{first} and 1 more"),
        count => format!("{first} and {} more", count - 1),
    }
}

fn parse_pattern(text: &str) -> Result<Pattern, String> {
    if text == "none" {
        return Ok(Pattern::nobody());
    }
    text.parse().map_err(|error| format!("{error}"))
}

fn parse_anchor(text: &str) -> Result<Partial, String> {
    let wrong =
        || format!("'{text}' is no partial to tune by: 2, 3, 4, 5, 6, 8, 9, 10, 12, 15 and 16 are");
    let number: u8 = text.parse().map_err(|_| wrong())?;
    if !matches!(number, 2..=6 | 8..=10 | 12 | 15 | 16) {
        return Err(wrong());
    }
    Partial::new(number).map_err(|_| wrong())
}

fn parse_weights(text: &str) -> Result<Weights, String> {
    let mut weights = Weights::default();
    for entry in text.split(',') {
        let wrong = || {
            format!(
                "'{entry}' is no weight: write trumpets, keyboard or others and a number from 0 \
                 to 100, such as trumpets=2"
            )
        };
        let (side, number) = entry.split_once('=').ok_or_else(wrong)?;
        let number: f64 = number.trim().parse().map_err(|_| wrong())?;
        if !(0.0..=100.0).contains(&number) {
            return Err(wrong());
        }
        match side.trim() {
            "trumpets" => weights.trumpets = number,
            "keyboard" => weights.keyboard = number,
            "others" => weights.others = number,
            _ => return Err(wrong()),
        }
    }
    Ok(weights)
}

fn parse_reach(text: &str) -> Result<(Pattern, Reach), String> {
    let wrong = || {
        format!(
            "'{text}' is no reach: write names of parts and cents up and down, 0 to 100, such as \
             'Trumpet*=20/30'"
        )
    };
    let (names, cents) = text.rsplit_once('=').ok_or_else(wrong)?;
    let (up, down) = cents.split_once('/').ok_or_else(wrong)?;
    let read = |text: &str| {
        let cents: f64 = text.trim().parse().map_err(|_| wrong())?;
        if (0.0..=100.0).contains(&cents) {
            Ok(Cents::new(cents))
        } else {
            Err(wrong())
        }
    };
    let reach = Reach {
        up: read(up)?,
        down: read(down)?,
    };
    Ok((parse_pattern(names)?, reach))
}
