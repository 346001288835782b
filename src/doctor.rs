//! Facts about this machine → what was found, and what to do where something is not as a
//! rehearsal needs it.
//!
//! Knows no device, no file and no environment: all facts are passed in. Levels are those
//! inside the program and say nothing of loudness.

mod live;
mod machine;
mod sound;
mod terminal;

pub use live::{Callbacks, Live};
pub use machine::{Folder, FolderState, Machine, Purpose};
pub use sound::{Cards, Heard, Hearing, Nodes, Server, Sound};
pub use terminal::{Colours, Terminal};

/// How much a finding matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, serde::Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Verdict {
    /// As it should be.
    Fine,
    /// A rehearsal is possible; something is missing or worth knowing.
    Note,
    /// A rehearsal is not possible before this is seen to.
    Trouble,
}

impl Verdict {
    /// The word for it.
    pub fn word(self) -> &'static str {
        match self {
            Self::Fine => "fine",
            Self::Note => "note",
            Self::Trouble => "trouble",
        }
    }
}

/// One thing that was looked at.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Finding {
    /// What was looked at, in a word or two.
    pub topic: &'static str,
    /// What was found.
    pub found: String,
    /// How much it matters.
    pub verdict: Verdict,
    /// What to do; none where it is as it should be.
    pub advice: Option<String>,
}

impl Finding {
    fn fine(topic: &'static str, found: impl Into<String>) -> Self {
        Self {
            topic,
            found: found.into(),
            verdict: Verdict::Fine,
            advice: None,
        }
    }

    fn note(topic: &'static str, found: impl Into<String>, advice: impl Into<String>) -> Self {
        Self {
            verdict: Verdict::Note,
            advice: Some(advice.into()),
            ..Self::fine(topic, found)
        }
    }

    fn trouble(topic: &'static str, found: impl Into<String>, advice: impl Into<String>) -> Self {
        Self {
            verdict: Verdict::Trouble,
            ..Self::note(topic, found, advice)
        }
    }
}

/// Everything that was asked of the machine.
#[derive(Debug, Clone, PartialEq)]
pub struct Facts {
    /// The program and the computer.
    pub machine: Machine,
    /// Sound systems, devices and what the microphone delivers.
    pub sound: Sound,
    /// The terminal it was started from.
    pub terminal: Terminal,
    /// Where things are kept.
    pub folders: Vec<Folder>,
    /// How the live path does under its usual work, where that was asked for.
    pub live: Option<Live>,
    /// What is wrong in the settings file, where anything is.
    pub settings_fault: Option<String>,
}

/// What `facts` mean, in the order in which they are seen to.
pub fn examine(facts: &Facts) -> Vec<Finding> {
    let mut findings = vec![machine::examine(&facts.machine)];
    findings.extend(sound::examine(&facts.sound));
    findings.extend(facts.live.iter().flat_map(live::examine));
    findings.extend(terminal::examine(&facts.terminal));
    findings.extend(facts.folders.iter().map(machine::examine_folder));
    findings.extend(facts.settings_fault.as_ref().map(|fault| {
        let advice = "no screen is shown before this is put right, or the file moved away";
        Finding::trouble("settings file", fault, advice)
    }));
    findings
}

/// The topics because of which no rehearsal is possible, each once; empty where one is.
pub fn hindrances(findings: &[Finding]) -> Vec<&'static str> {
    let mut topics: Vec<&'static str> = findings
        .iter()
        .filter(|finding| finding.verdict == Verdict::Trouble)
        .map(|finding| finding.topic)
        .collect();
    topics.dedup();
    topics
}

/// `1 channel`, `3 channels`.
fn counted(count: usize, noun: &str) -> String {
    match count {
        1 => format!("1 {noun}"),
        count => format!("{count} {noun}s"),
    }
}

#[cfg(test)]
mod tests;
