//! The whole state of the screen: events in, effects out, and a widget to draw.

use ratatui::buffer::Buffer;
use ratatui::crossterm::event::KeyEvent;
use ratatui::layout::{Rect, Size};
use ratatui::widgets::Widget;

use super::event::{Effect, Event};
use super::frame::{Footer, Hint};
use super::help::Help;
use super::keymap::{self, Action, Binding};
use super::layout;
use super::players::{Players, PlayersView};
use super::theme::{Palette, Theme};
use crate::rehearsal::Rehearsal;

/// What fills the window.
#[derive(Debug, Clone, PartialEq)]
enum View {
    /// Every player against both places.
    Players(PlayersView),
}

impl View {
    fn keys(&self) -> &'static [Binding] {
        match self {
            Self::Players(_) => PlayersView::keys(),
        }
    }

    fn update(&mut self, action: Action, rehearsal: &mut Rehearsal, size: Size) {
        match self {
            Self::Players(view) => view.update(action, rehearsal, size),
        }
    }
}

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
    view: View,
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
            view: View::Players(PlayersView::new()),
            overlays: Vec::new(),
            theme: Theme::new(palette),
            size,
            is_stale: true,
        }
    }

    /// Takes in an event, and says what the shell has to do about it.
    pub fn update(&mut self, event: Event) -> Option<Effect> {
        match event {
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
                self.is_stale |= self.rehearsal.tick(now);
                None
            }
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
            .or_else(|| keymap::action(self.view.keys(), key))?;
        self.is_stale = true;
        match action {
            Action::Help => self.overlays.push(Overlay::Help),
            Action::Close => {
                self.overlays.pop();
            }
            Action::Suspend => return Some(Effect::Suspend),
            Action::Quit => return Some(Effect::Quit),
            action => self.view.update(action, &mut self.rehearsal, self.size),
        }
        None
    }
}

impl Widget for &App {
    fn render(self, area: Rect, buffer: &mut Buffer) {
        let (rehearsal, theme) = (&self.rehearsal, &self.theme);
        match &self.view {
            View::Players(view) => Players {
                view,
                rehearsal,
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
            table: self.view.keys(),
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
