//! Recordings: opened and heard to their end, or to as much as a second takes.

use std::path::Path;
use std::time::Duration;

use concento::listening::{Hearer, Inputs};
use concento::sound::recording::Recording;
use concento::sound::{Delivery, Pace, Source, SourceState};

use super::harmless;

/// Blocks that are read, and those of them that are heard.
const MOST_BLOCKS: usize = 20_000;
const HEARD_BLOCKS: usize = 40;

/// A recording of whatever kind.
pub fn audio(bytes: &[u8]) {
    // The name speaks for MP3, which has no beginning of its own.
    for name in ["/nonexistent/take.wav", "/nonexistent/take.mp3"] {
        match Recording::of_bytes(bytes.to_vec(), Path::new(name), Pace::Fast) {
            Ok(recording) => read(recording),
            Err(error) => {
                harmless(&error.to_string());
                continue;
            }
        }
        let again = Recording::of_bytes(bytes.to_vec(), Path::new(name), Pace::Fast);
        hear(again.expect("it could be opened before"));
        return;
    }
}

fn read(mut recording: Recording) {
    let channels = recording.format().channels;
    let _ = recording.length();
    let mut next = 0;
    for _ in 0..MOST_BLOCKS {
        match recording.next(Duration::ZERO) {
            Delivery::Block { first, samples } => {
                assert!(!samples.is_empty() && samples.len() % channels == 0);
                assert!(first.get() >= next, "time goes back");
                next = first.get() + (samples.len() / channels) as u64;
            }
            Delivery::State(SourceState::Ended) => break,
            _ => {}
        }
    }
    harmless(recording.warning().unwrap_or_default());
}

fn hear(recording: Recording) {
    let inputs = vec![0, recording.format().channels - 1];
    let mut hearer = Hearer::new(
        Box::new(recording),
        Inputs::Chosen(inputs),
        vec![None, None],
    );
    for _ in 0..HEARD_BLOCKS {
        let mut has_ended = false;
        hearer.step(Duration::ZERO, |update| {
            has_ended |= update == concento::rehearsal::Update::State(SourceState::Ended);
        });
        if has_ended {
            break;
        }
    }
}
