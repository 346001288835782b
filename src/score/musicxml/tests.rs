//! What is written in MusicXML and how it is read: small parts made up for one thing each.

use super::*;
use crate::score::{ScoreNote, Spelling};

/// A score of one part, with these bars.
fn score_of(bars: &str) -> String {
    format!(
        "<score-partwise><part-list><score-part id='P1'><part-name>Tromba</part-name></score-part>\
         </part-list><part id='P1'>{bars}</part></score-partwise>"
    )
}

fn note(pitch: &str, duration: u32, more: &str) -> String {
    let (step, rest) = pitch.split_at(1);
    let (alter, octave) = match rest.as_bytes() {
        [b'#', ..] => ("<alter>1</alter>", &rest[1..]),
        [b'b', ..] => ("<alter>-1</alter>", &rest[1..]),
        _ => ("", rest),
    };
    format!(
        "<note><pitch><step>{step}</step>{alter}<octave>{octave}</octave></pitch>\
         <duration>{duration}</duration>{more}</note>"
    )
}

const BEGINNING: &str = "<attributes><divisions>2</divisions><key><fifths>0</fifths></key>\
    <time><beats>2</beats><beat-type>4</beat-type></time></attributes>";
const STARTS: &str = "<tie type='start'/>";
const STOPS: &str = "<tie type='stop'/>";

/// Note, onset and end in half quarters.
fn shown(score: &Score, part: usize) -> Vec<(String, u64, u64)> {
    let unit = score.bars.ticks_per_quarter() / 2;
    let show = |note: &ScoreNote| {
        (
            note.note.ascii(),
            note.onset.get() / unit,
            note.end.get() / unit,
        )
    };
    score.parts[part].notes.iter().map(show).collect()
}

fn check(bars: &str, expected: &[(&str, u64, u64)]) -> Score {
    let score = read(&score_of(bars), "file").unwrap();
    let expected: Vec<_> = expected
        .iter()
        .map(|&(note, onset, end)| (note.to_owned(), onset, end))
        .collect();
    assert_eq!(shown(&score, 0), expected, "{bars}");
    score
}

fn measure(inside: &str) -> String {
    format!("<measure number='1'>{inside}</measure>")
}

#[test]
fn ties_join_notes_and_nothing_else() {
    let bars = |first: &str, second: &str| {
        measure(&format!(
            "{BEGINNING}{}{}",
            note("C5", 2, ""),
            note("D5", 2, first)
        )) + &measure(&(note("D5", 2, second) + &note("D5", 2, "")))
    };
    let apart = [("C5", 0, 2), ("D5", 2, 4), ("D5", 4, 6), ("D5", 6, 8)];
    check(
        &bars(STARTS, STOPS),
        &[("C5", 0, 2), ("D5", 2, 6), ("D5", 6, 8)],
    );
    // One half of a tie only, one left to ring, and one whose partner begins elsewhere.
    check(&bars(STARTS, ""), &apart);
    check(&bars("", STOPS), &apart);
    check(&bars("<tie type='let-ring'/>", STOPS), &apart);
    let drawn = "<notations><tied type='start'/></notations>";
    check(
        &bars(drawn, "<notations><tied type='stop'/></notations>"),
        &[("C5", 0, 2), ("D5", 2, 6), ("D5", 6, 8)],
    );
    // Through three notes, into another spelling of the same key.
    let both = format!("{STOPS}{STARTS}");
    let three = measure(&format!(
        "{BEGINNING}{}{}{}",
        note("D#5", 1, STARTS),
        note("D#5", 1, &both),
        note("Eb5", 2, STOPS)
    ));
    check(&three, &[("D#5", 0, 4)]);
}

#[test]
fn each_note_of_a_chord_has_its_own_tie() {
    let chord = "<chord/>";
    let bars = measure(&format!(
        "{BEGINNING}{}{}{}{}",
        note("C4", 2, STARTS),
        note("E4", 2, chord),
        note("C4", 2, STOPS),
        note("E4", 2, chord)
    ));
    check(&bars, &[("C4", 0, 4), ("E4", 0, 2), ("E4", 2, 4)]);
}

#[test]
fn a_tie_leads_over_voices_and_the_empty_end_of_a_bar() {
    // The second bar's note is in another voice, and the first bar lacks its last eighth while
    // another voice writes it.
    let bars = measure(&format!(
        "{BEGINNING}{}{}<backup><duration>4</duration></backup>{}",
        note("C4", 4, "<voice>1</voice>"),
        "",
        note("G4", 4, "<voice>2</voice><tie type='start'/>")
    )) + &measure(&note("G4", 4, "<voice>1</voice><tie type='stop'/>"));
    check(&bars, &[("C4", 0, 4), ("G4", 0, 8)]);
    let text = score_of(
        &(measure(&format!("{BEGINNING}{}", note("G4", 3, STARTS)))
            + &measure(&note("G4", 4, STOPS))),
    );
    let second = format!(
        "<part id='P2'>{}</part></score-partwise>",
        measure(&format!("{BEGINNING}{}", note("C4", 4, "")))
    );
    let score = read(&text.replace("</score-partwise>", &second), "file").unwrap();
    assert_eq!(shown(&score, 0), [("G4".to_owned(), 0, 8)]);
}

#[test]
fn voices_graces_cues_and_percussion() {
    let bars = measure(&format!(
        "{BEGINNING}<note><grace/><pitch><step>B</step><octave>5</octave></pitch></note>{}{}\
         <backup><duration>2</duration></backup><forward><duration>1</duration></forward>{}\
         <note><cue/><pitch><step>A</step><octave>5</octave></pitch><duration>1</duration></note>\
         <note><unpitched/><duration>1</duration></note>",
        note("C5", 2, ""),
        note("E5", 1, "<chord/>"),
        note("G4", 1, ""),
    ));
    check(&bars, &[("C5", 0, 2), ("E5", 0, 1), ("G4", 1, 2)]);
}

#[test]
fn bars_begin_together_in_all_parts() {
    let upbeat = format!(
        "<measure number='0' implicit='yes'>{BEGINNING}{}</measure>",
        note("A4", 1, "")
    );
    // The other part counts in triplets, rests a whole bar in the upbeat, and is longer once.
    let thirds = "<attributes><divisions>3</divisions></attributes>";
    let other = format!(
        "<part id='P2'><measure number='0'>{thirds}<note><rest measure='yes'/><duration>6</duration></note></measure>\
         <measure number='1'>{}{}</measure><measure number='2'/><measure number='3'>{}</measure></part></score-partwise>",
        note("C4", 2, ""),
        note("D4", 7, ""),
        note("E4", 3, "")
    );
    let text = score_of(&(upbeat + &measure(&note("B4", 4, "")) + "<measure number='2'/>"));
    let score = read(&text.replace("</score-partwise>", &other), "file").unwrap();
    let starts: Vec<_> = score
        .bars
        .all()
        .iter()
        .map(|bar| (bar.number.as_str(), bar.start.get()))
        .collect();
    // Six ticks a quarter: an upbeat of 3, a bar of 9 thirds of a quarter, an empty one of 2/4.
    assert_eq!(score.bars.ticks_per_quarter(), 6);
    assert_eq!(starts, [("0", 0), ("1", 3), ("2", 21), ("3", 33)]);
    assert_eq!(shown(&score, 1)[2].1, 11);
    let names: Vec<_> = score.parts.iter().map(|part| part.name.as_str()).collect();
    assert_eq!(names, ["Tromba", "Part 2"]);
    assert_eq!(
        (score.title.as_str(), score.spelling),
        ("file", Spelling::Written)
    );
}

#[test]
fn transposition_may_change_and_keys_sound() {
    let second = "<attributes><divisions>4</divisions><transpose><chromatic>-3</chromatic></transpose></attributes>";
    let bars = measure(&format!(
        "{}<attributes><transpose><diatonic>1</diatonic><chromatic>2</chromatic></transpose></attributes>{}",
        BEGINNING,
        note("E5", 4, "")
    )) + &measure(&format!("{second}{}", note("E5", 8, "")));
    let score = check(&bars, &[("F#5", 0, 4), ("C#5", 4, 8)]);
    let keys: Vec<_> = score
        .signatures
        .iter()
        .map(|(at, fifths)| (at.get(), *fifths))
        .collect();
    let quarter = score.bars.ticks_per_quarter();
    assert_eq!(keys, [(0, 2), (2 * quarter, 3)]);
}

#[test]
fn most_parts_say_what_key_it_is() {
    let part = |id: &str, fifths: i32| {
        format!(
            "<part id='{id}'><measure><attributes><divisions>1</divisions><key><fifths>{fifths}</fifths></key>\
             </attributes>{}</measure></part>",
            note("D4", 1, "")
        )
    };
    let text = format!(
        "<score-partwise>{}{}{}</score-partwise>",
        part("T", 0),
        part("V", 2),
        part("B", 2)
    );
    let score = read(&text, "file").unwrap();
    assert_eq!(
        score
            .signatures
            .iter()
            .map(|(_, fifths)| *fifths)
            .collect::<Vec<_>>(),
        [2]
    );
}

#[test]
fn notes_between_the_keys_are_told() {
    let alter = |alter: &str| {
        format!(
            "{BEGINNING}{}",
            note("F4", 2, "").replace("<octave>", &format!("<alter>{alter}</alter><octave>"))
        )
    };
    let score = check(&measure(&alter("0.5")), &[("F4", 0, 2)]);
    assert_eq!(
        score.remarks,
        ["one note of 'Tromba' lies between the keys and is read as the nearest key"]
    );
    check(&measure(&alter("1.5")), &[("F#4", 0, 2)]);
    check(&measure(&alter("-0.75")), &[("Fb4", 0, 2)]);
    assert!(
        check(&measure(&alter("-2")), &[("Fbb4", 0, 2)])
            .remarks
            .is_empty()
    );
}

#[test]
fn drums_without_pitch_are_left_out() {
    let drums = "<part id='D'><measure><attributes><divisions>1</divisions></attributes><note><unpitched/>\
                 <duration>1</duration></note></measure></part></score-partwise>";
    let text = score_of(&measure(&format!("{BEGINNING}{}", note("C4", 2, ""))));
    let score = read(&text.replace("</score-partwise>", drums), "file").unwrap();
    assert_eq!(score.parts.len(), 1);
    assert_eq!(score.remarks, ["'Part 2' has no pitches and is left out"]);
}

#[test]
fn titles_and_names_come_from_the_score() {
    let text = score_of(&measure(&format!("{BEGINNING}{}", note("C4", 2, ""))));
    let titled = text.replace(
        "<part-list>",
        "<work><work-title> Sonata\n in D</work-title></work><movement-title>Grave</movement-title><part-list>",
    );
    assert_eq!(read(&titled, "file").unwrap().title, "Sonata in D");
    assert_eq!(
        read(&titled.replace("work-title", "opus-title"), "file")
            .unwrap()
            .title,
        "Grave"
    );
}

#[test]
fn faults_are_named_where_a_musician_finds_them() {
    let check = |inside: &str, expected: &str| {
        let bars = measure(&format!("{BEGINNING}{}", note("C4", 4, "")))
            + &format!("<measure number='12a'>{inside}</measure>");
        let error = read(&score_of(&bars), "file").unwrap_err().to_string();
        assert_eq!(error, format!("bar 12a of 'Tromba': {expected}"));
    };
    check(&note("C12", 1, ""), "'C 12' is no pitch: correct the note");
    check(&note("H4", 1, ""), "'H 4' is no pitch: correct the note");
    check(
        &note("C4", 1, "").replace("<octave>", "<alter>9</alter><octave>"),
        "'C 9 4' is no pitch: correct the note",
    );
    check(
        &note("C4", 1, "").replace("<octave>", "<alter>NaN</alter><octave>"),
        "'C NaN 4' is no pitch: correct the note",
    );
    check(
        &("<attributes><transpose><chromatic>24</chromatic></transpose></attributes>".to_owned()
            + &note("C9", 1, "")),
        "'C9' sounds higher or lower than any instrument once it is transposed: correct the note or \
         the transposition of the part",
    );
    check(
        "<attributes><transpose><chromatic>1e9</chromatic></transpose></attributes>",
        "'1e9' is no transposition: correct that of the part",
    );
    check(
        "<note><rest/><duration>-1</duration></note>",
        "'-1' is no duration: correct the note there",
    );
    check(
        "<note><rest/></note>",
        "'' is no duration: correct the note there",
    );
    check(
        "<forward><duration>999999999</duration></forward>",
        "the bar is longer than 10000 quarter notes: correct the durations in it",
    );
    check(
        "<attributes><divisions>0</divisions></attributes>",
        "'0' is no division of a quarter note: export the score again",
    );
    check(
        "<attributes><time><beats>4</beats><beat-type>3</beat-type></time></attributes>",
        "'4/3' is no time signature: correct it",
    );
    check(
        "<attributes><key><fifths>99</fifths></key></attributes>",
        "'99' is no key signature: correct it",
    );
    let without = read(&score_of(&measure(&note("C4", 1, ""))), "file").unwrap_err();
    assert!(
        without.to_string().contains("before 'divisions'"),
        "{without}"
    );
}

#[test]
fn a_voice_that_goes_back_too_far_is_told() {
    let bars = measure(&format!(
        "{BEGINNING}{}<backup><duration>9</duration></backup>{}",
        note("C4", 4, ""),
        note("E4", 4, "")
    ));
    let score = check(&bars, &[("C4", 0, 4), ("E4", 0, 4)]);
    assert_eq!(
        score.remarks,
        [
            "in bar 1 of 'Tromba' a voice goes back to before the bar; it is read from the beginning of the bar"
        ]
    );
}
