//! A rehearsal of many hours, heard faster than real time through the path of a live one: what it
//! takes of memory and disk, and how long the views take to draw, from beginning to end.
//!
//!     cargo run --release --example soak -- SESSION HOURS [readings]
//!
//! The demo's twenty minutes over and over, with whatever its players do in them; with 'readings'
//! the ears are left out, which remember nothing, and eight players hold notes of 3.2 s with rests
//! of 0.8 s: hours in minutes. Prints a line for
//! each round. Fails if memory grows by more than 10 MB after the second round, what is known of
//! each note included, or an hour takes more than is promised on the disk.

#![allow(
    clippy::print_stdout,
    clippy::print_stderr,
    reason = "a check that is read by people"
)]

use std::convert::Infallible;
use std::error::Error;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::Arc;
use std::time::{Duration, Instant};

use concento::analysis::{NoPitch, Pitch, Reading};
use concento::listening::{Inputs, hear_out};
use concento::rehearsal::{Entry, Rehearsal, Survey, Update};
use concento::scene::AtEnd;
use concento::session::{Place, Recorder, date_now, demo_scene, scene_ensemble, temperaments};
use concento::settings::themes;
use concento::sound::scene::SceneSource;
use concento::sound::{Delivery, Pace, Source, SourceState, StreamFormat};
use concento::tui::{App, Event, Options, Palette, Theme};
use concento::units::{Cents, Dbfs, Hertz, SampleRate, Seconds};
use ratatui::buffer::Buffer;
use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyModifiers};
use ratatui::layout::{Rect, Size};
use ratatui::widgets::Widget;

/// What memory may grow by, in megabytes.
const MOST_MB: f64 = 10.0;

/// What an hour of eight players may take on the disk, as is promised for players without rest.
const MOST_MB_AN_HOUR: f64 = 4.5;

fn resident_mb() -> f64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find(|line| line.starts_with("VmRSS:"));
    let kilobytes = line.and_then(|line| line.split_whitespace().nth(1)?.parse::<f64>().ok());
    kilobytes.unwrap_or(0.0) / 1024.0
}

/// Milliseconds that a view takes to draw, the median of several.
fn drawing_ms(app: &App, area: Rect) -> f64 {
    let mut times: Vec<f64> = (0..9)
        .map(|_| {
            let mut buffer = Buffer::empty(area);
            let begun = Instant::now();
            app.render(area, &mut buffer);
            begun.elapsed().as_secs_f64() * 1000.0
        })
        .collect();
    times.sort_by(f64::total_cmp);
    times[times.len() / 2]
}

/// A scene over and over, until so much of it was heard.
struct Until {
    scene: SceneSource,
    rate: SampleRate,
    end: Seconds,
    is_over: bool,
}

impl Source for Until {
    fn next(&mut self, patience: Duration) -> Delivery<'_> {
        if self.is_over {
            return Delivery::Nothing;
        }
        let (rate, end) = (self.rate, self.end);
        match self.scene.next(patience) {
            Delivery::Block { first, .. } if first.at(rate) >= end => {
                self.is_over = true;
                Delivery::State(SourceState::Ended)
            }
            other => other,
        }
    }
}

/// One line of what was measured.
struct Round {
    resident_mb: f64,
    notes: usize,
}

/// Measures what the rehearsal takes now, and prints it.
fn look(rehearsal: &Rehearsal, session: &Path, now: Seconds, begun: Instant) -> Round {
    let resident_mb = resident_mb();
    let chronicle = rehearsal.chronicle();
    let surveying = Instant::now();
    let survey = Survey::of(chronicle);
    let survey_ms = surveying.elapsed().as_secs_f64() * 1000.0;
    let (area, size) = (Rect::new(0, 0, 120, 40), Size::new(120, 40));
    let options = Options::new(Theme::new(&themes()[0].colours, Palette::Full));
    let views: Vec<String> = [('p', None), ('d', Some('d')), ('l', Some('l'))]
        .iter()
        .map(|(name, key)| {
            let mut app = App::new(rehearsal.clone(), &options, size);
            app.update(Event::Update(Update::Surveyed(Box::new(survey.clone()))));
            app.update(Event::Tick(now));
            if let Some(key) = key {
                let key = KeyEvent::new(KeyCode::Char(*key), KeyModifiers::NONE);
                app.update(Event::Key(key));
            }
            format!("{name} {:.1}", drawing_ms(&app, area))
        })
        .collect();
    let megabytes = std::fs::metadata(session).map_or(0.0, |file| file.len() as f64 / 1e6);
    println!(
        "{:5.2} h  {resident_mb:6.1} MB resident  {megabytes:6.2} MB on disk  {:6} notes  \
         survey {survey_ms:5.0} ms  drawing in ms: {}  ({:.0} s)",
        now.get() / 3600.0,
        chronicle.notes().len(),
        views.join(", "),
        begun.elapsed().as_secs_f64(),
    );
    Round {
        resident_mb,
        notes: chronicle.notes().len(),
    }
}

/// Lets everybody play without sound: a reading every 10 ms, as the ears would give it.
fn play(
    rehearsal: &mut Rehearsal,
    end: Seconds,
    act: &mut impl FnMut(&mut Rehearsal, Seconds),
    recorder: &mut Recorder,
) {
    let n_players = rehearsal.ensemble().channels.len();
    let format = StreamFormat {
        name: "readings".to_owned(),
        rate: SampleRate::new(48_000).expect("a usual rate"),
        channels: n_players,
    };
    rehearsal.take(Update::Started(format));
    for hop in 0..(end.get() * 100.0) as u64 {
        let now = Seconds::new(hop as f64 / 100.0);
        for player in 0..n_players {
            let (bar, within) = ((hop / 400) as usize, hop % 400);
            // A fifth above the open D string up to two octaves, with a slow swell of pitch.
            let steps = f64::from([0, 2, 4, 5, 7, 9, 11, 12][(bar + 3 * player) % 8]);
            let swell = (hop as f64 / 5_000.0).sin() / 12.0;
            let hz = 220.0 * (1 + player % 2) as f64 * ((steps + swell) / 12.0).exp2();
            let pitch = if within < 320 {
                Ok(Pitch {
                    hertz: Hertz::new(hz).expect("a pitch"),
                    margin: Cents::new(0.3),
                    confidence: 0.95,
                    inharmonicity: 0.0,
                })
            } else {
                Err(NoPitch::Silence)
            };
            let level = Dbfs::of_mean_square(if pitch.is_ok() { 0.01 } else { 0.0 });
            let reading = Reading {
                time: now,
                available: now,
                level,
                clipped: false,
                pitch,
                motion: None,
            };
            rehearsal.take(Update::Reading(player, reading));
        }
        if hop % 5 == 0 {
            act(rehearsal, now);
            rehearsal.tick(now);
            recorder.record(&rehearsal.take_entries());
        }
    }
}

fn main() -> Result<ExitCode, Box<dyn Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let (session, hours, by_readings) = match arguments.as_slice() {
        [session, hours] => (session, hours, false),
        [session, hours, how] if how == "readings" => (session, hours, true),
        _ => {
            eprintln!("usage: soak SESSION HOURS [readings]");
            return Ok(ExitCode::from(2));
        }
    };
    let session = PathBuf::from(session);
    let end = Seconds::new(3600.0 * hours.parse::<f64>()?);
    let scene = demo_scene(Some("twenty-minutes"))?.load()?;
    let mut rehearsal = Rehearsal::new(scene_ensemble(&scene)?, temperaments(None)?);
    // As on the screen: surveys are made elsewhere, here by whoever looks.
    rehearsal.survey_elsewhere();
    let rate = SampleRate::new(24_000)?;
    let source = Until {
        scene: SceneSource::new(Arc::new(scene), rate, Pace::Fast).ending(AtEnd::Repeat),
        rate,
        end,
        is_over: false,
    };
    let place = Place::New {
        path: session.clone(),
        makes_folder: false,
    };
    let mut recorder = Recorder::start(place, &date_now());
    let begun = Instant::now();
    let mut rounds: Vec<Round> = Vec::new();
    let every = Seconds::new(1200.0).get().min(end.get() / 6.0);
    let mut due = every;
    let mut act = |rehearsal: &mut Rehearsal, now: Seconds| {
        if now.get() >= due {
            due += every;
            rounds.push(look(rehearsal, &session, now, begun));
        }
    };
    if by_readings {
        play(&mut rehearsal, end, &mut act, &mut recorder);
    } else {
        let keep = |entries: Vec<Entry>| {
            recorder.record(&entries);
            Ok::<(), Infallible>(())
        };
        hear_out(rehearsal, Box::new(source), Inputs::Every, act, keep)?;
    }
    if let Some(lost) = recorder.finish() {
        eprintln!("soak: {lost}");
        return Ok(ExitCode::FAILURE);
    }
    // The first round finds what is made once: plans of the FFT, tables, the allocator's arenas.
    let (Some(first), Some(last)) = (rounds.get(1), rounds.last()) else {
        return Ok(ExitCode::SUCCESS);
    };
    let grown = last.resident_mb - first.resident_mb;
    let per_note = (last.notes - first.notes).max(1) as f64;
    println!(
        "grown by {grown:.1} MB in all, {:.0} bytes a note",
        grown * 1024.0 * 1024.0 / per_note
    );
    let an_hour = std::fs::metadata(&session)?.len() as f64 / 1e6 * 3600.0 / end.get();
    println!("{an_hour:.2} MB on disk for each hour");
    if grown > MOST_MB {
        eprintln!("soak: memory grew by more than {MOST_MB} MB");
        return Ok(ExitCode::FAILURE);
    }
    if an_hour > MOST_MB_AN_HOUR {
        eprintln!("soak: more than {MOST_MB_AN_HOUR} MB on disk for each hour");
        return Ok(ExitCode::FAILURE);
    }
    Ok(ExitCode::SUCCESS)
}
