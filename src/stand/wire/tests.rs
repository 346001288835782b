use super::*;
use crate::analysis::Effort;
use crate::analysis::{Motion, NoPitch, Pitch, Reading, Vibrato};
use crate::rehearsal::{Entry, HeardSpan};
use crate::session::samples::{entries, entry};
use crate::sound::Fault;
use crate::units::{Cents, Dbfs, Hertz, SampleRate};
use proptest::prelude::*;

const BEGUN: &str = "2026-11-25T19:40:00+01:00";

fn there_and_back(told: &News) -> Option<News> {
    news(&line(told, BEGUN)?)
}

fn check(told: &News, text: &str) {
    let line = line(told, BEGUN).unwrap();
    assert_eq!(line.trim_end(), text);
    assert_eq!(news(&line).as_ref(), Some(told), "{line}");
}

fn reading(pitch: Result<f64, NoPitch>, motion: Option<Motion>) -> Reading {
    Reading {
        time: Seconds::new(12.34),
        available: Seconds::new(12.34),
        level: Dbfs::new(-23.5),
        clipped: false,
        pitch: pitch.map(|hz| Pitch {
            hertz: Hertz::new(hz).unwrap(),
            margin: Cents::new(0.42),
            confidence: 0.984,
            inharmonicity: 0.0,
        }),
        motion,
    }
}

#[test]
fn every_kind_of_line_reads_like_this() {
    let swing = Motion {
        centre: Hertz::new(554.25).unwrap(),
        spread: Cents::new(2.1),
        drift_per_second: Cents::new(-0.5),
        vibrato: Some(Vibrato {
            rate_hz: 5.5,
            extent: Cents::new(20.1),
        }),
        span: Seconds::new(0.75),
    };
    let heard = reading(Ok(554.3712), Some(swing));
    check(
        &News::Reading(3, heard),
        "r 3 12.340 -23.5 554.3712 0.42 0.984 | 2.1 -0.5 0.75 554.2500 5.50 20.1",
    );
    for (why, text) in [
        (NoPitch::Silence, "r 0 12.340 -23.5! -"),
        (NoPitch::Noise, "r 0 12.340 -23.5! ~"),
        (NoPitch::TwoNotes, "r 0 12.340 -23.5! ="),
        (NoPitch::Drone, "r 0 12.340 -23.5! o"),
    ] {
        let heard = Reading {
            clipped: true,
            ..reading(Err(why), None)
        };
        check(&News::Reading(0, heard), text);
    }
    check(&News::Now(Seconds::new(61.5)), "now 61.500");
    check(&News::SatDown(Seconds::new(3_600.0)), "sat-down 3600.000");
    check(&News::Lost(7), "lost 7");
    check(&News::Effort(Effort::Full), "effort 0");
    check(&News::Effort(Effort::TwoVoices), "effort 4");
    check(&News::InUse(Some(2)), "in-use 2");
    check(&News::InUse(None), "in-use none");
    check(&News::Full, "full");
    check(&News::Ended, "ended");
    let name = News::Session("/home/player/a \"b\".session".into());
    check(&name, r#"session "/home/player/a \"b\".session""#);
    let lost = SourceState::Waiting(Fault::Lost("Stage".into()));
    check(&News::State(lost), r#"state Waiting(Lost("Stage"))"#);
    let format = StreamFormat {
        name: "Stage".into(),
        rate: SampleRate::new(48_000).unwrap(),
        channels: 8,
    };
    let text = r#"stream (name:"Stage",rate:48000,channels:8)"#;
    check(&News::Started(format), text);
}

#[test]
fn voices_go_by_their_names() {
    let spans = entries(4, 2).into_iter().filter_map(|entry| match entry {
        Entry::Heard(HeardSpan { chords, .. }) => Some(chords),
        _ => None,
    });
    let chords: Vec<_> = spans.flatten().collect();
    assert!(!chords.is_empty());
    for chord in chords {
        let told = News::Chord(Seconds::new(3.25), chord);
        let Some(News::Chord(available, back)) = there_and_back(&told) else {
            panic!("{told:?}");
        };
        assert_eq!(available, Seconds::new(3.25));
        // To the accuracy of a session file: told again it is the same.
        let again = News::Chord(available, back);
        assert_eq!(line(&again, BEGUN), line(&told, BEGUN));
    }
}

#[test]
fn what_was_kept_goes_in_the_lines_of_a_session() {
    for entry in entries(4, 2) {
        let is_heard = matches!(entry, Entry::Heard(_));
        let told = News::Entry(Box::new(entry));
        let line = line(&told, BEGUN);
        assert_eq!(line.is_none(), is_heard, "{told:?}");
        if let Some(line) = line {
            let Some(News::Entry(back)) = news(&line) else {
                panic!("{line}");
            };
            // To the accuracy of a session file: told again it is the same.
            assert_eq!(super::line(&News::Entry(back), BEGUN), Some(line));
        }
    }
}

#[test]
fn a_stand_says_what_it_is() {
    assert_eq!(greeting(HEAD), Greeting::Ours);
    let newer = r#"(version: 2, stand: "concento", more: [1])"#;
    assert_eq!(greeting(newer), Greeting::Version(2));
    for foreign in ["", "GET / HTTP/1.1", r#"(version: 1, stand: "x")"#, "(("] {
        assert_eq!(greeting(foreign), Greeting::Foreign, "{foreign}");
    }
    let sitting = Sitting {
        what: What::Practice,
        session: Some("/home/player/x.session".into()),
        begun: BEGUN.into(),
        process: 4_711,
    };
    let line = sitting_to_line(&sitting);
    assert_eq!(sitting_from_line(&line), Some(sitting));
}

#[test]
fn nothing_steers_a_terminal() {
    let steering = "a\u{1b}[2Jb";
    let sitting = Sitting {
        what: What::Demo,
        session: Some(steering.into()),
        begun: BEGUN.into(),
        process: 1,
    };
    assert_eq!(sitting_from_line(&sitting_to_line(&sitting)), None);
    let format = StreamFormat {
        name: steering.into(),
        rate: SampleRate::new(48_000).unwrap(),
        channels: 8,
    };
    let lost = SourceState::Waiting(Fault::Lost(steering.into()));
    for told in [
        News::Session(steering.into()),
        News::Started(format),
        News::State(lost),
    ] {
        assert_eq!(there_and_back(&told), None, "{told:?}");
    }
    // As escapes within a kept line, too.
    for line in [
        "Marked(at:1.0,text:\"a\\u{1b}[2J\")",
        "Marked(at:1.0,text:\"a\u{1b}[2J\")",
        "Fault(at:1.0,text:\"\\u{202e}\")",
        "Running(at:1.0,source:\"\\u{7}\")",
    ] {
        assert_eq!(news(line), None, "{line}");
    }
}

#[test]
fn what_is_out_of_bounds_is_passed_over() {
    for line in [
        "",
        "r",
        "r 64 1.0 -20 -",
        "r 0 -1.0 -20 -",
        "r 0 1e9 -20 -",
        "r 0 NaN -20 -",
        "r 0 1.0 inf -",
        "r 0 1.0 -20 0.1 1 1",
        "r 0 1.0 -20 440 -1 1",
        "r 0 1.0 -20 440 1 1.5",
        "r 0 1.0 -20 440 1 1 1",
        "r 0 1.0 -20 440 1",
        "r 0 1.0 -20 440 1 1 | 1",
        "r 0 1.0 -20 440 1 1 | 1 1 99 440",
        "r 0 1.0 -20 440 1 1 | 1 1 1 440 1",
        "c 1.0 0 held",
        "in-use 0",
        "in-use 10",
        "lost -1",
        "now 1e300",
        "sat-down x",
        "state Singing",
        "stream (name:\"x\",rate:48000,channels:0)",
        "stream (name:\"x\",rate:48000,channels:65)",
        "stream (name:\"x\",rate:1,channels:2)",
        "Begun(at:\"2026-11-25T19:40:00+01:00\",program:\"0\")",
        "Sung(at:1.0)",
        "unknown 3",
    ] {
        assert_eq!(news(line), None, "{line}");
    }
    assert_eq!(news(&"x".repeat(LONGEST_LINE + 1)), None);
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn readings_survive(
        channel in 0..64_usize,
        at in 0.0..900_000.0_f64,
        level in -140.0..3.0_f64,
        pitch in prop::option::of((1.0..20_000.0_f64, 0.0..90.0_f64, 0.0..=1.0_f64)),
        motion in prop::option::of((0.0..90.0_f64, -900.0..900.0_f64, 0.0..1.0_f64, 1.0..9_000.0_f64)),
        vibrato in prop::option::of((0.0..12.0_f64, 0.0..200.0_f64)),
    ) {
        let told = Reading {
            time: Seconds::new(at),
            available: Seconds::new(at),
            level: Dbfs::new(level),
            clipped: level > 0.0,
            pitch: pitch.map_or(Err(NoPitch::TwoNotes), |(hz, margin, confidence)| Ok(Pitch {
                hertz: Hertz::new(hz).unwrap(),
                margin: Cents::new(margin),
                confidence,
                inharmonicity: 0.0,
            })),
            motion: motion.map(|(spread, drift, span, centre)| Motion {
                centre: Hertz::new(centre).unwrap(),
                spread: Cents::new(spread),
                drift_per_second: Cents::new(drift),
                vibrato: vibrato.map(|(rate_hz, extent)| Vibrato {
                    rate_hz,
                    extent: Cents::new(extent),
                }),
                span: Seconds::new(span),
            }),
        };
        let Some(News::Reading(back_channel, back)) = there_and_back(&News::Reading(channel, told))
        else {
            return Err(TestCaseError::fail("not read"));
        };
        prop_assert_eq!(back_channel, channel);
        prop_assert!((back.available - told.available).get().abs() <= 0.000_51);
        prop_assert!((back.level.get() - told.level.get()).abs() <= 0.051);
        prop_assert_eq!(back.clipped, told.clipped);
        match (back.pitch, told.pitch) {
            (Ok(back), Ok(told)) => {
                prop_assert!((back.hertz.get() - told.hertz.get()).abs() <= 0.000_051);
                prop_assert!((back.margin - told.margin).abs().get() <= 0.006);
                prop_assert!(back.confidence <= told.confidence);
                prop_assert!(told.confidence - back.confidence < 0.001_01);
            }
            (back, told) => prop_assert_eq!(back, told),
        }
        prop_assert_eq!(back.motion.is_some(), told.motion.is_some());
        let vibrato = |reading: Reading| reading.motion.and_then(|motion| motion.vibrato);
        prop_assert_eq!(vibrato(back).is_some(), vibrato(told).is_some());
    }

    #[test]
    fn kept_entries_survive(entry in entry()) {
        let told = News::Entry(Box::new(entry));
        if let Some(line) = line(&told, BEGUN) {
            prop_assert!(line.len() <= LONGEST_LINE);
            prop_assert_eq!(line.matches('\n').count(), 1);
            prop_assert!(matches!(news(&line), Some(News::Entry(_))), "{}", line);
        }
    }

    #[test]
    fn no_line_is_too_odd(text in "\\PC{0,200}", word in "(now|r|c|state|stream|lost|in-use|session|sat-down|Note|Held|Seated) ") {
        let _ = news(&text);
        let _ = news(&format!("{word}{text}"));
        let _ = greeting(&text);
        let _ = sitting_from_line(&text);
    }

    #[test]
    fn no_mutation_is_too_odd(
        entry in entry(),
        at in any::<prop::sample::Index>(),
        byte in any::<u8>(),
        cut in any::<prop::sample::Index>(),
    ) {
        let heard = reading(Ok(440.0), None);
        for told in [News::Entry(Box::new(entry)), News::Reading(1, heard)] {
            let Some(line) = line(&told, BEGUN) else {
                continue;
            };
            let mut bytes = line.into_bytes();
            let place = at.index(bytes.len());
            bytes[place] = byte;
            bytes.truncate(1 + cut.index(bytes.len()));
            let odd = String::from_utf8_lossy(&bytes);
            // Whatever is read can be told again.
            if let Some(told) = news(&odd) {
                let _ = super::line(&told, BEGUN);
            }
        }
    }
}
