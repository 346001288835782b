//! The computer, and the folders that things are kept in.

use super::{Finding, counted};

/// Below this much free space there is a word about it: a session of an hour takes about 5 MB.
const SCARCE_BYTES: u64 = 100_000_000;
/// Below this an evening does not fit.
const FULL_BYTES: u64 = 20_000_000;

/// The program and the computer it runs on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Machine {
    /// Of the program.
    pub version: String,
    /// Operating system and processor: `linux x86_64`.
    pub system: String,
    /// Processors that can be used at once, where the system tells.
    pub n_cores: Option<usize>,
}

/// What a folder is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Purpose {
    /// The sessions that rehearsals are recorded into.
    Sessions,
    /// The log of the last screen.
    Log,
    /// The settings.
    Settings,
    /// Sockets for other programs on this machine.
    Runtime,
}

/// Whether something can be written there.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FolderState {
    /// It can.
    Writable,
    /// It is not there yet and can be made.
    CanBeMade,
    /// It cannot, nor can it be made.
    Refused,
    /// Others may write to it, or a link is in its place; the program does not use it then.
    Distrusted,
    /// The system has no folder for this.
    Nowhere,
}

/// A folder the program writes to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Folder {
    /// What it is for.
    pub purpose: Purpose,
    /// Where it is; empty where there is none.
    pub path: String,
    /// Whether it can be written to.
    pub state: FolderState,
    /// What is free there, where the system tells.
    pub free_bytes: Option<u64>,
}

impl Purpose {
    fn topic(self) -> &'static str {
        match self {
            Self::Sessions => "sessions",
            Self::Log => "log",
            Self::Settings => "settings",
            Self::Runtime => "runtime",
        }
    }

    /// What is missing without it, and what to do.
    fn advice(self) -> &'static str {
        match self {
            Self::Sessions => {
                "rehearsals are not recorded by themselves: give '--session FILE' with a place \
                 you may write to"
            }
            Self::Log => "the program works without; what goes wrong is not written down",
            Self::Settings => "settings hold until the program ends and cannot be kept",
            Self::Runtime => "no other program on this machine can be told what is heard",
        }
    }
}

pub(super) fn examine(machine: &Machine) -> Finding {
    let cores = machine.n_cores.map(|cores| counted(cores, "processor"));
    let found = format!(
        "concento {} on {}, {}",
        machine.version,
        machine.system,
        cores.as_deref().unwrap_or("processors unknown")
    );
    match machine.n_cores {
        Some(1) => Finding::note(
            "program",
            found,
            "one processor is enough for a few players: close other programs",
        ),
        _ => Finding::fine("program", found),
    }
}

pub(super) fn examine_folder(folder: &Folder) -> Finding {
    let (topic, path) = (folder.purpose.topic(), &folder.path);
    match folder.state {
        FolderState::Nowhere => Finding::note(
            topic,
            "this system has no folder for it",
            folder.purpose.advice(),
        ),
        FolderState::Refused => Finding::note(
            topic,
            format!("'{path}' cannot be written to"),
            folder.purpose.advice(),
        ),
        FolderState::Distrusted => {
            let found = format!("'{path}' is not the user's alone");
            let advice = "type 'chmod go-w' and this name; move a link away, or what is not yours";
            match folder.purpose {
                Purpose::Sessions | Purpose::Log => Finding::trouble(topic, found, advice),
                Purpose::Settings | Purpose::Runtime => Finding::note(topic, found, advice),
            }
        }
        FolderState::Writable | FolderState::CanBeMade => {
            let free = folder
                .free_bytes
                .map(|bytes| format!(", {} free", size(bytes)));
            let fresh = match folder.state {
                FolderState::CanBeMade => " (made when it is needed)",
                _ => "",
            };
            let found = format!("'{path}'{fresh}{}", free.unwrap_or_default());
            // Little is ever written to the others.
            let space = folder
                .free_bytes
                .filter(|_| folder.purpose == Purpose::Sessions);
            match space {
                Some(bytes) if bytes < FULL_BYTES => Finding::note(
                    topic,
                    found,
                    "the disk is all but full: make room, or a rehearsal cannot be kept",
                ),
                Some(bytes) if bytes < SCARCE_BYTES => Finding::note(
                    topic,
                    found,
                    "an hour takes about 5 MB: make room before a long day",
                ),
                _ => Finding::fine(topic, found),
            }
        }
    }
}

fn size(bytes: u64) -> String {
    let mega = bytes / 1_000_000;
    match mega {
        0..10_000 => format!("{mega} MB"),
        _ => format!("{} GB", mega / 1_000),
    }
}
