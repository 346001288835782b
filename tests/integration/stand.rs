//! A rehearsal that is watched: a real publisher and several readers in one process, some of
//! whom behave badly.

use std::io::{Read, Write};
use std::os::unix::net::UnixStream;
use std::path::Path;
use std::time::{Duration, Instant};

use concento::analysis::{Pitch, Reading};
use concento::rehearsal::{
    Entry, HeldChord, HeldVoice, Moment, Rehearsal, Resolution, Setting, Update,
};
use concento::session::{default_ensemble, temperaments};
use concento::sound::{SourceState, StreamFormat};
use concento::stand::{Connection, Limits, News, Publisher, Sitting, Taken, What, look};
use concento::units::{Cents, Dbfs, Hertz, SampleRate, Seconds};

const BEGUN: &str = "2026-11-25T19:40:00+01:00";
/// How long a test waits for what must come at last.
const AT_LAST: Duration = Duration::from_secs(20);
const CHANNELS: usize = 8;

fn sitting() -> Sitting {
    Sitting {
        what: What::Rehearsal,
        session: Some("/home/player/evening.session".into()),
        begun: BEGUN.into(),
        process: std::process::id(),
    }
}

fn limits() -> Limits {
    Limits {
        readers: 12,
        waiting_bytes: 200_000,
        patience: Duration::from_mins(1),
        sent_bytes: 4_096,
    }
}

fn reading(channel: usize, time: f64) -> Reading {
    let step = time.floor() as i32 % 5;
    let hz = 220.0 * 2_f64.powf((f64::from(step) + 3.0 * channel as f64) / 12.0);
    Reading {
        time: Seconds::new(time),
        available: Seconds::new(time),
        level: Dbfs::new(-20.0),
        clipped: false,
        pitch: Ok(Pitch {
            hertz: Hertz::new(hz).unwrap(),
            margin: Cents::new(1.0),
            confidence: 0.95,
            inharmonicity: 0.0,
        }),
        motion: None,
    }
}

/// The first screen: a rehearsal that is heard, kept and told, frame by frame.
struct First {
    rehearsal: Rehearsal,
    publisher: Publisher,
    heard_s: f64,
    in_use: Option<usize>,
    n_readings: usize,
}

impl First {
    fn begin(folder: &Path, limits: Limits) -> Self {
        let rehearsal = Rehearsal::new(default_ensemble(CHANNELS), temperaments(None).unwrap());
        let publisher = Publisher::open(folder, sitting(), limits).unwrap();
        let format = StreamFormat {
            name: "Stage".into(),
            rate: SampleRate::new(48_000).unwrap(),
            channels: CHANNELS,
        };
        let mut first = Self {
            rehearsal,
            publisher,
            heard_s: 0.0,
            in_use: None,
            n_readings: 0,
        };
        first.rehearsal.take(Update::Started(format.clone()));
        let running = SourceState::Running;
        first.rehearsal.take(Update::State(running.clone()));
        first
            .publisher
            .tell([News::Started(format), News::State(running)]);
        first
    }

    /// A thirtieth of a second.
    fn frame(&mut self) {
        let now = self.rehearsal.now() + Seconds::new(1.0 / 30.0);
        self.rehearsal.tick(now);
        let mut news = vec![News::Now(now)];
        while self.heard_s + 0.01 <= now.get() {
            self.heard_s += 0.01;
            for channel in 0..CHANNELS {
                let reading = reading(channel, self.heard_s);
                self.rehearsal.take(Update::Reading(channel, reading));
                news.push(News::Reading(channel, reading));
                self.n_readings += 1;
            }
        }
        let entries = self.rehearsal.take_entries();
        news.extend(
            entries
                .into_iter()
                .map(|entry| News::Entry(Box::new(entry))),
        );
        let in_use = self.rehearsal.shelf().current().map(|(number, _)| number);
        if in_use != self.in_use {
            self.in_use = in_use;
            news.push(News::InUse(in_use));
        }
        self.publisher.tell(news);
    }

    fn frames(&mut self, count: usize) {
        (0..count).for_each(|_| self.frame());
    }

    /// What a leader does in the course of an evening.
    fn lead(&mut self) {
        self.frames(90);
        self.rehearsal.step_temperament(1);
        self.rehearsal.shift_standard(-1.0);
        self.frames(60);
        let note = "F#".parse().unwrap();
        self.rehearsal
            .decide(note, Some(Resolution::FollowPartial), "the oboes too");
        self.rehearsal.mark("from the upbeat");
        let chord = HeldChord {
            voices: vec![HeldVoice {
                label: "p8".parse().unwrap(),
                hertz: Hertz::new(554.6).unwrap(),
                spread: Cents::new(0.5),
                channel: "Input 1".into(),
                or_label: None,
            }],
            setting: Setting::new("An evening", self.rehearsal.tuning()),
            moment: Moment::Now(self.rehearsal.now()),
        };
        self.rehearsal.shelve(chord.clone());
        self.rehearsal.recall(1);
        let at = self.rehearsal.now();
        let held = Entry::Held {
            at,
            chord: Box::new(chord),
        };
        self.publisher.tell([News::Entry(Box::new(held))]);
        self.frames(120);
        self.rehearsal.step_temperament(1);
        self.frames(90);
    }
}

/// Another screen.
struct Second {
    rehearsal: Rehearsal,
    connection: Connection,
    n_readings: usize,
    has_ended: bool,
    is_left: bool,
}

impl Second {
    fn join(path: &Path) -> Self {
        let blank = Rehearsal::new(default_ensemble(1), temperaments(None).unwrap());
        Self {
            rehearsal: blank.watching(),
            connection: Connection::open(path).unwrap(),
            n_readings: 0,
            has_ended: false,
            is_left: false,
        }
    }

    fn fetch(&mut self) {
        let news = match self.connection.take(usize::MAX) {
            Taken::News(news) => news,
            Taken::Last(news) => {
                self.is_left = true;
                news
            }
        };
        for news in news {
            self.rehearsal.take(match news {
                News::Now(now) => {
                    self.rehearsal.tick(now);
                    continue;
                }
                News::Ended => {
                    self.has_ended = true;
                    continue;
                }
                news => {
                    self.n_readings += usize::from(matches!(news, News::Reading(..)));
                    match news.into_update() {
                        Some(update) => update,
                        None => continue,
                    }
                }
            });
        }
    }
}

fn until(what: &str, mut is_so: impl FnMut() -> bool) {
    let begun = Instant::now();
    while !is_so() {
        assert!(begun.elapsed() < AT_LAST, "never: {what}");
        std::thread::sleep(Duration::from_millis(2));
    }
}

/// Whether both screens stand alike: what they say, and where the needles are.
fn assert_alike(first: &Rehearsal, second: &Rehearsal) {
    assert_eq!(first.ensemble().channels, second.ensemble().channels);
    let name = |rehearsal: &Rehearsal| rehearsal.tuning().scale().temperament().name.clone();
    assert_eq!(name(first), name(second));
    let a4 = |rehearsal: &Rehearsal| rehearsal.tuning().standard().a4().get();
    assert!((a4(first) - a4(second)).abs() < 1e-9);
    let (one, other) = (first.chronicle(), second.chronicle());
    assert_eq!(one.notes().len(), other.notes().len());
    assert!(!one.notes().is_empty());
    assert_eq!(one.decisions().len(), other.decisions().len());
    for (a, b) in one.decisions().iter().zip(other.decisions()) {
        assert_eq!(
            (a.note, a.resolution, &a.remark),
            (b.note, b.resolution, &b.remark)
        );
    }
    let marks = |rehearsal: &Rehearsal| -> Vec<String> {
        let marks = rehearsal.chronicle().marks().iter();
        marks.map(|mark| mark.text.clone()).collect()
    };
    assert_eq!(marks(first), marks(second));
    assert_eq!(one.tunings().len(), other.tunings().len());
    let held = |rehearsal: &Rehearsal| {
        let current = rehearsal.shelf().current();
        current.map(|(number, chord)| (number, chord.names()))
    };
    assert_eq!(held(first), held(second));
    assert!(held(first).is_some());
    assert_eq!(first.format(), second.format());
    assert_eq!(first.source(), second.source());
    let rows = |rehearsal: &Rehearsal| rehearsal.ledger().meetings.len();
    assert_eq!(rows(first), rows(second));
    let needles = |rehearsal: &Rehearsal| -> Vec<(String, Option<f64>)> {
        let parts = rehearsal.parts();
        parts
            .map(|part| {
                let sounding = part.state.sounding();
                (
                    part.doing.to_string(),
                    sounding.map(|s| s.needle().hertz().get()),
                )
            })
            .collect()
    };
    let (one, other) = (needles(first), needles(second));
    assert_eq!(one.len(), other.len());
    for ((doing, hz), (other_doing, other_hz)) in one.iter().zip(&other) {
        assert_eq!(doing, other_doing);
        match (hz, other_hz) {
            // The same to a hundredth of a cent or so.
            (Some(hz), Some(other)) => assert!((hz - other).abs() < 0.002, "{hz} {other}"),
            (hz, other) => assert_eq!(hz, other),
        }
    }
}

#[test]
fn whoever_comes_late_sees_what_everybody_sees() {
    let folder = tempfile::tempdir().unwrap();
    // The early one reads nothing for a while.
    let patient = Limits {
        waiting_bytes: 10_000_000,
        ..limits()
    };
    let mut first = First::begin(folder.path(), patient);
    let path = first.publisher.path().to_owned();
    let mut early = Second::join(&path);
    until("it is let in", || first.publisher.n_readers() == 1);
    first.lead();
    let mut late = Second::join(&path);
    until("it is let in", || first.publisher.n_readers() == 2);
    until("it is up with it", || {
        late.fetch();
        late.rehearsal.chronicle().notes().len() == first.rehearsal.chronicle().notes().len()
    });
    // From here on both hear the same.
    first.frames(90);
    let expected = first.n_readings;
    until("all is heard", || {
        early.fetch();
        late.fetch();
        let notes = |rehearsal: &Rehearsal| rehearsal.chronicle().notes().len();
        early.n_readings == expected
            && late.n_readings >= 90 * CHANNELS
            && notes(&late.rehearsal) == notes(&first.rehearsal)
            && late.rehearsal.now() == early.rehearsal.now()
    });
    let until_s = first.rehearsal.now().get();
    assert!((early.rehearsal.now().get() - until_s).abs() < 0.002);
    assert_alike(&first.rehearsal, &early.rehearsal);
    assert_alike(&first.rehearsal, &late.rehearsal);
    assert_eq!(late.connection.sitting(), Some(&sitting()));
    // A stand keeps nothing and changes nothing.
    assert!(late.rehearsal.take_entries().is_empty());
    drop(first);
    until("its end is told", || {
        early.fetch();
        late.fetch();
        early.is_left && late.is_left
    });
    assert!(early.has_ended && late.has_ended);
    assert!(!path.exists(), "the socket is taken away");
}

#[test]
fn bad_readers_are_dropped_and_harm_nobody() {
    let folder = tempfile::tempdir().unwrap();
    let mut first = First::begin(folder.path(), limits());
    let path = first.publisher.path().to_owned();
    let mut good = Second::join(&path);
    // Eight that never read, one that talks, one that is cut off.
    let stalled: Vec<UnixStream> = (0..8)
        .map(|_| UnixStream::connect(&path).unwrap())
        .collect();
    let mut talker = UnixStream::connect(&path).unwrap();
    let leaver = UnixStream::connect(&path).unwrap();
    until("all are let in", || first.publisher.n_readers() == 11);
    drop(leaver);
    until("who leaves is let go", || first.publisher.n_readers() == 10);
    let _ = talker.write_all(&[b'x'; 1_000]);
    first.frames(3);
    assert_eq!(first.publisher.n_readers(), 10, "a little is passed over");
    let garbage = vec![0xff; 64_000];
    // It may be cut off in the middle.
    let _ = talker.write_all(&garbage);
    until("who talks is dropped", || first.publisher.n_readers() == 9);
    // A screen at its own pace; what is told would fill the others many times over.
    let mut frames = 0;
    until("who never reads is dropped", || {
        first.frame();
        frames += 1;
        good.fetch();
        first.publisher.n_readers() == 1
    });
    let expected = first.n_readings;
    until("nobody else misses anything", || {
        good.fetch();
        good.n_readings == expected
    });
    let played_s = first.rehearsal.now().get();
    // Every reading of every channel has been heard here, too: a hundred a second.
    assert!((expected as f64 / CHANNELS as f64 - 100.0 * played_s).abs() <= 4.0);
    assert!((played_s - f64::from(frames) / 30.0).abs() < 0.2);
    // What they were handed is whole lines from the beginning.
    for mut stream in stalled {
        let mut text = String::new();
        stream.set_read_timeout(Some(AT_LAST)).unwrap();
        stream.read_to_string(&mut text).unwrap();
        assert!(text.starts_with("(version: 1, stand: \"concento\")\n(what:Rehearsal,"));
    }
}

#[test]
fn a_slow_reader_gets_all_that_was_kept_in_order() {
    let folder = tempfile::tempdir().unwrap();
    let mut first = First::begin(folder.path(), limits());
    for count in 0..20_000 {
        first.rehearsal.mark(&format!("mark {count}"));
    }
    first.frame();
    let mut slow = UnixStream::connect(first.publisher.path()).unwrap();
    let mut told = Vec::new();
    let mut bytes = [0; 5_000];
    while !String::from_utf8_lossy(&told).contains("mark 19999") {
        let count = slow.read(&mut bytes).unwrap();
        assert!(count > 0, "it was dropped");
        told.extend_from_slice(&bytes[..count]);
        if told.len() % 7 == 0 {
            first.frame();
        }
    }
    let told = String::from_utf8(told).unwrap();
    let marks: Vec<&str> = told
        .lines()
        .filter(|line| line.starts_with("Marked("))
        .collect();
    assert_eq!(marks.len(), 20_000);
    for (count, line) in marks.iter().enumerate() {
        assert!(line.contains(&format!("\"mark {count}\"")), "{line}");
    }
}

#[test]
fn one_too_many_is_told_so() {
    let folder = tempfile::tempdir().unwrap();
    let few = Limits {
        readers: 2,
        ..limits()
    };
    let first = First::begin(folder.path(), few);
    let path = first.publisher.path();
    let _kept = [Second::join(path), Second::join(path)];
    until("two are let in", || first.publisher.n_readers() == 2);
    let mut third = Connection::open(path).unwrap();
    let mut told = Vec::new();
    until("it is told", || match third.take(usize::MAX) {
        Taken::News(news) => {
            told.extend(news);
            false
        }
        Taken::Last(news) => {
            told.extend(news);
            true
        }
    });
    assert_eq!(told, [News::Full]);
    // It is found all the same.
    let found = look(&[folder.path().to_owned()], AT_LAST).found;
    assert_eq!(found.len(), 1);
    assert_eq!(found[0].sitting, sitting());
}

#[test]
fn whoever_takes_nothing_for_long_is_dropped() {
    let folder = tempfile::tempdir().unwrap();
    let impatient = Limits {
        patience: Duration::from_millis(50),
        waiting_bytes: 1_000_000_000,
        ..limits()
    };
    let mut first = First::begin(folder.path(), impatient);
    let _stalled = UnixStream::connect(first.publisher.path()).unwrap();
    until("it is let in", || first.publisher.n_readers() == 1);
    until("it is dropped", || {
        first.frame();
        first.publisher.n_readers() == 0
    });
}

#[test]
fn what_is_no_stand_is_passed_over() {
    let folder = tempfile::tempdir().unwrap();
    let _first = First::begin(folder.path(), limits());
    // Others that listen there: one says something else, one nothing, one far too much.
    for (name, said) in [
        ("a.stand", b"HTTP/1.1 400 Bad Request\n".to_vec()),
        ("b.stand", Vec::new()),
        (
            "f.stand",
            b"(version: 2, stand: \"concento\")\nelse\n".to_vec(),
        ),
        ("c.stand", vec![b'x'; 300_000]),
        (
            "d.stand",
            b"(version: 1, stand: \"concento\")\nSitting(what:\xff\n".to_vec(),
        ),
    ] {
        let listener = std::os::unix::net::UnixListener::bind(folder.path().join(name)).unwrap();
        std::thread::spawn(move || {
            let (mut stream, _) = listener.accept().unwrap();
            let _ = stream.write_all(&said);
            let mut rest = Vec::new();
            let _ = stream.read_to_end(&mut rest);
        });
    }
    std::fs::write(folder.path().join("e.stand"), "no socket").unwrap();
    let looked = look(&[folder.path().to_owned()], Duration::from_millis(300));
    assert_eq!(looked.other_version, Some(2));
    let found = looked.found;
    assert_eq!(found.len(), 1, "{found:?}");
    assert_eq!(found[0].sitting, sitting());
}

#[test]
fn nobody_running_is_an_error_of_its_own() {
    let folder = tempfile::tempdir().unwrap();
    let run = |arguments: &[&str]| {
        let output = assert_cmd::Command::cargo_bin("concento")
            .unwrap()
            .arg("stand")
            .args(arguments)
            .env("XDG_RUNTIME_DIR", folder.path())
            .env("XDG_STATE_HOME", folder.path())
            .output()
            .unwrap();
        let told = String::from_utf8(output.stderr).unwrap();
        (output.status.code(), told)
    };
    let none = "concento: no rehearsal is running: start one with 'concento rehearse' in another \
                terminal\n";
    assert_eq!(run(&[]), (Some(1), none.to_owned()));
    assert_eq!(run(&["live"]), (Some(1), none.to_owned()));
    let session = folder.path().join("evening.session");
    std::fs::write(&session, "").unwrap();
    let (code, told) = run(&[session.to_str().unwrap()]);
    assert_eq!(code, Some(1));
    assert!(told.contains("is not being rehearsed now"), "{told}");
    assert!(told.contains("with: concento replay "), "{told}");
}
