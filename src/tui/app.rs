//! The whole state of the screen: events in, effects out, and a widget to draw.

mod commands;

use ratatui::buffer::Buffer;
use ratatui::crossterm::event::KeyEvent;
use ratatui::layout::{Rect, Size};
use ratatui::widgets::{Clear, Widget};

use super::Options;
use super::caution::CautionBox;
use super::chord::{Chord, ChordView};
use super::decide::DecidingBox;
use super::drift::{DriftScreen, DriftView};
use super::event::{Effect, Event, Playback, Recording, Watching, as_typed};
use super::frame::{Footer, Hint, Status};
use super::help::Help;
use super::keymap::{self, Action, Binding, Keymap, KeysOf, Shown};
use super::layout;
use super::ledger::{LedgerScreen, LedgerView};
use super::marking::MarkingBox;
use super::overlay::{Overlay, Reply};
use super::plan::{PlanScreen, PlanView, Planning};
use super::players::{Players, PlayersView};
use super::practice::{PracticeScreen, PracticeView};
use super::text;
use super::theme::Theme;
use super::warmth::WarmthBox;
use crate::drone::Wanted;
use crate::plain::written_out;
use crate::rehearsal::{Chronicle, Entry, Rehearsal};
use crate::units::Seconds;

/// Something that has just happened, for the status line.
#[derive(Debug, Clone, PartialEq)]
struct Notice {
    text: String,
    until: Seconds,
}

/// How long a notice stands.
const NOTICE: Seconds = Seconds::new(6.0);

/// The screen's state.
#[derive(Debug, Clone)]
pub struct App {
    rehearsal: Rehearsal,
    players: PlayersView,
    chord: ChordView,
    drift: DriftView,
    ledger: LedgerView,
    practice: PracticeView,
    /// Where there is a plan to look at.
    plan: Option<Box<PlanView>>,
    is_plan_alone: bool,
    shown: Shown,
    notice: Option<Notice>,
    recording: Recording,
    playback: Option<Playback>,
    watching: Option<Watching>,
    now: Seconds,
    /// The last one lies on top.
    overlays: Vec<Overlay>,
    theme: Theme,
    /// All themes, for the key that changes them.
    themes: Vec<(String, Theme)>,
    keymap: Keymap,
    size: Size,
    is_stale: bool,
    /// What the loudspeaker was last told to play, and for whom.
    wanted: Option<(Wanted, bool)>,
}

impl App {
    /// A screen of `size` that shows `rehearsal`.
    pub fn new(rehearsal: Rehearsal, options: &Options, size: Size) -> Self {
        let shown = match rehearsal.practice() {
            Some(_) => Shown::Practice,
            None => Shown::Players,
        };
        Self {
            rehearsal,
            players: PlayersView::new(),
            chord: ChordView::new(),
            drift: DriftView::new(),
            ledger: LedgerView::new(),
            practice: PracticeView::new(),
            plan: None,
            is_plan_alone: false,
            shown,
            notice: None,
            recording: Recording::default(),
            playback: None,
            watching: None,
            now: Seconds::new(0.0),
            overlays: Vec::new(),
            theme: options.theme,
            themes: options.themes.clone(),
            keymap: options.keymap.clone(),
            size,
            is_stale: true,
            wanted: None,
        }
    }

    /// The same with the cautions on top until the first key, where they `are_due`: once a day,
    /// before the first drone. Without a practice they are never.
    pub fn cautioning(mut self, are_due: bool) -> Self {
        if are_due && self.rehearsal.practice().is_some() {
            self.overlays.push(Overlay::Caution);
        }
        self
    }

    /// The same with a plan to look at: as one more view, or `alone`.
    pub fn planning(mut self, planning: Planning, alone: bool) -> Self {
        self.plan = Some(Box::new(PlanView::new(planning)));
        self.is_plan_alone = alone;
        if alone {
            self.shown = Shown::Plan;
        }
        self
    }

    /// What is shown.
    pub(super) fn rehearsal(&self) -> &Rehearsal {
        &self.rehearsal
    }

    /// Takes in an event, and says what the shell has to do about it.
    pub fn update(&mut self, event: Event) -> Option<Effect> {
        let sought = self.rehearsal.sought_revision();
        let effect = match event {
            Event::Key(key) => self.press(key),
            Event::Pasted(text) => {
                self.paste(&text);
                None
            }
            Event::Resized(size) => {
                self.size = size;
                self.is_stale = true;
                None
            }
            Event::Click(at) => {
                if self.overlays.is_empty() && self.shown == Shown::Players {
                    self.players.point(at, &self.rehearsal, self.size);
                    self.is_stale = true;
                }
                None
            }
            Event::Wheel { down } => self.turn_wheel(down),
            Event::Update(update) => {
                self.is_stale = true;
                self.rehearsal.take(update);
                None
            }
            Event::Tick(now) => {
                self.now = now;
                self.is_stale |= self.rehearsal.tick(now);
                if let Some(lasting) = self.rehearsal.take_stood_still() {
                    let lasting = text::lasting(lasting);
                    self.tell(format!(
                        "the program stood still for {lasting} and heard nothing meanwhile"
                    ));
                }
                if let Some(text) = self.rehearsal.take_told_damage() {
                    self.tell(written_out(&text).into_owned());
                }
                self.players.observe(&self.rehearsal);
                self.practice.observe(&self.rehearsal);
                if self.notice.take_if(|notice| notice.until <= now).is_some() {
                    self.is_stale = true;
                }
                None
            }
            Event::Told(text) => {
                self.tell(written_out(&text).into_owned());
                None
            }
            Event::Recording(recording) => {
                self.note_recording(recording);
                None
            }
            Event::Playing(playback) => {
                self.is_stale |= self.playback != Some(playback);
                self.playback = Some(playback);
                None
            }
            Event::Watching(watching) => {
                if self.watching.as_ref() != Some(&watching) {
                    self.is_stale = true;
                    // What was said before gives way to how it stands now.
                    self.notice = None;
                    self.watching = Some(watching);
                }
                None
            }
            Event::Rewound(rehearsal) => {
                self.rehearsal = *rehearsal;
                if self.shown == Shown::Practice && self.rehearsal.practice().is_none() {
                    self.shown = Shown::Players;
                }
                self.notice = None;
                self.is_stale = true;
                None
            }
        };
        if effect.is_none() && sought != self.rehearsal.sought_revision() {
            return Some(Effect::Seek(self.rehearsal.wishes()));
        }
        effect
    }

    /// Leaves surveys of all notes to somebody else; see [`Rehearsal::survey_elsewhere`].
    pub fn survey_elsewhere(&mut self) {
        self.rehearsal.survey_elsewhere();
    }

    /// What a survey is to be made of now, if one is to be made.
    pub fn take_survey_order(&mut self) -> Option<Chronicle> {
        self.rehearsal.take_survey_order()
    }

    /// What is to be kept of what has happened since the last call.
    pub fn take_entries(&mut self) -> Vec<Entry> {
        self.rehearsal.take_entries()
    }

    /// What the loudspeaker has to play, and whether to headphones, where that has changed since
    /// the last call.
    pub fn take_wanted(&mut self) -> Option<(Wanted, bool)> {
        let practice = self.rehearsal.practice()?;
        let wanted = (self.rehearsal.wanted(), practice.has_headphones());
        if self.wanted.as_ref() == Some(&wanted) {
            return None;
        }
        self.wanted = Some(wanted.clone());
        Some(wanted)
    }

    /// Ends the rehearsal: what is to be kept of what was still open.
    pub fn finish(&mut self) -> Vec<Entry> {
        self.rehearsal.finish();
        self.rehearsal.take_entries()
    }

    fn tell(&mut self, text: impl Into<String>) {
        let until = self.now + NOTICE;
        let text = text.into();
        self.notice = Some(Notice { text, until });
        self.is_stale = true;
    }

    fn note_recording(&mut self, recording: Recording) {
        if recording == self.recording {
            return;
        }
        self.is_stale = true;
        let before = std::mem::replace(&mut self.recording, recording);
        if let (Recording::Failing(_), Recording::Into(_)) = (before, &self.recording) {
            self.tell("recorded again");
        }
    }

    /// The colours it is shown in.
    pub(super) fn theme(&self) -> &Theme {
        &self.theme
    }

    /// Whether this is a replay, which changes nothing.
    fn is_replay(&self) -> bool {
        self.playback.is_some() || self.rehearsal.is_replay()
    }

    /// Whether there are ways through it.
    fn has_playhead(&self) -> bool {
        self.is_replay() && !self.rehearsal.is_watched()
    }

    /// The keys of the view, those refused in a replay included.
    fn keys(&self) -> Vec<Binding> {
        let own = self.keymap.table(match self.shown {
            Shown::Players => KeysOf::Players,
            Shown::Chord => KeysOf::Chord,
            Shown::Drift => KeysOf::Drift,
            Shown::Ledger => KeysOf::Ledger,
            Shown::Practice => KeysOf::Practice,
            Shown::Plan => KeysOf::Plan,
        });
        match (self.rehearsal.practice(), &self.plan) {
            _ if self.is_plan_alone => keymap::alone(&own),
            (Some(_), _) => keymap::in_practice(&own),
            (None, Some(_)) => keymap::with_plan(&own),
            (None, None) => own,
        }
    }

    /// The keys that mean something now, for footer and help.
    fn table(&self) -> Vec<Binding> {
        if self.rehearsal.is_watched() {
            keymap::on_stand(&self.keys())
        } else if self.is_replay() {
            keymap::in_replay(&self.keys(), &self.keymap.table(KeysOf::Replay))
        } else {
            self.keys()
        }
    }

    /// Whether the picture has changed since this was last asked.
    pub fn take_stale(&mut self) -> bool {
        std::mem::take(&mut self.is_stale)
    }

    /// Pasted text belongs where something is being typed; anywhere else its letters would be keys.
    fn paste(&mut self, text: &str) {
        match self.overlays.last_mut().filter(|top| top.is_typing()) {
            Some(top) => {
                for key in as_typed(text) {
                    top.press(key);
                }
                self.is_stale = true;
            }
            None => self.tell("what was pasted is passed over: nothing is being typed"),
        }
    }

    fn press(&mut self, key: KeyEvent) -> Option<Effect> {
        if let Some(on_top) = self.overlays.last_mut() {
            let reply = on_top.press(key);
            self.is_stale |= reply != Reply::Pass;
            match reply {
                Reply::Pass => {}
                Reply::ClosePassing => {
                    self.overlays.pop();
                }
                reply => return self.heed(reply),
            }
        }
        let of_replay = self
            .has_playhead()
            .then(|| keymap::action(&self.keymap.table(KeysOf::Replay), key))
            .flatten();
        let action = of_replay.or_else(|| keymap::action(&self.keys(), key))?;
        self.is_stale = true;
        self.act(action)
    }

    /// The wheel does what the arrows do, where no prompt is open.
    fn turn_wheel(&mut self, down: bool) -> Option<Effect> {
        if !self.overlays.is_empty() {
            return None;
        }
        self.is_stale = true;
        self.act(if down {
            Action::SelectNext
        } else {
            Action::SelectPrevious
        })
    }

    /// Carries out what came of a key pressed on an overlay.
    fn heed(&mut self, reply: Reply) -> Option<Effect> {
        match reply {
            Reply::Pass | Reply::ClosePassing | Reply::Stay => {}
            Reply::Caution => {
                self.overlays.pop();
                self.overlays.push(Overlay::Caution);
            }
            Reply::Quit => return Some(Effect::Quit),
            Reply::Suspend => return Some(Effect::Suspend),
            Reply::Close => {
                self.overlays.pop();
            }
            Reply::Agree(resolution) => {
                if let Some(Overlay::Deciding(deciding)) = self.overlays.pop() {
                    self.agree(&deciding, resolution);
                }
            }
            Reply::Warm(celsius) => {
                self.overlays.pop();
                self.warm(celsius);
            }
            Reply::Mark => {
                if let Some(Overlay::Marking(marking)) = self.overlays.pop() {
                    self.mark(marking.at(), marking.text());
                }
            }
        }
        None
    }
}

impl Widget for &App {
    fn render(self, area: Rect, buffer: &mut Buffer) {
        let (rehearsal, theme) = (&self.rehearsal, &self.theme);
        let table = self.table();
        let status = Status {
            notice: self.notice.as_ref().map(|notice| notice.text.as_str()),
            recording: &self.recording,
            playback: self.playback,
            watching: self.watching.as_ref(),
            keys: &table,
        };
        match self.shown {
            Shown::Players => Players {
                view: &self.players,
                rehearsal,
                status,
                theme,
            }
            .render(area, buffer),
            Shown::Chord => Chord {
                view: &self.chord,
                rehearsal,
                status,
                theme,
            }
            .render(area, buffer),
            Shown::Drift => DriftScreen {
                view: &self.drift,
                rehearsal,
                status,
                theme,
            }
            .render(area, buffer),
            Shown::Ledger => LedgerScreen {
                view: &self.ledger,
                rehearsal,
                status,
                theme,
            }
            .render(area, buffer),
            Shown::Practice => PracticeScreen {
                view: &self.practice,
                rehearsal,
                status,
                theme,
            }
            .render(area, buffer),
            Shown::Plan => {
                // It is shown only where there is one.
                if let Some(view) = self.plan.as_deref() {
                    PlanScreen {
                        view,
                        rehearsal,
                        is_alone: self.is_plan_alone,
                        status,
                        theme,
                    }
                    .render(area, buffer);
                }
            }
        }
        if layout::is_enough(area) {
            for overlay in &self.overlays {
                self.draw_overlay(overlay, &table, area, buffer);
            }
        }
    }
}

impl App {
    fn draw_overlay(&self, overlay: &Overlay, table: &[Binding], area: Rect, buffer: &mut Buffer) {
        let theme = &self.theme;
        let rows = area.height - 1;
        let above = Rect {
            height: rows,
            ..area
        };
        let hint = |actions: &'static [Action], word: &str| Hint {
            actions,
            word: word.to_owned(),
        };
        let typing = vec![
            hint(&[Action::Accept], "take it"),
            hint(&[Action::Close], "close"),
        ];
        let hints = match overlay {
            Overlay::Help { is_practice } => {
                let is_practice = *is_practice;
                Help {
                    table,
                    is_practice,
                    theme,
                }
                .render(above, buffer);
                let close = "close the help; all other keys work as ever";
                if is_practice {
                    let close = hint(&[Action::Close], "close; other keys work as ever");
                    vec![hint(&[Action::Caution], "cautions"), close]
                } else {
                    vec![hint(&[Action::Close], close)]
                }
            }
            Overlay::Caution => {
                CautionBox { theme }.render(above, buffer);
                Vec::new()
            }
            Overlay::Deciding(deciding) => {
                DecidingBox { deciding, theme }.render(above, buffer);
                deciding.hints()
            }
            Overlay::Marking(marking) => {
                MarkingBox { marking, theme }.render(above, buffer);
                typing
            }
            Overlay::Warmth(warmth) => {
                WarmthBox { warmth, theme }.render(above, buffer);
                typing
            }
        };
        let footer = Rect {
            y: area.y + rows,
            height: 1,
            ..area
        };
        Clear.render(footer, buffer);
        Footer {
            table: overlay.keys(),
            hints,
            theme,
        }
        .render(footer, buffer);
    }
}
