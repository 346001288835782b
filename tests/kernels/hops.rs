//! Feeds one sound to one estimator, for counting instructions: see `instructions.sh`.
//!
//! ```text
//! cargo run --release --example hops -- silence|low|mid|high|breath|run SECONDS
//! ```

#[path = "../signals/sounds.rs"]
mod sounds;
#[allow(dead_code, reason = "the hearing bench uses the rest")]
#[path = "../signals/tones.rs"]
mod tones;

use std::hint::black_box;
use std::io::{self, Write};
use std::process::ExitCode;

use concento::analysis::Estimator;
use concento::units::SampleRate;

use sounds::{RATE_HZ, Sound};

fn main() -> ExitCode {
    let mut arguments = std::env::args().skip(1);
    let word = arguments.next().unwrap_or_default();
    let sound = Sound::ALL.into_iter().find(|sound| sound.word() == word);
    let seconds = arguments.next().and_then(|text| text.parse().ok());
    let (Some(sound), Some(seconds)) = (sound, seconds) else {
        let words = Sound::ALL.map(Sound::word).join("|");
        let _ = writeln!(
            io::stderr(),
            "hops: give a sound and seconds: {words} SECONDS"
        );
        return ExitCode::from(2);
    };
    let second = sound.second();
    let mut estimator = Estimator::new(SampleRate::new(RATE_HZ).expect("48 kHz is a usable rate"));
    // The windows are full, and the note is an old one, before anything counts.
    estimator.push(second.iter().copied(), |_| {});
    let _ = writeln!(
        io::stdout(),
        "hops: {}",
        counted(&mut estimator, &second, seconds)
    );
    ExitCode::SUCCESS
}

/// What is counted; returns the number of readings.
#[inline(never)]
fn counted(estimator: &mut Estimator, second: &[f32], seconds: u32) -> u32 {
    let mut hops = 0;
    for _ in 0..seconds {
        estimator.push(second.iter().copied(), |reading| {
            black_box(reading);
            hops += 1;
        });
    }
    hops
}
