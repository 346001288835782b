//! Hears all channels of an input for a while, as a rehearsal does, and plays silence.

use std::sync::Arc;
use std::time::{Duration, Instant};

use crate::analysis::Ears;
use crate::doctor::{Callbacks, Live};
use crate::sound::capture::{Capture, InputChoice, Tally};
use crate::sound::device::{Stopwatch, Times};
use crate::sound::playback::{OutputChoice, Playback, PlaybackState, Player};
use crate::sound::{Delivery, Source, StreamFormat};
use crate::units::SampleRate;

/// An input that has not begun by then is given up; it had delivered sound a moment ago.
const PATIENCE: Duration = Duration::from_secs(5);

/// Plays nothing.
struct Silence;

impl Player for Silence {
    fn start(&mut self, _rate: SampleRate) {}

    fn render(&mut self, stereo: &mut [f32]) {
        stereo.fill(0.0);
    }
}

/// What is seen in `length` from the first sound on; none if there is no sound.
pub(super) fn hear(choice: InputChoice, length: Duration) -> Option<Live> {
    let watches: [Arc<Stopwatch>; 2] = Default::default();
    for watch in &watches {
        watch.start();
    }
    let [input, output] = watches;
    let mut capture = Capture::timed(choice, Arc::clone(&input));
    let silence = Box::new(Silence);
    let mut playback = Playback::timed(OutputChoice::default(), silence, Arc::clone(&output));

    let opening = Instant::now();
    let mut heard: Option<(StreamFormat, Ears)> = None;
    let mut begun: Option<(Instant, Option<Duration>)> = None;
    let mut behind = Duration::ZERO;
    let mut has_output = false;
    loop {
        match capture.next(Duration::from_millis(20)) {
            Delivery::Started(format) => {
                let inputs: Vec<usize> = (0..format.channels).collect();
                let ears = Ears::new(format.rate, format.channels, &inputs);
                heard = Some((format, ears));
            }
            Delivery::Block { first, samples } => {
                begun.get_or_insert_with(|| (Instant::now(), processor_time()));
                if let Some((_, ears)) = &mut heard {
                    ears.hear(first, samples, |_, _| {});
                }
            }
            Delivery::State(_) | Delivery::Nothing => {}
        }
        behind = behind.max(Duration::from_secs_f64(capture.waiting().get()));
        while let Some(state) = playback.news() {
            has_output |= matches!(state, PlaybackState::Running { .. });
        }
        match begun {
            Some((since, _)) if since.elapsed() >= length => break,
            None if opening.elapsed() >= PATIENCE => return None,
            _ => {}
        }
    }
    let (since, processor) = begun?;
    let elapsed = since.elapsed();
    let (format, _) = heard?;
    let spent = processor_time()
        .zip(processor)
        .map(|(now, then)| now.saturating_sub(then));
    let fullest = capture.fullest()?;
    Some(Live {
        n_channels: format.channels,
        input: callbacks(input.times(), elapsed),
        output: has_output.then(|| callbacks(output.times(), elapsed)),
        waiting: (fullest.blocks, fullest.of),
        behind,
        n_lost: capture.blocks_lost(),
        n_faults: capture.tally().map_or(0, Tally::errors),
        share: spent.map(|spent| spent.as_secs_f64() / elapsed.as_secs_f64()),
    })
}

fn callbacks(times: Times, elapsed: Duration) -> Callbacks {
    Callbacks {
        calls: times.calls,
        mean: times.mean,
        longest: times.longest,
        period: elapsed.div_f64(times.calls.max(1) as f64),
    }
}

/// The time this thread has had of a core, where the system says.
#[cfg(unix)]
fn processor_time() -> Option<Duration> {
    use rustix::time::{ClockId, clock_gettime};
    let time = clock_gettime(ClockId::ThreadCPUTime);
    Some(Duration::new(
        time.tv_sec.try_into().ok()?,
        time.tv_nsec.try_into().ok()?,
    ))
}

#[cfg(not(unix))]
fn processor_time() -> Option<Duration> {
    None
}
