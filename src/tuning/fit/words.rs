//! A proposal in whole sentences.

use super::{Proposal, Verdict};
use crate::units::NoteName;

impl Proposal {
    /// What the notes tell, and what to play to hear more: one or two sentences without a stop
    /// at the end.
    pub fn in_words(&self) -> String {
        let next = self.next_keys();
        let keys = list(self.heard().iter().map(|heard| heard.key));
        let said = match self.verdict() {
            Verdict::LevelOnly => {
                let tell = if self.heard().len() == 1 {
                    "tells"
                } else {
                    "tell"
                };
                format!(
                    "{keys} {tell} the level and hardly a temperament{}",
                    play(&next)
                )
            }
            Verdict::Clear => format!("only {} fits", self.best().temperament.name),
            Verdict::Alike(count) if next.is_empty() => {
                format!("{count} temperaments fit alike, and no other key would tell them apart")
            }
            Verdict::Alike(count) => {
                format!(
                    "{keys} do not tell {count} temperaments apart{}",
                    play(&next)
                )
            }
            Verdict::Doubtful => format!(
                "nothing fits well: the nearest, {}, is {:.1} cents off on average; play the keys \
                 once more, or others{}",
                self.best().temperament.name,
                self.best().rms.get(),
                play(&next)
            ),
        };
        match self.stray() {
            None => said,
            Some(at) => format!(
                "{} lies {:.1} cents off and was left out (another key, or out of tune); {said}",
                self.heard()[at].key,
                self.best().residuals[at]
            ),
        }
    }
}

fn play(next: &[NoteName]) -> String {
    if next.is_empty() {
        String::new()
    } else {
        format!(": play {}", list(next.iter().copied()))
    }
}

/// `A, C and E`, each once.
fn list(keys: impl Iterator<Item = NoteName>) -> String {
    let mut names: Vec<String> = Vec::new();
    for key in keys.map(|key| key.to_string()) {
        if !names.contains(&key) {
            names.push(key);
        }
    }
    match names.split_last() {
        None => String::new(),
        Some((last, [])) => last.clone(),
        Some((last, before)) => format!("{} and {last}", before.join(", ")),
    }
}
