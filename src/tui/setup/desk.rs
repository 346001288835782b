//! The state of setting up: which question it is, what was answered, what is heard.

use std::collections::BTreeMap;

use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyModifiers};

use super::devices::Devices;
use super::file::File;
use super::hearing::Hearing;
use super::keyboard::Keyboard;
use super::keys::{self, Table, Wish};
use super::players::Players;
use super::trumpets::Trumpets;
use super::{Outcome, SetupNews, SetupShell};
use crate::rehearsal::{Ensemble, Instrument, Update};
use crate::tui::theme::Theme;
use crate::tui::{Flow, Options};
use crate::tuning::{Anchor, Temperament, Tuning};
use crate::units::Seconds;

/// What the screen begins with.
#[derive(Debug, Clone)]
pub struct Beginning {
    /// The instruments there are, in the order they are offered.
    pub instruments: Vec<Instrument>,
    /// The temperaments a keyboard may stand in; one at least.
    pub temperaments: Vec<Temperament>,
    /// The name that is proposed for the file.
    pub file: String,
    /// Whether a recording is heard in place of a microphone.
    pub is_recording: bool,
}

/// Which question it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Step {
    Devices,
    Players,
    Keyboard,
    Trumpets,
    File,
}

impl Step {
    const ALL: [Self; 5] = [
        Self::Devices,
        Self::Players,
        Self::Keyboard,
        Self::Trumpets,
        Self::File,
    ];

    /// What it is about, in a word or two.
    pub(super) fn title(self) -> &'static str {
        match self {
            Self::Devices => "microphone",
            Self::Players => "players",
            Self::Keyboard => "keyboard",
            Self::Trumpets => "trumpets",
            Self::File => "file",
        }
    }
}

/// What a step wants of the whole.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Reply {
    Stay,
    Next,
    Back,
    List,
    Listen,
    Write,
    Rehearse,
    End,
}

/// What a step may look at.
pub(super) struct Around<'a> {
    pub(super) hearing: &'a Hearing,
    pub(super) theme: &'a Theme,
    /// Who was found on which input.
    pub(super) players: &'a BTreeMap<usize, String>,
}

/// The screen.
pub struct SetupDesk {
    pub(super) step: Step,
    pub(super) devices: Devices,
    pub(super) players: Players,
    pub(super) keyboard: Keyboard,
    pub(super) trumpets: Trumpets,
    pub(super) file: File,
    pub(super) hearing: Hearing,
    pub(super) theme: Theme,
    names: BTreeMap<usize, String>,
    is_rehearsing: bool,
    is_stale: bool,
    now: Seconds,
    drawn_at: Seconds,
    untold: Untold,
}

/// What the shell has not been asked yet.
#[derive(Debug, Clone, Copy, Default)]
#[expect(
    clippy::struct_excessive_bools,
    reason = "each is asked for by itself, in any company"
)]
struct Untold {
    list: bool,
    listen: bool,
    text: bool,
    write: bool,
}

/// Bars move this often.
const MOVING: Seconds = Seconds::new(0.08);

impl SetupDesk {
    /// The first question; the default input is listened to as soon as there is a list, as a
    /// device that is open may not be listed.
    pub fn new(beginning: Beginning, options: &Options) -> Self {
        Self {
            step: Step::Devices,
            devices: Devices::new(beginning.is_recording),
            players: Players::new(beginning.instruments),
            keyboard: Keyboard::new(beginning.temperaments),
            trumpets: Trumpets::new(),
            file: File::new(&beginning.file),
            hearing: Hearing::new(),
            theme: options.theme,
            names: BTreeMap::new(),
            is_rehearsing: false,
            is_stale: true,
            now: Seconds::default(),
            drawn_at: Seconds::default(),
            untold: Untold {
                list: true,
                ..Untold::default()
            },
        }
    }

    /// Takes a key.
    pub fn press(&mut self, key: KeyEvent) -> Flow {
        self.is_stale = true;
        if key.modifiers.contains(KeyModifiers::CONTROL) {
            match key.code {
                KeyCode::Char('c') => return Flow::Quit,
                KeyCode::Char('z') => return Flow::Suspend,
                _ => {}
            }
        }
        if self.is_typing() && matches!(key.code, KeyCode::Char(_) | KeyCode::Backspace) {
            match self.step {
                Step::Players => self.players.type_in(key),
                _ => self.file.type_in(key),
            }
            return Flow::GoOn;
        }
        if key.code == KeyCode::Char('q') && key.modifiers.is_empty() {
            return Flow::Quit;
        }
        match keys::wish(self.table(), key) {
            Some(wish) => self.wish(wish),
            None => Flow::GoOn,
        }
    }

    /// Whether characters are text now.
    pub(super) fn is_typing(&self) -> bool {
        match self.step {
            Step::Players => self.players.is_typing(),
            Step::File => self.file.is_typing(),
            Step::Devices | Step::Keyboard | Step::Trumpets => false,
        }
    }

    /// The keys that mean something now.
    pub(super) fn table(&self) -> Table {
        match self.step {
            Step::Devices => self.devices.table(),
            Step::Players => self.players.table(),
            Step::Keyboard => self.keyboard.table(),
            Step::Trumpets => Trumpets::table(),
            Step::File => self.file.table(),
        }
    }

    fn wish(&mut self, wish: Wish) -> Flow {
        let around = Around {
            hearing: &self.hearing,
            theme: &self.theme,
            players: &self.names,
        };
        let reply = match self.step {
            Step::Devices => self.devices.press(wish, &around),
            Step::Players => self.players.press(wish, &around),
            Step::Keyboard => self.keyboard.press(wish),
            Step::Trumpets => self.trumpets.press(wish),
            Step::File => self.file.press(wish),
        };
        self.names = self.players.by_input();
        match reply {
            Reply::Stay => {}
            Reply::Next => self.go(1),
            Reply::Back if self.step == Step::Devices => return Flow::Quit,
            Reply::Back => self.go(-1),
            Reply::List => {
                self.untold.list = true;
                self.hearing = Hearing::new();
            }
            Reply::Listen => {
                self.untold.listen = true;
                self.players.forget();
                self.names.clear();
                self.hearing = Hearing::new();
            }
            Reply::Write => self.untold.write = true,
            Reply::Rehearse => {
                self.is_rehearsing = true;
                return Flow::Quit;
            }
            Reply::End => return Flow::Quit,
        }
        Flow::GoOn
    }

    fn go(&mut self, by: isize) {
        let place = Step::ALL
            .iter()
            .position(|step| *step == self.step)
            .unwrap_or(0);
        let mut next = place.saturating_add_signed(by).min(Step::ALL.len() - 1);
        if Step::ALL[next] == Step::Trumpets && self.players.trumpets().is_empty() {
            next = next.saturating_add_signed(by);
        }
        self.step = Step::ALL[next];
        if self.step == Step::Keyboard {
            self.keyboard.begin(&self.hearing);
        }
        self.untold.text |= self.step == Step::File;
    }

    /// The number of the question and how many there are.
    pub(super) fn count(&self) -> (usize, usize) {
        let has_trumpets = !self.players.trumpets().is_empty();
        let steps = || {
            Step::ALL
                .into_iter()
                .filter(|step| has_trumpets || *step != Step::Trumpets)
        };
        let place = steps().position(|step| step == self.step).unwrap_or(0);
        (place + 1, steps().count())
    }

    pub(super) fn around(&self) -> Around<'_> {
        Around {
            hearing: &self.hearing,
            theme: &self.theme,
            players: &self.names,
        }
    }

    /// Everything that was answered, with what is usual in the place of what was left out.
    pub fn ensemble(&self) -> Option<Ensemble> {
        let choice = self.keyboard.choice()?;
        let key = self.trumpets.key();
        Some(Ensemble {
            title: "Rehearsal".to_owned(),
            tuning: Tuning::new(
                choice.standard,
                &choice.temperament,
                choice.chain,
                key,
                Anchor::tonic(key),
            ),
            channels: self.players.channels(),
        })
    }

    /// Takes news.
    pub fn take(&mut self, news: SetupNews) {
        match news {
            SetupNews::Inputs(inputs) => {
                self.devices.take(inputs);
                self.untold.listen = true;
                self.is_stale = true;
            }
            SetupNews::Written(written) => {
                let options = options(&self.outcome());
                self.file.take(written, &options);
                self.is_stale = true;
            }
            SetupNews::Heard(Update::Reading(input, reading)) => self.hearing.take(input, &reading),
            SetupNews::Heard(Update::Started(format)) => {
                self.hearing.start(&format.name, format.channels);
                self.is_stale = true;
            }
            SetupNews::Heard(Update::State(state)) => {
                self.hearing.state = state;
                self.is_stale = true;
            }
            // Gaps make a note begin anew; nothing else is listened for here.
            SetupNews::Heard(_) => {}
        }
    }

    /// It is now this long since the start, and all news have been taken.
    pub fn tick(&mut self, now: Seconds) {
        self.now = now;
        let is_changed = match self.step {
            Step::Players => self.players.tick(&self.hearing),
            Step::Keyboard => self.keyboard.tick(&self.hearing),
            Step::Trumpets => match self.keyboard.choice() {
                Some(choice) => {
                    let inputs = self.players.trumpets();
                    self.trumpets.tick(&self.hearing, &inputs, &choice)
                }
                None => false,
            },
            Step::Devices | Step::File => false,
        };
        let is_moving = !self.hearing.inputs.is_empty() && self.step != Step::File;
        if is_changed || is_moving && now - self.drawn_at >= MOVING {
            self.is_stale = true;
        }
    }

    /// Asks the shell for what is due.
    pub fn carry_out(&mut self, shell: &mut impl SetupShell) {
        let untold = std::mem::take(&mut self.untold);
        if untold.list {
            shell.list();
        }
        if untold.listen {
            shell.listen(&self.devices.listened());
        }
        if untold.text
            && let Some(ensemble) = self.ensemble()
        {
            self.file.set_text(shell.text(&ensemble));
            self.is_stale = true;
        }
        if untold.write {
            shell.write(self.file.name(), self.file.text());
        }
    }

    /// What has come of it so far.
    pub fn outcome(&self) -> Outcome {
        let listened = self.devices.listened();
        // A rehearsal asks for as many channels as its highest input; more have to be named.
        let highest = self
            .players
            .channels()
            .iter()
            .map(|channel| channel.input)
            .max();
        let heard = self.hearing.inputs.len();
        let is_more = heard > 2 && highest.is_some_and(|highest| highest < heard);
        Outcome {
            file: self.file.written().map(str::to_owned),
            is_rehearsing: self.is_rehearsing,
            input: listened.input,
            channels: listened.channels.or(is_more.then_some(heard)),
        }
    }

    /// The picture was lost.
    pub fn touch(&mut self) {
        self.is_stale = true;
    }

    /// Whether the picture has changed since this was last asked.
    pub fn take_stale(&mut self) -> bool {
        if self.is_stale {
            self.drawn_at = self.now;
        }
        std::mem::take(&mut self.is_stale)
    }
}

/// What `concento rehearse` has to be told besides the file.
fn options(outcome: &Outcome) -> String {
    let input = outcome.input.as_ref().map(|id| format!(" --input '{id}'"));
    let channels = outcome.channels.map(|count| format!(" --channels {count}"));
    input.into_iter().chain(channels).collect()
}
