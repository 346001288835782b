//! The whole state of the screen: events in, effects out, and a widget to draw.

use ratatui::buffer::Buffer;
use ratatui::crossterm::event::KeyEvent;
use ratatui::layout::{Rect, Size};
use ratatui::widgets::Widget;

use super::chord::{Chord, ChordView};
use super::event::{Effect, Event, Playback, Recording};
use super::frame::{Footer, Hint};
use super::help::Help;
use super::keymap::{self, Action, Binding};
use super::layout;
use super::players::{Players, PlayersView};
use super::theme::{Palette, Theme};
use crate::rehearsal::{Entry, Rehearsal};
use crate::units::Seconds;

/// What fills the window.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Shown {
    /// Every player against both places.
    Players,
    /// The chord on its ladder.
    Chord,
}

/// Something that has just happened, for the status line.
#[derive(Debug, Clone, PartialEq)]
struct Notice {
    text: String,
    until: Seconds,
}

/// How long a notice stands.
const NOTICE: Seconds = Seconds::new(6.0);

/// What lies on top of the view.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Overlay {
    /// Keys and marks.
    Help,
}

impl Overlay {
    /// The keys it takes for itself; others go on to what lies below.
    fn keys(self) -> &'static [Binding] {
        match self {
            Self::Help => keymap::HELP,
        }
    }
}

/// The screen's state.
#[derive(Debug, Clone)]
pub struct App {
    rehearsal: Rehearsal,
    players: PlayersView,
    chord: ChordView,
    shown: Shown,
    notice: Option<Notice>,
    recording: Recording,
    playback: Option<Playback>,
    now: Seconds,
    /// The last one lies on top.
    overlays: Vec<Overlay>,
    theme: Theme,
    size: Size,
    is_stale: bool,
}

impl App {
    /// A screen of `size` that shows `rehearsal`.
    pub fn new(rehearsal: Rehearsal, palette: Palette, size: Size) -> Self {
        Self {
            rehearsal,
            players: PlayersView::new(),
            chord: ChordView::new(),
            shown: Shown::Players,
            notice: None,
            recording: Recording::default(),
            playback: None,
            now: Seconds::new(0.0),
            overlays: Vec::new(),
            theme: Theme::new(palette),
            size,
            is_stale: true,
        }
    }

    /// Takes in an event, and says what the shell has to do about it.
    pub fn update(&mut self, event: Event) -> Option<Effect> {
        let sought = self.rehearsal.sought_revision();
        let effect = match event {
            Event::Key(key) => self.press(key),
            Event::Resized(size) => {
                self.size = size;
                self.is_stale = true;
                None
            }
            Event::Update(update) => {
                self.is_stale = true;
                self.rehearsal.take(update);
                None
            }
            Event::Tick(now) => {
                self.now = now;
                self.is_stale |= self.rehearsal.tick(now);
                if self.notice.take_if(|notice| notice.until <= now).is_some() {
                    self.is_stale = true;
                }
                None
            }
            Event::Told(text) => {
                self.tell(text);
                None
            }
            Event::Recording(recording) => {
                self.is_stale |= recording != self.recording;
                self.recording = recording;
                None
            }
            Event::Playing(playback) => {
                self.is_stale |= self.playback != Some(playback);
                self.playback = Some(playback);
                None
            }
            Event::Rewound(rehearsal) => {
                self.rehearsal = *rehearsal;
                self.notice = None;
                self.is_stale = true;
                None
            }
        };
        if effect.is_none() && sought != self.rehearsal.sought_revision() {
            let sought = self.rehearsal.sought().iter();
            let voices = sought.map(|voices| Some(voices.as_ref()?.sought().clone()));
            return Some(Effect::Seek(voices.collect()));
        }
        effect
    }

    /// What is to be kept of what has happened since the last call.
    pub fn take_entries(&mut self) -> Vec<Entry> {
        self.rehearsal.take_entries()
    }

    /// Ends the rehearsal: what is to be kept of what was still open.
    pub fn finish(&mut self) -> Vec<Entry> {
        self.rehearsal.finish();
        self.rehearsal.take_entries()
    }

    fn tell(&mut self, text: String) {
        let until = self.now + NOTICE;
        self.notice = Some(Notice { text, until });
        self.is_stale = true;
    }

    fn keys(&self) -> &'static [Binding] {
        match self.shown {
            Shown::Players => PlayersView::keys(),
            Shown::Chord => ChordView::keys(),
        }
    }

    /// Whether the picture has changed since this was last asked.
    pub fn take_stale(&mut self) -> bool {
        std::mem::take(&mut self.is_stale)
    }

    fn press(&mut self, key: KeyEvent) -> Option<Effect> {
        let on_top = self.overlays.last();
        let action = on_top
            .and_then(|overlay| keymap::action(overlay.keys(), key))
            .or_else(|| keymap::action(self.keys(), key))?;
        self.is_stale = true;
        match action {
            Action::Help => self.overlays.push(Overlay::Help),
            Action::Close => {
                self.overlays.pop();
            }
            Action::Suspend => return Some(Effect::Suspend),
            Action::Quit => return Some(Effect::Quit),
            Action::Switch => {
                self.shown = match self.shown {
                    Shown::Players => Shown::Chord,
                    Shown::Chord => Shown::Players,
                }
            }
            Action::Hold => self.hold(),
            Action::Recall(number) => {
                if !self.rehearsal.recall(number.into()) {
                    self.tell(format!("no chord {number} is kept"));
                }
            }
            Action::NextHeld => {
                if self.rehearsal.recall_next().is_none() {
                    let hold = keymap::label(self.keys(), Action::Hold);
                    self.tell(format!("no chord is kept yet: {hold} holds one"));
                }
            }
            Action::Release => self.rehearsal.release(),
            action => match self.shown {
                Shown::Players => self.players.update(action, &mut self.rehearsal, self.size),
                Shown::Chord => self.chord.update(action, &mut self.rehearsal, self.size),
            },
        }
        None
    }

    fn hold(&mut self) {
        let told = match self.rehearsal.hold() {
            Ok((number, chord)) => format!("held as {number}: {}", chord.taken()),
            Err(nothing) => nothing.to_string(),
        };
        self.tell(told);
    }
}

impl Widget for &App {
    fn render(self, area: Rect, buffer: &mut Buffer) {
        let (rehearsal, theme) = (&self.rehearsal, &self.theme);
        let notice = self.notice.as_ref().map(|notice| notice.text.as_str());
        match self.shown {
            Shown::Players => Players {
                view: &self.players,
                rehearsal,
                notice,
                theme,
            }
            .render(area, buffer),
            Shown::Chord => Chord {
                view: &self.chord,
                rehearsal,
                notice,
                theme,
            }
            .render(area, buffer),
        }
        for overlay in &self.overlays {
            match overlay {
                Overlay::Help => self.draw_help(*overlay, area, buffer),
            }
        }
    }
}

impl App {
    fn draw_help(&self, overlay: Overlay, area: Rect, buffer: &mut Buffer) {
        if !layout::is_enough(area) {
            return;
        }
        let rows = area.height - 1;
        let above = Rect {
            height: rows,
            ..area
        };
        Help {
            table: self.keys(),
            theme: &self.theme,
        }
        .render(above, buffer);
        let footer = Rect {
            y: area.y + rows,
            height: 1,
            ..area
        };
        ratatui::widgets::Clear.render(footer, buffer);
        Footer {
            table: overlay.keys(),
            hints: vec![Hint {
                actions: &[Action::Close],
                word: "close the help; all other keys work as ever".to_owned(),
            }],
            theme: &self.theme,
        }
        .render(footer, buffer);
    }
}
