//! What a rehearsal leaves behind.

use Resolution::{
    FollowPartial, FollowTemperament, KeyboardLeavesOut, LeaveExposed, MeetBetween, TrumpetLips,
};

use super::*;
use crate::rehearsal::{
    Chronicle, Entry, NotAdopted, Note, Resolution, SPAN, Survey, Update, VoiceLabel,
};
use crate::sound::{Fault, SourceState};
use crate::tuning::Partial;
use crate::units::{Celsius, Note as NoteOfScale};

fn notes(entries: &[Entry]) -> Vec<&Note> {
    let notes = entries.iter().filter_map(|entry| match entry {
        Entry::Note(note) => Some(note),
        _ => None,
    });
    notes.collect()
}

fn partial(rehearsal: &Rehearsal, number: u8) -> f64 {
    let partial = Partial::new(number).unwrap();
    rehearsal.tuning().series().frequency(partial).get()
}

#[test]
fn a_note_that_was_held_is_kept_with_both_deviations() {
    let mut rehearsal = rehearsal(&["Trumpet I", "Violin I"]);
    let eleventh = partial(&rehearsal, 11);
    let g_sharp = rehearsal.tuning().scale().frequency("G#5".parse().unwrap());
    let sounds = [reading(eleventh), reading(g_sharp.get())];
    let t = hear_for(&mut rehearsal, 0.0, 2.0, &sounds);
    hear_for(&mut rehearsal, t, 1.0, &[unpitched(NoPitch::Silence); 2]);
    let entries = rehearsal.take_entries();
    assert!(matches!(entries[0], Entry::Seated { .. }));
    let notes = notes(&entries);
    let labels: Vec<String> = notes.iter().map(|note| note.label.to_string()).collect();
    assert_eq!(labels, ["p11", "G\u{266f}5"]);
    for note in &notes {
        let gap = note.places.gap().unwrap().get();
        assert!((gap + 38.9).abs() < 0.1, "{gap}");
        assert!((note.sounding().get() - 2.0).abs() < 0.05);
    }
    assert!(notes[0].places.partial.unwrap().cents.abs().get() < 1e-6);
    assert!(notes[1].places.tempered.cents.abs().get() < 1e-6);
    // Six half seconds were heard, the last two of them silent: left out.
    let spans: Vec<_> = entries
        .iter()
        .filter_map(|entry| match entry {
            Entry::Heard(span) => Some(span),
            _ => None,
        })
        .collect();
    assert_eq!(spans.len(), 4, "{spans:?}");
    assert_eq!(spans[1].at, SPAN);
    assert_eq!(spans[1].channels.len(), 2);
    assert_eq!(spans[1].channels[0].samples.len(), 5);
    assert_eq!(rehearsal.chronicle().notes().len(), 2);
}

#[test]
fn a_note_that_sounds_at_the_end_is_kept() {
    let mut rehearsal = rehearsal(&["Violin I"]);
    hear_for(&mut rehearsal, 0.0, 2.2, &[reading(555.0)]);
    assert!(notes(&rehearsal.take_entries()).is_empty());
    rehearsal.finish();
    let entries = rehearsal.take_entries();
    assert_eq!(notes(&entries).len(), 1);
    let heard = entries.iter().any(|entry| matches!(entry, Entry::Heard(_)));
    assert!(heard, "the last half second too");
}

#[test]
fn what_is_agreed_has_a_place_for_each_family() {
    let mut rehearsal = rehearsal(&["Trumpet I", "Violin I", "Organ"]);
    let g_sharp: NoteOfScale = "G#5".parse().unwrap();
    let hertz = rehearsal.tuning().scale().frequency(g_sharp);
    let places = rehearsal.tuning().place(hertz);
    let gap = places.gap().unwrap().get();
    let mut agreed = |resolution: Option<Resolution>| {
        rehearsal.decide(g_sharp.name(), resolution, "bars 12 and 40");
        let cents = |channel: &Channel| {
            let agreed = rehearsal.agreed(channel, &places)?;
            assert_eq!(agreed.decision.remark, "bars 12 and 40");
            Some(agreed.place.map(|place| place.above(hertz).get().round()))
        };
        rehearsal
            .ensemble()
            .channels
            .iter()
            .map(cents)
            .collect::<Vec<_>>()
    };
    let partial = Some(Some(gap.round()));
    let tempered = Some(Some(0.0));
    for (resolution, expected) in [
        (FollowPartial, [partial, partial, tempered]),
        (FollowTemperament, [tempered; 3]),
        (
            MeetBetween(Cents::new(-12.0)),
            [Some(Some(-12.0)), Some(Some(-12.0)), tempered],
        ),
        (TrumpetLips, [tempered; 3]),
        (KeyboardLeavesOut, [partial, partial, Some(None)]),
        (LeaveExposed, [partial, tempered, tempered]),
    ] {
        assert_eq!(agreed(Some(resolution)), expected, "{resolution:?}");
    }
    assert_eq!(agreed(None), [None; 3], "taken back");
    // In every octave, and on no other note.
    rehearsal.decide(g_sharp.name(), Some(FollowTemperament), "");
    let (low, other) = ("G#3".parse().unwrap(), "G4".parse().unwrap());
    let channel = &rehearsal.ensemble().channels[1];
    let places = |note| {
        rehearsal
            .tuning()
            .place(rehearsal.tuning().scale().frequency(note))
    };
    assert!(rehearsal.agreed(channel, &places(low)).is_some());
    assert!(rehearsal.agreed(channel, &places(other)).is_none());
}

#[test]
fn a_measured_series_becomes_the_reference() {
    let mut rehearsal = rehearsal(&["Trumpet I", "Violin I"]);
    assert_eq!(rehearsal.adopt_series(0), Err(NotAdopted::TooFew));
    assert_eq!(rehearsal.adopt_series(1), Err(NotAdopted::NoTrumpet));
    assert_eq!(rehearsal.adopt_series(7), Err(NotAdopted::NoTrumpet));
    // A tube 9 cents lower than was reckoned with.
    let mut t = 0.0;
    for number in [8, 9, 10, 12, 8, 6, 9, 10] {
        let hz = partial(&rehearsal, number) * (-9.0_f64 / 1200.0).exp2();
        t = hear_for(&mut rehearsal, t, 1.0, &[reading(hz)]);
        t = hear_for(&mut rehearsal, t, 0.5, &[unpitched(NoPitch::Silence)]);
    }
    rehearsal.take_entries();
    let (moved, margin) = rehearsal.adopt_series(0).unwrap();
    assert!((moved.get() + 9.0).abs() < 0.01, "{moved:?}");
    assert!((0.5..6.0).contains(&margin.get()), "{margin:?}");
    let tuned = rehearsal.take_entries();
    assert!(
        matches!(tuned.as_slice(), [Entry::Tuned { .. }]),
        "{tuned:?}"
    );
    let Anchor::Fundamental { hz } = rehearsal.tuning().series().anchor() else {
        panic!("{:?}", rehearsal.tuning().series())
    };
    assert!((hz.get() - rehearsal.tuning().series().fundamental().get()).abs() < 1e-9);
}

#[test]
fn an_input_that_is_tried_again_fails_once_and_lost_blocks_are_told_now_and_then() {
    let mut rehearsal = rehearsal(&["Violin I"]);
    rehearsal.take_entries();
    let gone = || SourceState::Waiting(Fault::Lost("stage box".to_owned()));
    for _ in 0..5 {
        rehearsal.take(Update::State(gone()));
    }
    for lost in 1..=300_u64 {
        rehearsal.tick(Seconds::new(0.01 * lost as f64));
        rehearsal.take(Update::Lost(lost));
    }
    let entries = rehearsal.take_entries();
    let faults = entries
        .iter()
        .filter(|entry| matches!(entry, Entry::Fault { .. }));
    assert_eq!(faults.count(), 1);
    let lost = entries.iter().filter_map(|entry| match entry {
        Entry::Lost { blocks, .. } => Some(*blocks),
        _ => None,
    });
    let lost: Vec<u64> = lost.collect();
    assert!((3..=4).contains(&lost.len()), "{lost:?}");
}

#[test]
fn voices_of_a_shared_channel_are_kept_where_it_is_known_whose_they_are() {
    let mut rehearsal = rehearsal(&["Room"]);
    let names = rehearsal.sought()[0].clone().unwrap();
    let place = |label: &str| {
        let label: VoiceLabel = label.parse().unwrap();
        names
            .labels()
            .iter()
            .position(|other| *other == label)
            .unwrap()
    };
    let hz = partial(&rehearsal, 8);
    let mut unnamed = voice(3, place("A4"), 415.0);
    unnamed.is_named = false;
    let held = chord(ChordSound::Held, &[voice(1, place("p8"), hz), unnamed]);
    for update in 0..20_u32 {
        let now = Seconds::new(0.15 * f64::from(update));
        rehearsal.tick(now);
        rehearsal.hear_chord(
            0,
            &HeardChord {
                available: now,
                ..held.clone()
            },
        );
    }
    rehearsal.tick(Seconds::new(5.0));
    let entries = rehearsal.take_entries();
    let notes = notes(&entries);
    assert_eq!(notes.len(), 1, "{notes:?}");
    assert_eq!(notes[0].label, "p8".parse().unwrap());
    assert!((notes[0].hertz.get() - hz).abs() < 1e-6);
}

#[test]
fn a_replay_says_what_the_rehearsal_said_and_keeps_nothing() {
    let mut rehearsal = rehearsal(&["Trumpet I", "Violin I"]);
    let mut entries = Vec::new();
    let mut t = 0.0;
    for number in [8, 9, 10, 12, 11] {
        let hz = partial(&rehearsal, number);
        t = hear_for(&mut rehearsal, t, 1.2, &[reading(hz), reading(620.0)]);
        t = hear_for(&mut rehearsal, t, 0.5, &[unpitched(NoPitch::Silence); 2]);
        entries.extend(rehearsal.take_entries());
    }
    rehearsal.shift_standard(1.0);
    rehearsal.set_temperature(Celsius::new(18.5).unwrap());
    rehearsal.mark("the slow one");
    rehearsal.decide(NoteName::D, Some(Resolution::LeaveExposed), "");
    rehearsal.finish();
    entries.extend(rehearsal.take_entries());

    let mut replay = Rehearsal::new(band(&["Somebody"]), Vec::new()).replaying();
    for entry in &entries {
        replay.tick(entry.at());
        replay.take(Update::Recalled(Box::new(entry.clone())));
    }
    assert_eq!(replay.chronicle(), rehearsal.chronicle());
    assert_eq!(replay.ensemble(), rehearsal.ensemble());
    assert_eq!(replay.chronicle().notes().len(), 10);
    // Nothing of it is changed.
    replay.decide(NoteName::D, None, "");
    replay.mark("");
    assert_eq!(replay.adopt_series(0), Err(NotAdopted::Replay));
    assert_eq!(replay.chronicle(), rehearsal.chronicle());
    assert_eq!(replay.take_entries(), []);
}

#[test]
fn a_second_sitting_goes_on_with_the_first() {
    let mut first = rehearsal(&["Violin I", "Viola"]);
    hear_for(&mut first, 0.0, 2.0, &[reading(555.0), reading(415.0)]);
    first.decide(NoteName::D, Some(Resolution::FollowTemperament), "");
    first.finish();
    let mut chronicle: Chronicle = first.chronicle().clone();
    chronicle.sit_down(Seconds::new(600.0));
    // The viola sits first now, and somebody has come.
    let mut second = Rehearsal::new(band(&["Viola", "Violin I", "Dulcian"]), Vec::new());
    second = second.going_on(chronicle);
    hear_for(
        &mut second,
        0.0,
        2.0,
        &[reading(415.0), reading(555.0), reading(150.0)],
    );
    second.finish();
    let chronicle = second.chronicle();
    let names: Vec<&str> = chronicle
        .players()
        .iter()
        .map(|p| p.name.as_str())
        .collect();
    assert_eq!(names, ["Violin I", "Viola", "Dulcian"]);
    assert_eq!(chronicle.sittings().len(), 2);
    let violin = chronicle.notes().iter().filter(|note| note.channel == 0);
    let begun: Vec<f64> = violin.map(|note| note.begun.get().round()).collect();
    assert_eq!(begun, [0.0, 600.0]);
    assert!(chronicle.decision(NoteName::D).is_some(), "agreed before");
}

#[test]
fn sittings_end_when_they_end_and_lost_blocks_add_up() {
    let mut chronicle = Chronicle::default();
    for (offset, lost) in [(0.0, 500), (9_000.0, 3)] {
        let mut sitting = rehearsal(&["Violin I"]);
        hear_for(&mut sitting, 0.0, 10.0, &[reading(555.0)]);
        sitting.take(Update::Lost(lost));
        sitting.finish();
        chronicle.sit_down(Seconds::new(offset));
        for entry in sitting.take_entries() {
            chronicle.take(&entry);
        }
    }
    let sittings: Vec<(f64, f64)> = chronicle
        .sittings()
        .iter()
        .map(|sitting| (sitting.begun.get(), sitting.ended.get().round()))
        .collect();
    assert_eq!(sittings, [(0.0, 10.0), (9_000.0, 9_010.0)]);
    assert_eq!(chronicle.blocks_lost(), 503);
}

#[test]
fn inputs_that_were_only_guessed_are_no_sitting() {
    let mut following = Rehearsal::new(band(&["Input 1"]), Vec::new()).following_inputs();
    following.tick(Seconds::new(0.4));
    following.start(StreamFormat {
        name: "stage box".into(),
        rate: SampleRate::new(48_000).unwrap(),
        channels: 3,
    });
    hear_for(&mut following, 0.4, 2.0, &[reading(555.0); 3]);
    following.finish();
    let chronicle = following.chronicle();
    assert_eq!(chronicle.sittings().len(), 1);
    assert_eq!(chronicle.players().len(), 3);
    assert_eq!(chronicle.notes().len(), 3);
}

#[test]
fn notes_that_do_not_agree_make_no_reference() {
    let mut rehearsal = rehearsal(&["Trumpet I"]);
    let mut t = 0.0;
    for (number, off) in [
        (8, -14.0),
        (9, 15.0),
        (10, 0.0),
        (12, 24.0),
        (6, -22.0),
        (5, 9.0),
    ] {
        let hz = partial(&rehearsal, number) * (off / 1200.0_f64).exp2();
        t = hear_for(&mut rehearsal, t, 1.0, &[reading(hz)]);
        t = hear_for(&mut rehearsal, t, 0.5, &[unpitched(NoPitch::Silence)]);
    }
    let before = rehearsal.tuning().clone();
    let refused = rehearsal.adopt_series(0).unwrap_err();
    assert!(matches!(refused, NotAdopted::TooUnsure(_)), "{refused}");
    assert_eq!(*rehearsal.tuning(), before);
}

#[test]
fn an_adopted_series_is_told_against_itself_at_once() {
    let mut rehearsal = rehearsal(&["Trumpet I"]);
    let mut t = 0.0;
    for number in [8, 9, 10, 12, 8, 6, 9, 10] {
        let hz = partial(&rehearsal, number) * (-9.0_f64 / 1200.0).exp2();
        t = hear_for(&mut rehearsal, t, 1.0, &[reading(hz)]);
        t = hear_for(&mut rehearsal, t, 0.5, &[unpitched(NoPitch::Silence)]);
    }
    t = hear_for(&mut rehearsal, t, 3.0, &[unpitched(NoPitch::Silence)]);
    let away = rehearsal.true_series(0).unwrap().from_planned;
    assert!((away.get() + 9.0).abs() < 0.1, "{away:?}");
    rehearsal.adopt_series(0).unwrap();
    rehearsal.tick(Seconds::new(t + 0.1));
    let away = rehearsal.true_series(0).unwrap().from_planned;
    assert!(away.abs().get() < 0.1, "{away:?}");
}

#[test]
fn a_survey_made_elsewhere_says_the_same_and_is_ordered_one_at_a_time() {
    let sounds = [reading(555.0), reading(622.0)];
    let silence = [unpitched(NoPitch::Silence); 2];
    let mut here = rehearsal(&["Trumpet I", "Violin I"]);
    let mut there = here.clone();
    there.survey_elsewhere();
    for rehearsal in [&mut here, &mut there] {
        hear_for(rehearsal, 0.0, 2.0, &sounds);
        hear_for(rehearsal, 2.0, 1.0, &silence);
    }
    let order = there
        .take_survey_order()
        .expect("there is something to say");
    assert!(there.ledger().rows.is_empty(), "nothing was made here");
    for rehearsal in [&mut here, &mut there] {
        hear_for(rehearsal, 3.0, 5.0, &sounds);
        hear_for(rehearsal, 8.0, 4.0, &silence);
    }
    assert!(there.take_survey_order().is_none(), "one is on its way");
    // What was decided meanwhile stands in the survey that comes.
    let note = order.notes().get(0).unwrap().places.tempered.note.name();
    for rehearsal in [&mut here, &mut there] {
        rehearsal.decide(note, Some(FollowPartial), "");
    }
    let survey = Box::new(Survey::of(&order));
    there.take(Update::Surveyed(survey));
    let meetings = &there.ledger().meetings;
    assert!(meetings.iter().any(|meeting| meeting.decision.is_some()));
    there.tick(Seconds::new(20.0));
    here.tick(Seconds::new(20.0));
    let order = there.take_survey_order().expect("more has come since");
    there.take(Update::Surveyed(Box::new(Survey::of(&order))));
    assert_eq!(there.ledger(), here.ledger());
    assert_eq!(there.drift(), here.drift());
}
