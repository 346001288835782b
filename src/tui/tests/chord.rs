//! The chord view and the third reference.

use super::*;
use crate::analysis::chord::{Beating, ChordSound, HeardChord, HeardVoice, Sought, VoiceStatus};
use crate::rehearsal::tests::{chord as heard_chord, voice};
use crate::rehearsal::{Entry, SoughtVoices, VoiceLabel};
use crate::sound::StreamFormat;
use crate::units::SampleRate;

/// D and A of the trumpets a little off, strings about their octaves, an organ on its third
/// and a dulcian beside nobody.
fn d_major(_time: f64) -> Vec<Reading> {
    vec![
        near(hz(12), 4.0),
        near(hz(8), -2.0),
        near(hz(6), 10.0),
        near(hz(5), 0.0),
        near(hz(4), -2.0),
        near(note("Eb3"), 3.0),
        near(note("F#4"), 0.0),
    ]
}

/// The trumpets breathe; everyone else goes on.
fn breathing(time: f64) -> Vec<Reading> {
    let mut sounds = d_major(time);
    sounds[0] = unpitched(NoPitch::Silence);
    sounds[1] = unpitched(NoPitch::Silence);
    sounds
}

fn held(width: u16, height: u16, keys: &str) -> Stage {
    let mut stage = Stage::new(&BAND, width, height);
    stage.hear(3.0, d_major);
    stage.press("$");
    stage.hear(7.0, breathing);
    stage.press(keys);
    stage
}

#[test]
fn the_ladder_with_nothing_held() {
    let mut stage = Stage::new(&BAND, 80, 24);
    stage.press("c");
    let text = stage.text();
    assert!(
        text.contains("no chord held: Enter holds the trumpets' as it sounds"),
        "{text}"
    );
    assert!(text.contains("nothing sounds"), "{text}");
    stage.hear(3.0, d_major);
    insta::assert_snapshot!("ladder_live_80x24", stage.text());
}

#[test]
fn the_chord_stays_on_the_ladder_while_the_trumpets_breathe() {
    insta::assert_snapshot!("ladder_80x24", held(80, 24, "c").text());
    insta::assert_snapshot!("ladder_120x40", held(120, 40, "c").text());
    insta::assert_snapshot!("ladder_200x60", held(200, 60, "c.").text());
    insta::assert_snapshot!("ladder_60x10", held(60, 10, "c").text());
}

#[test]
fn everyone_is_readable_from_afar() {
    insta::assert_snapshot!("far_80x24", held(80, 24, "cb").text());
    insta::assert_snapshot!("far_120x40", held(120, 40, "cb").text());
    // More than fit are scrolled to.
    let mut small = held(60, 10, "cb");
    assert!(small.text().contains("Violin I "), "{}", small.text());
    small.press("jjjj");
    assert!(small.text().contains("Organ"), "{}", small.text());
    small.press("kkkkkkkk");
    assert!(small.text().contains("Violin I "), "{}", small.text());
}

#[test]
fn players_see_the_held_chord_as_a_third_reference() {
    insta::assert_snapshot!("third_80x24", held(80, 24, "vv").text());
    let mut stage = held(120, 40, "vv");
    let text = stage.text();
    assert!(
        text.contains("\u{25ce} octave below p12 of Trumpet I: "),
        "{text}"
    );
    // 440 and a bit: the A of 6 D fundamentals of 69.31 Hz is 415.86; 6 cents of it, heard at
    // its second partial, are 2.9 Hz.
    assert!(
        text.contains("2.9 beats a second, slower when lower"),
        "{text}"
    );
    stage.press("0");
    assert!(!stage.text().contains('\u{25ce}'), "released");
    stage.press("1");
    assert!(stage.text().contains("\u{25ce} octave below p12"));
}

#[test]
fn a_chord_is_held_by_key_and_by_pedal_and_asked_to_be_kept() {
    let mut stage = Stage::new(&BAND, 80, 24);
    assert_eq!(stage.press("$"), None);
    assert!(
        stage
            .text()
            .contains("no trumpet sounds or has just sounded: nothing held"),
        "{}",
        stage.text()
    );
    stage.hear(3.0, d_major);
    assert_eq!(stage.press("c>"), None);
    let entries = stage.app.take_entries();
    let held = entries.iter().find_map(|entry| match entry {
        Entry::Held { chord, .. } => Some(chord),
        _ => None,
    });
    let chord = held.expect("the pedal holds");
    assert_eq!(chord.names(), "p8 p12");
    assert_eq!(chord.setting.title, "An afternoon");
    assert!(stage.text().contains("held as 1: p8 p12"));
    // Gone after a while.
    stage.hear(6.5, d_major);
    assert!(!stage.text().contains("held as 1"));
    assert_eq!(stage.press("$"), None);
    assert!(stage.text().contains("kept 1 2"), "{}", stage.text());
    assert_eq!(stage.press("<"), None);
    assert!(
        stage.text().contains("\u{25ce} 1 held 0:06 ago"),
        "{}",
        stage.text()
    );
    stage.press("7");
    assert!(stage.text().contains("no chord 7 is kept"));
    stage.press("0");
    assert!(
        stage
            .text()
            .contains("none in use: Enter holds one, 1 2 recall"),
        "{}",
        stage.text()
    );
    stage.press("n");
    assert!(stage.text().contains("\u{25ce} 1 held"));
}

#[test]
fn next_without_any_says_how_to_get_one() {
    let mut stage = Stage::new(&BAND, 80, 24);
    stage.press("cn");
    assert!(
        stage
            .text()
            .contains("no chord is kept yet: Enter holds one")
    );
    let mut strings = Stage::new(&["Violin I", "Viola"], 80, 24);
    strings.press("$");
    assert!(
        strings.text().contains("no trumpets in this ensemble"),
        "{}",
        strings.text()
    );
}

#[test]
fn what_the_shell_tells_stands_for_a_while() {
    let mut stage = Stage::new(&BAND, 80, 24);
    let told = "held, but not kept: cannot write 'a.session' (no space left)";
    stage.app.update(Event::Told(told.to_owned()));
    assert!(stage.text().contains(told));
    stage.hear(6.1, d_major);
    assert!(!stage.text().contains("not kept"));
}

#[test]
fn beats_move_the_picture() {
    let mut stage = held(80, 24, "c");
    let mut pictures = Vec::new();
    for _ in 0..12 {
        stage.hear(0.03, breathing);
        assert!(stage.app.take_stale());
        pictures.push(stage.text());
    }
    pictures.dedup();
    assert!(
        pictures.len() > 4,
        "2.9 beats a second are seen: {} pictures",
        pictures.len()
    );
    // A frozen picture stands still, beats and all.
    stage.press(" ");
    let body = |text: &str| text.lines().skip(2).map(str::to_owned).collect::<Vec<_>>();
    let before = body(&stage.text());
    stage.hear(0.5, breathing);
    // Only how long ago the chord was held goes on.
    let after = body(&stage.text());
    assert_eq!(before[1..], after[1..]);
}

#[test]
fn the_other_view_and_back() {
    let mut stage = Stage::new(&BAND, 80, 24);
    stage.press("c");
    assert!(stage.text().contains("p players"));
    stage.press("?");
    for (keys, help) in keymap::lines(keymap::CHORD) {
        let line = format!("{keys:<11}{help}");
        assert!(stage.text().contains(&line), "'{line}':\n{}", stage.text());
    }
    stage.press("!p");
    assert!(stage.text().contains("c chord"));
}

/// The voices of a room by their names.
fn room(voices: &[(&str, VoiceStatus)]) -> Vec<HeardVoice> {
    let band = crate::rehearsal::tests::band(&["Room"]);
    let sought = SoughtVoices::free(&band.channels[0], &band.tuning);
    let place = |(identity, (name, status)): (usize, &(&str, VoiceStatus))| {
        let label: VoiceLabel = name.parse().unwrap();
        let place = sought.labels().iter().position(|l| *l == label).unwrap();
        HeardVoice {
            status: *status,
            ..voice(identity as u32, place, label.frequency(&band.tuning).get())
        }
    };
    voices.iter().enumerate().map(place).collect()
}

fn hear_room(stage: &mut Stage, n_chords: u32, voices: &[HeardVoice]) {
    for _ in 0..n_chords {
        stage.now += 0.2;
        let available = Seconds::new(stage.now);
        stage.app.update(Event::Tick(available));
        let chord = HeardChord {
            available,
            ..heard_chord(ChordSound::Held, voices)
        };
        stage.app.update(Event::Update(Update::Chord(0, chord)));
    }
    stage.app.update(Event::Tick(Seconds::new(stage.now)));
}

#[test]
fn voices_of_a_room_have_their_status_in_words() {
    let mut stage = Stage::new(&["Room"], 80, 24);
    stage.press("c");
    let merged = VoiceStatus::Merged {
        with: 2,
        partial: 2,
    };
    let mut voices = room(&[
        ("p8", VoiceStatus::Ok),
        ("p12", VoiceStatus::Doubtful),
        ("A3", VoiceStatus::Ok),
        ("A4", merged),
        ("D5", VoiceStatus::Ok),
        ("p10", VoiceStatus::Absent),
    ]);
    (voices[0].is_named, voices[4].is_named) = (false, false);
    voices[0].beating = Some(Beating {
        with: 4,
        rate_hz: 1.5,
    });
    voices[4].beating = Some(Beating {
        with: 0,
        rate_hz: 1.5,
    });
    hear_room(&mut stage, 8, &voices);
    let text = stage.text();
    insta::assert_snapshot!("room_80x24", text);
    for words in [
        "1.5/s with D5",
        "doubtful",
        "merged 2 of A3",
        "not heard",
        "p8/D5",
    ] {
        assert!(text.contains(words), "{words}: {text}");
    }
    // So near that there are no two pitches: together, with the beats and no number.
    voices[4].status = VoiceStatus::Merged {
        with: 0,
        partial: 1,
    };
    hear_room(&mut stage, 8, &voices);
    let text = stage.text();
    let line = text.lines().find(|line| line.contains("together")).unwrap();
    assert!(line.contains("1.5/s") && !line.contains('\u{b1}'), "{line}");
    // In the players view the room tells how many voices it has.
    stage.press("p");
    assert!(stage.text().contains("6 voices"), "{}", stage.text());
}

#[test]
fn a_lone_voice_of_a_room_has_both_names() {
    let mut voices = room(&[("F#5", VoiceStatus::Ok), ("p10", VoiceStatus::Ok)]);
    (voices[0].is_named, voices[0].or_place) = (false, Some(voices[1].place));
    voices.truncate(1);
    for keys in ["c", "cb"] {
        let mut stage = Stage::new(&["Room"], 80, 24);
        stage.press(keys);
        hear_room(&mut stage, 8, &voices);
        let text = stage.text();
        assert!(text.contains("Room p10/F\u{266f}5"), "{text}");
        stage.press("$");
        let text = stage.text();
        let told = "held as 1: p10/F\u{266f}5 from Room, whoever played there";
        assert!(text.contains(told), "{text}");
    }
}

#[test]
fn whoever_has_no_pitch_and_no_place_is_told_without_cents() {
    let mut stage = Stage::new(&["Room"], 80, 24);
    stage.press("c");
    let absent = room(&[("Eb3", VoiceStatus::Absent)]);
    hear_room(&mut stage, 8, &absent);
    let text = stage.text();
    let line = text.lines().find(|line| line.contains("beside no voice"));
    let line = line.unwrap_or_else(|| panic!("{text}"));
    assert!(line.contains("Room E\u{266d}3 not heard"), "{line}");
}

#[test]
fn rows_without_room_are_scrolled_to_whatever_sounds() {
    // Every rung of the held chord stays, though nobody sounds.
    let mut stage = Stage::new(&["Room"], 60, 10);
    stage.press("c");
    let names = ["p4", "p5", "p6", "p7", "p8", "p9", "p10", "p12"];
    let voices = room(&names.map(|name| (name, VoiceStatus::Ok)));
    hear_room(&mut stage, 8, &voices);
    stage.press("$");
    for _ in 0..10 {
        stage.now += 1.0;
        stage.app.update(Event::Tick(Seconds::new(stage.now)));
    }
    let first = stage.text();
    assert!(first.contains("3 more \u{2193}"), "{first}");
    stage.press("j");
    let text = stage.text();
    assert!(text.contains("1\u{2191} 2\u{2193} more"), "{text}");
    stage.press("jjjjjjj");
    let last = stage.text();
    assert!(
        last.contains("3 more \u{2191}") && last.contains("  4 D4 "),
        "{last}"
    );
    stage.press("k");
    assert!(
        stage.text().contains("2\u{2191} 1\u{2193} more"),
        "no farther than the last"
    );
    stage.press("kkk");
    assert_eq!(stage.text(), first);
}

#[test]
fn beats_have_their_unit_and_above_twenty_only_the_way() {
    // A minor sixth below.
    let below = crate::units::Hertz::new(0.625 * hz(13).get()).unwrap();
    let sounds = |cents: f64| {
        let mut stage = Stage::new(&["Trumpet I", "Viola"], 120, 40);
        stage.hear(3.0, move |_| vec![near(hz(13), 0.0), near(below, cents)]);
        stage.press("c");
        let ladder = stage.text();
        stage.press("b");
        (ladder, stage.text())
    };
    let (ladder, far) = sounds(-2.0);
    assert!(
        ladder.contains("/s higher") && far.contains("/s higher"),
        "{ladder}{far}"
    );
    let (ladder, far) = sounds(-20.0);
    for text in [ladder, far] {
        assert!(text.contains("higher") && !text.contains("/s"), "{text}");
    }
}

#[test]
fn another_tuning_lets_the_ears_seek_elsewhere() {
    let mut stage = Stage::new(&["Room", "Violin I"], 80, 24);
    let Some(Effect::Seek(sought)) = stage.press("t") else {
        panic!("the places have moved")
    };
    assert!(matches!(sought[0], Some(Sought::Free { most: 8, .. })));
    assert_eq!(sought[1], None);
    assert_eq!(stage.press("j"), None);
    let format = StreamFormat {
        name: "stage box".into(),
        rate: SampleRate::new(48_000).unwrap(),
        channels: 2,
    };
    let started = Event::Update(Update::Started(format));
    assert_eq!(
        stage.app.update(started),
        None,
        "a start changes nothing here"
    );
}

#[test]
fn no_word_on_either_view_judges() {
    for keys in ["", "c", "cb", "?", "c?"] {
        let text = held(200, 60, keys).text().to_lowercase();
        for word in ["good", "bad", "correct", "wrong", "in tune", "out of tune"] {
            assert!(!text.contains(word), "'{word}' after '{keys}': {text}");
        }
    }
}

#[test]
fn the_ladder_keeps_the_two_hues_apart() {
    for palette in [Palette::Rich, Palette::Plain] {
        let mut stage = Stage::with_palette(&BAND, 120, 40, palette);
        stage.hear(3.0, d_major);
        stage.press("$c");
        stage.hear(1.0, breathing);
        let theme = Theme::dark(palette);
        let foreground = |style: ratatui::style::Style| style.fg.unwrap_or(Color::Reset);
        for cell in stage.draw().content() {
            match cell.symbol() {
                axis::NATURE => assert_eq!(cell.fg, foreground(theme.nature)),
                axis::TEMPERED => assert_eq!(cell.fg, foreground(theme.tempered)),
                axis::HELD => assert_eq!(cell.fg, foreground(theme.held)),
                _ => {}
            }
        }
    }
}

/// Any chord for any channel.
pub(super) fn any_chord() -> impl Strategy<Value = Event> {
    let voices = prop::collection::vec((0_u32..6, 0_usize..80, 0_u8..5, 0_usize..7), 0..7);
    (0_usize..16, 0.0..60.0_f64, 0_u8..4, voices).prop_map(|(index, time, sound, voices)| {
        let voices: Vec<HeardVoice> = voices
            .into_iter()
            .map(|(identity, place, kind, with)| HeardVoice {
                status: match kind {
                    0 => VoiceStatus::Absent,
                    1 => VoiceStatus::Doubtful,
                    2 => VoiceStatus::Merged { with, partial: 3 },
                    _ => VoiceStatus::Ok,
                },
                beating: (kind == 4).then_some(Beating { with, rate_hz: 3.0 }),
                is_named: kind != 4,
                ..voice(identity, place, 100.0 + 17.0 * place as f64)
            })
            .collect();
        let sound = match sound {
            0 => ChordSound::Silent,
            1 => ChordSound::Settling,
            _ => ChordSound::Held,
        };
        let chord = HeardChord {
            available: Seconds::new(time),
            ..heard_chord(sound, &voices)
        };
        Event::Update(Update::Chord(index, chord))
    })
}
