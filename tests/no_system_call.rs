//! What runs on the sound card's thread must not call the system, so it cannot wait for a lock
//! either: its thread may only read, write and end here (seccomp's strict mode), and the kernel ends
//! it at any other call. Linux only.
#![cfg(target_os = "linux")]

use std::sync::Arc;
use std::sync::atomic::{AtomicU32, Ordering};
use std::thread;
use std::time::{Duration, Instant};

use concento::sound::capture;
use concento::sound::playback;
use concento::units::SampleRate;
use rustix::thread::{SecureComputingMode, set_secure_computing_mode};

/// Callbacks in a run, and frames in each.
const CALLS: u32 = 20_000;
const FRAMES: usize = 480;
/// A thread that gets on no more for so long has been ended.
const PATIENCE: Duration = Duration::from_secs(10);

/// Runs `body` for each callback where no system call is allowed, and `meanwhile` here until all are
/// done; says how many were.
fn confined(mut body: impl FnMut() + Send + 'static, mut meanwhile: impl FnMut(u32)) -> u32 {
    let done = Arc::new(AtomicU32::new(0));
    let count = Arc::clone(&done);
    let (parked, open) = std::io::pipe().expect("a pipe");
    // Never joined: even to end as a thread usually does it would have to call the system.
    thread::spawn(move || {
        set_secure_computing_mode(SecureComputingMode::Strict).expect("seccomp");
        for _ in 0..CALLS {
            body();
            count.fetch_add(1, Ordering::Relaxed);
        }
        // Until the process ends.
        let mut byte = [0_u8];
        let _ = rustix::io::read(&parked, &mut byte);
        loop {
            std::hint::spin_loop();
        }
    });
    // While it gets on it may be as slow as it likes.
    let (mut seen, mut moved) = (0, Instant::now());
    while seen < CALLS && moved.elapsed() < PATIENCE {
        meanwhile(seen);
        let now = done.load(Ordering::Relaxed);
        if now != seen {
            (seen, moved) = (now, Instant::now());
        }
    }
    // While this end of the pipe is open the thread waits at the other.
    std::mem::forget(open);
    seen
}

#[test]
fn a_thread_that_calls_the_system_is_ended() {
    let mut calls = 0;
    let body = move || {
        calls += 1;
        if calls == 100 {
            thread::yield_now();
        }
    };
    assert_eq!(confined(body, |_| thread::yield_now()), 99);
}

#[test]
fn the_input_callback_never_calls_the_system_whoever_listens() {
    let rate = SampleRate::new(48_000).unwrap();
    let (mut intake, outlet) = capture::ring(rate, 8);
    let samples = vec![0.25_f32; FRAMES * 8];
    let mut outlet = Some(outlet);
    let done = confined(
        move || intake.take(&samples),
        |count| {
            // Somebody listens, then falls behind until the ring is full, listens again, and goes.
            match (count / (CALLS / 4), &mut outlet) {
                (0 | 2, Some(outlet)) => while outlet.advance() {},
                (3, outlet) => *outlet = None,
                _ => thread::yield_now(),
            }
        },
    );
    assert_eq!(done, CALLS);
}

#[test]
fn the_output_callback_never_calls_the_system_whoever_renders() {
    let rate = SampleRate::new(48_000).unwrap();
    let (feed, mut drain) = playback::ring(rate, 2);
    let mut samples = vec![0_i16; FRAMES * 2];
    let mut feed = Some(feed);
    let done = confined(
        move || drain.fill(&mut samples),
        |count| {
            // Frames are ready, run out, are ready again, and the renderer goes.
            match (count / (CALLS / 4), &mut feed) {
                (0 | 2, Some(feed)) => feed.fill(|stereo| stereo.fill(0.5)),
                (3, feed) => *feed = None,
                _ => thread::yield_now(),
            }
        },
    );
    assert_eq!(done, CALLS);
}
