//! Tables whose numbers are known.

use super::*;
use crate::rehearsal::Resolution;
use crate::rehearsal::record::Entry;
use crate::rehearsal::record::tests::MadeUp;

fn decided(made_up: &mut MadeUp, note: &str, resolution: Option<Resolution>) {
    made_up.take(&Entry::Decided(Decision {
        at: Seconds::new(100.0),
        note: note.parse().unwrap(),
        resolution,
        remark: String::new(),
    }));
}

/// A trumpet on its eleventh partial, a violin and an organ on the tempered G sharp; all on A.
fn clash() -> MadeUp {
    let mut made_up = MadeUp::new(&["Trumpet I", "Violin I", "Organ"]);
    for round in 0..6 {
        let at = 20.0 * f64::from(round);
        // One note in six is far off, and pulls nothing.
        let stray = if round == 2 { 30.0 } else { 0.0 };
        made_up.play(0, "p11", at, 4.0, -2.0);
        made_up.play(1, "G#5", at + 1.0, 4.0, -15.0 + stray);
        made_up.play(2, "G#4", at + 2.0, 4.0, 1.0);
        made_up.play(0, "p12", at + 10.0, 3.0, 1.0);
        made_up.play(1, "A5", at + 10.0, 3.0, 2.0);
        made_up.play(2, "C4", at + 10.0, 3.0, 0.0);
    }
    made_up
}

fn group(meeting: &Meeting, family: Family) -> &GroupRow {
    meeting
        .groups
        .iter()
        .find(|group| group.family == family)
        .unwrap()
}

#[test]
fn those_farthest_apart_come_first() {
    let mut made_up = clash();
    decided(&mut made_up, "G#", Some(Resolution::FollowPartial));
    let ledger = Ledger::of(&made_up.chronicle);
    let names: Vec<String> = ledger.meetings.iter().map(|m| m.note.ascii()).collect();
    assert_eq!(names, ["G#", "A", "C"]);
    let first = &ledger.meetings[0];
    // The eleventh of D beside the tempered G sharp in sixth-comma: −39 cents (the harmonic
    // series beside the temperament, as `concento series` has it).
    let gap = first.gap.unwrap().get();
    assert!((gap + 38.9).abs() < 0.2, "{gap}");
    assert_eq!(first.partial, Some(11));
    let families: Vec<Family> = first.groups.iter().map(|group| group.family).collect();
    assert_eq!(
        families,
        [Family::Trumpets, Family::Strings, Family::Keyboard]
    );
    let trumpets = group(first, Family::Trumpets);
    assert!((trumpets.from_tempered.median.get() - (gap - 2.0)).abs() < 1e-6);
    assert!((trumpets.from_partial.unwrap().median.get() + 2.0).abs() < 1e-6);
    let strings = group(first, Family::Strings);
    assert!((strings.from_tempered.median.get() + 15.0).abs() < 1e-6);
    assert_eq!((strings.count, strings.sounding), (6, Seconds::new(24.0)));
    assert!((first.apart.unwrap().get() - (1.0 - gap + 2.0)).abs() < 1e-6);
    // From the violin's entry to the trumpet's end, and on to the violin's: 1 to 5 s.
    assert!(
        (first.together.get() - 6.0 * 4.0).abs() < 1e-6,
        "{:?}",
        first.together
    );
    assert_eq!(
        first.decision.as_ref().unwrap().resolution,
        Some(Resolution::FollowPartial)
    );
    assert_eq!(ledger.meetings[2].apart, None, "the keyboard alone");
    assert_eq!(first.rows.len(), 3);
    let row = &ledger.rows[first.rows[0]];
    assert_eq!((row.player, row.label), (0, "p11".parse().unwrap()));
}

#[test]
fn what_was_taken_back_is_not_agreed() {
    let mut made_up = clash();
    decided(&mut made_up, "G#", Some(Resolution::TrumpetLips));
    decided(&mut made_up, "G#", None);
    assert_eq!(Ledger::of(&made_up.chronicle).meetings[0].decision, None);
    assert!(made_up.chronicle.agreements().is_empty());
}

#[test]
fn a_note_that_moves_has_a_trend() {
    let mut made_up = MadeUp::new(&["Violin I"]);
    for step in 0..60 {
        let at = 10.0 * f64::from(step);
        let chance = 2.0 * made_up.chance();
        made_up.play(0, "D5", at, 4.0, 0.5 * at / 60.0 + chance);
        made_up.play(0, "A4", at + 5.0, 4.0, chance);
    }
    let ledger = Ledger::of(&made_up.chronicle);
    let trend = |label: &str| {
        let row = ledger
            .rows
            .iter()
            .find(|row| row.label == label.parse().unwrap());
        row.unwrap().trend_per_minute.unwrap().get()
    };
    assert!((trend("D5") - 0.5).abs() < 0.1, "{}", trend("D5"));
    assert!(trend("A4").abs() < 0.1);
    assert_eq!(ledger.rows.len(), 2);
}

#[test]
fn other_players_sound_in_a_microphone_does_not_count() {
    let mut made_up = MadeUp::new(&["Trumpet I", "Violin I"]);
    for step in 0..20 {
        let at = 10.0 * f64::from(step);
        made_up.play(0, "p8", at, 4.0, 3.0);
        // The same trumpet in the violin's microphone, a moment later and much softer.
        made_up.play_at_level(1, "D5", at + 0.05, 3.9, 3.4, -44.0);
        made_up.play(1, "A4", at + 5.0, 4.0, 0.0);
    }
    // The violin plays that note itself too, softly, and without the trumpet.
    made_up.play_at_level(1, "D5", 300.0, 2.0, -5.0, -40.0);
    let ledger = Ledger::of(&made_up.chronicle);
    let row = ledger
        .rows
        .iter()
        .find(|row| row.player == 1 && row.label == "D5".parse().unwrap());
    let row = row.unwrap();
    assert_eq!(row.count, 1);
    assert!((row.from_tempered.median.get() + 5.0).abs() < 1e-6);
}

#[test]
fn a_doubling_player_as_loud_as_ever_counts() {
    let mut made_up = MadeUp::new(&["Trumpet I", "Violin I"]);
    for step in 0..20 {
        let at = 10.0 * f64::from(step);
        made_up.play_at_level(0, "p8", at, 4.0, 1.0, -12.0);
        made_up.play_at_level(1, "D5", at, 4.0, 1.0, -34.0);
    }
    let ledger = Ledger::of(&made_up.chronicle);
    assert_eq!(
        ledger
            .rows
            .iter()
            .find(|row| row.player == 1)
            .unwrap()
            .count,
        20
    );
}

#[test]
fn nothing_played_makes_an_empty_table() {
    assert_eq!(Ledger::of(&Chronicle::default()), Ledger::default());
}

#[test]
fn a_partial_between_two_notes_loses_no_note() {
    let mut made_up = MadeUp::new(&["Trumpet I", "Violin I"]);
    // The eleventh of D lies between G and G sharp: as it is, and bent down to G.
    for round in 0..8 {
        let bent = if round < 5 { -40.0 } else { 0.0 };
        made_up.play(0, "p11", 10.0 * f64::from(round), 4.0, bent);
    }
    let ledger = Ledger::of(&made_up.chronicle);
    let rows: Vec<(String, usize)> = ledger
        .rows
        .iter()
        .map(|row| (row.tempered.note.ascii(), row.count))
        .collect();
    assert_eq!(rows, [("G5".to_owned(), 5), ("G#5".to_owned(), 3)]);
    for row in &ledger.rows {
        assert_eq!(row.partial.unwrap().partial.number(), 11);
        assert!(row.from_partial.unwrap().median.get() <= 1e-6);
    }
}

#[test]
fn the_partial_is_that_of_the_note_and_not_of_the_sound() {
    // Eighteen cents above B the fourteenth of D is nearer than the thirteenth, which belongs
    // to B.
    let mut made_up = MadeUp::new(&["Violin I"]);
    made_up.play(0, "B5", 0.0, 4.0, 18.0);
    decided(&mut made_up, "B", Some(Resolution::FollowPartial));
    let ledger = Ledger::of(&made_up.chronicle);
    assert_eq!(ledger.meetings[0].partial, Some(13));
    let gap = ledger.meetings[0].gap.unwrap();
    assert!((gap.get() + 54.6).abs() < 0.1, "{gap:?}");
    let from_partial = ledger.rows[0].from_partial.unwrap().median;
    assert!((from_partial.get() - 72.6).abs() < 0.1, "{from_partial:?}");
    let note = *made_up.chronicle.notes().last().unwrap();
    assert_eq!(
        note.places.partial.unwrap().partial.number(),
        14,
        "as it sounded"
    );
    let agreed = made_up
        .chronicle
        .agreed(Family::Strings, &note.places)
        .unwrap();
    let place = agreed.place.unwrap().above(note.places.tempered.place);
    assert!((place - gap).abs().get() < 1e-6, "{place:?}");
}
