//! The key tables of every view and of what lies on top.

use std::borrow::Cow;

use ratatui::crossterm::event::KeyCode;

use super::{Action, Binding, Key, Planned, Practise, Replay, Shown};
use crate::tui::home::Door;

const fn bind(keys: &'static [Key], action: Action, help: &'static str) -> Binding {
    Binding {
        keys: Cow::Borrowed(keys),
        action,
        help,
    }
}

const FREEZE: Binding = bind(
    &[Key::of(' '), Key::of('f')],
    Action::Freeze,
    "freeze, go on",
);
const UP: Key = Key::plain(KeyCode::Up);
const DOWN: Key = Key::plain(KeyCode::Down);
const PAGE_UP: Key = Key::plain(KeyCode::PageUp);
const PAGE_DOWN: Key = Key::plain(KeyCode::PageDown);
const ENTER: Key = Key::plain(KeyCode::Enter);
const NUMBERS: &[Key] = &[
    Key::of('1'),
    Key::of('2'),
    Key::of('3'),
    Key::of('4'),
    Key::of('5'),
    Key::of('6'),
    Key::of('7'),
    Key::of('8'),
    Key::of('9'),
];
const RECALL: Binding = bind(NUMBERS, Action::Recall(0), "recall, release");
const RELEASE: Binding = bind(
    &[Key::of('0'), Key::plain(KeyCode::Backspace)],
    Action::Release,
    "recall, release",
);
/// Where a player alone has the practice in the place of the players.
pub(in crate::tui) const TO_PRACTICE: Binding = bind(
    &[Key::of('p'), Key::plain(KeyCode::Esc)],
    Action::Show(Shown::Practice),
    "practise alone",
);
const PLAYERS_CHORD: &str = "players, chord";
/// From any other view back to the one everything begins with.
const TO_PLAYERS: Binding = bind(
    &[Key::of('p'), Key::plain(KeyCode::Esc)],
    Action::Show(Shown::Players),
    PLAYERS_CHORD,
);
const TO_CHORD: Binding = bind(&[Key::of('c')], Action::Show(Shown::Chord), PLAYERS_CHORD);
pub(in crate::tui) const DRIFT_LEDGER: &str = "drift, ledger";
const TO_DRIFT: Binding = bind(&[Key::of('d')], Action::Show(Shown::Drift), DRIFT_LEDGER);
const TO_LEDGER: Binding = bind(&[Key::of('l')], Action::Show(Shown::Ledger), DRIFT_LEDGER);
/// The same where there is a plan to look at, too.
pub(in crate::tui) const DRIFT_LEDGER_PLAN: &str = "drift ledger plan";
pub(in crate::tui) const TO_PLAN: Binding = bind(
    &[Key::of('g')],
    Action::Show(Shown::Plan),
    DRIFT_LEDGER_PLAN,
);
const AGREE: Binding = bind(&[Key::of('e')], Action::Agree, "agree on the note");
/// Marks and the room's temperature, in one line of the help.
const NOTES: &str = "mark, words, \u{b0}C";
const MARK: Binding = bind(&[Key::of('m')], Action::Mark, NOTES);
const MARK_IN_WORDS: Binding = bind(&[Key::of('M')], Action::MarkInWords, NOTES);
const MARK_HERE: Binding = bind(&[Key::of(' '), Key::of('m')], Action::Mark, MARKS);
/// The same where there is no temperature to be told.
const MARKS: &str = "mark, in words";
const PRACTICE_MARK_IN_WORDS: Binding = bind(&[Key::of('M')], Action::MarkInWords, MARKS);
const WARMTH: Binding = bind(&[Key::of('w')], Action::Warmth, NOTES);
const PAGE: Binding = bind(&[Key::of('n')], Action::Page, "page to take home");
const ADOPT: Binding = bind(&[Key::of('u')], Action::Adopt, "use its series");
const TEMPERAMENT: &str = "temperament";
const NEXT_TEMPERAMENT: Binding = bind(&[Key::of('t')], Action::NextTemperament, TEMPERAMENT);
const PREVIOUS_TEMPERAMENT: Binding = bind(
    &[Key::of('r'), Key::of('T')],
    Action::PreviousTemperament,
    TEMPERAMENT,
);
const STANDARD: &str = "pitch by 0.5 Hz";
const RAISE: Binding = bind(
    &[Key::of('+'), Key::of('=')],
    Action::RaiseStandard,
    STANDARD,
);
const LOWER: Binding = bind(&[Key::of('-')], Action::LowerStandard, STANDARD);
const DECIMALS: Binding = bind(&[Key::of('.')], Action::Decimals, "tenths, colours");
const COLOURS: Binding = bind(&[Key::of('y')], Action::Colours, "tenths, colours");
const HELP_KEY: Binding = bind(
    &[Key::of('?'), Key::plain(KeyCode::F(1))],
    Action::Help,
    "this help",
);
const SUSPEND: Binding = bind(&[Key::control('z')], Action::Suspend, "back to the shell");
const QUIT: Binding = bind(&[Key::of('q'), Key::control('c')], Action::Quit, "quit");

/// The keys of the players view. Lower case and close together: one hand, in the dark.
/// Bindings that follow one another with the same help are told in one line.
pub(in crate::tui) const PLAYERS: &[Binding] = &[
    FREEZE,
    bind(&[ENTER], Action::Hold, "hold the chord"),
    RECALL,
    RELEASE,
    TO_PLAYERS,
    TO_CHORD,
    TO_DRIFT,
    TO_LEDGER,
    bind(
        &[UP, Key::of('k')],
        Action::SelectPrevious,
        "select a player",
    ),
    bind(&[DOWN, Key::of('j')], Action::SelectNext, "select a player"),
    bind(&[PAGE_UP], Action::PageUp, "by a screen"),
    bind(&[PAGE_DOWN], Action::PageDown, "by a screen"),
    bind(
        &[Key::plain(KeyCode::Tab), Key::of('b')],
        Action::Far,
        "large, everyone",
    ),
    bind(&[Key::of('x')], Action::Fold, "fold, hide, all"),
    bind(&[Key::of('h')], Action::Hide, "fold, hide, all"),
    bind(&[Key::of('a')], Action::ShowAll, "fold, hide, all"),
    AGREE,
    ADOPT,
    MARK,
    MARK_IN_WORDS,
    WARMTH,
    NEXT_TEMPERAMENT,
    PREVIOUS_TEMPERAMENT,
    RAISE,
    LOWER,
    DECIMALS,
    COLOURS,
    HELP_KEY,
    SUSPEND,
    QUIT,
];

/// The keys of the chord view. A pedal for turning pages sends `PgDn` and `PgUp`.
pub(in crate::tui) const CHORD: &[Binding] = &[
    FREEZE,
    bind(&[ENTER, PAGE_DOWN], Action::Hold, "hold the chord"),
    bind(
        &[Key::of('n'), PAGE_UP],
        Action::NextHeld,
        "next held chord",
    ),
    RECALL,
    RELEASE,
    TO_PLAYERS,
    TO_CHORD,
    TO_DRIFT,
    TO_LEDGER,
    bind(
        &[Key::plain(KeyCode::Tab), Key::of('b')],
        Action::Far,
        "large, ladder",
    ),
    bind(&[UP, Key::of('k')], Action::SelectPrevious, "scroll"),
    bind(&[DOWN, Key::of('j')], Action::SelectNext, "scroll"),
    MARK,
    MARK_IN_WORDS,
    WARMTH,
    NEXT_TEMPERAMENT,
    PREVIOUS_TEMPERAMENT,
    RAISE,
    LOWER,
    DECIMALS,
    COLOURS,
    HELP_KEY,
    SUSPEND,
    QUIT,
];

/// The keys of the drift view.
pub(in crate::tui) const DRIFT: &[Binding] = &[
    TO_PLAYERS,
    TO_CHORD,
    TO_DRIFT,
    TO_LEDGER,
    bind(
        &[UP, Key::of('k')],
        Action::SelectPrevious,
        "select a player",
    ),
    bind(&[DOWN, Key::of('j')], Action::SelectNext, "select a player"),
    bind(
        &[Key::plain(KeyCode::Tab), Key::of('b')],
        Action::Stretch,
        "all, last 10 min",
    ),
    PAGE,
    ADOPT,
    MARK,
    MARK_IN_WORDS,
    WARMTH,
    DECIMALS,
    COLOURS,
    HELP_KEY,
    SUSPEND,
    QUIT,
];

/// The keys of the ledger view.
pub(in crate::tui) const LEDGER: &[Binding] = &[
    TO_PLAYERS,
    TO_CHORD,
    TO_DRIFT,
    TO_LEDGER,
    bind(&[UP, Key::of('k')], Action::SelectPrevious, "select a note"),
    bind(&[DOWN, Key::of('j')], Action::SelectNext, "select a note"),
    bind(&[PAGE_UP], Action::PageUp, "by a screen"),
    bind(&[PAGE_DOWN], Action::PageDown, "by a screen"),
    bind(&[ENTER], Action::Open, "player by player"),
    bind(
        &[Key::of('s'), Key::plain(KeyCode::Tab)],
        Action::Sort,
        "sort otherwise",
    ),
    PAGE,
    AGREE,
    MARK,
    MARK_IN_WORDS,
    WARMTH,
    DECIMALS,
    COLOURS,
    HELP_KEY,
    SUSPEND,
    QUIT,
];

/// The keys of the plan view. A pedal for turning pages goes through the temperaments.
pub(in crate::tui) const PLAN: &[Binding] = &[
    TO_PLAYERS,
    TO_CHORD,
    TO_DRIFT,
    TO_LEDGER,
    bind(&[UP, Key::of('k')], Action::SelectPrevious, "temperament"),
    bind(&[DOWN, Key::of('j')], Action::SelectNext, "temperament"),
    bind(&[PAGE_UP], Action::PageUp, "by a screen"),
    bind(&[PAGE_DOWN], Action::PageDown, "by a screen"),
    planned(
        &[Key::plain(KeyCode::Left)],
        Planned::PreviousPiece,
        "piece",
    ),
    planned(&[Key::plain(KeyCode::Right)], Planned::NextPiece, "piece"),
    planned(
        &[Key::plain(KeyCode::Tab)],
        Planned::Page,
        "meetings, yield",
    ),
    planned(&[Key::of('f')], Planned::NextFigure, "other figures"),
    planned(&[Key::of('F')], Planned::PreviousFigure, "other figures"),
    bind(&[Key::of('s')], Action::Sort, "sort otherwise"),
    planned(&[Key::of('a')], Planned::Anchor, "trumpets tune by"),
    planned(&[Key::of('b')], Planned::Flatter, "keys flat, sharp"),
    planned(&[Key::of('n')], Planned::Sharper, "keys flat, sharp"),
    planned(&[Key::of('1')], Planned::WeighTrumpets, "weigh a side"),
    planned(&[Key::of('2')], Planned::WeighKeyboard, "weigh a side"),
    planned(&[Key::of('3')], Planned::WeighOthers, "weigh a side"),
    planned(&[ENTER], Planned::Take, "take into plan"),
    planned(&[Key::of('w')], Planned::Write, "write the plan"),
    RAISE,
    LOWER,
    DECIMALS,
    COLOURS,
    HELP_KEY,
    SUSPEND,
    QUIT,
];

const fn planned(keys: &'static [Key], planned: Planned, help: &'static str) -> Binding {
    bind(keys, Action::Planned(planned), help)
}

/// The keys of a practice. A pedal for turning pages sends `PgDn` and `PgUp`, the arrows or the
/// space bar. Capitals go back, or belong to what is rarely changed.
pub(in crate::tui) const PRACTICE: &[Binding] = &[
    practise(
        &[PAGE_DOWN, Key::plain(KeyCode::Right), DOWN],
        Practise::Next,
        "next step",
    ),
    practise(
        &[PAGE_UP, Key::plain(KeyCode::Left), UP],
        Practise::Previous,
        "step before",
    ),
    MARK_HERE,
    PRACTICE_MARK_IN_WORDS,
    practise(&[ENTER], Practise::Drone, "drone on, off"),
    practise(&[Key::of('s')], Practise::Swing, "the other place"),
    practise(&[Key::of('n')], Practise::NextTone, "drone: next, back"),
    practise(&[Key::of('b')], Practise::PreviousTone, "drone: next, back"),
    practise(
        &[Key::of('+'), Key::of('=')],
        Practise::Louder,
        "louder, softer",
    ),
    practise(&[Key::of('-')], Practise::Softer, "louder, softer"),
    practise(&[Key::of('o')], Practise::OctaveUp, "octave up, down"),
    practise(&[Key::of('O')], Practise::OctaveDown, "octave up, down"),
    practise(&[Key::of('v')], Practise::Timbre, "sound, both sides"),
    practise(&[Key::of('i')], Practise::Apart, "sound, both sides"),
    practise(&[Key::of('x')], Practise::NextExercise, "exercise"),
    practise(&[Key::of('X')], Practise::PreviousExercise, "exercise"),
    practise(&[Key::of('H')], Practise::Headphones, "headphones"),
    TO_DRIFT,
    TO_LEDGER,
    AGREE,
    NEXT_TEMPERAMENT,
    PREVIOUS_TEMPERAMENT,
    DECIMALS,
    COLOURS,
    HELP_KEY,
    SUSPEND,
    QUIT,
];

const fn practise(keys: &'static [Key], practise: Practise, help: &'static str) -> Binding {
    bind(keys, Action::Practise(practise), help)
}

/// The keys of the first screen.
pub(in crate::tui) const HOME: &[Binding] = &[
    bind(&[UP, Key::of('k')], Action::SelectPrevious, "choose"),
    bind(
        &[DOWN, Key::of('j'), PAGE_DOWN],
        Action::SelectNext,
        "choose",
    ),
    bind(&[ENTER, Key::of(' ')], Action::Accept, "begin"),
    bind(&[Key::of('l')], Action::Go(Door::Listen), "listen"),
    bind(&[Key::of('d')], Action::Go(Door::Demo), "demo"),
    bind(&[Key::of('p')], Action::Go(Door::Practise), "practise"),
    bind(&[Key::of('o')], Action::Go(Door::Last), "last session"),
    bind(&[Key::of('g')], Action::Go(Door::Plan), "plan"),
    bind(&[Key::of('s')], Action::Go(Door::Setup), "set up"),
    SUSPEND,
    QUIT,
];

/// The keys of the tuner's screen. A pedal for turning pages goes from step to step.
pub(in crate::tui) const BEARINGS: &[Binding] = &[
    practise(
        &[Key::of(' '), Key::plain(KeyCode::Right), PAGE_DOWN],
        Practise::Next,
        "next step",
    ),
    practise(
        &[
            Key::plain(KeyCode::Backspace),
            Key::plain(KeyCode::Left),
            PAGE_UP,
        ],
        Practise::Previous,
        "step before",
    ),
    practise(&[ENTER], Practise::Drone, "sound the tones"),
    practise(
        &[Key::of('+'), Key::of('='), UP],
        Practise::Louder,
        "louder, softer",
    ),
    practise(&[Key::of('-'), DOWN], Practise::Softer, "louder, softer"),
    SUSPEND,
    QUIT,
];

/// The keys through a replay, asked before those of the view.
pub(in crate::tui) const REPLAY: &[Binding] = &[
    bind(
        &[Key::of(' '), Key::of('f')],
        Action::Replay(Replay::Pause),
        "pause, go on",
    ),
    bind(
        &[Key::plain(KeyCode::Left)],
        Action::Replay(Replay::Back),
        "10 s back, on",
    ),
    bind(
        &[Key::plain(KeyCode::Right)],
        Action::Replay(Replay::On),
        "10 s back, on",
    ),
    bind(
        &[Key::of(','), Key::with_control(KeyCode::Left)],
        Action::Replay(Replay::FarBack),
        "a minute back",
    ),
    bind(
        &[Key::of(';'), Key::with_control(KeyCode::Right)],
        Action::Replay(Replay::FarOn),
        "a minute on",
    ),
    bind(
        &[Key::of('['), Key::of('i')],
        Action::Replay(Replay::PreviousMark),
        "mark before, next",
    ),
    bind(
        &[Key::of(']'), Key::of('o')],
        Action::Replay(Replay::NextMark),
        "mark before, next",
    ),
    bind(
        &[Key::of('-'), Key::of('<')],
        Action::Replay(Replay::Slower),
        "slower, faster",
    ),
    bind(
        &[Key::of('+'), Key::of('='), Key::of('>')],
        Action::Replay(Replay::Faster),
        "slower, faster",
    ),
];

/// The keys while it is decided what is agreed on a note.
pub(in crate::tui) const DECIDE: &[Binding] = &[
    bind(
        &[
            Key::of('1'),
            Key::of('2'),
            Key::of('3'),
            Key::of('4'),
            Key::of('5'),
            Key::of('6'),
        ],
        Action::Choose(0),
        "agree",
    ),
    bind(
        &[Key::plain(KeyCode::Left), Key::of('-')],
        Action::MeetLower,
        "move 3",
    ),
    bind(
        &[Key::plain(KeyCode::Right), Key::of('+'), Key::of('=')],
        Action::MeetHigher,
        "move 3",
    ),
    bind(
        &[Key::plain(KeyCode::Tab), Key::of('r')],
        Action::Remark,
        "remark",
    ),
    bind(&[Key::of('0')], Action::TakeBack, "take back"),
    bind(&[ENTER], Action::Accept, "agree on 3 as moved"),
    bind(
        &[Key::plain(KeyCode::Esc), Key::of('e')],
        Action::Close,
        "close",
    ),
    SUSPEND,
    bind(&[Key::control('c')], Action::Quit, "quit"),
];

/// The keys while text is typed; all other characters are text.
pub(in crate::tui) const TYPING: &[Binding] = &[
    bind(&[ENTER], Action::Accept, "take it"),
    bind(&[Key::plain(KeyCode::Esc)], Action::Close, "close"),
    SUSPEND,
    bind(&[Key::control('c')], Action::Quit, "quit"),
];

/// The keys while the help lies on top; all others go on to the view below.
pub(in crate::tui) const HELP: &[Binding] = &[bind(
    &[
        Key::plain(KeyCode::Esc),
        Key::of('?'),
        Key::plain(KeyCode::F(1)),
    ],
    Action::Close,
    "close the help",
)];

/// The same in a practice, where asking again leads to the cautions.
pub(in crate::tui) const HELP_IN_PRACTICE: &[Binding] = &[
    bind(&[Key::plain(KeyCode::Esc)], Action::Close, "close the help"),
    bind(
        &[Key::of('?'), Key::plain(KeyCode::F(1))],
        Action::Caution,
        "cautions",
    ),
];
