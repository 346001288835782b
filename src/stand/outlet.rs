//! What a program that listens hands over to those who watch: everything its screen was told
//! and has kept, once a frame.

use super::news::News;
use crate::rehearsal::{Entry, HeardVoices, Rehearsal, SoughtVoices, Update};

/// Gathers a frame's news, and gives it away where it can be watched.
#[derive(Debug)]
pub struct Outlet<T> {
    gathered: Gathered,
    to: T,
}

/// What has come since it was last given away.
#[derive(Debug, Default)]
pub struct Gathered {
    news: Vec<News>,
    /// How the places of shared channels are called.
    names: Vec<Option<SoughtVoices>>,
    /// Of which revision these are.
    revision: Option<u64>,
    in_use: Option<usize>,
}

impl Gathered {
    /// What the ears have said.
    pub fn hear(&mut self, updates: &[Update]) {
        for update in updates {
            let news = match update {
                Update::Reading(channel, reading) => News::Reading(*channel, *reading),
                Update::Chord(channel, chord) => {
                    let Some(Some(names)) = self.names.get(*channel) else {
                        continue;
                    };
                    let heard = HeardVoices::of(*channel, chord, names);
                    News::Chord(chord.available, heard)
                }
                Update::State(state) => News::State(state.clone()),
                Update::Started(format) => News::Started(format.clone()),
                Update::Lost(blocks) => News::Lost(*blocks),
                // How one hears through a drone is for the one who practises.
                Update::Through(_)
                | Update::Loudspeaker(_)
                | Update::Recalled(_)
                | Update::Watched(_) => continue,
            };
            self.news.push(news);
        }
    }

    /// What was kept.
    pub fn keep(&mut self, entries: &[Entry]) {
        let kept = entries.iter().filter(|e| !matches!(e, Entry::Heard(_)));
        let kept = kept.map(|entry| News::Entry(Box::new(entry.clone())));
        self.news.extend(kept);
    }

    /// Anything else.
    pub fn add(&mut self, news: News) {
        self.news.push(news);
    }

    /// Looks at what is no news and no entry, at the end of a frame, and gives all away.
    pub fn close_frame(&mut self, rehearsal: &Rehearsal) -> Vec<News> {
        let revision = rehearsal.sought_revision();
        if self.revision != Some(revision) {
            self.revision = Some(revision);
            self.names = rehearsal.sought().to_vec();
        }
        let in_use = rehearsal.shelf().current().map(|(number, _)| number);
        if in_use != self.in_use {
            self.in_use = in_use;
            self.news.push(News::InUse(in_use));
        }
        let mut news = vec![News::Now(rehearsal.now())];
        news.append(&mut self.news);
        news
    }

    /// What is left at the very end.
    pub fn finish(&mut self) -> Vec<News> {
        std::mem::take(&mut self.news)
    }
}
