//! How the path from the sound card to the ears does under its usual work.

use std::time::Duration;

use super::{Finding, counted};

/// A callback that takes this share of the time it has is too near to being late.
const TOO_LONG: f64 = 0.5;
/// Ears that take this share of a core leave too little for everything else.
const TOO_MUCH: f64 = 0.7;

/// What the calls of the sound card's thread took.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Callbacks {
    /// How many there were.
    pub calls: u64,
    /// The mean of what they took.
    pub mean: Duration,
    /// The longest.
    pub longest: Duration,
    /// The time from one to the next, which is all they have.
    pub period: Duration,
}

/// What was seen while all channels were heard.
#[derive(Debug, Clone, PartialEq)]
pub struct Live {
    /// The channels heard.
    pub n_channels: usize,
    /// How the input's callback did.
    pub input: Callbacks,
    /// How the output's did, where there is one.
    pub output: Option<Callbacks>,
    /// The most blocks that waited for the ears, and how many could.
    pub waiting: (usize, usize),
    /// The longest stretch of sound that waited.
    pub behind: Duration,
    /// Blocks lost on the way.
    pub n_lost: u64,
    /// Faults the sound system told of, overruns among them.
    pub n_faults: u64,
    /// The share of a core that hearing took; none where the system does not say.
    pub share: Option<f64>,
}

pub(super) fn examine(live: &Live) -> Vec<Finding> {
    let mut findings = vec![callbacks("sound in", &live.input)];
    findings.extend(
        live.output
            .iter()
            .map(|output| callbacks("sound out", output)),
    );
    findings.push(buffer(live));
    findings.extend(live.share.map(|share| ears(live.n_channels, share)));
    findings
}

fn callbacks(topic: &'static str, callbacks: &Callbacks) -> Finding {
    let Callbacks {
        calls,
        mean,
        longest,
        period,
    } = callbacks;
    let found = format!(
        "{calls} calls of the sound card's thread, {} each, {} at worst, every {:.1} ms",
        briefly(*mean),
        briefly(*longest),
        period.as_secs_f64() * 1000.0
    );
    if longest.as_secs_f64() > TOO_LONG * period.as_secs_f64() {
        let advice =
            "something holds this machine up: close other programs, and connect it to mains";
        Finding::note(topic, found, advice)
    } else {
        Finding::fine(topic, found)
    }
}

fn buffer(live: &Live) -> Finding {
    let (blocks, of) = live.waiting;
    let found = format!(
        "at most {} of {of} waited to be heard, {:.0} ms of sound; {} lost, {} of the sound system",
        counted(blocks, "block"),
        live.behind.as_secs_f64() * 1000.0,
        counted(live.n_lost as usize, "block"),
        counted(live.n_faults as usize, "fault"),
    );
    if live.n_lost > 0 || live.n_faults > 0 {
        let advice = "sound was lost: close other programs, or listen to fewer channels";
        Finding::note("buffer", found, advice)
    } else {
        Finding::fine("buffer", found)
    }
}

fn ears(n_channels: usize, share: f64) -> Finding {
    let found = format!(
        "{} take {:.0} % of a core",
        counted(n_channels, "channel"),
        share * 100.0
    );
    if share > TOO_MUCH {
        let advice = "with more to do, readings will come more rarely: listen to fewer channels";
        Finding::note("hearing", found, advice)
    } else {
        Finding::fine("hearing", found)
    }
}

/// `31 µs`, `4.2 ms`.
fn briefly(duration: Duration) -> String {
    let microseconds = duration.as_secs_f64() * 1e6;
    if microseconds < 1000.0 {
        format!("{microseconds:.0} µs")
    } else {
        format!("{:.1} ms", microseconds / 1000.0)
    }
}

#[cfg(test)]
mod tests {
    use super::super::Verdict;
    use super::*;

    fn well() -> Live {
        let callbacks = |longest| Callbacks {
            calls: 998,
            mean: Duration::from_micros(4),
            longest: Duration::from_micros(longest),
            period: Duration::from_millis(10),
        };
        Live {
            n_channels: 8,
            input: callbacks(31),
            output: Some(callbacks(4_200)),
            waiting: (3, 1_171),
            behind: Duration::from_millis(30),
            n_lost: 0,
            n_faults: 0,
            share: Some(0.12),
        }
    }

    #[track_caller]
    fn check(change: impl FnOnce(&mut Live), topic: &str, verdict: Verdict, found: &str) {
        let mut live = well();
        change(&mut live);
        let findings = examine(&live);
        let finding = findings.iter().find(|f| f.topic == topic).unwrap();
        assert_eq!((finding.verdict, finding.found.as_str()), (verdict, found));
        assert_eq!(finding.advice.is_some(), verdict == Verdict::Note);
    }

    #[test]
    fn a_machine_that_does_well_is_told_so_in_figures() {
        let fine = Verdict::Fine;
        let found =
            "998 calls of the sound card's thread, 4 µs each, 31 µs at worst, every 10.0 ms";
        check(|_| {}, "sound in", fine, found);
        let found =
            "998 calls of the sound card's thread, 4 µs each, 4.2 ms at worst, every 10.0 ms";
        check(|_| {}, "sound out", fine, found);
        let found = "at most 3 blocks of 1171 waited to be heard, 30 ms of sound; \
                     0 blocks lost, 0 faults of the sound system";
        check(|_| {}, "buffer", fine, found);
        check(|_| {}, "hearing", fine, "8 channels take 12 % of a core");
    }

    #[test]
    fn what_is_too_near_to_failing_is_noted() {
        let note = Verdict::Note;
        let found =
            "998 calls of the sound card's thread, 4 µs each, 5.1 ms at worst, every 10.0 ms";
        let late = |live: &mut Live| live.input.longest = Duration::from_micros(5_100);
        check(late, "sound in", note, found);
        let found = "at most 3 blocks of 1171 waited to be heard, 30 ms of sound; \
                     1 block lost, 2 faults of the sound system";
        let lost = |live: &mut Live| (live.n_lost, live.n_faults) = (1, 2);
        check(lost, "buffer", note, found);
        let busy = |live: &mut Live| live.share = Some(0.81);
        check(busy, "hearing", note, "8 channels take 81 % of a core");
    }

    #[test]
    fn without_an_output_or_a_share_nothing_is_said_of_them() {
        let live = Live {
            output: None,
            share: None,
            ..well()
        };
        let topics: Vec<&str> = examine(&live).iter().map(|f| f.topic).collect();
        assert_eq!(topics, ["sound in", "buffer"]);
    }
}
