//! A practice driven by keys.

use super::*;
use crate::drone::{CEILING, Drone, Timbre};
use crate::rehearsal::{
    Accompaniment, Course, Exercise, Loudspeaker, Place, Practice, Step, Steps,
};
use crate::tui::caution::CAUTIONS;

fn exercise(name: &str, steps: Steps) -> Exercise {
    Exercise {
        name: name.into(),
        title: format!("The exercise {name}"),
        steps,
        places: vec![Place::Partial],
        tolerance: Cents::new(5.0),
        hold: Seconds::new(3.0),
        is_blind: false,
        accompaniment: Accompaniment::Stays,
    }
}

fn alone(tones: &str, exercises: Vec<Exercise>, width: u16, height: u16) -> Stage {
    let mut stage = Stage::new(&["Trumpet I"], width, height);
    let course = Course::new(exercises).unwrap();
    let practice = Practice::new(Drone::new(tones.parse().unwrap()), course);
    let rehearsal = rehearsal(&["Trumpet I"]).practising(practice);
    stage.app = App::new(rehearsal, &options(Palette::Rich), Size { width, height });
    let running = Event::Update(Update::State(SourceState::Running));
    stage.app.update(running);
    stage
}

/// Without steps, at 80 by 24.
fn free(tones: &str) -> Stage {
    alone(tones, vec![exercise("free", Steps::Any)], 80, 24)
}

impl Stage {
    fn drone(&self) -> &Drone {
        self.app.rehearsal().practice().unwrap().drone()
    }
}

#[test]
fn a_practice_is_shown_first_and_found_again() {
    let mut stage = free("8,12");
    assert!(stage.text().contains("The exercise free"));
    stage.press("d");
    assert!(!stage.text().contains("The exercise free"));
    assert!(stage.text().contains("p practise"), "{}", stage.text());
    stage.press("lc");
    stage.press("p");
    assert!(stage.text().contains("The exercise free"));
    assert_eq!(stage.press("q"), Some(Effect::Quit));
}

#[test]
fn keys_change_the_drone() {
    let mut stage = free("8,12");
    assert!(!stage.drone().is_sounding());
    stage.press("$");
    assert!(stage.drone().is_sounding());
    stage.press("n");
    assert_eq!(stage.drone().tones().to_string(), "p9,p13");
    stage.press("bb");
    assert_eq!(stage.drone().tones().to_string(), "p7,p11");
    stage.press(">>");
    let right = KeyEvent::new(KeyCode::Right, KeyModifiers::NONE);
    stage.app.update(Event::Key(right));
    assert_eq!(stage.drone().tones().to_string(), "p10,p14");
    stage.press("<^");
    assert_eq!(stage.drone().tones().to_string(), "p8,p12");
    stage.press("s");
    assert_eq!(stage.drone().tones().to_string(), "D5,A5");
    stage.press("oo");
    assert_eq!(stage.drone().octave(), 2);
    stage.press("O");
    assert_eq!(stage.drone().octave(), 1);
    stage.press("i");
    assert!(stage.drone().is_apart());
    assert!(stage.text().contains("both sides"));
    stage.press("$");
    assert!(!stage.drone().is_sounding());
}

#[test]
fn the_sound_of_the_drone_changes() {
    let mut stage = free("8");
    let key = KeyEvent::new(KeyCode::Char('v'), KeyModifiers::NONE);
    stage.app.update(Event::Key(key));
    assert_eq!(stage.drone().timbre(), Timbre::Reed);
    assert!(stage.text().contains("reed"));
}

#[test]
fn the_ceiling_is_told() {
    let mut stage = free("8");
    stage.press("+++++++++");
    assert_eq!(stage.drone().level(), CEILING);
    assert!(!stage.text().contains("--ceiling"), "{}", stage.text());
    stage.press("+");
    let told = "the ceiling is \u{2212}20 dBFS: --ceiling raises it";
    assert!(stage.text().contains(told), "{}", stage.text());
    stage.press("-");
    assert!(stage.drone().level() < CEILING);
    stage.press(&"-".repeat(30));
    assert!(stage.text().contains("\u{2212}62 dBFS is the softest"));
}

/// The words after these keys.
fn check(tones: &str, keys: &str, told: &str) {
    let mut stage = free(tones);
    stage.press(keys);
    let text = stage.text();
    assert!(text.contains(told), "'{told}' after '{keys}':\n{text}");
}

#[test]
fn what_cannot_be_done_says_why() {
    check("24", "n", "the drone's tones go no further");
    check("1", "<", "the drone's tones go no further");
    check("Eb4", "s", "there is no other place");
    check("8", "i", "one tone alone stays in the middle");
    check(
        "8",
        "oooo",
        "3 octaves from where it is written is the most",
    );
    check("8", "x", "there is one exercise only");
    check("8", "e", "no note has sounded yet to agree on");
    check("8", "H", "headphones: nothing is taken out");
    check("8", "HH", "no headphones: the drone is taken out");
}

#[test]
fn a_waiting_loudspeaker_is_told_at_once() {
    let mut stage = free("8");
    let waiting = Loudspeaker::Waiting("no device: plug one in".to_owned());
    stage
        .app
        .update(Event::Update(Update::Loudspeaker(waiting)));
    assert!(stage.text().contains("loudspeaker: no device: plug one in"));
    stage.press("$");
    assert!(stage.text().contains("there is no loudspeaker yet"));
}

#[test]
fn space_marks_the_moment_and_the_note_at_hand_is_agreed_on() {
    let mut stage = free("8");
    stage.press(" ");
    assert_eq!(stage.app.rehearsal().chronicle().marks().len(), 1);
    stage.hear(1.0, |_| vec![near(hz(11), -2.0)]);
    stage.press("e");
    let text = stage.text();
    assert!(text.contains("agree on G\u{266f}"), "{text}");
    stage.press("2");
    assert_eq!(stage.app.rehearsal().chronicle().agreements().len(), 1);
}

#[test]
fn a_drone_where_nothing_was_agreed_says_so() {
    let mut stage = free("agreed:G#5");
    let told = "\u{25a1}G\u{266f}5 (nothing is agreed on it)";
    assert!(stage.text().contains(told), "{}", stage.text());
    stage.hear(1.0, |_| vec![near(hz(11), -2.0)]);
    stage.press("e1");
    assert!(
        !stage.text().contains("nothing is agreed"),
        "{}",
        stage.text()
    );
    assert!(
        stage.text().contains("\u{25c6}G\u{266f}5"),
        "{}",
        stage.text()
    );
}

#[test]
fn escape_leads_back_to_the_practice() {
    let mut stage = free("8");
    let before = stage.text();
    stage.press("l");
    assert_ne!(stage.text(), before);
    stage.press("!");
    assert_eq!(stage.text(), before);
}

#[test]
fn another_temperament_moves_the_drone() {
    let mut stage = free("F#4");
    stage.press("$");
    let before = stage.app.take_wanted().unwrap().0;
    stage.press("t");
    let after = stage.app.take_wanted().unwrap().0;
    assert!(before.tones[0].hertz != after.tones[0].hertz);
    assert_eq!(stage.app.take_wanted(), None);
}

#[test]
fn cautions_close_and_the_key_does_its_work() {
    let mut stage = free("8");
    stage.app = stage.app.clone().cautioning(true);
    insta::assert_snapshot!("caution_80x24", stage.text());
    stage.press("$");
    assert!(stage.drone().is_sounding());
    assert!(!stage.text().contains(CAUTIONS[2]), "{}", stage.text());
    let mut stage = free("8");
    stage.app = stage.app.clone().cautioning(false);
    assert!(!stage.text().contains(CAUTIONS[2]));
    let mut band = Stage::new(&BAND, 80, 24);
    band.app = band.app.clone().cautioning(true);
    assert!(!band.text().contains(CAUTIONS[2]), "no drone, no caution");
}

#[test]
fn cautions_have_room_in_every_window() {
    for (width, height) in [(60, 10), (80, 24), (120, 40)] {
        let mut stage = alone("8", vec![exercise("free", Steps::Any)], width, height);
        stage.app = stage.app.clone().cautioning(true);
        let text = stage.text();
        for sentence in CAUTIONS.join(" ").split(' ') {
            assert!(text.contains(sentence), "'{sentence}':\n{text}");
        }
        assert!(text.contains("any key goes on"), "{text}");
    }
}

#[test]
fn the_help_has_the_keys_and_the_cautions() {
    for (width, height) in [(60, 10), (80, 24), (120, 40)] {
        let mut stage = alone("8", vec![exercise("free", Steps::Any)], width, height);
        stage.press("?");
        let text = stage.text();
        for (keys, help) in keymap::lines(keymap::PRACTICE) {
            let line = format!("{keys:<11}{help}");
            assert!(
                text.contains(&line),
                "'{line}' at {width}x{height}:\n{text}"
            );
        }
        if height >= 24 {
            assert!(text.contains("see a doctor"), "{text}");
        }
        insta::assert_snapshot!(format!("help_alone_{width}x{height}"), text);
        stage.press("?");
        assert!(stage.text().contains("see a doctor"), "{}", stage.text());
        stage.press("$");
        assert!(stage.drone().is_sounding());
        assert!(!stage.text().contains("see a doctor"));
    }
}

#[test]
fn without_input_it_is_told() {
    let mut stage = free("8");
    let lost = SourceState::Waiting(Fault::NoDevice);
    stage.app.update(Event::Update(Update::State(lost)));
    assert!(stage.text().contains("no input yet"), "{}", stage.text());
}

fn any_deed() -> impl Strategy<Value = Event> {
    let keys: Vec<KeyCode> = "nb+-oOvixXHstr.emM ?pdlq12"
        .chars()
        .map(KeyCode::Char)
        .collect();
    let others = vec![
        KeyCode::Enter,
        KeyCode::PageDown,
        KeyCode::PageUp,
        KeyCode::Left,
        KeyCode::Esc,
    ];
    let code = prop_oneof![prop::sample::select(keys), prop::sample::select(others)];
    prop_oneof![
        2 => code.prop_map(|code| Event::Key(KeyEvent::new(code, KeyModifiers::NONE))),
        3 => any_event(),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(100) })]
    #[test]
    fn no_event_breaks_a_practice(
        width in 0_u16..=220, height in 0_u16..=70, has_steps: bool,
        events in prop::collection::vec(any_deed(), 0..60),
    ) {
        let steps = if has_steps {
            Steps::Notes(vec![Step::Note("F#4".parse().unwrap()), Step::Partial(7.try_into().unwrap())])
        } else {
            Steps::Any
        };
        let exercises = vec![exercise("one", steps), exercise("two", Steps::Any)];
        let mut app = alone("8,12,5/4", exercises, width, height).app.cautioning(true);
        for event in events {
            app.update(event);
        }
        let area = Rect::new(0, 0, width, height);
        let mut buffer = Buffer::empty(area);
        (&app).render(area, &mut buffer);
    }
}
