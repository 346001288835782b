//! The plan view, with a programme made by hand.

use std::path::PathBuf;

use super::*;
use crate::plan::{Casting, Choice, Programme, Settled, Weights};
use crate::rehearsal::tests::{regular, sixth_comma};
use crate::score::{Bar, Bars, Part, Score, ScoreNote, Spelling, Ticks};
use crate::tui::Planning;
use crate::tui::keymap::Action;
use crate::tuning::Partial;
use crate::units::Note;

/// Ticks in a bar of four quarters.
const BAR: u64 = 16;

/// A part of notes of a quarter each, round and round through `bars` bars; `-` is a rest.
fn part(name: &str, notes: &str, bars: u64) -> Part {
    let notes: Vec<&str> = notes.split(' ').collect();
    let sounds = (0..4 * bars).filter_map(|at| {
        let note = notes[at as usize % notes.len()];
        let note: Note = note.parse().ok()?;
        Some(ScoreNote {
            note,
            onset: Ticks::new(4 * at),
            end: Ticks::new(4 * at + 4),
        })
    });
    Part {
        name: name.to_owned(),
        notes: sounds.collect(),
    }
}

fn score(title: &str, parts: Vec<Part>, bars: u64) -> Score {
    let bar = |number: u64| Bar {
        number: (number + 1).to_string(),
        start: Ticks::new(BAR * number),
        beat: Ticks::new(4),
    };
    Score {
        title: title.to_owned(),
        parts,
        bars: Bars::new(4, (0..bars).map(bar).collect()),
        signatures: Vec::new(),
        spelling: Spelling::Written,
        remarks: Vec::new(),
    }
}

fn sonata() -> Score {
    let parts = vec![
        part("Tromba I", "D5 F#5 A5 G5 F#5 E5 D5 -", 12),
        part("Tromba II", "D4 D5 F#5 D5 A4 A4 D4 -", 12),
        part("Violino I", "F#5 A5 D6 B5 D6 C#6 A5 F#5", 12),
        part("Violino II", "A4 D5 F#5 G5 A5 G#5 F#5 D5", 12),
        part("Organo", "D3 D4 D3 G3 D3 A3 D3 D#4", 12),
    ];
    score("Sonata", parts, 12)
}

fn chorus() -> Score {
    let parts = vec![
        part("Tromba I", "G5 F#5 E5 D5 B5 A5 - -", 30),
        part("Cantus", "B4 A4 G4 F#4 G4 F#4 E4 D#4", 30),
        part("Bassus", "G3 D3 C3 B2 E3 D3 A#2 B2", 30),
        part("Organo", "G3 D3 C3 B2 E3 D3 A#2 B2", 30),
    ];
    score("Chorus of shepherds", parts, 30)
}

fn aria() -> Score {
    let parts = vec![
        part("Soprano", "Eb5 D5 C5 Bb4 Ab4 G4 F4 G4", 20),
        part("Organo", "C4 Bb3 Ab3 G3 F3 Eb3 D3 Eb3", 20),
    ];
    score("Aria", parts, 20)
}

/// A programme in sixth-comma at A 415.
fn planning(scores: Vec<Score>) -> Planning {
    let parts = scores.iter().flat_map(|score| &score.parts);
    let has_trumpets = parts.clone().any(|part| part.name.starts_with("Tromba"));
    let casting = Casting {
        trumpets: has_trumpets.then(|| "Tromba*".parse().unwrap()),
        keyboard: Some("Organo".parse().unwrap()),
        ..Casting::default()
    };
    let tuning = sixth_comma();
    let names = scores
        .iter()
        .map(|score| format!("scores/{}.mid", score.title));
    let files: Vec<PathBuf> = names.map(PathBuf::from).collect();
    let mut temperaments = crate::session::temperaments(None).unwrap();
    temperaments.insert(3, regular("my-seventh-comma", "-1/7 SC"));
    Planning {
        title: "Music for two trumpets".to_owned(),
        programme: Programme::new(scores, &casting, None).unwrap(),
        scores: files,
        casting,
        temperaments,
        choice: Choice {
            temperament: tuning.scale().temperament().clone(),
            chain: tuning.scale().chain(),
            standard: tuning.standard(),
            anchor: Partial::new(8).unwrap(),
        },
        weights: Weights::default(),
    }
}

/// The plan alone on a pretended terminal.
fn alone(scores: Vec<Score>, width: u16, height: u16, keys: &str) -> Stage {
    let planning = planning(scores);
    let nobody = crate::tui::plan::nobody(&planning);
    let size = Size { width, height };
    let app = App::new(nobody, &options(Palette::Rich), size).planning(planning, true);
    let mut stage = Stage {
        app,
        terminal: Terminal::new(TestBackend::new(width, height)).unwrap(),
        now: 0.0,
    };
    stage.press(keys);
    stage
}

fn evening() -> Vec<Score> {
    vec![sonata(), chorus(), aria()]
}

#[test]
fn a_programme_at_80_by_24() {
    insta::assert_snapshot!("plan_80x24", alone(evening(), 80, 24, "").text());
}

#[test]
fn a_programme_at_120_by_40() {
    insta::assert_snapshot!(
        "plan_120x40",
        alone(evening(), 120, 40, "f\u{2192}\u{2192}").text()
    );
}

#[test]
fn a_programme_at_200_by_60() {
    insta::assert_snapshot!("plan_200x60", alone(evening(), 200, 60, "s").text());
}

#[test]
fn a_programme_in_the_smallest_window() {
    insta::assert_snapshot!("plan_60x10", alone(evening(), 60, 10, "").text());
}

#[test]
fn who_yields_stands_on_the_second_page() {
    insta::assert_snapshot!("plan_yields_120x40", alone(evening(), 120, 40, "\t").text());
    // How often is told whole or not at all.
    let whole = alone(evening(), 200, 60, "\t").text();
    let counts = |text: &str| -> Vec<String> {
        let told = text.lines().filter(|line| line.contains('\u{2192}'));
        let counts = told.filter_map(|line| line.split_once('\u{d7}'));
        counts
            .map(|(_, after)| after.chars().take_while(char::is_ascii_digit).collect())
            .collect()
    };
    for width in 60..200 {
        let narrow = counts(&alone(evening(), width, 60, "\t").text());
        assert!(
            narrow.iter().all(|count| counts(&whole).contains(count)),
            "{width}"
        );
    }
}

#[test]
fn the_help_of_a_plan() {
    insta::assert_snapshot!("plan_help_80x24", alone(evening(), 80, 24, "?").text());
}

#[test]
fn one_piece_without_trumpets() {
    let mut stage = alone(vec![aria()], 80, 24, "bvv");
    insta::assert_snapshot!("plan_aria_80x24", stage.text());
}

/// What the selected cell is, as the pane beside the table tells it.
fn portrait(stage: &mut Stage) -> String {
    let text = stage.text();
    // At this size it stands beside its large figure, on the right.
    let beside = text.lines().skip(2).take(9);
    let beside = beside.map(|line| line.chars().skip(61).collect::<String>());
    beside.collect::<Vec<_>>().join("\n")
}

fn settled(stage: &mut Stage) -> Settled {
    match stage.press("w") {
        Some(Effect::WritePlan(settled)) => *settled,
        other => panic!("nothing to write: {other:?}"),
    }
}

#[test]
fn what_is_taken_is_written() {
    let mut stage = alone(evening(), 120, 40, "");
    let first = settled(&mut stage);
    assert_eq!(first.temperament.name, "sixth-comma", "as it came");
    assert_eq!(first.trumpets.unwrap().key, crate::units::NoteName::D);
    assert_eq!(first.pieces.len(), 3);
    assert_eq!(first.pieces[2].trumpets, None);
    assert_eq!(
        first.pieces[1].score,
        PathBuf::from("scores/Chorus of shepherds.mid")
    );
    assert!(!first.notes.is_empty());
    // Moving alone takes nothing.
    stage.press("sv");
    assert_eq!(settled(&mut stage).temperament, first.temperament);
    stage.press("^^^^^^^^^^^^^^^^^^^^^^^^^^$ann+");
    let then = settled(&mut stage);
    assert_eq!(then.temperament.name, "equal", "the first that is listed");
    assert_eq!(then.chain, "F-A#".parse().unwrap());
    assert!((then.standard.a4().get() - 415.5).abs() < 1e-9);
    let trumpets = then.trumpets.unwrap();
    let twelve = crate::tuning::Anchor::PartialSounds {
        partial: Partial::new(12).unwrap(),
        note: "A5".parse().unwrap(),
    };
    assert_eq!(trumpets.anchor, twelve);
}

#[test]
fn the_selected_temperament_stays_selected_however_rows_are_ordered() {
    let mut stage = alone(evening(), 120, 40, "");
    let before = portrait(&mut stage);
    assert!(before.contains("sixth-comma"), "{before}");
    for keys in ["s", "s", "f", "F", "1", "111", "a", "aaa", "b", "n"] {
        stage.press(keys);
        let after = portrait(&mut stage);
        assert!(after.contains("sixth-comma"), "{keys}: {after}");
    }
    assert_eq!(portrait(&mut stage), before, "and all is as it was");
}

#[test]
fn the_chain_ends_where_keyboards_do() {
    let mut stage = alone(evening(), 80, 24, &"n".repeat(20));
    assert_eq!(settled(&mut stage).chain, "G-B#".parse().unwrap());
    stage.press(&"b".repeat(20));
    assert_eq!(settled(&mut stage).chain, "Gb-B".parse().unwrap());
}

#[test]
fn a_side_that_is_left_out_has_no_meetings_in_the_list() {
    // Trumpets left out: one, two, four, nothing.
    let mut stage = alone(evening(), 120, 40, "111");
    let text = stage.text();
    assert!(text.contains("trumpets \u{d7}0"), "{text}");
    let list = text.split("farthest from pure").nth(1).unwrap();
    assert!(!list.contains("Tromba"), "{list}");
    stage.press("1");
    let text = stage.text();
    let list = text.split("farthest from pure").nth(1).unwrap();
    assert!(list.contains(" p13 Trom"), "{list}");
}

#[test]
fn figures_that_do_not_exist_are_no_number() {
    let mut stage = alone(vec![aria()], 80, 24, "f");
    let text = stage.text();
    assert!(text.contains("trumpets with others"), "{text}");
    assert!(text.contains("no such meeting"), "{text}");
    assert!(!text.contains("NaN"), "{text}");
}

#[test]
fn in_a_rehearsal_the_plan_is_one_more_view() {
    let size = Size {
        width: 80,
        height: 24,
    };
    let mut stage = Stage::new(&BAND, 80, 24);
    assert!(!stage.text().contains("g plan"), "there is none");
    stage.press("g");
    assert!(!stage.text().contains("from pure (RMS)"));
    stage.app = App::new(rehearsal(&BAND), &options(Palette::Rich), size)
        .planning(planning(evening()), false);
    stage.hear(4.0, chord);
    stage.press("g");
    insta::assert_snapshot!("plan_in_rehearsal_80x24", stage.text());
    // Nothing of the rehearsal changes for what is looked at.
    let before = stage.app.rehearsal().tuning().clone();
    stage.press("annvv$1s");
    assert_eq!(stage.app.rehearsal().tuning(), &before);
    stage.press("p");
    assert!(stage.text().contains("Trumpet I"));
    stage.press("d");
    stage.press("g");
    assert!(stage.text().contains("from pure (RMS)"));
}

#[test]
fn alone_there_is_nowhere_else_to_go() {
    let mut stage = alone(evening(), 80, 24, "pcdl");
    assert!(stage.text().contains("from pure (RMS)"));
    let table = keymap::alone(keymap::PLAN);
    let leads_away = |action: Action| matches!(action, Action::Show(_));
    assert!(!table.iter().any(|binding| leads_away(binding.action)));
    assert_eq!(stage.press("q"), Some(Effect::Quit));
}

#[test]
fn more_ink_is_farther_and_the_cursor_is_reversed() {
    let mut stage = alone(evening(), 80, 24, "s");
    let buffer = stage.draw().clone();
    let reversed: String = buffer
        .content()
        .iter()
        .filter(|cell| cell.modifier.contains(Modifier::REVERSED))
        .map(ratatui::buffer::Cell::symbol)
        .collect();
    let number: f64 = reversed.trim().parse().unwrap();
    assert!(number > 1.0, "{reversed}");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, ..ProptestConfig::default() })]
    #[test]
    fn no_window_and_no_keys_break_the_plan(
        width in 0_u16..140, height in 0_u16..50,
        keys in "[ab1-3nsyvfF$>^<.+w\u{2190}\u{2192}-]{0,12}",
    ) {
        let mut stage = alone(evening(), width.max(1), height.max(1), &keys);
        stage.draw();
    }
}
