//! The live path under load: so many channels of sound, delivered in real time or faster by a thread
//! that stands for the sound card's, through the ring, the supervisor and the listening thread.
//!
//!     cargo run --release --example load -- CHANNELS SECONDS*PACE...
//!
//! `32 600*1` is ten minutes of 32 channels; `32 10*12 40*1` is an overload and what comes after.
//! Prints what is told meanwhile and, at the end, what was lost, how much sound waited at the most,
//! and what the listening thread took of a core. Fails if anything was lost at a pace of 1 from the
//! start, or if an overload is not met by doing less, and what follows at pace 1 not by doing more.

#![allow(
    clippy::print_stdout,
    clippy::print_stderr,
    reason = "a check that is read by people"
)]

use std::any::Any;
use std::process::ExitCode;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::thread;
use std::time::{Duration, Instant};

use concento::analysis::Effort;
use concento::listening::{Inputs, Listener};
use concento::rehearsal::Update;
use concento::sound::capture::{Capture, Intake};
use concento::sound::{SourceState, StreamFormat};
use concento::units::SampleRate;

const RATE: u32 = 48_000;
/// Frames a callback delivers.
const CALLBACK: usize = 480;
/// In a stretch at pace 1 of this many seconds more must have been tried again.
const RECOVERY: f64 = 30.0;

/// A second of a tone on each channel, interleaved; it can be repeated without a seam.
fn second(channels: usize) -> Vec<f32> {
    let tau = std::f64::consts::TAU;
    let mut sound = Vec::with_capacity(RATE as usize * channels);
    for frame in 0..RATE {
        for channel in 0..channels {
            let hz = 110 + 37 * channel as u32 % 900;
            let phase = tau * f64::from(hz * frame % RATE) / f64::from(RATE);
            let partials = (1..=12_u32).map(|n| (phase * f64::from(n)).sin() / f64::from(n));
            sound.push((0.1 * partials.sum::<f64>()) as f32);
        }
    }
    sound
}

/// What the thread that delivers is told, and how far it is.
#[derive(Default)]
struct Feed {
    /// Deliveries in a hundredth of a second, times 1000.
    pace: AtomicU64,
    delivered: AtomicU64,
    gone: AtomicBool,
}

/// Ends the thread when the stream is dropped.
struct Stop(Arc<Feed>);

impl Drop for Stop {
    fn drop(&mut self) {
        self.0.gone.store(true, Ordering::Relaxed);
    }
}

fn feed(mut intake: Intake, channels: usize, feed: Arc<Feed>) -> Box<dyn Any> {
    let stop = Stop(Arc::clone(&feed));
    let sound = second(channels);
    thread::spawn(move || {
        let mut callbacks = sound.chunks(CALLBACK * channels).cycle();
        let mut due = Instant::now();
        while !feed.gone.load(Ordering::Relaxed) {
            let pace = feed.pace.load(Ordering::Relaxed) as f64 / 1000.0;
            if let Some(samples) = callbacks.next() {
                intake.take(samples);
            }
            feed.delivered.fetch_add(CALLBACK as u64, Ordering::Relaxed);
            due += Duration::from_secs_f64(CALLBACK as f64 / f64::from(RATE) / pace);
            // A thread that was not let run for long delivers what it owes, as a server does.
            thread::sleep(due.saturating_duration_since(Instant::now()));
        }
    });
    Box::new(stop)
}

/// Seconds of a core that the thread of this name has taken.
fn taken(name: &str) -> f64 {
    let threads = std::fs::read_dir("/proc/self/task").into_iter().flatten();
    for thread in threads.flatten() {
        let read = |file: &str| std::fs::read_to_string(thread.path().join(file));
        if read("comm").is_ok_and(|comm| comm.trim() == name) {
            let stat = read("stat").unwrap_or_default();
            let fields = stat.rsplit(')').next().unwrap_or_default();
            let ticks = fields.split_whitespace().skip(11).take(2);
            return ticks.filter_map(|t| t.parse::<f64>().ok()).sum::<f64>() / 100.0;
        }
    }
    0.0
}

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let stretches: Option<Vec<(f64, f64)>> = arguments.get(1..).map(|all| {
        let stretch = |text: &String| {
            let (seconds, pace) = text.split_once('*')?;
            Some((seconds.parse().ok()?, pace.parse().ok()?))
        };
        all.iter().filter_map(stretch).collect()
    });
    let channels = arguments.first().and_then(|text| text.parse().ok());
    let (Some(channels), Some(stretches)) = (channels, stretches.filter(|s| !s.is_empty())) else {
        eprintln!("usage: load CHANNELS SECONDS*PACE...");
        return ExitCode::from(2);
    };
    let fed = Arc::new(Feed::default());
    fed.pace.store(1000, Ordering::Relaxed);
    let format = StreamFormat {
        name: "paced".to_owned(),
        rate: SampleRate::new(RATE).expect("a usual rate"),
        channels,
    };
    let feeding = Arc::clone(&fed);
    let source = Capture::fed(format, move |intake| {
        feed(intake, channels, Arc::clone(&feeding))
    });
    let listener = Listener::start(Box::new(source), Inputs::Every, vec![None; channels])
        .expect("a thread to listen");

    let (mut readings, mut lost, mut effort) = (0_u64, 0_u64, Effort::Full);
    let (mut least, mut has_more) = (effort, false);
    let begun = Instant::now();
    for (seconds, pace) in &stretches {
        fed.pace.store((pace * 1000.0) as u64, Ordering::Relaxed);
        let (from, busy) = (Instant::now(), taken("listening"));
        let (lost_before, heard_before) = (lost, readings);
        has_more = false;
        while from.elapsed().as_secs_f64() < *seconds {
            thread::sleep(Duration::from_millis(33));
            for update in listener.fetch() {
                match update {
                    Update::Reading(..) => readings += 1,
                    Update::Lost(blocks) => lost = blocks,
                    Update::Effort(now) => {
                        println!("{:7.1} s  {now:?}", begun.elapsed().as_secs_f64());
                        has_more |= now < effort;
                        effort = now;
                        least = least.max(now);
                    }
                    Update::State(SourceState::Waiting(fault)) => {
                        println!("{:7.1} s  {fault}", begun.elapsed().as_secs_f64());
                    }
                    _ => {}
                }
            }
        }
        println!(
            "{channels} channels, {seconds} s at pace {pace}: {} readings, {} blocks lost, \
             {:.0} % of a core",
            readings - heard_before,
            lost - lost_before,
            (taken("listening") - busy) / seconds * 100.0,
        );
    }
    let is_overloaded = stretches.iter().any(|(_, pace)| *pace > 1.0);
    if !is_overloaded && lost > 0 {
        eprintln!("load: {lost} blocks lost at the pace of sound");
        return ExitCode::FAILURE;
    }
    if is_overloaded && least == Effort::Full {
        eprintln!("load: everything was done all the time: that was no overload");
        return ExitCode::FAILURE;
    }
    let (seconds, pace) = stretches[stretches.len() - 1];
    if is_overloaded && pace <= 1.0 && seconds >= RECOVERY && !has_more {
        eprintln!("load: nothing more was tried in {RECOVERY} s at the pace of sound");
        return ExitCode::FAILURE;
    }
    ExitCode::SUCCESS
}
