//! The state of the tuner's screen: which step it is, what sounds, and what was heard.

use ratatui::crossterm::event::KeyEvent;

use super::BearingsNews;
use crate::bearings::hearing::{Heard, Wanted};
use crate::bearings::{Deed, Sheet, Step};
use crate::drone::{self, CEILING, LOWEST_LEVEL, START_LEVEL, Timbre, WantedTone};
use crate::rehearsal::Loudspeaker;
use crate::sound::SourceState;
use crate::tui::keymap::{self, Action, Binding, Keymap, KeysOf, Practise};
use crate::tui::theme::Theme;
use crate::tui::{Flow, Options};
use crate::units::{Dbfs, Hertz, Seconds};

/// How long the tones of a step sound: slow beats need several seconds.
const SOUNDING: Seconds = Seconds::new(5.0);
/// How long after them nothing is listened to: what the loudspeaker and the room still hold.
const RINGING: Seconds = Seconds::new(0.8);
/// How long what was heard stays on the screen.
const REMEMBERED: Seconds = Seconds::new(20.0);
/// A figure stays for so long, that it can be read.
const READABLE: Seconds = Seconds::new(0.35);
/// A step of the level, in decibels.
const STEP_DB: f64 = 2.0;

/// What the program itself is doing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Doing {
    /// Cautions are shown; nothing has sounded yet.
    Cautioning,
    /// The tones of the step sound until then.
    Sounding(Seconds),
    /// They have ended; what rings on is not listened to until then.
    Ringing(Seconds),
    /// The keyboard is listened to.
    Listening,
}

/// The tuner's screen.
pub struct Desk {
    pub(super) sheet: Sheet,
    pub(super) place: usize,
    pub(super) doing: Doing,
    /// What was heard last in this step that was not quiet, and when.
    pub(super) heard: Option<(Heard, Seconds)>,
    pub(super) now: Seconds,
    pub(super) level: Dbfs,
    pub(super) can_sound: bool,
    pub(super) source: SourceState,
    pub(super) loudspeaker: Loudspeaker,
    pub(super) theme: Theme,
    keymap: Keymap,
    shown_at: Seconds,
    is_stale: bool,
    untold: Untold,
}

/// What the shell has not been told yet.
#[derive(Debug, Clone, Copy, Default)]
struct Untold {
    play: bool,
    hear: bool,
}

impl Desk {
    /// The first step of `sheet`, with the cautions before it.
    pub fn new(sheet: Sheet, can_sound: bool, options: &Options) -> Self {
        Self {
            sheet,
            place: 0,
            doing: Doing::Cautioning,
            heard: None,
            now: Seconds::default(),
            level: START_LEVEL,
            can_sound,
            source: SourceState::Opening,
            loudspeaker: Loudspeaker::default(),
            theme: options.theme,
            keymap: options.keymap.clone(),
            shown_at: Seconds::default(),
            is_stale: true,
            untold: Untold::default(),
        }
    }

    /// The step that is shown.
    pub(super) fn step(&self) -> &Step {
        // There is always a first step, and no way beyond the last.
        &self.sheet.steps()[self.place]
    }

    /// The keys.
    pub(super) fn keys(&self) -> Vec<Binding> {
        self.keymap.table(KeysOf::Bearings)
    }

    /// Takes a key.
    pub fn press(&mut self, key: KeyEvent) -> Flow {
        self.is_stale = true;
        let action = keymap::action(&self.keys(), key);
        match action {
            Some(Action::Quit) => return Flow::Quit,
            Some(Action::Suspend) => return Flow::Suspend,
            // Any key goes on to the first step, which is not passed over unread.
            _ if self.doing == Doing::Cautioning => self.begin(),
            Some(Action::Practise(Practise::Next)) => self.go(1),
            Some(Action::Practise(Practise::Previous)) => self.go(-1),
            Some(Action::Practise(Practise::Drone)) => self.sound_or_stop(),
            Some(Action::Practise(Practise::Louder)) => self.louder(1.0),
            Some(Action::Practise(Practise::Softer)) => self.louder(-1.0),
            _ => {}
        }
        Flow::GoOn
    }

    fn go(&mut self, by: isize) {
        let last = self.sheet.steps().len() - 1;
        let place = self.place.saturating_add_signed(by).min(last);
        if place != self.place {
            self.place = place;
            self.begin();
        }
    }

    /// Begins a step: with its tones, or by listening where there is nothing to sound them.
    fn begin(&mut self) {
        self.heard = None;
        self.doing = if self.can_sound {
            Doing::Sounding(self.now + SOUNDING)
        } else {
            Doing::Listening
        };
        self.untold.play = true;
        self.untold.hear = true;
    }

    fn sound_or_stop(&mut self) {
        if !self.can_sound {
            return;
        }
        self.doing = match self.doing {
            Doing::Sounding(_) => Doing::Ringing(self.now + RINGING),
            _ => Doing::Sounding(self.now + SOUNDING),
        };
        self.untold.play = true;
        self.untold.hear = true;
    }

    fn louder(&mut self, steps: f64) {
        let level = self.level.get() + steps * STEP_DB;
        self.level = Dbfs::new(level.clamp(LOWEST_LEVEL.get(), CEILING.get()));
        self.untold.play = true;
    }

    /// It is now this long since the start.
    pub fn tick(&mut self, now: Seconds) {
        let before = self.now;
        self.now = now;
        match self.doing {
            Doing::Sounding(until) if now >= until => {
                self.doing = Doing::Ringing(now + RINGING);
                self.untold.play = true;
                self.is_stale = true;
            }
            Doing::Ringing(until) if now >= until => {
                self.doing = Doing::Listening;
                self.untold.hear = true;
                self.is_stale = true;
            }
            _ => {}
        }
        // What is told in seconds changes by itself.
        if before.get().floor() < now.get().floor() {
            self.is_stale = true;
        }
        if self.heard.is_some_and(|(_, at)| now - at > REMEMBERED) {
            self.heard = None;
        }
    }

    /// Takes news.
    pub fn take(&mut self, news: BearingsNews) {
        match news {
            BearingsNews::Heard(Heard::Quiet) => {}
            BearingsNews::Heard(heard) => {
                let is_fresh = self.heard.is_none() || self.now - self.shown_at >= READABLE;
                if self.doing == Doing::Listening && is_fresh {
                    self.heard = Some((heard, self.now));
                    self.shown_at = self.now;
                    self.is_stale = true;
                } else if let Some((_, at)) = &mut self.heard {
                    *at = self.now;
                }
            }
            BearingsNews::Source(state) => {
                self.source = state;
                self.is_stale = true;
            }
            BearingsNews::Loudspeaker(state) => {
                self.loudspeaker = state;
                self.is_stale = true;
            }
        }
    }

    /// The picture was lost.
    pub(super) fn touch(&mut self) {
        self.is_stale = true;
    }

    /// Whether something has changed since the last time this was asked.
    pub(super) fn take_stale(&mut self) -> bool {
        std::mem::take(&mut self.is_stale)
    }

    /// What has to sound, if that has changed.
    pub fn to_play(&mut self) -> Option<drone::Wanted> {
        std::mem::take(&mut self.untold.play).then(|| match self.doing {
            Doing::Sounding(_) => drone::Wanted {
                tones: self
                    .tones()
                    .into_iter()
                    .map(|hertz| WantedTone { hertz, pan: 0.0 })
                    .collect(),
                // Rich enough for the partials that beat.
                timbre: Timbre::String,
                level: self.level,
            },
            Doing::Cautioning | Doing::Ringing(_) | Doing::Listening => drone::Wanted::silence(),
        })
    }

    /// What has to be listened to, if that has changed.
    pub fn to_hear(&mut self) -> Option<Option<Wanted>> {
        let is_listening = self.doing == Doing::Listening;
        std::mem::take(&mut self.untold.hear)
            .then(|| is_listening.then(|| Wanted::of(&self.step().deed)))
    }

    fn tones(&self) -> Vec<Hertz> {
        match &self.step().deed {
            Deed::Take(note) => vec![note.hertz],
            Deed::Tune { pair, .. } | Deed::Check { pair, .. } | Deed::Leave { pair, .. } => {
                vec![pair.lower.hertz, pair.upper.hertz]
            }
        }
    }
}
