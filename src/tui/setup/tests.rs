use proptest::prelude::*;
use ratatui::Terminal;
use ratatui::backend::TestBackend;
use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyModifiers};

use super::desk::Step;
use super::*;
use crate::analysis::{NoPitch, Pitch, Reading};
use crate::rehearsal::Family;
use crate::session;
use crate::sound::{Fault, SourceState, StreamFormat};
use crate::tui::{Palette, Theme};
use crate::tuning::{Chain, PitchStandard, Scale};
use crate::units::{Cents, Dbfs, Hertz, NoteName, SampleRate};

/// What the program around would do.
#[derive(Default)]
struct Stub {
    listed: usize,
    listened: Vec<Listened>,
    written: Vec<(String, String)>,
    outcome: Option<Outcome>,
}

impl SetupShell for Stub {
    fn fetch(&mut self) -> Vec<SetupNews> {
        Vec::new()
    }
    fn list(&mut self) {
        self.listed += 1;
    }
    fn listen(&mut self, listened: &Listened) {
        self.listened.push(listened.clone());
    }
    fn text(&self, ensemble: &Ensemble) -> String {
        session::ensemble_text(ensemble)
    }
    fn write(&mut self, name: &str, text: &str) {
        self.written.push((name.to_owned(), text.to_owned()));
    }
    fn conclude(&mut self, outcome: Outcome) {
        self.outcome = Some(outcome);
    }
}

/// A screen that is played to by script.
struct Stage {
    desk: SetupDesk,
    shell: Stub,
    time: f64,
    channels: usize,
}

fn input(id: &str, is_default: bool) -> SetupInput {
    SetupInput {
        id: id.to_owned(),
        description: format!("Box {id}"),
        channels: 2,
        most_channels: 8,
        is_default,
    }
}

impl Stage {
    /// With so many channels, quiet for a second.
    fn new(channels: usize) -> Self {
        let beginning = Beginning {
            instruments: session::instruments().to_vec(),
            temperaments: session::temperaments(None).unwrap(),
            file: "ensemble.ron".to_owned(),
            is_recording: false,
        };
        let options = Options::new(Theme::dark(Palette::Plain));
        let mut stage = Self {
            desk: SetupDesk::new(beginning, &options),
            shell: Stub::default(),
            time: 0.0,
            channels,
        };
        stage.desk.carry_out(&mut stage.shell);
        let inputs = vec![input("alsa:default", true), input("alsa:other", false)];
        stage.desk.take(SetupNews::Inputs(Ok(inputs)));
        stage.start();
        stage.play(1.0, &[], None);
        stage
    }

    fn start(&mut self) {
        self.desk.carry_out(&mut self.shell);
        let format = StreamFormat {
            name: "Stage Box".to_owned(),
            rate: SampleRate::new(48_000).unwrap(),
            channels: self.channels,
        };
        self.time = 0.0;
        self.desk.take(SetupNews::Heard(Update::Started(format)));
    }

    /// For so many seconds these inputs are so loud, and on the first of them this is sung; the
    /// others hiss at -62 dB.
    fn play(&mut self, seconds: f64, loud: &[(usize, f64)], hertz: Option<f64>) {
        let until = self.time + seconds;
        while self.time < until {
            self.time += 0.01;
            for channel in 0..self.channels {
                let level = loud
                    .iter()
                    .find(|(at, _)| *at == channel)
                    .map_or(-62.0, |(_, db)| *db);
                let is_sung = loud.first().is_some_and(|(at, _)| *at == channel);
                let pitch = match hertz {
                    Some(hz) if is_sung => Ok(Pitch {
                        hertz: Hertz::new(hz).unwrap(),
                        margin: Cents::new(0.4),
                        confidence: 0.9,
                        inharmonicity: 0.0,
                    }),
                    _ => Err(NoPitch::Noise),
                };
                let reading = Reading {
                    time: Seconds::new(self.time),
                    available: Seconds::new(self.time),
                    level: Dbfs::new(level),
                    clipped: false,
                    pitch,
                    motion: None,
                };
                self.desk
                    .take(SetupNews::Heard(Update::Reading(channel, reading)));
            }
            self.desk.tick(Seconds::new(self.time));
            self.desk.carry_out(&mut self.shell);
        }
    }

    fn quiet(&mut self) {
        self.play(1.5, &[], None);
    }

    fn press(&mut self, keys: &[KeyCode]) -> Flow {
        let mut flow = Flow::GoOn;
        for key in keys {
            flow = self.desk.press(KeyEvent::new(*key, KeyModifiers::NONE));
            self.desk.carry_out(&mut self.shell);
        }
        flow
    }

    fn type_in(&mut self, text: &str) {
        let keys: Vec<KeyCode> = text.chars().map(KeyCode::Char).collect();
        self.press(&keys);
    }

    /// A key of a keyboard in that temperament, held for a second and a half.
    fn strike(&mut self, channel: usize, temperament: &str, a4: f64, key: &str) {
        let all = session::temperaments(None).unwrap();
        let temperament = session::find(&all, temperament).unwrap();
        let standard = PitchStandard::new(a4).unwrap();
        let scale = Scale::new(temperament, Chain::usual(), standard);
        let key: NoteName = key.parse().unwrap();
        let hz = scale.frequency(key.in_octave(4)).get();
        self.play(1.5, &[(channel, -20.0)], Some(hz));
        self.quiet();
    }

    fn picture(&self, width: u16, height: u16) -> String {
        let mut terminal = Terminal::new(TestBackend::new(width, height)).unwrap();
        terminal
            .draw(|frame| frame.render_widget(&self.desk, frame.area()))
            .unwrap();
        terminal.backend().to_string()
    }

    fn sees(&self, text: &str) {
        let shown = self.picture(100, 30);
        assert!(shown.contains(text), "no '{text}' in\n{shown}");
    }

    /// Two trumpets and an organ on three of eight inputs.
    fn with_players() -> Self {
        let mut stage = Self::new(8);
        stage.press(&[KeyCode::Enter]);
        stage.play(1.5, &[(2, -18.0), (3, -33.0)], None);
        stage.press(&[KeyCode::Enter]);
        stage.quiet();
        stage.play(1.5, &[(0, -21.0), (2, -36.0)], None);
        stage.press(&[KeyCode::Enter]);
        stage.quiet();
        stage.play(1.5, &[(6, -30.0), (0, -50.0)], None);
        // From the trumpets upwards come room, section and the keyboards.
        stage.press(&[KeyCode::Left; 7]);
        stage.sees("input 7: Organ\u{258f} (Chamber organ)");
        stage.press(&[KeyCode::Enter]);
        stage.quiet();
        stage
    }

    fn with_keyboard(keys: &[&str]) -> Self {
        let mut stage = Self::with_players();
        stage.press(&[KeyCode::Enter]);
        for key in keys {
            stage.strike(6, "sixth-comma", 415.6, key);
        }
        stage
    }
}

fn channels(ensemble: &Ensemble) -> Vec<(String, usize, usize)> {
    let channels = ensemble.channels.iter();
    channels
        .map(|c| (c.name.clone(), c.input, c.players))
        .collect()
}

#[test]
fn inputs_are_listed_first_and_then_heard() {
    let mut stage = Stage::new(2);
    assert_eq!(stage.shell.listed, 1);
    let listened = |input: Option<&str>, channels| Listened {
        input: input.map(str::to_owned),
        channels,
    };
    assert_eq!(stage.shell.listened, [listened(None, None)]);
    stage.press(&[KeyCode::Down, KeyCode::Right]);
    let other = Some("alsa:other");
    assert_eq!(
        stage.shell.listened[1..],
        [listened(other, None), listened(other, Some(4))]
    );
    stage.press(&[KeyCode::Char('r')]);
    assert_eq!(stage.shell.listed, 2);
    // The one chosen stays chosen.
    let inputs = vec![
        input("alsa:new", true),
        input("alsa:x", false),
        input("alsa:other", false),
    ];
    stage.desk.take(SetupNews::Inputs(Ok(inputs)));
    stage.desk.carry_out(&mut stage.shell);
    assert_eq!(stage.shell.listened.last(), Some(&listened(other, Some(4))));
    assert_eq!(stage.press(&[KeyCode::Esc]), Flow::Quit);
}

#[test]
fn faults_of_the_microphone_are_told_in_words() {
    let mut stage = Stage::new(2);
    stage.desk.take(SetupNews::Inputs(Ok(Vec::new())));
    stage.sees("no input can be listened to");
    let frozen = "the sound system does not answer".to_owned();
    stage.desk.take(SetupNews::Inputs(Err(frozen.clone())));
    stage.sees(&frozen);
    stage
        .desk
        .take(SetupNews::Inputs(Ok(vec![input("alsa:default", true)])));
    let gone = SourceState::Waiting(Fault::Lost("Stage Box".to_owned()));
    stage.desk.take(SetupNews::Heard(Update::State(gone)));
    stage.sees("'Stage Box' has gone");
    stage.start();
    for _ in 0..700 {
        stage.time += 0.01;
        for channel in 0..2 {
            let reading = Reading {
                time: Seconds::new(stage.time),
                available: Seconds::new(stage.time),
                level: Dbfs::SILENCE,
                clipped: false,
                pitch: Err(NoPitch::Silence),
                motion: None,
            };
            stage
                .desk
                .take(SetupNews::Heard(Update::Reading(channel, reading)));
        }
    }
    stage.sees("is the microphone on");
}

#[test]
fn whoever_plays_is_found_by_the_input_that_rises() {
    let mut stage = Stage::new(8);
    stage.press(&[KeyCode::Enter]);
    stage.sees("who plays?");
    stage.play(0.5, &[(2, -18.0), (3, -33.0)], None);
    stage.sees("who plays?");
    stage.play(1.0, &[(2, -18.0), (3, -33.0)], None);
    stage.sees("input 3: Trumpet I");
    stage.sees("15 dB louder than input 4");
    stage.press(&[KeyCode::Enter]);
    // The same player who plays on is nobody new.
    stage.play(3.0, &[(2, -18.0), (3, -33.0)], None);
    stage.sees("another player?");
    // Somebody else is, without waiting for quiet.
    stage.play(1.5, &[(0, -20.0), (1, -21.5)], None);
    stage.sees("inputs 1 and 2 rose alike (2 dB apart)");
    stage.press(&[KeyCode::Down, KeyCode::Enter]);
    let ensemble = stage.desk.ensemble().unwrap();
    assert_eq!(
        channels(&ensemble),
        [
            ("Trumpet I".to_owned(), 3, 1),
            ("Trumpet II".to_owned(), 2, 1)
        ]
    );
    stage.press(&[KeyCode::Backspace]);
    assert_eq!(stage.desk.ensemble().unwrap().channels.len(), 1);
}

#[test]
fn two_who_play_into_one_microphone_share_it() {
    let mut stage = Stage::new(2);
    stage.press(&[KeyCode::Enter]);
    for _ in 0..2 {
        stage.play(1.5, &[(0, -18.0)], None);
        stage.press(&[KeyCode::Enter]);
        stage.quiet();
    }
    let ensemble = stage.desk.ensemble().unwrap();
    assert_eq!(channels(&ensemble), [("Trumpets".to_owned(), 1, 2)]);
    // With anybody else it is the room's.
    stage.play(1.5, &[(0, -18.0)], None);
    stage.sees("is taken by Trumpets");
    stage.press(&[KeyCode::Right, KeyCode::Right, KeyCode::Enter]);
    let ensemble = stage.desk.ensemble().unwrap();
    assert_eq!(ensemble.channels[0].instrument.family, Family::Room);
    assert_eq!(ensemble.channels.len(), 1);
}

#[test]
fn a_name_can_be_typed() {
    let mut stage = Stage::new(2);
    stage.press(&[KeyCode::Enter, KeyCode::Down]);
    stage.type_in("Tromba q");
    stage.press(&[KeyCode::Enter]);
    assert_eq!(stage.desk.ensemble().unwrap().channels[0].name, "Tromba q");
    // One that is taken is no name.
    stage.press(&[KeyCode::Down]);
    stage.type_in("Tromba q");
    stage.press(&[KeyCode::Enter]);
    assert_eq!(stage.desk.ensemble().unwrap().channels[1].name, "Trumpet I");
}

#[test]
fn a_note_is_taken_once_it_has_stood_for_a_second() {
    let mut stage = Stage::with_players();
    // What sounds when the question comes is no answer.
    stage.press(&[KeyCode::Enter]);
    stage.play(0.5, &[(6, -20.0)], Some(300.0));
    stage.press(&[KeyCode::Esc, KeyCode::Enter]);
    stage.play(1.5, &[(6, -20.0)], Some(300.0));
    stage.sees("play the keyboard's A alone");
    stage.play(0.7, &[(6, -20.0)], Some(415.6));
    stage.sees("415.60 Hz");
    stage.sees("hold");
    stage.play(0.6, &[(6, -20.0)], Some(415.6));
    stage.sees("A is taken: 415.60 Hz");
    stage.sees("play the keyboard's C alone");
    // It sounds on, and then into another microphone.
    stage.play(3.0, &[(6, -20.0)], Some(415.6));
    stage.sees("play the keyboard's C alone");
    stage.play(1.5, &[(0, -18.0)], Some(831.3));
    stage.sees("that is A again (831.3 Hz): play C");
    stage.press(&[KeyCode::Backspace]);
    stage.sees("play the keyboard's A alone");
}

#[test]
fn the_temperament_is_proposed_and_can_be_chosen_otherwise() {
    let mut stage = Stage::with_keyboard(&["A", "C", "E"]);
    stage.sees("A4 = 415.6 Hz");
    stage.sees("do not tell");
    let asked = stage.desk.keyboard.asked();
    for _ in 0..4 {
        let key = stage.desk.keyboard.asked().ascii();
        stage.strike(6, "sixth-comma", 415.6, &key);
    }
    assert_ne!(asked, stage.desk.keyboard.asked());
    let choice = stage.desk.keyboard.choice().unwrap();
    // Not taken yet.
    assert!((choice.standard.a4().get() - 415.0).abs() < 1e-9);
    stage.press(&[KeyCode::Enter]);
    let choice = stage.desk.keyboard.choice().unwrap();
    assert_eq!(choice.temperament.name, "sixth-comma");
    assert!((choice.standard.a4().get() - 415.6).abs() < 0.02);
    assert_eq!(stage.desk.step, Step::Trumpets);
    stage.press(&[KeyCode::Esc, KeyCode::Down, KeyCode::Enter]);
    assert_ne!(
        stage.desk.keyboard.choice().unwrap().temperament.name,
        "sixth-comma"
    );
}

#[test]
fn without_a_keyboard_it_is_415_and_sixth_comma() {
    let mut stage = Stage::with_keyboard(&["A"]);
    stage.press(&[KeyCode::Tab]);
    let choice = stage.desk.keyboard.choice().unwrap();
    assert_eq!(choice.temperament.name, "sixth-comma");
    assert!((choice.standard.a4().get() - 415.0).abs() < 1e-9);
    // A level out of reach is told, and leaves nobody stuck.
    let mut stage = Stage::with_players();
    stage.press(&[KeyCode::Enter]);
    stage.play(1.5, &[(6, -20.0)], Some(600.0));
    stage.press(&[KeyCode::Enter]);
    stage.sees("out of reach");
    assert_eq!(stage.desk.step, Step::Keyboard);
    stage.press(&[KeyCode::Tab]);
    assert_eq!(stage.desk.step, Step::Trumpets);
}

#[test]
fn the_trumpets_key_is_heard_from_their_partials() {
    let mut stage = Stage::with_keyboard(&["A", "C", "E"]);
    stage.press(&[KeyCode::Enter]);
    // C in sixth-comma at 415.6: the tonic's eighth partial is near 495.9 Hz.
    for partial in [4.0, 5.0, 6.0] {
        stage.play(0.8, &[(2, -20.0)], Some(496.0 / 8.0 * partial));
    }
    stage.sees("partials of a series on C");
    stage.press(&[KeyCode::Enter]);
    let key = stage.desk.ensemble().unwrap().tuning.series().key();
    assert_eq!(key, NoteName::C);
}

#[test]
fn the_file_reads_back_as_what_was_answered() {
    let mut stage = Stage::with_keyboard(&["A", "C", "E", "G#", "Eb"]);
    stage.press(&[KeyCode::Enter, KeyCode::Enter]);
    stage.sees("the file's name: ensemble.ron");
    stage.press(&[KeyCode::Enter]);
    let (name, text) = stage.shell.written[0].clone();
    assert_eq!(name, "ensemble.ron");
    let path = std::path::Path::new(&name);
    let read = session::read_ensemble(&text, path).unwrap();
    assert_eq!(read.ensemble, stage.desk.ensemble().unwrap());
    let expected = [
        ("Trumpet I".to_owned(), 3, 1),
        ("Trumpet II".to_owned(), 1, 1),
        ("Organ".to_owned(), 7, 1),
    ];
    assert_eq!(channels(&read.ensemble), expected);
    stage.desk.take(SetupNews::Written(Err(
        "'ensemble.ron' exists already".to_owned()
    )));
    stage.sees("exists already");
    stage.press(&[KeyCode::Backspace; 12]);
    stage.type_in("band q.ron");
    stage.press(&[KeyCode::Enter]);
    assert_eq!(stage.shell.written[1].0, "band q.ron");
    stage
        .desk
        .take(SetupNews::Written(Ok("band q.ron".to_owned())));
    // A rehearsal would ask for seven channels: eight have to be named.
    stage.sees("concento rehearse 'band q.ron' --channels 8");
    assert_eq!(stage.press(&[KeyCode::Enter]), Flow::Quit);
    let outcome = stage.desk.outcome();
    assert_eq!((outcome.is_rehearsing, outcome.channels), (true, Some(8)));
    assert_eq!(outcome.file.as_deref(), Some("band q.ron"));
}

#[test]
fn every_question_can_be_left_out() {
    let mut stage = Stage::new(1);
    stage.press(&[KeyCode::Enter, KeyCode::Tab, KeyCode::Tab, KeyCode::Tab]);
    assert_eq!(stage.desk.step, Step::File);
    let ensemble = stage.desk.ensemble().unwrap();
    assert_eq!(channels(&ensemble), [("Room".to_owned(), 1, 8)]);
    stage.press(&[KeyCode::Esc; 4]);
    assert_eq!(stage.desk.step, Step::Devices);
    let control_c = KeyEvent::new(KeyCode::Char('c'), KeyModifiers::CONTROL);
    assert_eq!(stage.desk.press(control_c), Flow::Quit);
    assert_eq!(stage.desk.outcome(), Outcome::default());
}

#[test]
fn no_word_judges() {
    let stage = Stage::with_keyboard(&["A", "C", "E"]);
    let shown = stage.picture(120, 40).to_lowercase();
    for word in ["good", "bad", "wrong", "correct", "perfect", "in tune"] {
        assert!(!shown.contains(word), "{word}");
    }
}

#[test]
fn the_questions_on_the_screen() {
    let mut stage = Stage::new(8);
    stage.play(0.5, &[(2, -18.0), (3, -33.0)], None);
    insta::assert_snapshot!("microphone", stage.picture(80, 24));
    stage.press(&[KeyCode::Enter]);
    stage.play(1.5, &[(2, -18.0), (3, -33.0)], None);
    insta::assert_snapshot!("player", stage.picture(80, 24));
    insta::assert_snapshot!("player_small", stage.picture(60, 20));

    let mut stage = Stage::with_keyboard(&["A", "C", "E"]);
    stage.play(0.6, &[(6, -20.0)], Some(391.0));
    insta::assert_snapshot!("keyboard", stage.picture(80, 24));
    insta::assert_snapshot!("keyboard_small", stage.picture(60, 20));
    insta::assert_snapshot!("keyboard_large", stage.picture(120, 40));
    stage.press(&[KeyCode::Enter]);
    insta::assert_snapshot!("trumpets", stage.picture(80, 24));
    stage.press(&[KeyCode::Enter]);
    insta::assert_snapshot!("file", stage.picture(80, 24));
}

fn any_key() -> impl Strategy<Value = KeyCode> {
    prop_oneof![
        Just(KeyCode::Enter),
        Just(KeyCode::Esc),
        Just(KeyCode::Tab),
        Just(KeyCode::Up),
        Just(KeyCode::Down),
        Just(KeyCode::Left),
        Just(KeyCode::Right),
        Just(KeyCode::Backspace),
        any::<char>().prop_map(KeyCode::Char),
    ]
}

#[derive(Debug, Clone)]
enum Happening {
    Key(KeyCode),
    Sound(usize, f64, f64),
    Restart(usize),
    Inputs(usize),
}

fn any_happening() -> impl Strategy<Value = Happening> {
    prop_oneof![
        6 => any_key().prop_map(Happening::Key),
        3 => (0..6_usize, -90.0..3.0, 20.0..3000.0).prop_map(|(at, db, hz)| Happening::Sound(at, db, hz)),
        1 => (0..40_usize).prop_map(Happening::Restart),
        1 => (0..3_usize).prop_map(Happening::Inputs),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, cases: 48, ..ProptestConfig::default() })]
    #[test]
    fn whatever_happens_is_drawn_in_every_size(
        happenings in prop::collection::vec(any_happening(), 1..40),
        width in 1_u16..140, height in 1_u16..50,
    ) {
        let mut stage = Stage::new(4);
        for happening in happenings {
            match happening {
                Happening::Key(key) => {
                    stage.press(&[key]);
                }
                Happening::Sound(at, db, hz) => stage.play(1.2, &[(at, db)], Some(hz)),
                Happening::Restart(channels) => {
                    stage.channels = channels;
                    stage.start();
                }
                Happening::Inputs(count) => {
                    let inputs = (0..count).map(|n| input(&format!("alsa:{n}"), n == 1)).collect();
                    stage.desk.take(SetupNews::Inputs(Ok(inputs)));
                }
            }
            stage.picture(width, height);
        }
        for (width, height) in [(1, 1), (20, 6), (30, 7), (60, 20), (80, 24)] {
            stage.picture(width, height);
        }
        let mut nothing = Buffer::empty(Rect::ZERO);
        (&stage.desk).render(Rect::new(0, 0, 80, 24), &mut nothing);
        // Whatever was answered can be read again.
        let ensemble = stage.desk.ensemble().unwrap();
        let text = session::ensemble_text(&ensemble);
        prop_assert!(session::read_ensemble(&text, std::path::Path::new("x.ron")).is_ok(), "{}", text);
    }
}
