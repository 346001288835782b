//! What a program that listens hands over to those who watch: everything its screen was told
//! and has kept, once a frame.

use std::path::{Path, PathBuf};

use super::news::{News, What};
#[cfg(unix)]
use super::{Limits, Publisher, Sitting, folders};
use crate::rehearsal::{Entry, HeardVoices, Rehearsal, SoughtVoices, Update};
use crate::units::Seconds;

/// A rehearsal on its way to other screens; nowhere where it cannot be watched.
#[derive(Debug, Default)]
pub struct Outlet {
    gathered: Gathered,
    /// The file it is kept in.
    session: Option<PathBuf>,
    #[cfg(unix)]
    publisher: Option<Publisher>,
}

/// What has come since it was last given away.
#[derive(Debug, Default)]
struct Gathered {
    news: Vec<News>,
    /// How the places of shared channels are called.
    names: Vec<Option<SoughtVoices>>,
    /// Of which revision these are.
    revision: Option<u64>,
    in_use: Option<usize>,
}

impl Outlet {
    /// Lets a rehearsal be watched that begins now, at this local date and time, and is kept in
    /// `session`; `earlier` is what was kept in earlier sittings, and how long after the first
    /// this one begins. Says why it cannot be watched, if it cannot.
    #[cfg(unix)]
    pub fn open(
        what: What,
        session: Option<PathBuf>,
        begun: &str,
        (earlier, offset): (Vec<Entry>, Seconds),
    ) -> (Self, Option<String>) {
        let session = session.and_then(|path| std::path::absolute(path).ok());
        let sitting = Sitting {
            what,
            session: session.as_deref().map(in_words),
            begun: begun.to_owned(),
            process: std::process::id(),
        };
        let opened = match folders().first() {
            Some(folder) => Publisher::open(folder, sitting, Limits::default()),
            None => Err(super::PlaceError::NoFolder),
        };
        let (publisher, told) = match opened {
            Ok(publisher) => (Some(publisher), None),
            Err(error) => (None, Some(error.to_string())),
        };
        let mut gathered = Gathered::default();
        gathered.keep(&earlier);
        gathered.news.push(News::SatDown(offset));
        let outlet = Self {
            gathered,
            session,
            publisher,
        };
        (outlet, told)
    }

    /// On this system nothing can be watched from other screens.
    #[cfg(not(unix))]
    pub fn open(
        _what: What,
        session: Option<PathBuf>,
        _begun: &str,
        _earlier: (Vec<Entry>, Seconds),
    ) -> (Self, Option<String>) {
        let outlet = Self {
            session,
            ..Self::default()
        };
        (outlet, None)
    }

    /// What the ears have said.
    pub fn hear(&mut self, updates: &[Update]) {
        self.gathered.hear(updates);
    }

    /// What was kept.
    pub fn keep(&mut self, entries: &[Entry]) {
        self.gathered.keep(entries);
    }

    /// The name of the file it is kept in, which may be another than was asked for.
    pub fn name_session(&mut self, name: &str) {
        let Some(path) = &mut self.session else {
            return;
        };
        let is_same = path
            .file_name()
            .is_some_and(|file| crate::session::shown(&file.to_string_lossy()) == name);
        if !is_same {
            path.set_file_name(name);
            self.gathered.news.push(News::Session(in_words(path)));
        }
    }

    /// Gives away what has come, at the end of a frame.
    pub fn close_frame(&mut self, rehearsal: &Rehearsal) {
        let news = self.gathered.close_frame(rehearsal);
        self.give_away(news);
    }

    #[cfg(unix)]
    fn give_away(&mut self, news: Vec<News>) {
        if let Some(publisher) = &self.publisher {
            publisher.tell(news);
        }
    }

    #[cfg(not(unix))]
    fn give_away(&mut self, _news: Vec<News>) {}
}

impl Drop for Outlet {
    /// What was kept at the very end is told too.
    fn drop(&mut self) {
        let news = std::mem::take(&mut self.gathered.news);
        self.give_away(news);
    }
}

/// A path as it is told.
fn in_words(path: &Path) -> String {
    path.display().to_string()
}

impl Gathered {
    /// What the ears have said.
    fn hear(&mut self, updates: &[Update]) {
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
                Update::Effort(effort) => News::Effort(*effort),
                // How one hears through a drone is for the one who practises; what is wrong with a
                // recording comes as an entry.
                Update::Damaged(_)
                | Update::Through(_)
                | Update::Loudspeaker(_)
                | Update::Surveyed(_)
                | Update::Recalled(_)
                | Update::Watched(_) => continue,
            };
            self.news.push(news);
        }
    }

    /// What was kept.
    fn keep(&mut self, entries: &[Entry]) {
        let kept = entries.iter().filter(|e| !matches!(e, Entry::Heard(_)));
        let kept = kept.map(|entry| News::Entry(Box::new(entry.clone())));
        self.news.extend(kept);
    }

    /// Looks at what is no news and no entry, at the end of a frame, and gives all away.
    fn close_frame(&mut self, rehearsal: &Rehearsal) -> Vec<News> {
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
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::chord::{ChordSound, HeardChord, HeardVoice, VoiceStatus};
    use crate::rehearsal::tests::{band, held_chord, reading, rehearsal};
    use crate::rehearsal::{Family, HeardSpan, Mark};
    use crate::units::{Cents, Dbfs, Hertz};

    #[test]
    fn all_but_the_spans_of_a_journal_is_given_away_once() {
        let mut rehearsal = rehearsal(&["Trumpet I"]);
        let mut gathered = Gathered::default();
        gathered.hear(&[
            Update::Reading(0, reading(415.0)),
            Update::Lost(2),
            Update::Loudspeaker(crate::rehearsal::Loudspeaker::Opening),
        ]);
        let marked = Entry::Marked(Mark {
            at: Seconds::new(1.0),
            text: "here".into(),
        });
        let heard = Entry::Heard(HeardSpan {
            at: Seconds::new(0.5),
            channels: Vec::new(),
            chords: Vec::new(),
        });
        gathered.keep(&[heard, marked.clone()]);
        let now = News::Now(rehearsal.now());
        let expected = [
            now.clone(),
            News::Reading(0, reading(415.0)),
            News::Lost(2),
            News::Entry(Box::new(marked)),
        ];
        assert_eq!(gathered.close_frame(&rehearsal), expected);
        assert_eq!(gathered.close_frame(&rehearsal), std::slice::from_ref(&now));
        rehearsal.shelve(held_chord(&[(8, 0.0)]));
        assert_eq!(gathered.close_frame(&rehearsal), std::slice::from_ref(&now));
        rehearsal.recall(1);
        let in_use = [now.clone(), News::InUse(Some(1))];
        assert_eq!(gathered.close_frame(&rehearsal), in_use);
        rehearsal.release();
        let released = [now, News::InUse(None)];
        assert_eq!(gathered.close_frame(&rehearsal), released);
    }

    #[test]
    fn voices_of_a_shared_channel_go_by_their_names() {
        let mut ensemble = band(&["Trumpets"]);
        ensemble.channels[0].players = 3;
        ensemble.channels[0].instrument.family = Family::Trumpets;
        let rehearsal = Rehearsal::new(ensemble, Vec::new());
        let mut gathered = Gathered::default();
        gathered.close_frame(&rehearsal);
        let chord = HeardChord {
            time: Seconds::new(3.0),
            available: Seconds::new(3.5),
            span: Seconds::new(1.0),
            level: Dbfs::new(-20.0),
            sound: ChordSound::Held,
            voices: vec![HeardVoice {
                identity: 17,
                place: 5,
                hertz: Hertz::new(553.0).unwrap(),
                margin: Cents::new(0.5),
                confidence: 0.9,
                status: VoiceStatus::Ok,
                beating: None,
                is_named: true,
                or_place: None,
            }],
        };
        gathered.hear(&[Update::Chord(0, chord)]);
        let told = gathered.close_frame(&rehearsal);
        let Some(News::Chord(available, heard)) = told.get(1) else {
            panic!("{told:?}");
        };
        assert_eq!(*available, Seconds::new(3.5));
        // Trumpets are sought from the third partial on.
        assert_eq!(heard.voices[0].label.to_string(), "p8");
    }
}
