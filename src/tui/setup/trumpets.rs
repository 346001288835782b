//! The fourth question: the key of the trumpets, from what they play.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::desk::{Around, Reply};
use super::hearing::Hearing;
use super::keyboard::Choice;
use super::keys::{Table, Wish};
use super::meters;
use crate::tuning::{Anchor, Tuning};
use crate::units::{Cents, Hertz, NoteName};

/// Keys that natural trumpets are made in (common practice, no source).
const KEYS: [&str; 7] = ["Bb", "C", "D", "Eb", "E", "F", "G"];
/// The usual one.
const USUAL: usize = 2;
/// A note is a partial if it lies within this of one: players bend, and rooms are cold.
const NEAR: Cents = Cents::new(35.0);

const TABLE: Table = &[
    (Wish::Take, "this key"),
    (Wish::Left, "another"),
    (Wish::Right, "another"),
    (Wish::Up, ""),
    (Wish::Down, ""),
    (Wish::LeaveOut, "leave out: D"),
    (Wish::Back, "back"),
];

/// The trumpets' key.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Trumpets {
    cursor: usize,
    is_chosen: bool,
    guess: Option<usize>,
    notes: Vec<Hertz>,
}

impl Trumpets {
    pub(super) fn new() -> Self {
        Self {
            cursor: USUAL,
            is_chosen: false,
            guess: None,
            notes: Vec::new(),
        }
    }

    /// The key that was chosen.
    pub(super) fn key(&self) -> NoteName {
        key_at(self.cursor)
    }

    pub(super) fn table() -> Table {
        TABLE
    }

    pub(super) fn press(&mut self, wish: Wish) -> Reply {
        let go = |cursor: usize, by: usize| (cursor + by) % KEYS.len();
        match wish {
            Wish::Take => return Reply::Next,
            Wish::Back => return Reply::Back,
            Wish::LeaveOut => {
                self.cursor = USUAL;
                self.is_chosen = true;
                return Reply::Next;
            }
            Wish::Left | Wish::Up => self.cursor = go(self.cursor, KEYS.len() - 1),
            Wish::Right | Wish::Down => self.cursor = go(self.cursor, 1),
            Wish::Undo | Wish::Again => return Reply::Stay,
        }
        self.is_chosen = true;
        Reply::Stay
    }

    /// Looks at the notes the trumpets have held so far.
    pub(super) fn tick(&mut self, hearing: &Hearing, inputs: &[usize], choice: &Choice) -> bool {
        let inputs = inputs.iter().filter_map(|input| hearing.inputs.get(*input));
        let notes: Vec<Hertz> = inputs
            .flat_map(|heard| heard.notes.iter().copied())
            .collect();
        if notes == self.notes {
            return false;
        }
        self.guess = guess(&notes, choice);
        self.notes = notes;
        if let (Some(guess), false) = (self.guess, self.is_chosen) {
            self.cursor = guess;
        }
        true
    }

    pub(super) fn question(&self) -> String {
        format!("the trumpets' key: {}", self.key())
    }

    pub(super) fn hint(&self) -> String {
        match self.guess {
            Some(guess) => format!(
                "what the trumpets have played are partials of a series on {}",
                key_at(guess)
            ),
            None => "D unless you know better; two or three different notes of a trumpet tell it"
                .to_owned(),
        }
    }

    pub(super) fn draw(&self, area: Rect, buffer: &mut Buffer, around: &Around<'_>) {
        let theme = around.theme;
        let mut x = area.x;
        for (at, _) in KEYS.iter().enumerate() {
            let is_chosen = at == self.cursor;
            let mark = if is_chosen { "\u{25b8}" } else { " " };
            let style = if is_chosen { theme.player } else { theme.text };
            let room = usize::from(area.right().saturating_sub(x));
            buffer.set_stringn(x, area.y, format!("{mark}{}", key_at(at)), room, style);
            x = (x + 5).min(area.right());
        }
        let below = Rect {
            y: area.y + 2,
            height: area.height.saturating_sub(2),
            ..area
        };
        meters::draw(below, buffer, around, None);
    }
}

fn key_at(place: usize) -> NoteName {
    KEYS[place].parse().expect("the keys are notes")
}

/// The key in whose series the notes are the simplest partials, if there are two different ones.
fn guess(notes: &[Hertz], choice: &Choice) -> Option<usize> {
    let first = notes.first()?;
    let is_other = |note: &&Hertz| note.above(*first).nearest_octave().abs() > NEAR;
    notes.iter().find(is_other)?;
    let cost = |place: usize| -> Option<f64> {
        let key = key_at(place);
        let tuning = Tuning::new(
            choice.standard,
            &choice.temperament,
            choice.chain,
            key,
            Anchor::tonic(key),
        );
        let fundamental = tuning.series().fundamental();
        notes.iter().map(|note| simplest(*note, fundamental)).sum()
    };
    let costs = (0..KEYS.len()).filter_map(|place| Some((place, cost(place)?)));
    costs
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .map(|(place, _)| place)
}

/// How far from simple the partial is that a note is nearest to; none where it is none.
fn simplest(note: Hertz, fundamental: Hertz) -> Option<f64> {
    // From the second on: nobody plays the first. Beyond 16 every note is one.
    let near = (2..=16_u32).filter(|n| {
        let place = fundamental.times(f64::from(*n));
        note.above(place).abs() <= NEAR
    });
    near.map(|n| f64::from(n >> n.trailing_zeros()).log2())
        .min_by(f64::total_cmp)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::session;
    use crate::tuning::{Chain, PitchStandard};

    #[test]
    fn partials_tell_the_key() {
        let choice = Choice {
            standard: PitchStandard::new(415.6).unwrap(),
            temperament: session::temperaments(None).unwrap()[6].clone(),
            chain: Chain::usual(),
        };
        let check = |fundamental: f64, partials: &[f64], expected: Option<&str>| {
            let hertz = |n: &f64| Hertz::new(fundamental * n).unwrap();
            let notes: Vec<Hertz> = partials.iter().map(hertz).collect();
            let found = guess(&notes, &choice).map(|place| KEYS[place]);
            assert_eq!(found, expected, "{fundamental} {partials:?}");
        };
        // D5 in sixth-comma at A4 = 415.6 is about 555.4 Hz, eight times the fundamental.
        check(69.4, &[4.0, 5.0, 6.0, 8.0], Some("D"));
        check(69.9, &[6.0, 8.0], Some("D"));
        check(61.9, &[3.0, 4.0, 5.0], Some("C"));
        check(69.4, &[4.0, 8.0], None);
        check(69.4, &[4.0, 4.49, 5.63], None);
        check(69.4, &[], None);
    }
}
