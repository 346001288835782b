//! Whole rehearsals, and the material other tests are made from.

mod holding;
mod practising;
mod recording;

pub(crate) use super::held::tests::held as held_chord;

use super::{Channel, Doing, Ensemble, Family, Instrument, Rehearsal};
use crate::analysis::chord::{ChordSound, HeardChord, HeardVoice, VoiceStatus};
use crate::analysis::{Motion, NoPitch, Pitch, Reading};
use crate::sound::StreamFormat;
use crate::tuning::{Anchor, Chain, Fifths, PitchStandard, Temperament, Tempering, Tuning};
use crate::units::{Cents, Dbfs, Hertz, NoteName, SampleRate, Seconds};

/// A regular temperament by its tempering.
pub(crate) fn regular(name: &str, each: &str) -> Temperament {
    let each: Tempering = each.parse().unwrap();
    Temperament::new(name, name, Fifths::Regular { each }).unwrap()
}

/// Sixth of a syntonic comma at A 415 with trumpets in D.
pub(crate) fn sixth_comma() -> Tuning {
    Tuning::new(
        PitchStandard::new(415.0).unwrap(),
        &regular("sixth-comma", "-1/6 SC"),
        Chain::usual(),
        NoteName::D,
        Anchor::tonic(NoteName::D),
    )
}

/// A sure reading of a steady note.
pub(crate) fn reading(hz: f64) -> Reading {
    let hertz = Hertz::new(hz).unwrap();
    Reading {
        time: Seconds::new(0.0),
        available: Seconds::new(0.0),
        level: Dbfs::new(-20.0),
        clipped: false,
        pitch: Ok(Pitch {
            hertz,
            margin: Cents::new(1.0),
            confidence: 0.95,
            inharmonicity: 0.0,
        }),
        motion: Some(Motion {
            centre: hertz,
            spread: Cents::new(2.0),
            drift_per_second: Cents::UNISON,
            vibrato: None,
            span: Seconds::new(1.0),
        }),
    }
}

/// A reading without pitch.
pub(crate) fn unpitched(why: NoPitch) -> Reading {
    Reading {
        level: Dbfs::new(if why == NoPitch::Silence {
            -90.0
        } else {
            -30.0
        }),
        pitch: Err(why),
        motion: None,
        ..reading(440.0)
    }
}

/// A voice heard clearly.
pub(crate) fn voice(identity: u32, place: usize, hz: f64) -> HeardVoice {
    HeardVoice {
        identity,
        place,
        hertz: Hertz::new(hz).unwrap(),
        margin: Cents::new(0.5),
        confidence: 0.95,
        status: VoiceStatus::Ok,
        beating: None,
        is_named: true,
        or_place: None,
    }
}

/// A chord of these voices.
pub(crate) fn chord(sound: ChordSound, voices: &[HeardVoice]) -> HeardChord {
    HeardChord {
        time: Seconds::new(0.0),
        available: Seconds::new(0.0),
        span: Seconds::new(1.0),
        level: Dbfs::new(-20.0),
        sound,
        voices: voices.to_vec(),
    }
}

/// The family that a role belongs to.
fn family_of(name: &str) -> Family {
    match name.split(' ').next() {
        Some("Trumpet") => Family::Trumpets,
        Some("Dulcian") => Family::Winds,
        Some("Organ") => Family::Keyboard,
        Some("Room") => Family::Room,
        _ => Family::Strings,
    }
}

/// A band of the given roles, one input each.
pub(crate) fn band(names: &[&str]) -> Ensemble {
    let channels = names.iter().enumerate().map(|(index, name)| Channel {
        name: (*name).to_owned(),
        instrument: Instrument {
            name: "violin".into(),
            title: "Violin".into(),
            family: family_of(name),
            lowest: "G3".parse().unwrap(),
            highest: "E6".parse().unwrap(),
            inharmonic: false,
        },
        input: index + 1,
        visible: true,
        chain: None,
        players: family_of(name).usual_players(),
    });
    Ensemble {
        title: "An afternoon".into(),
        tuning: sixth_comma(),
        channels: channels.collect(),
    }
}

/// A rehearsal that can change to quarter-comma.
pub(crate) fn rehearsal(names: &[&str]) -> Rehearsal {
    let temperaments = vec![
        regular("quarter-comma", "-1/4 SC"),
        regular("sixth-comma", "-1/6 SC"),
        regular("equal", "-1/12 PC"),
    ];
    let mut rehearsal = Rehearsal::new(band(names), temperaments);
    rehearsal.start(StreamFormat {
        name: "stage box".into(),
        rate: SampleRate::new(48_000).unwrap(),
        channels: names.len().max(1),
    });
    rehearsal
}

pub(crate) fn hear_for(
    rehearsal: &mut Rehearsal,
    from: f64,
    seconds: f64,
    sounds: &[Reading],
) -> f64 {
    let hops = (seconds * 100.0).round() as u32;
    for hop in 1..=hops {
        let now = Seconds::new(from + 0.01 * f64::from(hop));
        rehearsal.tick(now);
        for (index, sound) in sounds.iter().enumerate() {
            let available = now;
            rehearsal.hear(
                index,
                &Reading {
                    available,
                    ..*sound
                },
            );
        }
    }
    from + seconds
}

/// The deviations on the screen of the first part: from the partial and the tempered note.
fn deviations(rehearsal: &Rehearsal) -> (Option<f64>, f64) {
    let part = rehearsal.parts().next().unwrap();
    let places = part.state.sounding().unwrap().places();
    (
        places.partial.map(|p| p.cents.get()),
        places.tempered.cents.get(),
    )
}

#[test]
fn another_temperament_measures_at_once() {
    let mut rehearsal = rehearsal(&["Violin I"]);
    let eleventh = rehearsal
        .tuning()
        .series()
        .frequency(11.try_into().unwrap());
    hear_for(&mut rehearsal, 0.0, 1.0, &[reading(eleventh.get())]);
    let (natural, tempered) = deviations(&rehearsal);
    assert!(natural.unwrap().abs() < 1e-6);
    rehearsal.step_temperament(1);
    assert_eq!(rehearsal.tuning().scale().temperament().name, "equal");
    let (_, equal) = deviations(&rehearsal);
    assert!((equal - tempered).abs() > 1.0);
    rehearsal.step_temperament(1);
    rehearsal.step_temperament(1);
    let again = deviations(&rehearsal).1;
    assert!((again - tempered).abs() < 1e-9, "round and back again");
}

#[test]
fn the_pitch_standard_moves_both_places() {
    let mut rehearsal = rehearsal(&["Violin I"]);
    hear_for(&mut rehearsal, 0.0, 1.0, &[reading(415.0)]);
    assert!(deviations(&rehearsal).1.abs() < 1e-6);
    rehearsal.shift_standard(-0.5);
    // 1200 log2(415 / 414.5) = 2.087 cents: definition.
    assert!((deviations(&rehearsal).1 - 2.087).abs() < 1e-3);
    let history = rehearsal.parts().next().unwrap().state.history();
    assert!(history.points().count() > 20, "the trail is kept");
}

#[test]
fn a_player_with_more_accidentals_has_a_name_of_its_own() {
    let mut ensemble = band(&["Organ", "Violin I"]);
    ensemble.channels[1].chain =
        Some(Chain::new("Ab".parse().unwrap(), "D#".parse().unwrap()).unwrap());
    let mut rehearsal = Rehearsal::new(ensemble, Vec::new());
    let flat = rehearsal.tuning().scale().frequency("Ab4".parse().unwrap());
    hear_for(
        &mut rehearsal,
        0.0,
        1.0,
        &[reading(flat.get()), reading(flat.get())],
    );
    let names: Vec<String> = rehearsal
        .parts()
        .map(|p| p.state.sounding().unwrap().places().tempered.note.ascii())
        .collect();
    assert_eq!(names, ["G#4", "Ab4"]);
}

#[test]
fn a_frozen_picture_stands_while_listening_goes_on() {
    let mut rehearsal = rehearsal(&["Violin I"]);
    let t = hear_for(&mut rehearsal, 0.0, 1.0, &[reading(415.0)]);
    rehearsal.toggle_freeze();
    let t = hear_for(&mut rehearsal, t, 2.0, &[reading(500.0)]);
    assert!(deviations(&rehearsal).1.abs() < 1e-6);
    assert!((rehearsal.frozen_for().unwrap().get() - 2.0).abs() < 0.02);
    rehearsal.toggle_freeze();
    assert!(deviations(&rehearsal).1.abs() > 1.0);
    // Hidden channels listen on too.
    rehearsal.set_visible(0, false);
    hear_for(&mut rehearsal, t, 1.0, &[reading(415.0)]);
    assert_eq!((rehearsal.parts().count(), rehearsal.n_hidden()), (0, 1));
    rehearsal.show_all();
    assert!(deviations(&rehearsal).1.abs() < 1e-6);
}

#[test]
fn a_stream_with_too_few_channels_is_named() {
    let mut rehearsal = rehearsal(&["Violin I", "Violin II"]);
    rehearsal.start(StreamFormat {
        name: "stage box".into(),
        rate: SampleRate::new(48_000).unwrap(),
        channels: 1,
    });
    let doing: Vec<Doing> = rehearsal.parts().map(|part| part.doing).collect();
    assert_eq!(doing, [Doing::Unheard, Doing::NoInput(2)]);
}

#[test]
fn readings_of_no_channel_are_passed_over() {
    let mut rehearsal = rehearsal(&[]);
    rehearsal.hear(7, &reading(415.0));
    rehearsal.step_temperament(1);
    rehearsal.toggle_freeze();
    assert_eq!(rehearsal.parts().count(), 0);
}
