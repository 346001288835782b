//! Listens to an input for a second.

use std::time::{Duration, Instant};

use crate::doctor::{Heard, Hearing};
use crate::session::shown;
use crate::sound::{Delivery, Source, SourceState, StreamFormat};
use crate::units::Dbfs;

/// How much sound is listened to.
const LISTENED: Duration = Duration::from_secs(1);
/// An input that has delivered nothing by then is given up. Virtual devices take two seconds.
const PATIENCE: Duration = Duration::from_secs(4);
/// An input that cannot be opened is told so after this long: it may come while others let go.
const FAULT: Duration = Duration::from_millis(1_500);

/// What has come in so far.
struct Taken {
    format: StreamFormat,
    frames: u64,
    sums: Vec<f64>,
}

/// What `source` delivers in a second, or why it does not.
pub(super) fn listen(source: &mut dyn Source) -> Hearing {
    let begun = Instant::now();
    let mut fault: Option<String> = None;
    let mut taken: Option<Taken> = None;
    loop {
        match source.next(Duration::from_millis(50)) {
            Delivery::Started(format) => {
                fault = None;
                let sums = vec![0.0; format.channels];
                taken = Some(Taken {
                    format,
                    frames: 0,
                    sums,
                });
            }
            Delivery::Block { samples, .. } => {
                if let Some(taken) = &mut taken {
                    taken.add(samples);
                    if taken.is_enough() {
                        return Hearing::Heard(taken.heard());
                    }
                }
            }
            Delivery::State(SourceState::Waiting(why)) => fault = Some(why.to_string()),
            Delivery::State(SourceState::Ended) => break,
            Delivery::State(_) | Delivery::Nothing => {}
        }
        let patience = if fault.is_some() { FAULT } else { PATIENCE };
        if begun.elapsed() >= patience {
            break;
        }
    }
    match (taken, fault) {
        (Some(taken), _) if taken.frames > 0 => Hearing::Heard(taken.heard()),
        (_, Some(fault)) => Hearing::Fault(shown(&fault)),
        _ => Hearing::Nothing,
    }
}

impl Taken {
    fn add(&mut self, samples: &[f32]) {
        for frame in samples.chunks_exact(self.format.channels) {
            for (sum, sample) in self.sums.iter_mut().zip(frame) {
                // What is no number counts as silence.
                if sample.is_finite() {
                    *sum += f64::from(*sample).powi(2);
                }
            }
            self.frames += 1;
        }
    }

    fn is_enough(&self) -> bool {
        self.frames >= u64::from(self.format.rate.get()) * LISTENED.as_secs()
    }

    fn heard(&self) -> Heard {
        let level = |sum: &f64| {
            let mean = sum / self.frames.max(1) as f64;
            (mean > 0.0).then(|| Dbfs::of_mean_square(mean).get())
        };
        Heard {
            name: shown(&self.format.name),
            rate_hz: self.format.rate.get(),
            levels_dbfs: self.sums.iter().map(level).collect(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sound::Fault;
    use crate::units::{FramePosition, SampleRate};

    /// A source that delivers what it was given, step by step, then nothing.
    struct Script {
        steps: Vec<Step>,
        block: Vec<f32>,
    }

    enum Step {
        Started,
        Block(Vec<f32>),
        Waiting(Fault),
        Ended,
    }

    impl Source for Script {
        fn next(&mut self, _patience: Duration) -> Delivery<'_> {
            if self.steps.is_empty() {
                return Delivery::State(SourceState::Ended);
            }
            match self.steps.remove(0) {
                Step::Started => Delivery::Started(StreamFormat {
                    name: "Desk".to_owned(),
                    rate: SampleRate::new(8_000).unwrap(),
                    channels: 2,
                }),
                Step::Block(samples) => {
                    self.block = samples;
                    Delivery::Block {
                        first: FramePosition::default(),
                        samples: &self.block,
                    }
                }
                Step::Waiting(fault) => Delivery::State(SourceState::Waiting(fault)),
                Step::Ended => Delivery::State(SourceState::Ended),
            }
        }
    }

    #[track_caller]
    fn check(steps: Vec<Step>, expected: &Hearing) {
        let block = Vec::new();
        assert_eq!(listen(&mut Script { steps, block }), *expected);
    }

    fn heard(levels_dbfs: Vec<Option<f64>>) -> Hearing {
        Hearing::Heard(Heard {
            name: "Desk".to_owned(),
            rate_hz: 8_000,
            levels_dbfs,
        })
    }

    #[test]
    fn each_channel_has_its_level() {
        // Half of full scale is a quarter of its power: 10 log 0.25.
        let half = 10.0 * 0.25_f64.log10();
        let second: Vec<f32> = [0.5, 0.0].repeat(8_000);
        let steps = vec![Step::Started, Step::Block(second)];
        check(steps, &heard(vec![Some(half), None]));
    }

    #[test]
    fn what_is_no_number_is_silence() {
        let block = [f32::NAN, f32::INFINITY].repeat(8_000);
        check(
            vec![Step::Started, Step::Block(block)],
            &heard(vec![None, None]),
        );
    }

    #[test]
    fn a_fault_is_told_and_nothing_is_nothing() {
        let fault = Fault::Busy("Desk".to_owned());
        let words = fault.to_string();
        check(
            vec![Step::Waiting(fault), Step::Ended],
            &Hearing::Fault(words),
        );
        check(vec![Step::Started, Step::Ended], &Hearing::Nothing);
        // One that was overcome is none.
        let fault = Fault::Busy("Desk".to_owned());
        check(
            vec![Step::Waiting(fault), Step::Started, Step::Ended],
            &Hearing::Nothing,
        );
    }
}
