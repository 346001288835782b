//! The third question: how the keyboard is tuned. One key after the other is played; what is
//! heard is laid through every temperament.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::desk::{Around, Reply};
use super::hearing::Hearing;
use super::keys::{Table, Wish};
use super::steady::HELD;
use crate::tuning::{
    Chain, Fit, HeardKey, PitchStandard, Proposal, StandardError, Temperament, Verdict,
    usual_standard,
};
use crate::units::{Cents, NoteName, Seconds};

/// A note this near to one that was taken is that one again.
const SAME: Cents = Cents::new(40.0);
/// Columns of the list of notes.
const NOTES: u16 = 34;
/// The narrowest window with both lists side by side.
const BESIDE: u16 = 66;
/// What is rehearsed at where there is no keyboard.
const NO_KEYBOARD: (&str, f64) = ("sixth-comma", 415.0);

const TABLE: Table = &[
    (Wish::Take, "this temperament"),
    (Wish::Up, "another"),
    (Wish::Down, "another"),
    (Wish::Left, "other key"),
    (Wish::Right, "other key"),
    (Wish::Undo, "take back"),
    (Wish::LeaveOut, "no keyboard"),
    (Wish::Back, "back"),
];
const WITHOUT: Table = &[
    (Wish::LeaveOut, "no keyboard: 415, sixth-comma"),
    (Wish::Left, "other key"),
    (Wish::Right, "other key"),
    (Wish::Back, "back"),
];

/// What the ensemble is tuned to.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Choice {
    pub(super) standard: PitchStandard,
    pub(super) temperament: Temperament,
    pub(super) chain: Chain,
}

impl Choice {
    /// What a fit comes to. The level is told to a hundredth of a hertz: finer than it was
    /// measured, and short to read.
    fn of(fit: &Fit) -> Result<Self, StandardError> {
        let a4 = fit.standard(NoteName::A)?.a4().get();
        Ok(Self {
            standard: PitchStandard::new((a4 * 100.0).round() / 100.0)?,
            temperament: fit.temperament.clone(),
            chain: fit.chain,
        })
    }
}

/// The keyboard.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Keyboard {
    temperaments: Vec<Temperament>,
    heard: Vec<HeardKey>,
    proposal: Option<Proposal>,
    /// A key the player wants to play instead of the one that is asked for.
    wanted: Option<NoteName>,
    /// The temperament that was chosen by hand.
    cursor: Option<String>,
    /// Notes that are over with, by input and beginning: they may sound on.
    passed: Vec<(usize, Seconds)>,
    told: Option<String>,
    /// What was taken; none where there is no keyboard.
    chosen: Option<Choice>,
}

impl Keyboard {
    pub(super) fn new(temperaments: Vec<Temperament>) -> Self {
        Self {
            temperaments,
            heard: Vec::new(),
            proposal: None,
            wanted: None,
            cursor: None,
            passed: Vec::new(),
            told: None,
            chosen: None,
        }
    }

    /// What was chosen; 415 Hz and sixth-comma where there is no keyboard. None only where there
    /// are no temperaments at all.
    pub(super) fn choice(&self) -> Option<Choice> {
        if let Some(chosen) = &self.chosen {
            return Some(chosen.clone());
        }
        let named = |t: &&Temperament| t.name == NO_KEYBOARD.0;
        Some(Choice {
            standard: PitchStandard::new(NO_KEYBOARD.1).ok()?,
            temperament: self
                .temperaments
                .iter()
                .find(named)
                .or(self.temperaments.first())?
                .clone(),
            chain: Chain::usual(),
        })
    }

    /// The candidate the cursor is on.
    fn fit(&self) -> Option<&Fit> {
        self.proposal
            .as_ref()
            .map(|proposal| &proposal.fits()[self.place()])
    }

    fn place(&self) -> usize {
        let (Some(proposal), Some(name)) = (&self.proposal, &self.cursor) else {
            return 0;
        };
        let fits = proposal.fits();
        fits.iter()
            .position(|fit| fit.temperament.name == *name)
            .unwrap_or(0)
    }

    /// The key to play now.
    pub(super) fn asked(&self) -> NoteName {
        let next = self
            .proposal
            .as_ref()
            .and_then(|p| p.next_keys().first().copied());
        let is_heard = |key: &NoteName| self.heard.iter().any(|h| h.key.key() == key.key());
        let left = || {
            let mut keys = Chain::usual().notes();
            keys.find(|key| !self.heard.is_empty() && !is_heard(key))
        };
        self.wanted.or(next).or_else(left).unwrap_or(NoteName::A)
    }

    pub(super) fn table(&self) -> Table {
        if self.heard.is_empty() {
            WITHOUT
        } else {
            TABLE
        }
    }

    pub(super) fn press(&mut self, wish: Wish) -> Reply {
        self.told = None;
        match wish {
            Wish::Take => match self.fit().map(Choice::of) {
                Some(Err(error)) => self.told = Some(error.to_string()),
                Some(Ok(choice)) => {
                    self.chosen = Some(choice);
                    return Reply::Next;
                }
                None => {}
            },
            Wish::LeaveOut => {
                self.chosen = None;
                return Reply::Next;
            }
            Wish::Back => return Reply::Back,
            Wish::Up => self.move_cursor(-1),
            Wish::Down => self.move_cursor(1),
            Wish::Left => self.ask(-1),
            Wish::Right => self.ask(1),
            Wish::Undo => {
                self.heard.pop();
                self.wanted = None;
                self.work_out();
            }
            Wish::Again => {}
        }
        Reply::Stay
    }

    fn move_cursor(&mut self, by: isize) {
        let place = self.place().saturating_add_signed(by);
        if let Some(fit) = self.proposal.as_ref().and_then(|p| p.fits().get(place)) {
            self.cursor = Some(fit.temperament.name.clone());
        }
    }

    /// Asks for the next key up or down.
    fn ask(&mut self, by: i32) {
        let key = (self.asked().key() as i32 + by).rem_euclid(12) as usize;
        self.wanted = Chain::usual().notes().find(|name| name.key() == key);
    }

    fn work_out(&mut self) {
        self.proposal = Proposal::new(&self.temperaments, &self.heard).ok();
    }

    /// The question is asked now: what sounds already is no answer.
    pub(super) fn begin(&mut self, hearing: &Hearing) {
        let inputs = hearing.inputs.iter().enumerate();
        let sounding =
            inputs.filter_map(|(at, heard)| Some((at, heard.steady.since(hearing.now)?)));
        self.passed = sounding.collect();
    }

    /// Takes a note that has stood long enough.
    pub(super) fn tick(&mut self, hearing: &Hearing) -> bool {
        let Some(input) = hearing.singing() else {
            return false;
        };
        let steady = &hearing.inputs[input].steady;
        let Some(since) = steady.since(hearing.now) else {
            return false;
        };
        let Some(held) = steady
            .held_for(HELD)
            .filter(|_| !self.passed.contains(&(input, since)))
        else {
            return false;
        };
        self.passed.push((input, since));
        let asked = self.asked();
        let is_same = |other: &&HeardKey| {
            held.hertz.above(other.hertz).nearest_octave().abs() < SAME
                && other.key.key() != asked.key()
        };
        if let Some(other) = self.heard.iter().find(is_same) {
            // It sounds on, in another microphone as well.
            self.told = Some(format!(
                "that is {} again ({:.1} Hz): play {asked}",
                other.key,
                held.hertz.get()
            ));
            return true;
        }
        self.heard.retain(|other| other.key.key() != asked.key());
        self.heard.push(HeardKey {
            key: asked,
            hertz: held.hertz,
            margin: held.margin,
        });
        self.wanted = None;
        self.work_out();
        self.told = Some(format!("{asked} is taken: {:.2} Hz", held.hertz.get()));
        true
    }

    pub(super) fn question(&self) -> String {
        let asked = self.asked();
        let is_told = self
            .proposal
            .as_ref()
            .is_some_and(|p| p.next_keys().is_empty());
        if is_told && self.wanted.is_none() {
            format!("enough: press Enter, or play {asked} to be surer")
        } else {
            format!("play the keyboard's {asked} alone, and hold it")
        }
    }

    pub(super) fn hint(&self) -> String {
        match &self.proposal {
            None => "any octave, one stop; it is taken once it has stood for a second".to_owned(),
            Some(proposal) => proposal.in_words(),
        }
    }

    pub(super) fn notice(&self) -> Option<String> {
        self.told.clone()
    }

    pub(super) fn draw(&self, area: Rect, buffer: &mut Buffer, around: &Around<'_>) {
        self.draw_live(area, buffer, around);
        let below = Rect {
            y: area.y + 2,
            height: area.height.saturating_sub(2),
            ..area
        };
        if self.proposal.is_none() || below.height == 0 {
            return;
        }
        self.draw_level(below, buffer, around);
        let lists = Rect {
            y: below.y + 1,
            height: below.height - 1,
            ..below
        };
        if lists.width < BESIDE {
            self.draw_candidates(lists, buffer, around);
            return;
        }
        let notes = Rect {
            width: NOTES,
            ..lists
        };
        self.draw_notes(notes, buffer, around);
        let beside = Rect {
            x: lists.x + NOTES,
            width: lists.width - NOTES,
            ..lists
        };
        self.draw_candidates(beside, buffer, around);
    }

    /// What sounds at this moment, and how long it still has to stand.
    fn draw_live(&self, area: Rect, buffer: &mut Buffer, around: &Around<'_>) {
        let theme = around.theme;
        let hearing = around.hearing;
        let room = usize::from(area.width);
        let sounding = hearing
            .singing()
            .and_then(|at| Some((at, hearing.sounding(at)?)));
        let Some((input, held)) = sounding else {
            buffer.set_stringn(area.x, area.y, "no single note sounds", room, theme.faint);
            return;
        };
        let steady = &hearing.inputs[input].steady;
        let share = steady.share(hearing.now);
        let since = steady.since(hearing.now);
        let is_taken = since.is_some_and(|since| self.passed.contains(&(input, since)));
        let bar = "\u{2588}".repeat((share * 10.0).round() as usize);
        let state = if is_taken { "let go" } else { "hold" };
        let text = format!(
            "{:>8.2} Hz  \u{b1}{:.1} cents   {bar:\u{2500}<10}  {state}   (input {})",
            held.hertz.get(),
            held.margin.get(),
            input + 1
        );
        buffer.set_stringn(area.x, area.y, text, room, theme.player);
    }

    fn draw_level(&self, area: Rect, buffer: &mut Buffer, around: &Around<'_>) {
        let (Some(fit), Some(proposal)) = (self.fit(), &self.proposal) else {
            return;
        };
        let (usual, off) = usual_standard(fit.a4);
        let place = if off.abs().get() < 0.5 {
            format!("{}, {}", usual.a4_hz, usual.name)
        } else {
            format!("{off:.1} cents from {}, {}", usual.a4_hz, usual.name)
        };
        let text = format!(
            "A4 = {:.1} Hz \u{b1}{:.1} cents: {place}",
            fit.a4.get(),
            proposal.level_margin().get()
        );
        buffer.set_stringn(
            area.x,
            area.y,
            text,
            area.width.into(),
            around.theme.tempered,
        );
    }

    /// The notes that were taken, with how far each lies from the temperament at the cursor.
    fn draw_notes(&self, area: Rect, buffer: &mut Buffer, around: &Around<'_>) {
        let theme = around.theme;
        let (Some(fit), Some(proposal)) = (self.fit(), &self.proposal) else {
            return;
        };
        let room = usize::from(area.width.saturating_sub(2));
        buffer.set_stringn(
            area.x,
            area.y,
            "key       Hz    off, in cents",
            room,
            theme.faint,
        );
        let rows = area.height.saturating_sub(1);
        let first = self.heard.len().saturating_sub(rows.into());
        let notes = self
            .heard
            .iter()
            .zip(&fit.residuals)
            .enumerate()
            .skip(first);
        for (row, (at, (heard, off))) in (1..=rows).zip(notes) {
            let stray = if proposal.stray() == Some(at) {
                "  left out"
            } else {
                ""
            };
            let key = heard.key.to_string();
            let text = format!("{key:<3} {:>8.2}  {off:>+6.1}{stray}", heard.hertz.get());
            buffer.set_stringn(area.x, area.y + row, text, room, theme.text);
        }
    }

    /// The temperaments, best first.
    fn draw_candidates(&self, area: Rect, buffer: &mut Buffer, around: &Around<'_>) {
        let theme = around.theme;
        let Some(proposal) = &self.proposal else {
            return;
        };
        if area.height == 0 {
            return;
        }
        let room = usize::from(area.width);
        let heading = "  off on average, in cents";
        buffer.set_stringn(area.x, area.y, heading, room, theme.faint);
        let fitting = match proposal.verdict() {
            Verdict::Doubtful => 0,
            _ => proposal.alike().len(),
        };
        let rows = usize::from(area.height - 1);
        let place = self.place();
        let first = (place + 1).saturating_sub(rows);
        for (row, (at, fit)) in
            (1..=rows as u16).zip(proposal.fits().iter().enumerate().skip(first))
        {
            let mark = if at == place { "\u{25b8}" } else { " " };
            let fits = if at < fitting { "fits" } else { "" };
            let keys = if fit.temperament.extends_along_the_chain() {
                fit.chain.to_string()
            } else {
                String::new()
            };
            let text = format!(
                "{mark}{:>5.1}  {fits:<4}  {}  {keys}",
                fit.rms.get(),
                fit.temperament.name
            );
            let style = match (at == place, at < fitting) {
                (true, _) => theme.player,
                (false, true) => theme.text,
                (false, false) => theme.faint,
            };
            buffer.set_stringn(area.x, area.y + row, text, room, style);
        }
    }
}
