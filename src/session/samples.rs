//! Entries for tests: of every kind, as they come in a rehearsal, and by chance.

use proptest::prelude::*;

use crate::analysis::chord::{Beating, ChordSound, VoiceStatus};
use crate::analysis::{Motion, NoPitch, Vibrato};
use crate::rehearsal::tests::{band, held_chord, sixth_comma};
use crate::rehearsal::{
    Approach, Decision, Entry, HeardChannel, HeardSpan, HeardVoices, Mark, Note, Place, Resolution,
    SampledVoice, Trial,
};
use crate::tuning::Partial;
use crate::units::{Celsius, Cents, Dbfs, Hertz, Seconds};

fn note(channel: usize, begun: f64, hz: f64) -> Note {
    let hertz = Hertz::new(hz).unwrap();
    Note {
        channel,
        label: "F#4".parse().unwrap(),
        begun: Seconds::new(begun),
        ended: Seconds::new(begun + 2.234_567),
        steady: Seconds::new(1.412_345),
        hertz,
        margin: Cents::new(0.512_345),
        spread: Cents::new(3.212_345),
        level: Dbfs::new(-23.4),
        goes_on: false,
        places: sixth_comma().place(hertz),
    }
}

fn trial(begun: f64, hz: f64, off: f64) -> Trial {
    Trial {
        exercise: "ladder".to_owned(),
        note: "G#5".parse().unwrap(),
        partial: Partial::new(11).ok(),
        place: Place::Partial,
        target: Hertz::new(hz).unwrap(),
        tolerance: Cents::new(8.0),
        begun: Seconds::new(begun),
        ended: Seconds::new(begun + 0.834_567),
        inside: Seconds::new(0.412_345),
        off: Cents::new(off),
        spread: Cents::new(3.212_345),
        drift_per_second: Cents::new(-0.512_345),
        approach: Approach::Below,
        was_blind: false,
    }
}

fn heard(channel: usize, time: f64) -> HeardChannel {
    let middle = 220.0 + 61.7 * channel as f64;
    let swings = channel.is_multiple_of(4);
    let pitch = |time: f64| {
        let cents = if swings {
            20.0 * (34.0 * time).sin()
        } else {
            2.0 * (3.0 * time).sin()
        };
        Hertz::new(middle).unwrap().raised(Cents::new(cents))
    };
    HeardChannel {
        channel,
        level: Dbfs::new(-23.4),
        clipped: false,
        samples: (0..5)
            .map(|n| Ok(pitch(time + 0.1 * f64::from(n))))
            .collect(),
        motion: Some(Motion {
            centre: pitch(0.0),
            spread: Cents::new(if swings { 14.1 } else { 1.4 }),
            drift_per_second: Cents::new(-1.23),
            vibrato: swings.then_some(Vibrato {
                rate_hz: 5.41,
                extent: Cents::new(20.0),
            }),
            span: Seconds::new(1.0),
        }),
    }
}

/// A rehearsal of so many players who sound all the time, so many seconds long: one of every
/// other kind of entry, too.
pub(crate) fn entries(n_channels: usize, seconds: u32) -> Vec<Entry> {
    let names = [
        "Trumpet I",
        "Trumpet II",
        "Violin I",
        "Viola",
        "Organ",
        "Dulcian",
        "Cello",
        "Bass",
    ];
    let mut entries = vec![
        Entry::Seated {
            at: Seconds::default(),
            ensemble: Box::new(band(&names[..n_channels])),
        },
        Entry::Running {
            at: Seconds::new(0.1),
            source: "stage box".to_owned(),
        },
    ];
    for half in 0..2 * seconds {
        let at = 0.5 * f64::from(half);
        entries.push(Entry::Heard(HeardSpan {
            at: Seconds::new(at),
            channels: (0..n_channels).map(|channel| heard(channel, at)).collect(),
            chords: Vec::new(),
        }));
        if half % 5 == 4 {
            let notes = (0..n_channels).map(|channel| {
                let moved = 0.01 * channel as f64;
                Entry::Note(note(
                    channel,
                    at - 2.0 + moved,
                    220.0 + 61.7 * channel as f64,
                ))
            });
            entries.extend(notes);
        }
    }
    let at = Seconds::new(f64::from(seconds));
    entries.extend([
        Entry::Tuned {
            at,
            tuning: Box::new(sixth_comma().at_standard(sixth_comma().standard().shifted(1.0))),
        },
        Entry::Heard(shared(f64::from(seconds))),
        Entry::Held {
            at,
            chord: Box::new(held_chord(&[(8, 0.0), (12, -2.5)])),
        },
        Entry::Tried(Box::new(trial(at.get() - 0.9, 762.41, -3.456))),
        Entry::Tried(Box::new(Trial {
            note: "Eb4".parse().unwrap(),
            partial: None,
            place: Place::Agreed,
            approach: Approach::Direct,
            was_blind: true,
            ..trial(at.get() - 0.85, 293.1, 12.0)
        })),
        Entry::Decided(Decision {
            at,
            note: "F#".parse().unwrap(),
            resolution: Some(Resolution::MeetBetween(Cents::new(-13.5))),
            remark: "from bar 12".to_owned(),
        }),
        Entry::Decided(Decision {
            at,
            note: "F#".parse().unwrap(),
            resolution: None,
            remark: String::new(),
        }),
        Entry::Marked(Mark {
            at,
            text: "the \"Echo\"".to_owned(),
        }),
        Entry::Warmth {
            at,
            celsius: Celsius::new(21.5).unwrap(),
        },
        Entry::Fault {
            at,
            text: "'stage box' has gone".to_owned(),
        },
        Entry::Lost { at, blocks: 3 },
    ]);
    entries
}

/// A shared channel beside one that says why it has no pitch.
fn shared(at: f64) -> HeardSpan {
    let voice = SampledVoice {
        identity: 17,
        label: "p8".parse().unwrap(),
        or_label: None,
        hertz: Hertz::new(553.123).unwrap(),
        margin: Cents::new(0.41),
        status: VoiceStatus::Ok,
        beating: None,
        is_named: true,
    };
    HeardSpan {
        at: Seconds::new(at),
        channels: vec![HeardChannel {
            channel: 0,
            level: Dbfs::new(-0.2),
            clipped: true,
            samples: vec![
                Err(NoPitch::Silence),
                Err(NoPitch::Noise),
                Err(NoPitch::TwoNotes),
            ],
            motion: None,
        }],
        chords: vec![HeardVoices {
            channel: 1,
            sound: ChordSound::Held,
            span: Seconds::new(1.0),
            voices: vec![
                voice,
                SampledVoice {
                    identity: 18,
                    label: "A4".parse().unwrap(),
                    or_label: Some("p6".parse().unwrap()),
                    is_named: false,
                    status: VoiceStatus::Merged {
                        with: 0,
                        partial: 1,
                    },
                    beating: Some(Beating {
                        with: 0,
                        rate_hz: 1.3,
                    }),
                    ..voice
                },
            ],
        }],
    }
}

fn channels() -> impl Strategy<Value = HeardChannel> {
    let sample = prop_oneof![
        4 => (20.0..4_000.0_f64).prop_map(|hz| Ok(Hertz::new(hz).unwrap())),
        1 => Just(Err(NoPitch::Silence)),
        1 => Just(Err(NoPitch::Noise)),
        1 => Just(Err(NoPitch::TwoNotes)),
    ];
    let samples = prop::collection::vec(sample, 0..6);
    let vibrato = prop::option::of((3.0..9.0_f64, 4.0..90.0_f64));
    let motion = prop::option::of((0.0..50.0_f64, -99.0..99.0_f64, vibrato, 30.0..900.0_f64));
    (0..64_usize, -140.0..0.0_f64, any::<bool>(), samples, motion).prop_map(
        |(channel, level, clipped, samples, motion)| {
            let has_pitch = samples.iter().any(Result::is_ok);
            HeardChannel {
                channel,
                level: Dbfs::new(level),
                clipped,
                samples,
                motion: motion
                    .filter(|_| has_pitch)
                    .map(|(spread, drift, vibrato, centre)| Motion {
                        centre: Hertz::new(centre).unwrap(),
                        spread: Cents::new(spread),
                        drift_per_second: Cents::new(drift),
                        vibrato: vibrato.map(|(rate_hz, extent)| Vibrato {
                            rate_hz,
                            extent: Cents::new(extent),
                        }),
                        span: Seconds::new(1.0),
                    }),
            }
        },
    )
}

/// Any entry.
pub(crate) fn entry() -> impl Strategy<Value = Entry> {
    let heard =
        (0.0..9_999.0_f64, prop::collection::vec(channels(), 0..9)).prop_map(|(at, channels)| {
            Entry::Heard(HeardSpan {
                at: Seconds::new(at),
                channels,
                chords: shared(at).chords,
            })
        });
    let note = (
        0..64_usize,
        0.0..9_999.0_f64,
        30.0..3_000.0_f64,
        any::<bool>(),
    )
        .prop_map(|(channel, begun, hz, goes_on)| {
            Entry::Note(Note {
                goes_on,
                ..note(channel, begun, hz)
            })
        });
    let others = entries(4, 1);
    let other = (0..others.len()).prop_map(move |index| others[index].clone());
    let marked = (0.0..9_999.0_f64, "\\PC{0,40}").prop_map(|(at, text)| {
        Entry::Marked(Mark {
            at: Seconds::new(at),
            text,
        })
    });
    let place = prop_oneof![
        Just(Place::Partial),
        Just(Place::Tempered),
        Just(Place::Agreed)
    ];
    let approach = prop_oneof![
        Just(Approach::Below),
        Just(Approach::Above),
        Just(Approach::Direct)
    ];
    let tried = (
        "[a-z0-9][a-z0-9-]{0,20}",
        prop::option::of(1..=24_u8),
        (place, approach, any::<bool>()),
        (0.0..9_999.0_f64, 30.0..3_000.0_f64, 0.0..300.0_f64),
        (
            -120.0..120.0_f64,
            0.0..50.0_f64,
            -99.0..99.0_f64,
            0.5..50.0_f64,
        ),
    );
    let tried = tried.prop_map(|(exercise, partial, kinds, times, sizes)| {
        let (begun, hz, inside) = times;
        let (off, spread, drift, tolerance) = sizes;
        let (place, approach, was_blind) = kinds;
        Entry::Tried(Box::new(Trial {
            exercise,
            partial: partial.and_then(|number| Partial::new(number).ok()),
            place,
            approach,
            was_blind,
            tolerance: Cents::new(tolerance),
            inside: Seconds::new(inside),
            spread: Cents::new(spread),
            drift_per_second: Cents::new(drift),
            ..trial(begun, hz, off)
        }))
    });
    prop_oneof![heard, note, other, marked, tried]
}
