//! What the keys of the views make the whole program do.

use super::App;
use crate::rehearsal::Resolution;
use crate::tui::decide::{self, Deciding};
use crate::tui::event::Effect;
use crate::tui::keymap::{self, Action, Planned, Shown};
use crate::tui::marking::Marking;
use crate::tui::overlay::Overlay;
use crate::tui::practice;
use crate::tui::text;
use crate::tui::warmth::Warmth;
use crate::units::{Celsius, Seconds};

/// What a replay answers to whatever would change the record.
const UNCHANGED: &str = "a replay changes nothing";
/// The same on a stand.
const WATCHED: &str = "only the first screen changes that";

impl App {
    /// Carries out what a key of a view asked for.
    pub(super) fn act(&mut self, action: Action) -> Option<Effect> {
        if self.is_replay() && action.is_recorded() {
            self.tell(if self.rehearsal.is_watched() {
                WATCHED
            } else {
                UNCHANGED
            });
            return None;
        }
        match action {
            Action::Help => {
                let is_practice = self.rehearsal.practice().is_some();
                // Another key may have been given to it than those that close it.
                match self.overlays.last() {
                    Some(Overlay::Help { .. }) => drop(self.overlays.pop()),
                    _ => self.overlays.push(Overlay::Help { is_practice }),
                }
            }
            Action::Caution => self.overlays.push(Overlay::Caution),
            Action::Close => {
                self.overlays.pop();
            }
            Action::Colours => self.change_colours(),
            Action::Suspend => return Some(Effect::Suspend),
            Action::Quit => return Some(Effect::Quit),
            Action::Replay(way) => return Some(Effect::Travel(way.travel())),
            Action::Show(shown) => self.shown = shown,
            Action::Hold => self.hold(),
            Action::Recall(number) => {
                if !self.rehearsal.recall(number.into()) {
                    self.tell(format!("no chord {number} is kept"));
                }
            }
            Action::NextHeld => {
                if self.rehearsal.recall_next().is_none() {
                    let hold = keymap::label(&self.table(), Action::Hold);
                    self.tell(if hold.is_empty() {
                        "no chord is kept yet".to_owned()
                    } else {
                        format!("no chord is kept yet: {hold} holds one")
                    });
                }
            }
            Action::Release => {
                if self.rehearsal.shelf().current().is_none() {
                    self.tell("no chord is in use");
                }
                self.rehearsal.release();
            }
            Action::Agree => self.begin_to_agree(),
            Action::Warmth => self.overlays.push(Overlay::Warmth(Warmth::new())),
            Action::Mark => self.mark(self.now, ""),
            Action::MarkInWords => {
                let marking = Marking::new(self.now);
                self.overlays.push(Overlay::Marking(marking));
            }
            Action::Page => return Some(Effect::WritePage),
            Action::Adopt => self.adopt(),
            Action::Practise(practise) => {
                if let Some(told) = practice::carry_out(practise, &mut self.rehearsal) {
                    self.tell(told);
                }
            }
            Action::Planned(Planned::Write) => return self.write_plan(),
            action => match self.shown {
                Shown::Players => self.players.update(action, &mut self.rehearsal, self.size),
                Shown::Chord => self.chord.update(action, &mut self.rehearsal, self.size),
                Shown::Drift => self.drift.update(action, &self.rehearsal),
                Shown::Ledger => self
                    .ledger
                    .update(action, self.rehearsal.ledger(), self.size),
                Shown::Practice => self.practice.update(action, &mut self.rehearsal),
                Shown::Plan => {
                    if let Some(plan) = &mut self.plan {
                        plan.update(action, self.size);
                    }
                }
            },
        }
        None
    }

    fn change_colours(&mut self) {
        let now = self
            .themes
            .iter()
            .position(|(_, theme)| *theme == self.theme);
        let next = now.map_or(0, |index| (index + 1) % self.themes.len());
        if let Some((name, theme)) = self.themes.get(next) {
            self.theme = *theme;
            let told = format!("colours: {name} (for ever by 'theme' in the settings)");
            self.tell(told);
        }
    }

    fn hold(&mut self) {
        let told = match self.rehearsal.hold() {
            Ok((number, chord)) => format!("held as {number}: {}", chord.taken()),
            Err(nothing) => nothing.to_string(),
        };
        self.tell(told);
    }

    fn begin_to_agree(&mut self) {
        let (at_hand, none_yet) = match self.shown {
            Shown::Players => {
                let places = self.players.at_hand(&self.rehearsal);
                // The gap of the note itself, whatever partial the player was nearest to.
                let tuning = self.rehearsal.tuning();
                let places = places.map(|places| tuning.places_of(places.tempered));
                let note = places.map(|places| (places.tempered.note.name(), places.gap()));
                (note, "no note has sounded yet to agree on")
            }
            Shown::Ledger => {
                let meeting = self.ledger.selected(self.rehearsal.ledger());
                let note = meeting.map(|meeting| (meeting.note, meeting.gap));
                (note, "no note is in the ledger yet to agree on")
            }
            Shown::Practice => {
                let places = self.practice.at_hand(&self.rehearsal);
                let note = places.map(|places| (places.tempered.note.name(), places.gap()));
                (note, "no note has sounded yet to agree on")
            }
            Shown::Chord | Shown::Drift | Shown::Plan => {
                (None, "the players and the ledger have notes to agree on")
            }
        };
        let Some((note, gap)) = at_hand else {
            self.tell(none_yet);
            return;
        };
        let before = self.rehearsal.chronicle().decision(note);
        let deciding = Deciding::new(note, gap, before);
        self.overlays.push(Overlay::Deciding(deciding));
    }

    /// Records what was chosen, and tells it.
    pub(super) fn agree(&mut self, deciding: &Deciding, resolution: Option<Resolution>) {
        let note = deciding.note();
        let remark = match resolution {
            Some(_) => deciding.remark(),
            None => "",
        };
        self.rehearsal.decide(note, resolution, remark);
        self.tell(match resolution {
            Some(resolution) => decide::told(note, resolution, remark),
            None => format!("{note}: taken back, nothing is agreed on it"),
        });
    }

    /// Records how warm it is, and tells it.
    pub(super) fn warm(&mut self, celsius: Celsius) {
        self.rehearsal.set_temperature(celsius);
        self.tell(format!("{:.1} \u{b0}C noted", celsius.get()));
    }

    /// Marks a moment of the recent past.
    pub(super) fn mark(&mut self, at: Seconds, words: &str) {
        self.rehearsal.mark_at(at, words);
        if let Some(mark) = self.rehearsal.chronicle().marks().last() {
            let told = format!("marked {}", text::clock(mark.at));
            self.tell(told);
        }
    }

    /// What is settled now, for the shell to write.
    fn write_plan(&self) -> Option<Effect> {
        let plan = self.plan.as_ref()?;
        Some(Effect::WritePlan(Box::new(plan.settled())))
    }

    fn adopt(&mut self) {
        let channel = match self.shown {
            Shown::Players => self.players.selected_index(&self.rehearsal),
            Shown::Drift => self.drift.selected_channel(&self.rehearsal),
            Shown::Practice => Some(0),
            Shown::Chord | Shown::Ledger | Shown::Plan => None,
        };
        // A player who has left has no channel, and nobody selected is no trumpet either.
        let channel = channel.unwrap_or(usize::MAX);
        let told = match self.rehearsal.adopt_series(channel) {
            Ok((moved, margin)) => {
                let channels = &self.rehearsal.ensemble().channels;
                let name = channels.get(channel).map_or("", |c| c.name.as_str());
                let margin = margin.get();
                format!(
                    "the series of {name} is used: {moved:.1} \u{b1}{margin:.1} cents from the one \
                     before"
                )
            }
            Err(why) => why.to_string(),
        };
        self.tell(told);
    }
}
