use ratatui::Terminal;
use ratatui::backend::TestBackend;
use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyModifiers};

use super::*;
use crate::bearings::hearing::{Beats, Place};
use crate::bearings::{End, Method, Sense};
use crate::rehearsal::tests::sixth_comma;
use crate::sound::Fault;
use crate::tui::{Palette, Theme};
use crate::units::{Cents, Hertz};

fn desk(can_sound: bool) -> Desk {
    let tuning = sixth_comma();
    let scale = tuning.scale();
    let standard = crate::tuning::PitchStandard::new(415.0).unwrap();
    let sheet = Sheet::new(
        scale.temperament(),
        scale.chain(),
        standard,
        None,
        Method::Fifths,
    )
    .unwrap();
    let options = Options::new(Theme::dark(Palette::Plain));
    Desk::new(sheet, can_sound, &options)
}

fn press(desk: &mut Desk, keys: &[KeyCode]) {
    for key in keys {
        assert_eq!(
            desk.press(KeyEvent::new(*key, KeyModifiers::NONE)),
            Flow::GoOn
        );
    }
}

fn place(cents: f64) -> Place {
    Place {
        hertz: Hertz::new(277.0).unwrap(),
        from_target: Cents::new(cents),
        margin: Cents::new(0.2),
    }
}

fn picture(desk: &Desk, width: u16, height: u16) -> String {
    let mut terminal = Terminal::new(TestBackend::new(width, height)).unwrap();
    terminal
        .draw(|frame| frame.render_widget(desk, frame.area()))
        .unwrap();
    terminal.backend().to_string()
}

/// The third step, D4 from A3, with its tones over and this heard.
fn listening(heard: Heard) -> Desk {
    let mut desk = desk(true);
    press(&mut desk, &[KeyCode::Char(' ')]);
    press(
        &mut desk,
        &[KeyCode::Char(' '), KeyCode::Char(' '), KeyCode::Enter],
    );
    desk.tick(Seconds::new(2.0));
    desk.take(BearingsNews::Source(SourceState::Running));
    desk.take(BearingsNews::Heard(heard));
    desk
}

fn beating() -> Heard {
    Heard::Both {
        lower: Some(place(0.1)),
        upper: Some(place(3.2)),
        beats: Beats::Counted {
            rate_hz: 2.3,
            margin_hz: 0.05,
            sense: Some(Sense::Wide),
        },
        is_sure_of_both: true,
    }
}

#[test]
fn nothing_sounds_before_the_cautions_are_read() {
    let mut desk = desk(true);
    assert_eq!(desk.to_play(), None);
    assert!(picture(&desk, 80, 24).contains("Never force a pin"));
    press(&mut desk, &[KeyCode::Char(' ')]);
    let wanted = desk.to_play().unwrap();
    assert_eq!(wanted.tones.len(), 1);
    assert_eq!(wanted.level, drone::START_LEVEL);
    // The ears are closed while the program itself sounds.
    assert_eq!(desk.to_hear(), Some(None));
    assert!(picture(&desk, 80, 24).contains("step 1 of 25"));
}

#[test]
fn tones_end_by_themselves_and_then_it_listens() {
    let mut desk = desk(true);
    press(
        &mut desk,
        &[KeyCode::Char(' '), KeyCode::Char(' '), KeyCode::Char(' ')],
    );
    let wanted = desk.to_play().unwrap();
    assert_eq!(wanted.tones.len(), 2);
    desk.to_hear();
    desk.tick(Seconds::new(5.1));
    assert!(desk.to_play().unwrap().tones.is_empty());
    assert_eq!(desk.to_hear(), None);
    desk.tick(Seconds::new(6.0));
    assert!(matches!(desk.to_hear(), Some(Some(Wanted::Two { .. }))));
    press(&mut desk, &[KeyCode::Enter]);
    assert_eq!(desk.to_play().unwrap().tones.len(), 2);
    assert_eq!(desk.to_hear(), Some(None));
}

#[test]
fn steps_stop_at_both_ends() {
    let mut desk = desk(false);
    press(&mut desk, &[KeyCode::Enter, KeyCode::Backspace]);
    assert_eq!(desk.step().number, 1);
    for _ in 0..40 {
        press(&mut desk, &[KeyCode::Char(' ')]);
    }
    assert_eq!(desk.step().number, 25);
    press(&mut desk, &[KeyCode::Left]);
    assert_eq!(desk.step().number, 24);
}

#[test]
fn the_level_stays_below_its_ceiling() {
    let mut desk = desk(true);
    press(&mut desk, &[KeyCode::Enter]);
    for _ in 0..40 {
        press(&mut desk, &[KeyCode::Char('+')]);
    }
    assert_eq!(desk.to_play().unwrap().level, drone::CEILING);
}

#[test]
fn both_strings_beating() {
    insta::assert_snapshot!(picture(&listening(beating()), 80, 24));
    insta::assert_snapshot!(picture(&listening(beating()), 120, 40));
}

#[test]
fn what_was_heard_stays_and_says_how_long_ago() {
    let mut desk = listening(beating());
    desk.take(BearingsNews::Heard(Heard::Quiet));
    desk.tick(Seconds::new(6.0));
    let shown = picture(&desk, 80, 24);
    assert!(shown.contains("what is shown was heard 4 s ago"), "{shown}");
    desk.tick(Seconds::new(30.0));
    assert!(picture(&desk, 80, 24).contains("strike both"));
    let mut next = listening(beating());
    press(&mut next, &[KeyCode::Char(' ')]);
    assert!(next.heard.is_none(), "another step has its own strings");
}

#[test]
fn one_string_is_named() {
    let alone = Heard::One {
        end: End::Lower,
        place: place(-12.4),
    };
    let shown = picture(&listening(alone), 80, 24);
    assert!(shown.contains("A3 alone: cents below its place"), "{shown}");
    assert!(shown.contains("heard: one string alone"), "{shown}");
}

#[test]
fn no_word_judges() {
    let still = Heard::Both {
        lower: Some(place(0.0)),
        upper: Some(place(0.0)),
        beats: Beats::Still { within_hz: 0.1 },
        is_sure_of_both: true,
    };
    for heard in [beating(), still] {
        let shown = picture(&listening(heard), 120, 40).to_lowercase();
        for word in [
            "good", "bad", "wrong", "right", "in tune", "correct", "perfect",
        ] {
            assert!(!shown.contains(word), "{word}");
        }
    }
}

#[test]
fn a_missing_microphone_is_told() {
    let mut desk = listening(beating());
    desk.take(BearingsNews::Source(SourceState::Waiting(Fault::NoDevice)));
    assert!(picture(&desk, 80, 24).contains("no microphone found"));
}

#[test]
fn every_size_is_drawn() {
    for (width, height) in [(0, 0), (1, 1), (19, 5), (30, 9), (80, 12), (200, 60)] {
        for desk in [desk(true), listening(beating())] {
            if width > 0 {
                picture(&desk, width, height);
            }
        }
    }
}
