//! The second question: who plays into which input. They play, one after the other.

use std::collections::BTreeMap;

use ratatui::buffer::Buffer;
use ratatui::crossterm::event::KeyEvent;
use ratatui::layout::Rect;

use super::desk::{Around, Reply};
use super::hearing::{Hearing, Rise};
use super::keys::{Table, Wish};
use super::{meters, naming};
use crate::rehearsal::{Channel, Family, Instrument};
use crate::tui::field::Field;
use crate::units::Seconds;

/// An input has to stay the loudest for so long.
const SURE: Seconds = Seconds::new(0.8);
/// After a player there has to be quiet for so long.
const QUIET: Seconds = Seconds::new(0.4);
/// Inputs nearer together than this cannot be told apart by level.
const ALIKE_DB: f64 = 3.0;
/// The longest name of a player.
const LONGEST: usize = 40;

const LISTENING: Table = &[
    (Wish::Take, "no more players"),
    (Wish::Down, "by hand"),
    (Wish::Up, "by hand"),
    (Wish::Undo, "take back"),
    (Wish::LeaveOut, "leave out"),
    (Wish::Back, "back"),
];
const FOUND: Table = &[
    (Wish::Take, "yes"),
    (Wish::Left, "instrument"),
    (Wish::Right, "instrument"),
    (Wish::Up, "input"),
    (Wish::Down, "input"),
    (Wish::Back, "listen again"),
];

/// A player as found.
#[derive(Debug, Clone, PartialEq)]
struct Player {
    name: String,
    instrument: Instrument,
    input: usize,
    players: usize,
}

/// An input that was found, to be confirmed.
#[derive(Debug, Clone, PartialEq)]
struct Found {
    input: usize,
    rise: Option<Rise>,
    instrument: usize,
    name: Field,
    is_typed: bool,
}

#[derive(Debug, Clone, PartialEq)]
enum Phase {
    /// Waiting for somebody to play: the loudest input and since when. Whoever was found last
    /// may play on: their input counts again only after some quiet.
    Listening {
        top: Option<(usize, Seconds)>,
        quiet_since: Option<Seconds>,
        passed: Option<usize>,
    },
    /// Somebody has.
    Found(Found),
}

/// Who plays.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Players {
    instruments: Vec<Instrument>,
    list: Vec<Player>,
    phase: Phase,
}

impl Players {
    pub(super) fn new(instruments: Vec<Instrument>) -> Self {
        Self {
            instruments,
            list: Vec::new(),
            phase: listening(None),
        }
    }

    /// The channels of the ensemble; a room where nobody was named.
    pub(super) fn channels(&self) -> Vec<Channel> {
        let channel = |player: &Player| Channel {
            name: player.name.clone(),
            instrument: player.instrument.clone(),
            input: player.input + 1,
            visible: true,
            chain: None,
            players: player.players.max(player.instrument.family.usual_players()),
        };
        let mut channels: Vec<Channel> = self.list.iter().map(channel).collect();
        if channels.is_empty()
            && let Some(room) = self.instruments.iter().find(|i| i.family == Family::Room)
        {
            channels.push(channel(&Player {
                name: naming::role(room).to_owned(),
                instrument: room.clone(),
                input: 0,
                players: 1,
            }));
        }
        channels
    }

    /// The names beside the bars.
    pub(super) fn by_input(&self) -> BTreeMap<usize, String> {
        self.list
            .iter()
            .map(|player| (player.input, player.name.clone()))
            .collect()
    }

    /// Inputs that trumpets may be heard through.
    pub(super) fn trumpets(&self) -> Vec<usize> {
        self.channels()
            .iter()
            .filter(|channel| matches!(channel.instrument.family, Family::Trumpets | Family::Room))
            .map(|channel| channel.input - 1)
            .collect()
    }

    /// Another microphone has other inputs.
    pub(super) fn forget(&mut self) {
        self.list.clear();
        self.phase = listening(None);
    }

    pub(super) fn table(&self) -> Table {
        match self.phase {
            Phase::Listening { .. } => LISTENING,
            Phase::Found(_) => FOUND,
        }
    }

    /// Whether keys are letters of a name now.
    pub(super) fn is_typing(&self) -> bool {
        matches!(self.phase, Phase::Found(_))
    }

    pub(super) fn type_in(&mut self, key: KeyEvent) {
        if let Phase::Found(found) = &mut self.phase {
            if !found.is_typed {
                // The proposal gives way to the first letter; Backspace shortens it.
                found.is_typed = true;
                if matches!(key.code, ratatui::crossterm::event::KeyCode::Char(_)) {
                    found.name = Field::new("", LONGEST);
                }
            }
            found.name.press(key);
            // Who types a role means the instrument as well.
            let typed = found.name.text();
            if let Some(meant) = naming::meant(&self.instruments, typed) {
                found.instrument = meant;
            }
        }
    }

    pub(super) fn press(&mut self, wish: Wish, around: &Around<'_>) -> Reply {
        let inputs = around.hearing.inputs.len().max(1);
        match (&mut self.phase, wish) {
            (Phase::Listening { .. }, Wish::Take | Wish::LeaveOut) => return Reply::Next,
            (Phase::Listening { .. }, Wish::Back) => return Reply::Back,
            (Phase::Listening { .. }, Wish::Up | Wish::Down) => {
                let taken = |at: &usize| self.list.iter().any(|player| player.input == *at);
                let input = (0..inputs).find(|at| !taken(at)).unwrap_or(0);
                self.found(input, None, inputs);
            }
            (Phase::Listening { .. }, Wish::Undo) => {
                self.list.pop();
            }
            (Phase::Found(_), Wish::Take) => self.confirm(),
            (Phase::Found(found), Wish::Back) => self.phase = listening(Some(found.input)),
            (Phase::Found(found), Wish::Left | Wish::Right) => {
                let by = if wish == Wish::Left { -1 } else { 1 };
                let count = self.instruments.len() as isize;
                found.instrument = (found.instrument as isize + by).rem_euclid(count) as usize;
                self.rename();
            }
            (Phase::Found(found), Wish::Up | Wish::Down) => {
                let by = if wish == Wish::Up { -1 } else { 1 };
                found.input = found.input.saturating_add_signed(by).min(inputs - 1);
                found.rise = None;
            }
            _ => {}
        }
        Reply::Stay
    }

    fn found(&mut self, input: usize, rise: Option<Rise>, inputs: usize) {
        // Who sits beside a player often plays the same; one microphone alone is the room's.
        let usual = if inputs == 1 {
            "room"
        } else {
            "natural-trumpet"
        };
        let named = self
            .list
            .last()
            .map_or(usual, |player| &player.instrument.name);
        let instrument = self
            .instruments
            .iter()
            .position(|i| i.name == named)
            .unwrap_or(0);
        self.phase = Phase::Found(Found {
            input,
            rise,
            instrument,
            name: Field::new("", LONGEST),
            is_typed: false,
        });
        self.rename();
    }

    fn rename(&mut self) {
        let taken = self.list.iter().map(|player| player.name.as_str());
        if let Phase::Found(found) = &mut self.phase
            && !found.is_typed
        {
            let instrument = &self.instruments[found.instrument];
            found.name = Field::new(&naming::proposed(instrument, &taken), LONGEST);
        }
    }

    fn confirm(&mut self) {
        let Phase::Found(found) = &self.phase else {
            return;
        };
        let instrument = self.instruments[found.instrument].clone();
        let names = self.list.iter().map(|player| player.name.as_str());
        let typed = found.name.text();
        let is_taken = names.clone().any(|name| name == typed);
        let name = if typed.is_empty() || is_taken {
            naming::proposed(&instrument, &names)
        } else {
            typed.to_owned()
        };
        let player = Player {
            name,
            instrument,
            input: found.input,
            players: 1,
        };
        let input = player.input;
        match self
            .list
            .iter()
            .position(|other| other.input == player.input)
        {
            None => self.list.push(player),
            Some(at) => self.share(at, &player),
        }
        self.phase = listening(Some(input));
    }

    /// Two who play into one microphone are one channel.
    fn share(&mut self, at: usize, player: &Player) {
        let families = [self.list[at].instrument.family, player.instrument.family];
        let together = if families == [Family::Trumpets; 2] {
            "natural-trumpet"
        } else if families
            .iter()
            .any(|f| matches!(f, Family::Trumpets | Family::Room))
        {
            "room"
        } else {
            "section"
        };
        let Some(instrument) = self.instruments.iter().find(|i| i.name == together) else {
            return;
        };
        let others = self
            .list
            .iter()
            .enumerate()
            .filter(|(other, _)| *other != at);
        let name = match together {
            "natural-trumpet" => "Trumpets".to_owned(),
            _ => naming::proposed(instrument, &others.map(|(_, other)| other.name.as_str())),
        };
        let shared = &mut self.list[at];
        shared.players = (shared.players + 1).min(crate::rehearsal::MOST_PLAYERS);
        shared.instrument = instrument.clone();
        shared.name = name;
    }

    /// Looks whether somebody plays.
    pub(super) fn tick(&mut self, hearing: &Hearing) -> bool {
        let now = hearing.now;
        let rise = hearing.rise();
        let Phase::Listening {
            top,
            quiet_since,
            passed,
        } = &mut self.phase
        else {
            return false;
        };
        let Some(rise) = rise else {
            *top = None;
            let since = *quiet_since.get_or_insert(now);
            // A clock that went back is that of a new stream.
            if now - since >= QUIET || now < since {
                *passed = None;
            }
            return false;
        };
        *quiet_since = None;
        if *passed == Some(rise.input) {
            *top = None;
            return false;
        }
        match *top {
            Some((input, since)) if input == rise.input && since <= now => {
                if now - since >= SURE {
                    self.found(rise.input, Some(rise), hearing.inputs.len());
                    return true;
                }
            }
            _ => *top = Some((rise.input, now)),
        }
        false
    }

    pub(super) fn question(&self) -> String {
        match &self.phase {
            Phase::Listening { .. } if self.list.is_empty() => {
                "who plays? let one of them play alone, loudly, for a second".to_owned()
            }
            Phase::Listening { .. } => {
                "another player? let the next one play, or press Enter".to_owned()
            }
            Phase::Found(found) => {
                let instrument = &self.instruments[found.instrument];
                format!(
                    "input {}: {} ({})",
                    found.input + 1,
                    found.name.shown(LONGEST),
                    instrument.title
                )
            }
        }
    }

    pub(super) fn hint(&self) -> String {
        match &self.phase {
            Phase::Listening { .. } => {
                "the input that rises most above the others is theirs".to_owned()
            }
            Phase::Found(found) => {
                let shared = self.list.iter().find(|player| player.input == found.input);
                if let Some(other) = shared {
                    return format!(
                        "input {} is taken by {}: Enter lets both share it, as a chord",
                        found.input + 1,
                        other.name
                    );
                }
                match found.rise.and_then(|rise| rise.next) {
                    Some((next, db)) if db < ALIKE_DB => format!(
                        "inputs {} and {} rose alike ({db:.0} dB apart): see which it is, or move \
                         the microphones apart",
                        found.input + 1,
                        next + 1
                    ),
                    Some((next, db)) => {
                        format!("{db:.0} dB louder than input {}, the next one", next + 1)
                    }
                    None => "type another name if you like".to_owned(),
                }
            }
        }
    }

    pub(super) fn draw(&self, area: Rect, buffer: &mut Buffer, around: &Around<'_>) {
        let marked = match &self.phase {
            Phase::Listening { top, .. } => top.map(|(input, _)| input),
            Phase::Found(found) => {
                self.draw_instruments(found, area, buffer, around);
                Some(found.input)
            }
        };
        let below = Rect {
            y: area.y + u16::from(self.is_typing()) * 2,
            height: area.height.saturating_sub(u16::from(self.is_typing()) * 2),
            ..area
        };
        meters::draw(below, buffer, around, marked);
    }
}

impl Players {
    /// The instruments on either side of the chosen one.
    fn draw_instruments(
        &self,
        found: &Found,
        area: Rect,
        buffer: &mut Buffer,
        around: &Around<'_>,
    ) {
        let theme = around.theme;
        let count = self.instruments.len();
        let mut x = area.x;
        for by in [count - 1, 0, 1, 2, 3] {
            let instrument = &self.instruments[(found.instrument + by) % count];
            let (mark, style) = match by {
                0 => ("\u{25b8}", theme.player),
                _ => (" ", theme.faint),
            };
            let text = format!("{mark}{}", instrument.title);
            let room = usize::from(area.right().saturating_sub(x));
            if room < text.chars().count() {
                break;
            }
            buffer.set_stringn(x, area.y, &text, room, style);
            x += text.chars().count() as u16 + 2;
        }
    }
}

fn listening(passed: Option<usize>) -> Phase {
    Phase::Listening {
        top: None,
        quiet_since: None,
        passed,
    }
}
