//! How long the callbacks take, for whoever asks. Off until then.

use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::{Duration, Instant};

/// Times the body of a callback. Shared between its thread and whoever reads it.
#[derive(Debug, Default)]
pub struct Stopwatch {
    runs: AtomicBool,
    calls: AtomicU64,
    total_ns: AtomicU64,
    longest_ns: AtomicU64,
}

/// What a [`Stopwatch`] has measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Times {
    /// Calls that were timed.
    pub calls: u64,
    /// The mean of them.
    pub mean: Duration,
    /// The longest of them, with whatever else the machine did meanwhile.
    pub longest: Duration,
}

impl Stopwatch {
    /// Times every call from now on.
    pub fn start(&self) {
        self.runs.store(true, Ordering::Relaxed);
    }

    /// Runs `body`, and times it if that was asked for. Real-time safe: where the system reads its
    /// clock without a call, as Linux, macOS and Windows do, neither does this call it.
    pub fn time(&self, body: impl FnOnce()) {
        if !self.runs.load(Ordering::Relaxed) {
            body();
            return;
        }
        let begun = Instant::now();
        body();
        let took = begun.elapsed().as_nanos().min(u128::from(u64::MAX)) as u64;
        self.calls.fetch_add(1, Ordering::Relaxed);
        self.total_ns.fetch_add(took, Ordering::Relaxed);
        self.longest_ns.fetch_max(took, Ordering::Relaxed);
    }

    /// What was measured so far.
    pub fn times(&self) -> Times {
        let calls = self.calls.load(Ordering::Relaxed);
        let total = self.total_ns.load(Ordering::Relaxed);
        Times {
            calls,
            mean: Duration::from_nanos(total / calls.max(1)),
            longest: Duration::from_nanos(self.longest_ns.load(Ordering::Relaxed)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_is_asked_for_is_timed() {
        let watch = Stopwatch::default();
        let mut calls = 0;
        watch.time(|| calls += 1);
        assert_eq!(watch.times(), Times::default());
        watch.start();
        for wait in [0, 20, 0, 0] {
            watch.time(|| {
                calls += 1;
                std::thread::sleep(Duration::from_millis(wait));
            });
        }
        let times = watch.times();
        assert_eq!((calls, times.calls), (5, 4));
        assert!(times.longest >= Duration::from_millis(20));
        assert!(times.mean >= Duration::from_millis(5) && times.mean <= times.longest);
    }
}
