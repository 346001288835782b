//! A rehearsal that is killed in the middle: what was played is in the file.
//!
//! The program that is killed is this test itself, started once more: it records eight players
//! in real time through the same recorder as the program does.

use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Command, Stdio};
use std::thread;
use std::time::{Duration, Instant};

use concento::analysis::{Pitch, Reading};
use concento::rehearsal::{Entry, Rehearsal, Update};
use concento::session::{Place, Recorder, date_now, default_ensemble, load_session, temperaments};
use concento::units::{Cents, Dbfs, Hertz, Seconds};

/// Where the started program records into; unset in ordinary runs.
const RECORD_INTO: &str = "CONCENTO_TEST_RECORD_INTO";

fn reading(channel: usize, time: f64) -> Reading {
    // A new note every second, so that notes are written too.
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

/// Records until it is killed, and says every time how far it has come.
fn record_into(path: &Path) {
    let place = Place::New {
        path: path.to_owned(),
        makes_folder: false,
    };
    let mut rehearsal = Rehearsal::new(default_ensemble(8), temperaments(None).unwrap());
    let mut recorder = Recorder::start(place, &date_now());
    let begun = Instant::now();
    let mut heard = 0.0;
    let mut out = std::io::stdout();
    loop {
        let now = begun.elapsed().as_secs_f64();
        rehearsal.tick(Seconds::new(now));
        while heard + 0.01 <= now {
            heard += 0.01;
            for channel in 0..8 {
                rehearsal.take(Update::Reading(channel, reading(channel, heard)));
            }
        }
        recorder.record(&rehearsal.take_entries());
        // On a line of its own: the test's harness writes there too.
        let _ = writeln!(out, "\nat {now}");
        let _ = out.flush();
        thread::sleep(Duration::from_millis(33));
    }
}

#[test]
fn a_kill_loses_less_than_a_second() {
    if let Some(path) = std::env::var_os(RECORD_INTO) {
        record_into(Path::new(&path));
        return;
    }
    for played_s in [2.3, 3.1] {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("evening.session");
        let mut program = Command::new(std::env::current_exe().unwrap())
            .args([
                "killed::a_kill_loses_less_than_a_second",
                "--exact",
                "--nocapture",
            ])
            .env(RECORD_INTO, &path)
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let mut reached_s = 0.0;
        for line in BufReader::new(program.stdout.take().unwrap()).lines() {
            if let Some(at) = line.unwrap().strip_prefix("at ") {
                reached_s = at.parse().unwrap();
            }
            if reached_s >= played_s {
                break;
            }
        }
        // SIGKILL: nothing can be tidied up.
        program.kill().unwrap();
        program.wait().unwrap();
        let session = load_session(&path).unwrap();
        assert!(!session.ended_well);
        let spans: Vec<f64> = session
            .entries
            .iter()
            .filter_map(|entry| match entry {
                Entry::Heard(span) => Some((span, span.channels.len())),
                _ => None,
            })
            .inspect(|(_, n_channels)| assert_eq!(*n_channels, 8))
            .map(|(span, _)| span.at.get())
            .collect();
        // Every half second from the beginning, up to less than a second before the end.
        for (index, at) in spans.iter().enumerate() {
            assert!((at - 0.5 * index as f64).abs() < 1e-9, "{spans:?}");
        }
        let kept_s = spans.last().unwrap() + 0.5;
        assert!(reached_s - kept_s < 1.0, "{kept_s} of {reached_s} s");
    }
}
