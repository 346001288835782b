//! Holding the trumpets' chord and standing beside it.

use super::*;
use crate::analysis::chord::Beating;
use crate::rehearsal::{Match, NothingHeld, Told};

const BAND: [&str; 5] = ["Trumpet I", "Trumpet II", "Violin I", "Viola", "Organ"];

fn partial(number: u8, cents: f64) -> Reading {
    let hertz = sixth_comma().series().frequency(number.try_into().unwrap());
    reading(hertz.raised(Cents::new(cents)).get())
}

fn note(name: &str, cents: f64) -> Reading {
    let hertz = sixth_comma().scale().frequency(name.parse().unwrap());
    reading(hertz.raised(Cents::new(cents)).get())
}

fn quiet() -> Reading {
    unpitched(NoPitch::Silence)
}

/// D and A of the trumpets, a little off, with an A of the violin and an F sharp of the organ.
fn d_major() -> [Reading; 5] {
    [
        partial(12, 4.0),
        partial(8, -2.0),
        note("A4", 6.0),
        quiet(),
        note("F#4", 0.0),
    ]
}

fn found(matched: Option<&Match>) -> String {
    matched.map_or("none".to_owned(), |m| {
        format!("{} of {} {}", m.ratio, m.voice.label, m.cents)
    })
}

fn matches(rehearsal: &Rehearsal) -> Vec<String> {
    rehearsal.parts().map(|part| found(part.matched)).collect()
}

#[test]
fn the_trumpets_chord_is_held_as_it_sounds() {
    let mut rehearsal = rehearsal(&BAND);
    hear_for(&mut rehearsal, 0.0, 2.0, &d_major());
    assert_eq!(
        matches(&rehearsal),
        ["none"; 5],
        "no third reference before"
    );
    let (number, chord) = rehearsal.hold().unwrap();
    assert_eq!((number, chord.names().as_str()), (1, "p8 p12"));
    let offs: Vec<f64> = chord
        .voices
        .iter()
        .map(|voice| {
            voice
                .hertz
                .above(voice.label.frequency(&sixth_comma()))
                .get()
        })
        .collect();
    assert!(
        (offs[0] + 2.0).abs() < 1e-6 && (offs[1] - 4.0).abs() < 1e-6,
        "{offs:?}"
    );
    assert_eq!(chord.voices[0].channel, "Trumpet II");
    // The violin's A is 6 above the tempered one, whose octave lies 3.6 below partial 12
    // (a fifth of sixth-comma is 698.371, a pure one 701.955), which sounds 4 high.
    let violin = "1/2 of p12 \u{2212}2";
    let organ = "4/5 of p12";
    let found = matches(&rehearsal);
    assert_eq!(
        (found[0].as_str(), found[1].as_str()),
        ("1/1 of p12 \u{b1}0", "1/1 of p8 \u{b1}0")
    );
    assert_eq!((found[2].as_str(), found[3].as_str()), (violin, "none"));
    assert!(
        !found[4].starts_with(organ),
        "the third of p8 is nearer at hand: {}",
        found[4]
    );
    assert!(found[4].starts_with("5/8 of p8"), "{}", found[4]);
}

#[test]
fn the_chord_stays_while_the_trumpets_breathe() {
    let mut rehearsal = rehearsal(&BAND);
    let t = hear_for(&mut rehearsal, 0.0, 2.0, &d_major());
    rehearsal.hold().unwrap();
    let mut after = d_major();
    (after[0], after[1]) = (quiet(), quiet());
    let t = hear_for(&mut rehearsal, t, 30.0, &after);
    assert_eq!(matches(&rehearsal)[2], "1/2 of p12 \u{2212}2");
    // A trumpet that comes back lower stands beside what it was.
    after[0] = partial(12, -5.0);
    hear_for(&mut rehearsal, t, 2.0, &after);
    assert_eq!(matches(&rehearsal)[0], "1/1 of p12 \u{2212}9");
    assert!((rehearsal.held_for().unwrap().get() - 32.0).abs() < 0.02);
    rehearsal.release();
    assert_eq!(matches(&rehearsal)[2], "none");
    assert!(rehearsal.recall(1));
    assert_eq!(matches(&rehearsal)[2], "1/2 of p12 \u{2212}2");
}

#[test]
fn a_chord_that_has_just_sounded_can_still_be_held() {
    let mut rehearsal = rehearsal(&BAND);
    let t = hear_for(&mut rehearsal, 0.0, 2.0, &d_major());
    let mut after = d_major();
    (after[0], after[1]) = (quiet(), quiet());
    let t = hear_for(&mut rehearsal, t, 1.3, &after);
    assert_eq!(rehearsal.hold().unwrap().1.names(), "p8 p12");
    hear_for(&mut rehearsal, t, 0.5, &after);
    assert_eq!(rehearsal.hold().unwrap_err(), NothingHeld::Silence);
    assert_eq!(
        rehearsal.shelf().chords().count(),
        1,
        "the one held before stays"
    );
    assert!(rehearsal.shelf().current().is_some());
}

#[test]
fn a_trumpet_that_stopped_before_the_others_is_no_part_of_the_chord() {
    let mut rehearsal = rehearsal(&BAND);
    let t = hear_for(&mut rehearsal, 0.0, 2.0, &d_major());
    let mut after = d_major();
    after[0] = quiet();
    let t = hear_for(&mut rehearsal, t, 1.0, &after);
    assert_eq!(rehearsal.hold().unwrap().1.names(), "p8");
    // Nor is a note that has only just begun, of which nothing can be said.
    after[0] = partial(10, 0.0);
    hear_for(&mut rehearsal, t, 0.3, &after);
    assert_eq!(rehearsal.hold().unwrap().1.names(), "p8");
}

#[test]
fn without_trumpets_nothing_is_held() {
    let mut rehearsal = rehearsal(&["Violin I", "Organ"]);
    hear_for(
        &mut rehearsal,
        0.0,
        2.0,
        &[note("A4", 0.0), note("D4", 0.0)],
    );
    assert_eq!(rehearsal.hold().unwrap_err(), NothingHeld::NoTrumpets);
    // Nor from inputs of which nothing is known, as without an ensemble file.
    let mut ensemble = band(&["Room"]);
    ensemble.channels[0].players = 1;
    let mut rehearsal = Rehearsal::new(ensemble, Vec::new());
    hear_for(&mut rehearsal, 0.0, 2.0, &[partial(8, 0.0)]);
    assert_eq!(rehearsal.hold().unwrap_err(), NothingHeld::NoTrumpets);
}

#[test]
fn a_frozen_picture_holds_what_it_shows() {
    let mut rehearsal = rehearsal(&BAND);
    let t = hear_for(&mut rehearsal, 0.0, 2.0, &d_major());
    rehearsal.toggle_freeze();
    hear_for(&mut rehearsal, t, 5.0, &[quiet(); 5]);
    assert_eq!(rehearsal.hold().unwrap().1.names(), "p8 p12");
    assert_eq!(
        matches(&rehearsal)[2],
        "1/2 of p12 \u{2212}2",
        "on the frozen picture too"
    );
}

fn places(rehearsal: &Rehearsal, channel: usize, names: &[&str]) -> Vec<HeardVoice> {
    let sought = rehearsal.sought()[channel].as_ref().unwrap();
    let heard = |(identity, name): (usize, &&str)| {
        let label = name.parse().unwrap();
        let place = sought.labels().iter().position(|l| *l == label).unwrap();
        voice(
            identity as u32,
            place,
            label.frequency(rehearsal.tuning()).get(),
        )
    };
    names.iter().enumerate().map(heard).collect()
}

#[test]
fn trumpets_of_a_room_are_held_and_its_strings_find_their_place() {
    let mut rehearsal = rehearsal(&["Room", "Violin I"]);
    assert!(rehearsal.sought()[1].is_none());
    let voices = places(&rehearsal, 0, &["p8", "p10", "A4"]);
    for step in 1..=10 {
        let now = Seconds::new(0.2 * f64::from(step));
        rehearsal.tick(now);
        let heard = chord(ChordSound::Held, &voices);
        rehearsal.hear_chord(
            0,
            &HeardChord {
                available: now,
                ..heard
            },
        );
        rehearsal.hear(
            1,
            &Reading {
                available: now,
                ..note("D4", 0.0)
            },
        );
    }
    assert_eq!(
        rehearsal.parts().next().unwrap().doing.to_string(),
        "3 voices"
    );
    assert_eq!(rehearsal.hold().unwrap().1.names(), "p8 p10");
    let told: Vec<(String, String)> = rehearsal
        .voices()
        .map(|voice| (voice.name(), found(voice.matched)))
        .collect();
    let told: Vec<(&str, &str)> = told.iter().map(|(a, b)| (a.as_str(), b.as_str())).collect();
    assert_eq!(told[0].0, "Room A4");
    assert!(told[0].1.starts_with("3/4 of p8"), "{told:?}");
    assert_eq!(told[1], ("Room p8", "1/1 of p8 \u{b1}0"));
    assert_eq!(told[3].0, "Violin I");
    assert!(told[3].1.starts_with("1/2 of p8"), "{told:?}");
    assert!(matches!(
        rehearsal.voices().next().unwrap().told,
        Told::InChord { .. }
    ));
    // Another temperament moves what is sought.
    let before = rehearsal.sought().to_vec();
    rehearsal.step_temperament(1);
    assert_ne!(before, rehearsal.sought());
}

/// Voices of which it is not known whether they are the partial or the note.
fn unnamed(rehearsal: &Rehearsal, channel: usize, names: &[(&str, &str)]) -> Vec<HeardVoice> {
    let place = |name: &str| {
        let label = name.parse().unwrap();
        let sought = rehearsal.sought()[channel].as_ref().unwrap();
        sought.labels().iter().position(|l| *l == label)
    };
    let first: Vec<&str> = names.iter().map(|(first, _)| *first).collect();
    let voices = places(rehearsal, channel, &first).into_iter();
    voices
        .zip(names)
        .map(|(voice, (_, other))| HeardVoice {
            is_named: false,
            or_place: place(other),
            ..voice
        })
        .collect()
}

/// A chord of `voices` every fifth of a second; says when it ends.
fn hear_chords(
    rehearsal: &mut Rehearsal,
    from: f64,
    n_chords: u32,
    channels: &[(usize, &[HeardVoice])],
) -> f64 {
    for step in 1..=n_chords {
        let now = Seconds::new(from + 0.2 * f64::from(step));
        rehearsal.tick(now);
        for (channel, voices) in channels {
            let heard = HeardChord {
                available: now,
                ..chord(ChordSound::Held, voices)
            };
            rehearsal.hear_chord(*channel, &heard);
        }
    }
    from + 0.2 * f64::from(n_chords)
}

#[test]
fn a_room_alone_is_enough_to_hold_a_chord() {
    let mut rehearsal = rehearsal(&["Room"]);
    let mut voices = unnamed(
        &rehearsal,
        0,
        &[("p8", "D5"), ("F#5", "p10"), ("p12", "A5")],
    );
    (voices[2].is_named, voices[2].or_place) = (true, None);
    hear_chords(&mut rehearsal, 0.0, 10, &[(0, &voices)]);
    let told: Vec<String> = rehearsal.voices().map(|voice| voice.name()).collect();
    assert_eq!(told, ["Room p8/D5", "Room p10/F\u{266f}5", "Room p12"]);
    let (_, chord) = rehearsal.hold().unwrap();
    assert_eq!(chord.names(), "p8 p10 p12");
    assert_eq!(
        chord.taken(),
        "p8/D5 p10/F\u{266f}5 p12 from Room, whoever played there"
    );
}

#[test]
fn of_two_almost_in_unison_none_is_held_while_they_are_not_named() {
    let mut rehearsal = rehearsal(&["Room"]);
    let mut voices = unnamed(&rehearsal, 0, &[("p8", "D5"), ("D5", "p8"), ("p12", "A5")]);
    for (index, with) in [(0, 1), (1, 0)] {
        voices[index].beating = Some(Beating { with, rate_hz: 1.5 });
    }
    hear_chords(&mut rehearsal, 0.0, 10, &[(0, &voices)]);
    assert_eq!(rehearsal.hold().unwrap().1.names(), "p12");
}

#[test]
fn no_trumpet_is_held_twice_just_after_another_pitch() {
    let mut rehearsal = rehearsal(&["Room"]);
    let voices = places(&rehearsal, 0, &["p8", "p10"]);
    let t = hear_chords(&mut rehearsal, 0.0, 10, &[(0, &voices)]);
    rehearsal.shift_standard(0.5);
    // Sought anew, the same two may be taken for others.
    let anew: Vec<HeardVoice> = voices
        .iter()
        .map(|voice| HeardVoice {
            identity: voice.identity + 10,
            ..*voice
        })
        .collect();
    hear_chords(&mut rehearsal, t, 1, &[(0, &anew)]);
    assert_eq!(rehearsal.hold().unwrap().1.names(), "p8 p10");
    // One chord may have the same voice twice; the held one has it once.
    let twice = [
        voices[0],
        HeardVoice {
            identity: 20,
            ..voices[0]
        },
        voices[1],
    ];
    hear_chords(&mut rehearsal, t + 0.2, 2, &[(0, &twice)]);
    assert_eq!(rehearsal.hold().unwrap().1.names(), "p8 p10");
}

#[test]
fn trumpets_heard_by_two_microphones_are_held_once() {
    let mut band = band(&["Room", "Room 2", "Trumpet I"]);
    band.channels[2].players = 2;
    let mut rehearsal = Rehearsal::new(band, Vec::new());
    let room = places(&rehearsal, 0, &["p8", "p10", "p12"]);
    let mut nearer = places(&rehearsal, 1, &["p12"]);
    nearer[0].margin = Cents::new(0.2);
    let section = places(&rehearsal, 2, &["p8", "p10"]);
    let chords: [(usize, &[HeardVoice]); 3] = [(0, &room), (1, &nearer), (2, &section)];
    hear_chords(&mut rehearsal, 0.0, 10, &chords);
    let (_, chord) = rehearsal.hold().unwrap();
    let told: Vec<(String, &str)> = chord
        .voices
        .iter()
        .map(|voice| (voice.label.to_string(), voice.channel.as_str()))
        .collect();
    let told: Vec<(&str, &str)> = told.iter().map(|(l, c)| (l.as_str(), *c)).collect();
    assert_eq!(
        told,
        [("p8", "Trumpet I"), ("p10", "Trumpet I"), ("p12", "Room 2")]
    );
}

#[test]
fn whoever_has_a_microphone_is_not_held_twice() {
    let mut rehearsal = rehearsal(&["Trumpet I", "Room"]);
    let voices = places(&rehearsal, 1, &["p8", "p12"]);
    for step in 1..=200 {
        let now = Seconds::new(0.01 * f64::from(step));
        rehearsal.tick(now);
        rehearsal.hear(
            0,
            &Reading {
                available: now,
                ..partial(8, 3.0)
            },
        );
        if step % 20 == 0 {
            let heard = chord(ChordSound::Held, &voices);
            rehearsal.hear_chord(
                1,
                &HeardChord {
                    available: now,
                    ..heard
                },
            );
        }
    }
    let (_, chord) = rehearsal.hold().unwrap();
    let channels: Vec<&str> = chord.voices.iter().map(|v| v.channel.as_str()).collect();
    assert_eq!(
        (chord.names().as_str(), channels),
        ("p8 p12", vec!["Trumpet I", "Room"])
    );
}

#[test]
fn the_purity_of_what_sounds_names_who_could_move() {
    let mut rehearsal = rehearsal(&BAND);
    // The viola's third is 14 too wide for the trumpets' root.
    let mut sounds = [quiet(); 5];
    sounds[1] = partial(8, 0.0);
    sounds[3] = partial(5, 14.0);
    hear_for(&mut rehearsal, 0.0, 3.0, &sounds);
    let told = rehearsal.purity().unwrap();
    let best = told.purity.best.unwrap();
    assert_eq!(told.names[best.note], "Viola");
    assert!((best.by.get() + 14.0).abs() < 0.5, "{best:?}");
    hear_for(&mut rehearsal, 3.0, 2.0, &[quiet(); 5]);
    assert!(rehearsal.purity().is_none());
}

#[test]
fn a_shared_channel_has_a_level_and_no_pitch_of_its_own() {
    let mut rehearsal = rehearsal(&["Room"]);
    hear_for(&mut rehearsal, 0.0, 1.0, &[partial(8, 0.0)]);
    let part = rehearsal.parts().next().unwrap();
    assert!(part.state.sounding().is_none());
    assert!(part.state.meter().level().get() > -30.0);
    assert_eq!(part.doing, Doing::Unheard, "until a chord is heard");
}

#[test]
fn chords_of_no_shared_channel_are_passed_over() {
    let mut rehearsal = rehearsal(&["Violin I"]);
    let heard = chord(ChordSound::Held, &[voice(0, 0, 400.0)]);
    rehearsal.hear_chord(0, &heard);
    rehearsal.hear_chord(7, &heard);
    assert_eq!(rehearsal.voices().count(), 0);
}
