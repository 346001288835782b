//! Decisions, prompts, the recording's state and a replay.

use super::*;
use crate::rehearsal::{Entry, Resolution};
use crate::tui::Travel;

/// The last entry that a rehearsal keeps after these keys.
fn decision(stage: &mut Stage) -> Option<(String, Option<Resolution>, String)> {
    let mut entries = stage.app.take_entries().into_iter().rev();
    entries.find_map(|entry| match entry {
        Entry::Decided(d) => Some((d.note.ascii(), d.resolution, d.remark)),
        _ => None,
    })
}

#[test]
fn one_key_agrees_on_the_note_at_hand() {
    let mut stage = played(80, 24, "e");
    insta::assert_snapshot!("agree_80x24", stage.text());
    stage.press("2");
    let told = decision(&mut stage);
    let agreed = Some(Resolution::FollowTemperament);
    assert_eq!(told, Some(("G#".to_owned(), agreed, String::new())));
    let text = stage.text();
    assert!(
        text.contains("agreed on G\u{266f}: follow the temperament"),
        "{text}"
    );
    assert!(!text.contains("agree on G"), "the box is closed: {text}");
}

#[test]
fn the_meeting_place_moves_by_a_cent() {
    let mut stage = played(80, 24, "e-");
    let left = |stage: &mut Stage| {
        let key = KeyEvent::new(KeyCode::Left, KeyModifiers::NONE);
        stage.app.update(Event::Key(key));
    };
    left(&mut stage);
    stage.press("+3");
    let Some((_, Some(Resolution::MeetBetween(cents)), _)) = decision(&mut stage) else {
        panic!("nothing agreed");
    };
    let gap = hz(11).above(note("G#5"));
    assert_eq!(cents, Cents::new((gap.get() * 0.5).round() - 1.0));
    // It begins there the next time.
    stage.press("e3");
    let again = decision(&mut stage).unwrap();
    assert_eq!(again.1, Some(Resolution::MeetBetween(cents)));
}

#[test]
fn a_remark_is_typed_before_the_choice() {
    let mut stage = played(60, 10, "er");
    stage.press("bar 12, q1");
    insta::assert_snapshot!("agree_remark_60x10", stage.text());
    let back = KeyEvent::new(KeyCode::Backspace, KeyModifiers::NONE);
    stage.app.update(Event::Key(back));
    stage.press("3$6");
    let told = decision(&mut stage).unwrap();
    assert_eq!(told.1, Some(Resolution::LeaveExposed));
    assert_eq!(told.2, "bar 12, q3");
    stage.press("e");
    assert!(
        stage.text().contains("bar 12, q3"),
        "kept for the next time"
    );
    stage.press("0");
    assert_eq!(
        decision(&mut stage),
        Some(("G#".to_owned(), None, String::new()))
    );
    stage.press("e0");
    assert_eq!(decision(&mut stage), None);
    assert!(stage.text().contains("nothing is agreed on it yet"));
    stage.press("!");
    assert!(!stage.text().contains("agree on G"));
}

#[test]
fn a_note_without_partial_has_fewer_choices() {
    let mut stage = played(80, 24, "vvvvve");
    let text = stage.text();
    assert!(
        text.contains("agree on E\u{266d}") && text.contains("no partial near"),
        "{text}"
    );
    stage.press("1");
    assert_eq!(decision(&mut stage), None);
    assert!(stage.text().contains("no partial is near this note"));
    stage.press("2");
    assert!(decision(&mut stage).is_some());
}

#[test]
fn the_last_note_stays_at_hand_after_it_has_ended() {
    let mut stage = Stage::new(&BAND, 80, 24);
    stage.press("e");
    assert!(stage.text().contains("no note has sounded yet to agree on"));
    stage.hear(2.0, chord);
    stage.hear(2.0, |_| vec![unpitched(NoPitch::Silence); 7]);
    stage.press("ve");
    assert!(stage.text().contains("agree on F\u{266f}"));
    // The organ has not sounded at all: the last note of anybody is taken.
    stage.press("!vvvvve");
    assert!(stage.text().contains("agree on "));
}

#[test]
fn keys_of_the_view_do_nothing_below_the_choices() {
    let mut stage = played(80, 24, "etthq");
    assert!(stage.text().contains("agree on G\u{266f}"));
    let control = KeyEvent::new(KeyCode::Char('c'), KeyModifiers::CONTROL);
    assert_eq!(stage.app.update(Event::Key(control)), Some(Effect::Quit));
    assert_eq!(stage.press("!q"), Some(Effect::Quit));
}

#[test]
fn the_agreed_place_stands_on_the_axis() {
    let mut stage = played(80, 24, "e3vve1");
    insta::assert_snapshot!("agreed_80x24", stage.text());
    let buffer = stage.draw();
    assert_eq!(
        cell_of(buffer, axis::AGREED),
        (
            Theme::dark(Palette::Rich).agreed.fg.unwrap(),
            Modifier::BOLD
        )
    );
    // The same on the frozen picture.
    stage.press(" ");
    stage.hear(1.0, |_| vec![unpitched(NoPitch::Silence); 7]);
    assert!(stage.text().contains("\u{25c6} agreed: "));
    let mut wide = played(120, 40, "e3vv$e1");
    insta::assert_snapshot!("agreed_120x40", wide.text());
}

#[test]
fn one_player_alone_is_counted_from_what_was_settled() {
    let mut trumpet = played(120, 40, "\t");
    let text = trumpet.text();
    assert!(text.contains("\u{25c7} cents from 11"), "{text}");
    assert!(text.contains("\u{25a1} cents from G\u{266f}"), "{text}");
    trumpet.press("e1");
    let text = trumpet.text();
    assert!(text.contains("\u{25c6} cents from agreed"), "{text}");
    assert!(text.contains("\u{25c7} cents from 11"), "{text}");
    assert!(!text.contains("\u{25a1} cents from"), "{text}");
    let mut violin = played(120, 40, "$vvv\t");
    let text = violin.text();
    assert!(text.contains("\u{25ce} cents from p10"), "{text}");
    assert!(text.contains("\u{25a1} cents from"), "{text}");
    insta::assert_snapshot!("alone_held_120x40", text);
}

#[test]
fn escape_leads_back_to_the_players_from_any_view() {
    let players = played(80, 24, "").text();
    for view in ["c", "d", "l", "lc", "ctd"] {
        let mut stage = played(80, 24, view);
        assert_ne!(stage.text(), players, "{view}");
        assert_eq!(stage.press("!"), None, "{view}");
        assert!(stage.text().contains("Violin I"), "{view}");
        if !view.contains('t') {
            assert_eq!(stage.text(), players, "{view}");
        }
    }
}

#[test]
fn nothing_in_use_cannot_be_released() {
    let mut stage = played(80, 24, "0");
    assert!(stage.text().contains("no chord is in use"));
    stage.press("$0");
    assert!(!stage.text().contains("no chord is in use"));
}

#[test]
fn agreed_and_held_share_a_column_in_a_narrow_window() {
    let sounds = |_| vec![near(hz(12), 4.0), near(note("A4"), 9.0), near(hz(8), 2.0)];
    let names = [
        "Trumpet I",
        "Violin I",
        "Trumpet II",
        "Viola",
        "Organ",
        "Violin II",
    ];
    let mut stage = Stage::new(&names, 80, 24);
    stage.hear(3.0, sounds);
    stage.press("$e1");
    stage.hear(1.0, sounds);
    insta::assert_snapshot!("agreed_held_80x24", stage.text());
}

#[test]
fn a_keyboard_that_leaves_a_note_out_is_told_so() {
    let mut stage = Stage::new(&["Organ", "Trumpet I"], 80, 24);
    stage.hear(2.0, |_| vec![near(note("G#4"), 0.0), near(hz(11), -2.0)]);
    stage.press("e5");
    stage.hear(0.1, |_| vec![near(note("G#4"), 0.0), near(hz(11), -2.0)]);
    let text = stage.text();
    assert!(text.contains("agreed: leaves it out"), "{text}");
    assert!(text.contains("keyboard leaves it out"), "{text}");
}

#[test]
fn the_temperature_is_typed() {
    let mut stage = Stage::new(&BAND, 80, 24);
    stage.press("w");
    stage.press("warm$");
    insta::assert_snapshot!("warmth_80x24", stage.text());
    let back = KeyEvent::new(KeyCode::Backspace, KeyModifiers::NONE);
    for _ in 0..4 {
        stage.app.update(Event::Key(back));
    }
    stage.press("18,5$");
    assert!(stage.text().contains("18.5 \u{b0}C noted"));
    let kept = stage.app.take_entries();
    let is_warmth = |entry: &Entry| matches!(entry, Entry::Warmth { celsius, .. } if (celsius.get() - 18.5).abs() < 1e-9);
    assert!(kept.iter().any(is_warmth), "{kept:?}");
    stage.press("w99$!");
    assert!(!stage.text().contains("how warm"));
}

#[test]
fn a_moment_is_marked_at_once() {
    for view in ["p", "c", "d", "l"] {
        let mut stage = Stage::new(&BAND, 80, 24);
        stage.hear(2.0, chord);
        stage.press(view);
        stage.press("m");
        assert!(stage.text().contains("marked 0:0"), "{view}");
    }
}

#[test]
fn a_mark_is_of_the_moment_its_words_were_begun() {
    let mut stage = Stage::new(&BAND, 80, 24);
    stage.hear(2.0, chord);
    stage.press("Mthe reed");
    stage.hear(9.0, chord);
    assert!(stage.text().contains("mark 0:02"), "{}", stage.text());
    stage.press("$");
    let entries = stage.app.take_entries();
    let mark = entries.iter().find_map(|entry| match entry {
        Entry::Marked(mark) => Some(mark),
        _ => None,
    });
    let mark = mark.unwrap();
    assert_eq!(mark.text, "the reed");
    assert!((mark.at.get() - 2.0).abs() < 0.1, "{:?}", mark.at);
}

#[test]
fn enter_agrees_on_the_place_that_was_just_moved() {
    let mut stage = played(80, 24, "e");
    stage.press("$");
    assert!(
        stage.text().contains("choose one of the six"),
        "{}",
        stage.text()
    );
    assert_eq!(decision(&mut stage), None);
    stage.press("++$");
    let (_, resolution, _) = decision(&mut stage).unwrap();
    let Some(Resolution::MeetBetween(cents)) = resolution else {
        panic!("{resolution:?}")
    };
    assert!(
        cents.get() < 0.0,
        "two above half-way down to the partial: {cents:?}"
    );
}

#[test]
fn a_series_that_cannot_be_used_says_why() {
    let mut stage = played(80, 24, "u");
    assert!(stage.text().contains("too few notes of this trumpet yet"));
    stage.press("vvu");
    assert!(stage.text().contains("select a trumpet"));
    stage.press("du");
    assert!(stage.text().contains("too few notes of this trumpet yet"));
}

#[test]
fn every_view_is_one_key_away() {
    let mut stage = Stage::new(&BAND, 80, 24);
    for (key, word) in [
        ("d", "drift shows once"),
        ("l", "a note stands here"),
        ("c", "no chord held"),
        ("c", "no chord held"),
        ("p", "steady"),
        ("p", "steady"),
    ] {
        stage.hear(0.5, chord);
        stage.press(key);
        assert!(stage.text().contains(word), "{key}");
    }
}

#[test]
fn a_recording_that_fails_is_told_as_long_as_it_lasts() {
    let mut stage = Stage::new(&BAND, 80, 12);
    stage.hear(0.1, chord);
    let name = "2026-03-21-1930.session".to_owned();
    let into = || Event::Recording(Recording::Into("2026-03-21-1930.session".to_owned()));
    stage.app.update(into());
    assert!(stage.text().contains(", kept "), "{}", stage.text());
    let failing = || Event::Recording(Recording::Failing("the disk is full".to_owned()));
    stage.app.update(failing());
    assert!(
        stage
            .text()
            .contains(" not being recorded: the disk is full ")
    );
    stage.hear(20.0, chord);
    assert!(
        stage
            .text()
            .contains(" not being recorded: the disk is full ")
    );
    // Whatever else is wrong is told first, and this beside it.
    let fault = SourceState::Waiting(Fault::Lost("stage box".into()));
    stage.app.update(Event::Update(Update::State(fault)));
    let text = stage.text();
    assert!(
        text.contains("'stage box'") && text.contains(" not being recorded "),
        "{text}"
    );
    insta::assert_snapshot!("not_recorded_80x12", text);
    stage
        .app
        .update(Event::Update(Update::State(SourceState::Running)));
    stage.app.update(into());
    assert!(stage.text().contains("recorded again"));
    stage.hear(7.0, chord);
    assert!(!stage.text().contains("recorded"));
    let mut wide = Stage::new(&BAND, 120, 40);
    wide.app.update(into());
    assert!(
        wide.text().contains(&format!("kept in {name}")),
        "{}",
        wide.text()
    );
}

fn replayed(width: u16, height: u16, is_paused: bool) -> Stage {
    let mut stage = Stage::new(&BAND, width, height);
    stage.hear(3.0, chord);
    stage.app.update(Event::Playing(Playback {
        at: Seconds::new(761.0),
        length: Seconds::new(5520.0),
        speed: 4,
        is_paused,
    }));
    stage
}

#[test]
fn a_replay_tells_where_it_stands() {
    let mut stage = replayed(80, 24, false);
    insta::assert_snapshot!("replay_80x24", stage.text());
    assert!(stage.text().contains("replay 12:41 of 1:32:00  \u{d7}4"));
    assert!(replayed(80, 24, true).text().contains("of 1:32:00  paused"));
    stage.press("?");
    insta::assert_snapshot!("replay_help_80x24", stage.text());
    let text = stage.text();
    assert!(
        text.contains("10 s back, on") && !text.contains("agree on the note"),
        "{text}"
    );
}

#[test]
fn keys_travel_through_a_replay() {
    let mut stage = replayed(80, 24, false);
    let by = |seconds| Travel::By(Seconds::new(seconds));
    for (key, travel) in [
        (" ", Travel::Pause),
        ("f", Travel::Pause),
        ("[", Travel::PreviousMark),
        ("]", Travel::NextMark),
        ("+", Travel::Faster),
        ("-", Travel::Slower),
        (",", by(-60.0)),
        (";", by(60.0)),
    ] {
        for view in ["p", "c", "d", "l"] {
            stage.press(view);
            assert_eq!(
                stage.press(key),
                Some(Effect::Travel(travel)),
                "{key} in {view}"
            );
        }
    }
    let arrow = |code, modifiers| Event::Key(KeyEvent::new(code, modifiers));
    let right = arrow(KeyCode::Right, KeyModifiers::NONE);
    assert_eq!(stage.app.update(right), Some(Effect::Travel(by(10.0))));
    let left = arrow(KeyCode::Left, KeyModifiers::CONTROL);
    assert_eq!(stage.app.update(left), Some(Effect::Travel(by(-60.0))));
    assert!(!stage.text().contains("frozen"));
}

#[test]
fn a_replay_changes_nothing() {
    let mut stage = replayed(80, 24, false);
    stage.app.take_entries();
    for key in ["$", "e", "m", "w", "u", "t", "r"] {
        stage.press(key);
        let text = stage.text();
        assert!(text.contains("a replay changes nothing"), "{key}: {text}");
        assert!(
            text.contains("sixth-comma") && !text.contains("agree on"),
            "{key}: {text}"
        );
        stage.hear(6.5, chord);
    }
    let kept = stage.app.take_entries();
    let is_kept = |entry: &Entry| {
        matches!(
            entry,
            Entry::Decided(_) | Entry::Marked(_) | Entry::Warmth { .. } | Entry::Tuned { .. }
        )
    };
    assert!(!kept.iter().any(is_kept), "{kept:?}");
    let mut live = Stage::new(&BAND, 80, 24);
    let right = KeyEvent::new(KeyCode::Right, KeyModifiers::NONE);
    assert_eq!(
        live.app.update(Event::Key(right)),
        None,
        "a key of replays only"
    );
}

#[test]
fn the_ladder_shows_where_trumpets_are_to_stand() {
    let mut stage = played(80, 24, "c");
    assert!(!stage.text().contains('\u{25c6}'), "{}", stage.text());
    // Half-way between the eleventh partial and G sharp.
    stage.press("pe3c");
    let text = stage.text();
    let rung = text.lines().find(|line| line.contains("11 G\u{266f}5"));
    let rung = rung.unwrap_or_else(|| panic!("{text}"));
    let at = |mark: char| rung.chars().position(|c| c == mark);
    let (nature, agreed, tempered) = (at('\u{25c7}'), at('\u{25c6}'), at('\u{25a1}'));
    assert!(agreed.is_some() && agreed < tempered, "{rung}");
    assert!(nature.is_none() || nature < agreed, "{rung}");
}

#[test]
fn what_is_pasted_does_nothing_but_stand_where_something_is_typed() {
    let mut stage = played(80, 24, "");
    let paste = |stage: &mut Stage, text: &str| {
        let effect = stage.app.update(Event::Pasted(text.to_owned()));
        assert_eq!(effect, None);
    };
    let before = stage.app.rehearsal().tuning().clone();
    paste(&mut stage, "tt\nquit ee1\r\x1b[A");
    assert!(
        stage.text().contains("pasted is passed over"),
        "{}",
        stage.text()
    );
    assert_eq!(stage.app.rehearsal().tuning(), &before);
    assert_eq!(stage.app.rehearsal().chronicle().agreements().len(), 0);
    stage.press("M");
    paste(
        &mut stage,
        " Trumpets low\r\n\u{1b}turn\tto \u{202e}letter t\n",
    );
    assert!(
        stage.text().contains("Trumpets low turn to letter t"),
        "{}",
        stage.text()
    );
    assert_eq!(stage.app.rehearsal().chronicle().marks().len(), 0);
    paste(&mut stage, &"x".repeat(100_000));
    stage.press("$");
    let marks = stage.app.rehearsal().chronicle().marks();
    assert!(
        marks[0].text.starts_with("Trumpets low turn to letter txx"),
        "{marks:?}"
    );
    assert_eq!(marks[0].text.chars().count(), 60);
    // The choices are keys; only the remark is text.
    stage.press("e");
    paste(&mut stage, "1");
    assert_eq!(stage.app.rehearsal().chronicle().agreements().len(), 0);
    stage.press("r");
    paste(&mut stage, "bars 1\u{2013}8\n2");
    stage.press("$1");
    let chronicle = stage.app.rehearsal().chronicle();
    assert_eq!(chronicle.agreements()[0].remark, "bars 1\u{2013}8 2");
}
