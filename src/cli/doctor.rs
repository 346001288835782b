//! `concento doctor`.

mod listen;
mod live;
mod probe;

use std::io::{self, Write};
use std::time::Duration;

use clap::Args;

use super::PlainForm;
use super::examples::{Example, examples};
use crate::doctor::{self, Finding, Verdict};

const EXAMPLES: &[Example] = &[
    (
        "concento doctor",
        "A line for everything looked at, with what to do where something is missing",
    ),
    (
        "concento doctor --input box --channels 8",
        "Listen to that interface for a second, instead of the default",
    ),
    (
        "concento doctor --live --seconds 60",
        "How the sound card's thread and the ears do for a minute, with all programs open",
    ),
    (
        "concento doctor --format json > doctor.json",
        "For someone who helps you from afar",
    ),
];

/// Columns a line of advice is broken at.
const WIDTH: usize = 78;

#[derive(Debug, Args)]
#[command(after_help = examples(EXAMPLES))]
pub(super) struct Arguments {
    /// The input to listen to for a second, by its name in 'concento devices' or a part of it
    #[arg(long, value_name = "DEVICE")]
    input: Option<String>,
    /// How many channels it has, where the sound system says too few
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u8).range(1..=32))]
    channels: Option<u8>,
    /// Hear all channels as a rehearsal does, and tell how long the sound card's thread takes and
    /// how much sound waits; plays silence
    #[arg(long)]
    live: bool,
    /// For how long
    #[arg(long, value_name = "SECONDS", default_value_t = 10, requires = "live",
        value_parser = clap::value_parser!(u16).range(2..=3600))]
    seconds: u16,
    /// How the findings are written
    #[arg(long, value_enum, default_value_t = PlainForm::Table)]
    format: PlainForm,
}

/// The findings for scripts.
#[derive(serde::Serialize)]
struct Document<'a> {
    version: u32,
    can_rehearse: bool,
    findings: &'a [Finding],
}

pub(super) fn run(arguments: &Arguments, out: &mut dyn Write) -> anyhow::Result<()> {
    let choice = crate::sound::capture::InputChoice {
        name: arguments.input.clone(),
        channels: arguments.channels.map(usize::from),
    };
    let live = arguments
        .live
        .then(|| Duration::from_secs(arguments.seconds.into()));
    let findings = doctor::examine(&probe::facts(choice, live));
    let hindrances = doctor::hindrances(&findings);
    match arguments.format {
        PlainForm::Table => write_table(&findings, out)?,
        PlainForm::Json => {
            let document = Document {
                version: 1,
                can_rehearse: hindrances.is_empty(),
                findings: &findings,
            };
            serde_json::to_writer_pretty(&mut *out, &document).map_err(io::Error::from)?;
            writeln!(out)?;
        }
    }
    out.flush()?;
    if hindrances.is_empty() {
        Ok(())
    } else {
        anyhow::bail!(
            "no rehearsal is possible yet, see to: {}",
            hindrances.join(", ")
        )
    }
}

fn write_table(findings: &[Finding], out: &mut dyn Write) -> io::Result<()> {
    let verdicts = Verdict::Trouble.word().len();
    let topics = findings.iter().map(|finding| finding.topic.len());
    let topics = topics.max().unwrap_or(0);
    let indent = verdicts + topics + 4;
    for finding in findings {
        let (verdict, topic) = (finding.verdict.word(), finding.topic);
        write!(out, "{verdict:<verdicts$}  {topic:<topics$}  ")?;
        write_broken(&finding.found, indent, out)?;
        if let Some(advice) = &finding.advice {
            write!(out, "{:indent$}", "")?;
            write_broken(&format!("→ {advice}"), indent, out)?;
        }
    }
    Ok(())
}

/// Writes a text whose first line begins at column `indent`, and the others below it.
fn write_broken(text: &str, indent: usize, out: &mut dyn Write) -> io::Result<()> {
    let mut column = indent;
    for (place, word) in text.split(' ').enumerate() {
        let length = word.chars().count();
        if place > 0 && column + 1 + length > WIDTH {
            write!(out, "\n{:indent$}{word}", "")?;
            column = indent + length;
        } else if place > 0 {
            write!(out, " {word}")?;
            column += 1 + length;
        } else {
            write!(out, "{word}")?;
            column += length;
        }
    }
    writeln!(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn findings_line_up_and_advice_stands_below() {
        let finding = |topic, found: &str, verdict, advice: Option<&str>| Finding {
            topic,
            found: found.to_owned(),
            verdict,
            advice: advice.map(str::to_owned),
        };
        let findings = [
            finding("sound system", "alsa", Verdict::Fine, None),
            finding(
                "input",
                "none can be listened to, whatever is tried, on this computer of yours",
                Verdict::Trouble,
                Some("connect a microphone"),
            ),
        ];
        let mut out = Vec::new();
        write_table(&findings, &mut out).unwrap();
        assert_eq!(
            String::from_utf8(out).unwrap(),
            "fine     sound system  alsa\n\
             trouble  input         none can be listened to, whatever is tried, on this\n\
             \x20                      computer of yours\n\
             \x20                      → connect a microphone\n"
        );
    }
}
