//! Few and many players: the far view, groups in one line, and the mouse.

use super::*;

/// Twelve of a band, then strings until there are `count`.
fn names(count: usize) -> Vec<String> {
    (0..count)
        .map(|index| match index {
            0..3 => format!("Trumpet {}", index + 1),
            11 => "Organ".to_owned(),
            _ => format!("Violin {index}"),
        })
        .collect()
}

fn crowd(count: usize, width: u16, height: u16, keys: &str) -> Stage {
    let names = names(count);
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    let mut stage = Stage::new(&names, width, height);
    stage.hear(2.0, |_| {
        let sound = |index: usize| match index {
            0..3 => near(hz(8 + 2 * index as u8), index as f64 - 3.0),
            _ => near(note("D4"), index as f64 - 6.0),
        };
        (0..count).map(sound).collect()
    });
    stage.press(keys);
    stage
}

#[test]
fn one_player_fills_the_window() {
    insta::assert_snapshot!("large_80x24", crowd(4, 80, 24, "\t").text());
    insta::assert_snapshot!("large_60x20", crowd(4, 60, 20, "v\t").text());
    insta::assert_snapshot!("large_120x40", crowd(4, 120, 40, "vvv\t").text());
}

#[test]
fn large_and_back_keeps_the_player() {
    let mut stage = crowd(4, 80, 24, "v");
    let before = stage.text();
    stage.press("\t");
    assert!(stage.text().contains("\u{25b8}Trumpet 2"));
    stage.press("v");
    assert!(stage.text().contains("\u{25b8}Trumpet 3"));
    stage.press("^\t");
    assert_eq!(stage.text(), before);
}

#[test]
fn a_group_is_folded_into_a_line_and_unfolded() {
    let mut stage = crowd(12, 80, 24, "");
    let before = stage.text();
    stage.press("vvvx");
    insta::assert_snapshot!("folded_80x24", stage.text());
    // Trumpets are told from their partials, as they are aimed at.
    let trumpets = crowd(12, 80, 24, "x").text();
    let folded = trumpets
        .lines()
        .find(|line| line.contains("Trumpets \u{d7}3"));
    assert!(
        folded.is_some_and(|line| line.contains('\u{25c7}')),
        "{trumpets}"
    );
    // The line is selected, so that the same key unfolds it, with its first player selected.
    stage.press("x");
    assert!(stage.text().contains("\u{25b8}Violin 3"));
    stage.press("^^^");
    assert_eq!(stage.text(), before);
    // Whoever is all folded is three lines, and one key shows everyone again.
    stage.press("x^x^^x");
    let text = stage.text();
    for group in ["Trumpets \u{d7}3", "Strings \u{d7}8", "Keyboard \u{d7}1"] {
        assert!(text.contains(group), "{group}: {text}");
    }
    stage.press("a<<");
    assert_eq!(stage.text(), before);
}

#[test]
fn thirty_two_players_are_scrolled() {
    let mut stage = crowd(32, 80, 24, "");
    assert!(stage.text().contains(" of 32"));
    insta::assert_snapshot!("crowd_80x24", stage.text());
    for _ in 0..31 {
        stage.press("v");
    }
    assert!(stage.text().contains("\u{25b8}Violin 31"));
    for size in [(60, 20), (100, 30), (120, 40), (200, 60)] {
        let text = crowd(32, size.0, size.1, "vvvvv").text();
        assert!(text.contains("\u{25b8}Violin 5"), "{size:?}");
    }
}

#[test]
fn a_click_selects_whoever_is_there() {
    let mut stage = crowd(12, 80, 24, "");
    let text = stage.text();
    let row = text
        .lines()
        .position(|line| line.contains(" Violin 7 "))
        .unwrap();
    stage.app.update(Event::Click(Position::new(5, row as u16)));
    assert!(
        stage
            .text()
            .lines()
            .nth(row)
            .unwrap()
            .contains("\u{25b8}Violin 7")
    );
    // The wheel goes on from there.
    stage.app.update(Event::Wheel { down: true });
    assert!(stage.text().contains("\u{25b8}Violin 8"));
    stage.app.update(Event::Wheel { down: false });
    // Neither does anything below a prompt.
    stage.press("m");
    stage.press("M");
    stage
        .app
        .update(Event::Click(Position::new(5, row as u16 + 1)));
    stage.app.update(Event::Wheel { down: true });
    stage.press("!");
    assert!(stage.text().contains("\u{25b8}Violin 7"));
}

#[test]
fn colours_go_round() {
    let themes = crate::settings::themes();
    let named = |theme: &crate::settings::NamedTheme| {
        (
            theme.name.clone(),
            Theme::new(&theme.colours, Palette::Rich),
        )
    };
    let options = Options {
        themes: themes.iter().map(named).collect(),
        ..options(Palette::Rich)
    };
    let mut stage = Stage::new(&BAND, 80, 24);
    stage.app = App::new(rehearsal(&BAND), &options, Size::new(80, 24));
    for theme in themes[1..].iter().chain(&themes[..1]) {
        stage.press("y");
        assert!(stage.text().contains(&format!("colours: {}", theme.name)));
        assert_eq!(
            *stage.app.theme(),
            Theme::new(&theme.colours, Palette::Rich)
        );
    }
}

#[test]
fn an_input_that_says_nothing_for_long_is_told() {
    let mut stage = Stage::new(&BAND, 80, 24);
    let format = crate::sound::StreamFormat {
        name: "box".to_owned(),
        rate: crate::units::SampleRate::new(48_000).unwrap(),
        channels: 7,
    };
    stage.app.update(Event::Update(Update::Started(format)));
    let silent = || Reading {
        level: crate::units::Dbfs::SILENCE,
        ..unpitched(NoPitch::Silence)
    };
    let quiet = || Reading {
        level: crate::units::Dbfs::new(-70.0),
        ..unpitched(NoPitch::Silence)
    };
    stage.hear(119.0, |_| vec![quiet(), quiet(), silent()]);
    assert!(!stage.text().contains("no sound on"));
    stage.hear(2.0, |_| vec![quiet(), quiet(), silent()]);
    assert!(
        stage
            .text()
            .contains("no sound on input 3 for 2 min: is the microphone on?")
    );
    stage.hear(0.1, |_| vec![quiet(), quiet(), quiet()]);
    assert!(!stage.text().contains("no sound on"));
}
