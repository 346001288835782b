//! The first screen: what one can begin with. Nothing has to be configured before it.
//!
//! ```text
//!  concento                            where a note lies between nature and temperament
//!
//!  ▸ l  Listen now         every input of the microphone
//!    d  Demo               an invented band, heard as if through a microphone
//!    p  Practise alone     a drone, and exercises against it
//! ```

use ratatui::buffer::Buffer;
use ratatui::layout::{Position, Rect};
use ratatui::widgets::Widget;

use super::event::Event;
use super::frame::{Footer, Hint};
use super::keymap::{self, Action, Binding, Keymap, KeysOf};
use super::theme::Theme;
use super::{Act, Ending, Error, Flow, Options, layout, perform, text};
use crate::units::Seconds;

/// What can be begun.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Door {
    /// Listen to the ensemble.
    Listen,
    /// The invented rehearsal.
    Demo,
    /// Alone with a drone.
    Practise,
    /// Look at the last session.
    Last,
    /// The programme from its scores.
    Plan,
    /// Who plays, at what pitch, by ear.
    Setup,
}

/// A door and what is behind it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Choice {
    /// Which.
    pub door: Door,
    /// What it is called.
    pub title: &'static str,
    /// What is behind it now.
    pub about: String,
    /// Whether it can be gone through.
    pub is_open: bool,
}

/// The first screen.
#[derive(Debug, Clone)]
pub struct Home {
    choices: Vec<Choice>,
    selected: usize,
    chosen: Option<Door>,
    told: Option<String>,
    keymap: Keymap,
    theme: Theme,
    area: Rect,
    is_stale: bool,
}

/// Shows the first screen until something is chosen; none if it is left.
///
/// # Errors
///
/// As for [`perform`].
pub fn show_home<G>(
    home: &mut Home,
    options: &Options,
    guard: G,
) -> Result<(Ending, Option<Door>), Error> {
    let ending = perform(home, options, guard)?;
    Ok((ending, home.chosen.take()))
}

impl Home {
    /// With these choices, the first of them selected.
    pub fn new(choices: Vec<Choice>, options: &Options) -> Self {
        Self {
            choices,
            selected: 0,
            chosen: None,
            told: None,
            keymap: options.keymap.clone(),
            theme: options.theme,
            area: Rect::default(),
            is_stale: true,
        }
    }

    /// The same with other choices, and something to say.
    pub fn again(&mut self, choices: Vec<Choice>, told: Option<String>) {
        self.choices = choices;
        self.selected = self.selected.min(self.choices.len().saturating_sub(1));
        self.told = told;
        self.is_stale = true;
    }

    /// What was chosen last.
    #[cfg(test)]
    pub(super) fn chosen(&self) -> Option<Door> {
        self.chosen
    }

    fn table(&self) -> Vec<Binding> {
        self.keymap.table(KeysOf::Home)
    }

    fn press(&mut self, action: Action) -> Flow {
        self.is_stale = true;
        self.told = None;
        let last = self.choices.len().saturating_sub(1);
        match action {
            Action::SelectPrevious => self.selected = self.selected.saturating_sub(1),
            Action::SelectNext => self.selected = (self.selected + 1).min(last),
            Action::Accept => return self.enter(self.selected),
            Action::Go(door) => {
                let place = self.choices.iter().position(|choice| choice.door == door);
                return place.map_or(Flow::GoOn, |place| self.enter(place));
            }
            Action::Suspend => return Flow::Suspend,
            Action::Quit => return Flow::Quit,
            _ => {}
        }
        Flow::GoOn
    }

    fn enter(&mut self, place: usize) -> Flow {
        self.selected = place;
        match self.choices.get(place) {
            Some(choice) if choice.is_open => {
                self.chosen = Some(choice.door);
                Flow::Quit
            }
            Some(choice) => {
                self.told = Some(choice.about.clone());
                Flow::GoOn
            }
            None => Flow::GoOn,
        }
    }

    /// Rows of a choice: its words below its title where there is room.
    fn rows_each(&self, area: Rect) -> u16 {
        let count = self.choices.len() as u16;
        let room = area.height.saturating_sub(5);
        (1..=3).rev().find(|rows| count * rows <= room).unwrap_or(1)
    }

    fn top(area: Rect) -> u16 {
        area.y + if area.height >= 14 { 3 } else { 2 }
    }

    fn at(&self, at: Position) -> Option<usize> {
        let below = at.y.checked_sub(Self::top(self.area))?;
        let place = usize::from(below / self.rows_each(self.area));
        (place < self.choices.len()).then_some(place)
    }
}

impl Act for Home {
    fn heed(&mut self, event: Event) -> Flow {
        match event {
            Event::Key(key) => match keymap::action(&self.table(), key) {
                Some(action) => self.press(action),
                None => Flow::GoOn,
            },
            Event::Resized(size) => {
                self.area = Rect::new(0, 0, size.width, size.height);
                self.is_stale = true;
                Flow::GoOn
            }
            Event::Click(at) => match self.at(at) {
                Some(place) if place == self.selected => self.enter(place),
                Some(place) => {
                    self.selected = place;
                    self.is_stale = true;
                    Flow::GoOn
                }
                None => Flow::GoOn,
            },
            Event::Wheel { down: true } => self.press(Action::SelectNext),
            Event::Wheel { down: false } => self.press(Action::SelectPrevious),
            _ => Flow::GoOn,
        }
    }

    fn tick(&mut self, _elapsed: Seconds) -> Flow {
        Flow::GoOn
    }

    fn take_stale(&mut self) -> bool {
        std::mem::take(&mut self.is_stale)
    }

    fn draw(&self, area: Rect, buffer: &mut Buffer) {
        self.render(area, buffer);
    }

    fn theme(&self) -> &Theme {
        &self.theme
    }
}

impl Widget for &Home {
    fn render(self, area: Rect, buffer: &mut Buffer) {
        let area = area.intersection(buffer.area);
        if !layout::is_enough(area) {
            super::frame::too_small(area, buffer);
            return;
        }
        let theme = &self.theme;
        let width = usize::from(area.width - 2);
        let left = area.x + 1;
        let (end, _) = buffer.set_stringn(left, area.y, "concento", width, theme.player);
        let about = "between the partial and the tempered note";
        let room = usize::from(area.right().saturating_sub(end + 3));
        if about.len() <= room {
            buffer.set_string(end + 2, area.y, about, theme.faint);
        }
        if let Some(told) = &self.told {
            let told = format!(" {} ", text::begun(told, width - 2));
            buffer.set_stringn(left, area.y + 1, told, width, theme.notice);
        }
        let table = self.table();
        let rows = self.rows_each(area);
        // In one row the words stand beside the longest title.
        let longest = self
            .choices
            .iter()
            .map(|choice| choice.title.chars().count())
            .max();
        let beside = if rows == 1 {
            longest.unwrap_or(0) as u16 + 7
        } else {
            5
        };
        for (place, choice) in self.choices.iter().enumerate() {
            let y = Home::top(area) + place as u16 * rows;
            let is_selected = place == self.selected;
            if is_selected {
                buffer.set_string(area.x, y, "\u{25b8}", theme.selected);
            }
            let key = keymap::label(&table, Action::Go(choice.door));
            buffer.set_stringn(left + 1, y, key, 3, theme.player);
            let style = match (is_selected, choice.is_open) {
                (true, _) => theme.selected,
                (false, true) => theme.text,
                (false, false) => theme.faint,
            };
            buffer.set_stringn(left + 5, y, choice.title, width - 5, style);
            let x = left + beside;
            let y = if rows == 1 { y } else { y + 1 };
            let room = usize::from(area.right().saturating_sub(x + 1));
            buffer.set_stringn(x, y, text::begun(&choice.about, room), room, theme.faint);
        }
        let hint = |actions: &'static [Action], word: &str| Hint {
            actions,
            word: word.to_owned(),
        };
        let footer = Rect {
            y: area.bottom() - 1,
            height: 1,
            ..area
        };
        Footer {
            table: &table,
            hints: vec![
                hint(&[Action::SelectPrevious, Action::SelectNext], "choose"),
                hint(&[Action::Accept], "begin"),
                hint(&[Action::Quit], "quit"),
            ],
            theme,
        }
        .render(footer, buffer);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tui::Palette;
    use proptest::prelude::*;
    use ratatui::Terminal;
    use ratatui::backend::TestBackend;
    use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyModifiers};
    use ratatui::layout::Size;

    fn choices() -> Vec<Choice> {
        let choice = |door, title, about: &str, is_open| Choice {
            door,
            title,
            about: about.to_owned(),
            is_open,
        };
        vec![
            choice(
                Door::Listen,
                "Listen now",
                "every input of the microphone",
                true,
            ),
            choice(Door::Demo, "Demo", "an invented band", true),
            choice(
                Door::Plan,
                "Plan a programme",
                "no score in this folder",
                false,
            ),
        ]
    }

    fn home() -> Home {
        Home::new(choices(), &Options::new(Theme::dark(Palette::Plain)))
    }

    fn press(home: &mut Home, code: KeyCode) -> Flow {
        home.heed(Event::Key(KeyEvent::new(code, KeyModifiers::NONE)))
    }

    fn picture(home: &Home, width: u16, height: u16) -> String {
        let mut terminal = Terminal::new(TestBackend::new(width, height)).unwrap();
        terminal
            .draw(|frame| frame.render_widget(home, frame.area()))
            .unwrap();
        terminal.backend().to_string()
    }

    #[test]
    fn a_door_is_chosen_by_its_key_or_by_arrows() {
        let mut by_key = home();
        assert_eq!(press(&mut by_key, KeyCode::Char('d')), Flow::Quit);
        assert_eq!(by_key.chosen(), Some(Door::Demo));
        let mut by_arrows = home();
        assert_eq!(press(&mut by_arrows, KeyCode::Down), Flow::GoOn);
        assert_eq!(press(&mut by_arrows, KeyCode::Enter), Flow::Quit);
        assert_eq!(by_arrows.chosen(), Some(Door::Demo));
    }

    #[test]
    fn a_closed_door_says_why() {
        let mut home = home();
        assert_eq!(press(&mut home, KeyCode::Char('g')), Flow::GoOn);
        assert_eq!(home.chosen(), None);
        assert!(picture(&home, 80, 24).contains(" no score in this folder "));
        assert_eq!(press(&mut home, KeyCode::Char('q')), Flow::Quit);
        assert_eq!(home.chosen(), None);
    }

    #[test]
    fn a_click_selects_and_another_enters() {
        let mut home = home();
        home.heed(Event::Resized(Size::new(80, 24)));
        let demo = Position::new(20, 6);
        assert_eq!(home.heed(Event::Click(demo)), Flow::GoOn);
        assert_eq!(home.heed(Event::Click(demo)), Flow::Quit);
        assert_eq!(home.chosen(), Some(Door::Demo));
    }

    #[test]
    fn the_first_screen() {
        let home = home();
        insta::assert_snapshot!("home_80x24", picture(&home, 80, 24));
        insta::assert_snapshot!("home_60x10", picture(&home, 60, 10));
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn every_window_can_be_drawn(width in 0_u16..300, height in 0_u16..100) {
            let area = Rect::new(0, 0, width, height);
            home().render(area, &mut Buffer::empty(area));
        }
    }
}
