//! Pictures of the screen, driven by keys and readings.

mod chord;
mod crowd;
mod drift;
mod ledger;
mod plan;
mod practice;
mod record;
mod stand;

use proptest::prelude::*;
use ratatui::Terminal;
use ratatui::backend::TestBackend;
use ratatui::buffer::Buffer;
use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyModifiers};
use ratatui::layout::{Position, Rect, Size};
use ratatui::style::{Color, Modifier};
use ratatui::widgets::Widget;

use super::Options;
use super::theme::{Palette, Theme};
use super::{App, Effect, Event, Playback, Recording, axis, keymap};
use crate::analysis::{Effort, NoPitch, Reading, Vibrato};
use crate::rehearsal::Update;
use crate::rehearsal::tests::{reading, rehearsal, unpitched};
use crate::sound::{Fault, SourceState};
use crate::units::{Cents, Hertz, Seconds};

const BAND: [&str; 7] = [
    "Trumpet I",
    "Trumpet II",
    "Violin I",
    "Violin II",
    "Viola",
    "Dulcian",
    "Organ",
];

/// A screen in these colours, all else as usual.
fn options(palette: Palette) -> Options {
    Options::new(Theme::dark(palette))
}

/// A screen on a pretended terminal.
struct Stage {
    app: App,
    terminal: Terminal<TestBackend>,
    now: f64,
}

impl Stage {
    fn new(names: &[&str], width: u16, height: u16) -> Self {
        Self::with_palette(names, width, height, Palette::Rich)
    }

    fn with_palette(names: &[&str], width: u16, height: u16, palette: Palette) -> Self {
        let mut app = App::new(rehearsal(names), &options(palette), Size { width, height });
        app.update(Event::Update(Update::State(SourceState::Running)));
        Self {
            app,
            terminal: Terminal::new(TestBackend::new(width, height)).unwrap(),
            now: 0.0,
        }
    }

    /// Presses keys: a character for itself, `v` and `^` for the arrows, `>` and `<` for
    /// the pages, `\u{2190}` and `\u{2192}` for left and right, `!` for Escape, `$` for Enter.
    fn press(&mut self, script: &str) -> Option<Effect> {
        let mut effect = None;
        for character in script.chars() {
            let code = match character {
                'v' => KeyCode::Down,
                '^' => KeyCode::Up,
                '>' => KeyCode::PageDown,
                '<' => KeyCode::PageUp,
                '\u{2190}' => KeyCode::Left,
                '\u{2192}' => KeyCode::Right,
                '!' => KeyCode::Esc,
                '\t' => KeyCode::Tab,
                '$' => KeyCode::Enter,
                character => KeyCode::Char(character),
            };
            effect = self
                .app
                .update(Event::Key(KeyEvent::new(code, KeyModifiers::NONE)));
        }
        effect
    }

    /// Everyone sounds for a while, each hop as `sounds` says for the seconds gone by.
    fn hear(&mut self, seconds: f64, sounds: impl Fn(f64) -> Vec<Reading>) {
        for _ in 0..(seconds * 100.0).round() as u32 {
            self.now += 0.01;
            let available = Seconds::new(self.now);
            self.app.update(Event::Tick(available));
            let readings = sounds(self.now).into_iter().enumerate();
            for (index, sound) in readings {
                let reading = Reading { available, ..sound };
                self.app
                    .update(Event::Update(Update::Reading(index, reading)));
            }
        }
    }

    fn draw(&mut self) -> &Buffer {
        self.terminal
            .draw(|frame| frame.render_widget(&self.app, frame.area()))
            .unwrap();
        self.terminal.backend().buffer()
    }

    fn text(&mut self) -> String {
        self.draw();
        self.terminal.backend().to_string()
    }
}

fn hz(number: u8) -> Hertz {
    let tuning = crate::rehearsal::tests::sixth_comma();
    tuning.series().frequency(number.try_into().unwrap())
}

fn note(name: &str) -> Hertz {
    let tuning = crate::rehearsal::tests::sixth_comma();
    tuning.scale().frequency(name.parse().unwrap())
}

fn near(hertz: Hertz, cents: f64) -> Reading {
    reading(hertz.raised(Cents::new(cents)).get())
}

fn doing(mut reading: Reading, drift: f64, vibrato: Option<f64>) -> Reading {
    if let Some(motion) = &mut reading.motion {
        motion.drift_per_second = Cents::new(drift);
        motion.vibrato = vibrato.map(|extent| Vibrato {
            rate_hz: 5.0,
            extent: Cents::new(extent),
        });
    }
    reading
}

/// The chord of the opening: trumpets on their partials, strings about them, a dulcian on a
/// note without partial, an organ that rests.
fn chord(time: f64) -> Vec<Reading> {
    vec![
        near(hz(11), -2.0),
        near(hz(10), -3.0),
        doing(near(note("B5"), (time * 12.0).min(40.0) - 45.0), 12.0, None),
        doing(
            near(note("F#5"), 20.0 * (time * 31.4).sin()),
            0.0,
            Some(20.0),
        ),
        near(note("D4"), 1.0),
        near(note("Eb3"), 3.0),
        unpitched(NoPitch::Silence),
    ]
}

fn played(width: u16, height: u16, keys: &str) -> Stage {
    let mut stage = Stage::new(&BAND, width, height);
    stage.hear(4.0, chord);
    stage.press(keys);
    stage
}

#[test]
fn the_band_at_80_by_24() {
    insta::assert_snapshot!("band_80x24", played(80, 24, "").text());
}

#[test]
fn the_band_at_120_by_40() {
    insta::assert_snapshot!("band_120x40", played(120, 40, "vvv").text());
}

#[test]
fn the_band_in_the_smallest_window() {
    insta::assert_snapshot!("band_60x10", played(60, 10, ">").text());
}

#[test]
fn tenths_another_temperament_and_pitch() {
    insta::assert_snapshot!("tenths_80x24", played(80, 24, ".t++").text());
}

#[test]
fn two_players_are_shown_large() {
    let mut stage = Stage::new(&["Trumpet I", "Violin I"], 80, 24);
    stage.hear(4.0, |_| vec![near(hz(11), -2.0), near(note("G#5"), 3.0)]);
    insta::assert_snapshot!("two_80x24", stage.text());
}

#[test]
fn the_help_lies_on_top() {
    insta::assert_snapshot!("help_80x24", played(80, 24, "?").text());
}

#[test]
fn faults_say_what_to_do() {
    let mut stage = Stage::new(&BAND, 80, 12);
    let fault = Fault::Lost("stage box".into());
    stage
        .app
        .update(Event::Update(Update::State(SourceState::Waiting(fault))));
    stage.app.update(Event::Update(Update::Lost(3)));
    insta::assert_snapshot!("fault_80x12", stage.text());
}

#[test]
fn a_frozen_picture_says_so_and_stands() {
    let mut stage = played(80, 24, " ");
    let before = stage.text();
    stage.hear(3.05, |_| vec![near(note("A4"), 0.0); 7]);
    let after = stage.text();
    assert!(after.contains(" frozen 0:03 ") && after.contains("space go on"));
    let body = |text: &str| -> Vec<String> { text.lines().skip(2).map(str::to_owned).collect() };
    assert_eq!(body(&before), body(&after));
    stage.press(" ");
    assert!(!stage.text().contains("frozen"));
}

#[test]
fn hidden_players_come_back() {
    let mut stage = played(80, 24, "vh");
    let text = stage.text();
    assert!(!text.contains("Trumpet II"), "{text}");
    assert!(text.contains("show all (1 hidden)"));
    assert_eq!(
        text.matches("Violin I ").count(),
        2,
        "selected in its place: {text}"
    );
    stage.press("hhhhhh");
    assert!(
        stage
            .text()
            .contains("every player is hidden: 'a' shows all")
    );
    stage.press("hv^<>a");
    assert!(stage.text().contains("Trumpet II"));
}

#[test]
fn a_mark_outside_becomes_an_arrow() {
    let mut stage = Stage::new(&BAND, 80, 12);
    // D with its partial in the middle of 48 cents either way, bent slowly down to 55.
    stage.hear(1.0, |_| vec![near(note("D4"), 0.0)]);
    stage.hear(2.0, |time| {
        vec![near(note("D4"), -55.0 * (time - 1.0).min(1.0))]
    });
    let text = stage.text();
    assert!(text.contains('\u{2039}'), "{text}");
    assert!(!text.contains(axis::PLAYER), "{text}");
}

#[test]
fn trouble_with_the_sound_is_told() {
    let mut stage = Stage::new(&BAND, 80, 24);
    stage.app.update(Event::Update(Update::Lost(3)));
    assert!(
        stage
            .text()
            .contains("3 blocks of sound lost: close other programs")
    );
    let busy = Update::Effort(Effort::Quarter);
    stage.app.update(Event::Update(busy));
    let told = "busy: a reading every 40 ms; close other programs";
    assert!(stage.text().contains(told), "{}", stage.text());
    let busy = Update::Effort(Effort::FourVoices);
    stage.app.update(Event::Update(busy));
    let told = "busy: a reading every 40 ms, 4 voices at most; close other programs";
    assert!(stage.text().contains(told), "{}", stage.text());
    stage
        .app
        .update(Event::Update(Update::Effort(Effort::Full)));
    assert!(!stage.text().contains("busy"), "{}", stage.text());
    stage.hear(0.1, |_| {
        vec![Reading {
            clipped: true,
            ..near(note("D4"), 0.0)
        }]
    });
    assert!(
        stage
            .text()
            .contains("Trumpet I overloads input 1: turn it down")
    );
    stage.hear(0.1, |_| {
        let loud = Reading {
            clipped: true,
            ..near(note("D4"), 0.0)
        };
        vec![loud, loud]
    });
    let told = "inputs 1 and 2 are overloaded: turn them down";
    assert!(stage.text().contains(told), "{}", stage.text());
    stage.hear(2.5, |_| vec![near(note("D4"), 0.0)]);
    assert!(!stage.text().contains("overload"));
    stage
        .app
        .update(Event::Update(Update::State(SourceState::Ended)));
    assert!(stage.text().contains("played to the end: 'q' leaves"));
    // The end of a recording and what is wrong with it are told together: the latter first.
    let damage = "'take.wav' breaks off at 0:05.0\u{1b}[2J".to_owned();
    stage.app.update(Event::Update(Update::Damaged(damage)));
    stage.hear(0.1, |_| vec![near(note("D4"), 0.0)]);
    let text = stage.text();
    assert!(text.contains("'take.wav' breaks off at 0:05.0"), "{text}");
    assert!(!text.contains('\u{1b}'), "{text}");
    stage.hear(30.0, |_| vec![near(note("D4"), 0.0)]);
    assert!(stage.text().contains("played to the end"));
}

#[test]
fn keys_quit_suspend_and_leave_the_help() {
    let mut stage = Stage::new(&BAND, 80, 24);
    assert_eq!(stage.press("q"), Some(Effect::Quit));
    assert_eq!(
        stage.press("?q"),
        Some(Effect::Quit),
        "with the help open too"
    );
    assert_eq!(stage.press("!"), None);
    assert!(!stage.text().contains("keys and marks"));
    let control = |c| Event::Key(KeyEvent::new(KeyCode::Char(c), KeyModifiers::CONTROL));
    assert_eq!(stage.app.update(control('c')), Some(Effect::Quit));
    assert_eq!(stage.app.update(control('z')), Some(Effect::Suspend));
}

#[test]
fn nothing_is_drawn_for_nothing() {
    let mut stage = Stage::new(&BAND, 80, 24);
    assert!(stage.app.take_stale());
    stage.app.update(Event::Tick(Seconds::new(0.03)));
    assert!(!stage.app.take_stale());
    stage.press("z");
    assert!(!stage.app.take_stale(), "a key of no meaning");
    stage.hear(0.01, chord);
    assert!(stage.app.take_stale());
}

/// Colours and modifiers of the first cell with a symbol.
fn cell_of(buffer: &Buffer, symbol: &str) -> (Color, Modifier) {
    let cell = buffer.content().iter().find(|cell| cell.symbol() == symbol);
    let cell = cell.unwrap_or_else(|| panic!("no '{symbol}' on the screen"));
    (cell.fg, cell.modifier)
}

#[test]
fn each_place_has_its_hue_and_the_player_none() {
    for palette in [Palette::Rich, Palette::Sixteen] {
        let mut stage = Stage::with_palette(&BAND, 80, 24, palette);
        stage.hear(2.0, chord);
        let theme = Theme::dark(palette);
        let buffer = stage.draw();
        let (nature, tempered) = (theme.nature.fg.unwrap(), theme.tempered.fg.unwrap());
        assert_ne!(nature, tempered);
        for verdict in [Color::Red, Color::Green, Color::LightRed, Color::LightGreen] {
            assert!(buffer.content().iter().all(|cell| cell.fg != verdict));
        }
        // The first marks are in the spotlight's label, the rest on the axes: all alike.
        for cell in buffer.content() {
            match cell.symbol() {
                axis::NATURE => assert_eq!(cell.fg, nature),
                axis::TEMPERED => assert_eq!(cell.fg, tempered),
                axis::PLAYER => assert_eq!(Some(cell.fg), theme.player.fg),
                _ => {}
            }
        }
        assert_eq!(cell_of(buffer, axis::NATURE).0, nature);
        assert_eq!(cell_of(buffer, axis::TEMPERED).0, tempered);
        assert_eq!(
            cell_of(buffer, axis::PLAYER),
            (theme.player.fg.unwrap(), Modifier::BOLD)
        );
    }
}

#[test]
fn without_colour_shapes_remain() {
    let mut stage = Stage::with_palette(&BAND, 80, 24, Palette::Plain);
    stage.hear(2.0, chord);
    stage.press("?");
    let buffer = stage.draw();
    let plain = |cell: &ratatui::buffer::Cell| (cell.fg, cell.bg) == (Color::Reset, Color::Reset);
    assert!(buffer.content().iter().all(plain));
    cell_of(buffer, axis::NATURE);
    cell_of(buffer, axis::TEMPERED);
}

#[test]
fn the_help_lists_every_key_of_the_table() {
    for (width, height) in [(60, 10), (80, 24), (120, 40)] {
        let mut stage = Stage::new(&BAND, width, height);
        stage.press("?");
        let text = stage.text();
        for (keys, help) in keymap::lines(keymap::PLAYERS) {
            let line = format!("{keys:<11}{help}");
            assert!(
                text.contains(&line),
                "'{line}' at {width}x{height}:\n{text}"
            );
        }
    }
}

#[test]
fn a_small_window_says_how_large_it_must_be() {
    for (width, height) in [(59, 24), (80, 9), (20, 5), (1, 1)] {
        let mut stage = played(width, height, "?");
        let text = stage.text();
        if width > 20 {
            assert!(text.contains("60 columns by 10 rows"), "{text}");
        }
    }
}

fn any_event() -> impl Strategy<Value = Event> {
    let key = prop_oneof![
        prop::sample::select(
            "tTr+-= fkjha.d?xycpbn0179lesumw36[],;"
                .chars()
                .map(KeyCode::Char)
                .collect::<Vec<_>>()
        ),
        prop::sample::select(vec![
            KeyCode::Up,
            KeyCode::Down,
            KeyCode::PageUp,
            KeyCode::PageDown,
            KeyCode::Esc,
            KeyCode::Enter,
            KeyCode::Tab,
            KeyCode::Backspace,
        ]),
    ];
    let sound = (0_usize..34, 30.0..3000.0_f64, 0.0..60.0_f64, 0_u8..5).prop_map(
        |(index, hertz, time, kind)| {
            let sound = match kind {
                0 => unpitched(NoPitch::Silence),
                1 => unpitched(NoPitch::TwoNotes),
                2 => doing(reading(hertz), hertz - 1000.0, Some(time)),
                _ => reading(hertz),
            };
            let available = Seconds::new(time);
            Event::Update(Update::Reading(index, Reading { available, ..sound }))
        },
    );
    prop_oneof![
        3 => key.prop_map(|code| Event::Key(KeyEvent::new(code, KeyModifiers::NONE))),
        6 => sound,
        2 => (0.0..60.0_f64).prop_map(|time| Event::Tick(Seconds::new(time))),
        1 => (0_u16..=300, 0_u16..=100).prop_map(|(width, height)| Event::Resized(Size { width, height })),
        1 => (0_u16..=300, 0_u16..=100).prop_map(|(x, y)| Event::Click(Position { x, y })),
        1 => any::<bool>().prop_map(|down| Event::Wheel { down }),
        1 => Just(Event::Update(Update::State(SourceState::Waiting(Fault::NoDevice)))),
        1 => Just(Event::Update(Update::State(SourceState::Running))),
        3 => chord::any_chord(),
        1 => "\\PC{0,90}".prop_map(Event::Told),
        1 => "\\PC{0,90}".prop_map(|why| Event::Recording(Recording::Failing(why))),
        1 => "\\PC{0,60}".prop_map(|name| Event::Recording(Recording::Into(name))),
        1 => (0.0..9999.0_f64, any::<bool>()).prop_map(|(at, is_paused)| Event::Playing(Playback {
            at: Seconds::new(at),
            length: Seconds::new(9999.0),
            speed: 8,
            is_paused,
        })),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(200) })]
    #[test]
    fn no_size_and_no_event_breaks_the_screen(
        width in 0_u16..=300, height in 0_u16..=100, n_players in 0_usize..=32,
        events in prop::collection::vec(any_event(), 0..60),
    ) {
        let role = |n: usize| ["Trumpet", "Player", "Room", "Organ"][n % 4];
        let names: Vec<String> = (0..n_players).map(|n| format!("{} {}", role(n), "i".repeat(n))).collect();
        let names: Vec<&str> = names.iter().map(String::as_str).collect();
        let mut app = App::new(rehearsal(&names), &options(Palette::Rich), Size { width, height });
        for event in events {
            app.update(event);
        }
        let area = Rect::new(0, 0, width, height);
        let mut buffer = Buffer::empty(area);
        app.render(area, &mut buffer);
    }
}
