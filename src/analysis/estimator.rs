//! One channel's ear: samples in, a reading every 10 ms out, or more rarely where the machine has
//! too much to do.

use realfft::RealFftPlanner;

use super::choice::{Choice, Opinion, home};
use super::comb::{Comb, KNOWN, PARTIALS, score};
use super::company::Company;
use super::dynamics::Dynamics;
use super::effort::Effort;
use super::fit::{Fit, fit};
use super::held::Held;
use super::motion::Track;
use super::offset::Offset;
use super::peaks::Peaks;
use super::reading::{NoPitch, Pitch, Reading};
use super::smoothing::Smoothing;
use super::spectrum::{Spectrum, fast_length};
use super::unrest::Unrest;
use crate::units::{Cents, Dbfs, FramePosition, Frames, Hertz, SampleRate, Seconds};

/// The time from one reading to the next, at full [`Effort`].
pub const HOP: Seconds = Seconds::new(0.010);

/// The windows, from long to short, with the lowest fundamental each can tell: about five
/// periods or more, so that neighbouring partials do not touch.
const WINDOWS: [(f64, f64); 3] = [
    (8192.0 / 48e3, 27.0),
    (4096.0 / 48e3, 80.0),
    (2048.0 / 48e3, 200.0),
];
/// The highest fundamental looked for: above any instrument here.
const HIGHEST_HZ: f64 = 2_800.0;
/// What the partials must explain, beyond chance, before the sound is called a note.
const VOICED: f64 = 0.35;

/// The lengths in samples of the windows through which an estimator hears sound at `rate`,
/// from long to short.
pub fn window_lengths(rate: SampleRate) -> [usize; 3] {
    WINDOWS.map(|(seconds, _)| fast_length(seconds, rate))
}

/// Hops that are gathered before the samples move down.
const HOPS_AHEAD: usize = 32;

/// Hears one channel.
pub struct Estimator {
    rate: SampleRate,
    hop: usize,
    /// The latest samples, up to `now`; room for some hops more, so that they seldom move.
    recent: Vec<f32>,
    now: usize,
    /// Samples gathered since the last hop.
    gathered: usize,
    /// Hops from one reading to the next, hops since the last one, and whether any was clipped.
    stride: u32,
    passed: u32,
    clipped: bool,
    position: FramePosition,
    windows: [Window; 3],
    choice: Choice,
    company: Company,
    unrest: Unrest,
    held: Held,
    smoothing: Smoothing,
    track: Track,
    dynamics: Dynamics,
    offset: Offset,
}

struct Window {
    spectrum: Spectrum,
    peaks: Peaks,
    comb: Comb,
    lowest_hz: f64,
    hops: u32,
}

impl Estimator {
    /// An ear for sound at `rate`.
    pub fn new(rate: SampleRate) -> Self {
        let mut planner = RealFftPlanner::new();
        let hop = rate.frames_in(HOP).get() as usize;
        let windows = WINDOWS.map(|(seconds, lowest_hz)| {
            let spectrum = Spectrum::new(fast_length(seconds, rate), rate, &mut planner);
            Window {
                peaks: Peaks::new(&spectrum),
                comb: Comb::new(lowest_hz, HIGHEST_HZ.min(0.4 * rate.hz())),
                lowest_hz,
                hops: (spectrum.length() / hop) as u32,
                spectrum,
            }
        });
        Self {
            rate,
            hop,
            recent: vec![0.0; windows[0].spectrum.length() + HOPS_AHEAD * hop],
            now: windows[0].spectrum.length(),
            gathered: 0,
            stride: 1,
            passed: 0,
            clipped: false,
            position: FramePosition::START,
            windows,
            choice: Choice::default(),
            company: Company::default(),
            unrest: Unrest::new(),
            held: Held::new(),
            smoothing: Smoothing::default(),
            track: Track::new(100),
            dynamics: Dynamics::new(),
            offset: Offset::default(),
        }
    }

    /// Starts afresh at `position`, as after a gap in the stream.
    pub fn restart(&mut self, position: FramePosition) {
        self.recent.fill(0.0);
        self.gathered = 0;
        self.passed = 0;
        self.clipped = false;
        self.position = position;
        self.choice.forget();
        self.company.leave();
        self.held.forget();
        self.track.clear();
        self.dynamics = Dynamics::new();
    }

    /// Gives a reading as often as this allows, from the next hop on. What lasts for a time before
    /// it is believed still lasts as long, or at least for two readings.
    pub fn spend(&mut self, effort: Effort) {
        self.stride = effort.stride();
    }

    /// Takes samples of this channel and hands each reading that falls due to `each`.
    ///
    /// Samples that are not finite count as silence. Neither allocates nor blocks.
    pub fn push(&mut self, samples: impl IntoIterator<Item = f32>, mut each: impl FnMut(&Reading)) {
        for sample in samples {
            if self.now == self.recent.len() {
                let kept = self.windows[0].spectrum.length();
                self.recent.copy_within(self.now - kept.., 0);
                self.now = kept;
            }
            self.recent[self.now] = if sample.is_finite() {
                sample.clamp(-8.0, 8.0)
            } else {
                0.0
            };
            self.now += 1;
            self.gathered += 1;
            if self.gathered == self.hop {
                self.gathered = 0;
                self.position = self.position + Frames::new(self.hop as u64);
                let level = self.weigh();
                self.passed += 1;
                if self.passed >= self.stride {
                    each(&self.read(level));
                    self.passed = 0;
                    self.clipped = false;
                }
            }
        }
    }

    /// Takes in how loud a hop was; gives its level.
    fn weigh(&mut self) -> Dbfs {
        let hop = &self.recent[self.now - self.hop..self.now];
        self.clipped |= hop.iter().any(|s| s.abs() >= 0.999);
        let level = self.dynamics.take(self.offset.take(hop));
        if !self.dynamics.is_silent() && self.dynamics.strikes() {
            self.choice.struck();
        }
        level
    }

    fn read(&mut self, level: Dbfs) -> Reading {
        let now = self.position.at(self.rate);
        let (time, pitch) = if self.dynamics.is_silent() {
            self.choice.forget();
            self.company.leave();
            self.held.pause(self.passed);
            (self.centre(now, 2), Err(NoPitch::Silence))
        } else {
            self.pitch(now)
        };
        if pitch.is_err() {
            self.smoothing.clear();
            self.track.clear();
        }
        let motion = pitch
            .ok()
            .and_then(|pitch| self.track.add(time, pitch.hertz));
        Reading {
            time,
            available: now,
            level,
            clipped: self.clipped,
            pitch,
            motion,
        }
    }

    /// The distance within which the true pitch lies about 19 times in 20. A sum of what the
    /// noise, the disagreement of the partials and the movement within the window can do;
    /// the shares were found by quantile regression on readings of real and synthetic notes
    /// against their truth, and then eased towards moving notes.
    fn margin(&self, fit: &Fit, window: usize) -> Cents {
        let moved = self.track.range(Seconds::new(WINDOWS[window].0));
        Cents::new(1.2 * fit.error_cents + 1.5 * fit.scatter_cents + 0.1) + moved * 0.15
    }

    /// The moment in the middle of a window that ends now.
    fn centre(&self, now: Seconds, window: usize) -> Seconds {
        let half = Frames::new(self.windows[window].spectrum.length() as u64 / 2).at(self.rate);
        now - half
    }

    fn pitch(&mut self, now: Seconds) -> (Seconds, Result<Pitch, NoPitch>) {
        let (window, heard) = self.listen();
        let centre = self.centre(now, window);
        let (fit, share) = match heard {
            Ok(heard) => heard,
            Err(why) => {
                self.held.pause(self.passed);
                return (centre, Err(why));
            }
        };
        self.choice.follow(fit.hz);
        let confidence = ((share - VOICED) / (0.95 - VOICED)).clamp(0.0, 1.0);
        if !self.held.holds(fit.hz, share, confidence, self.passed) {
            return (centre, Err(NoPitch::Noise));
        }
        let (time_s, hz) = self
            .smoothing
            .add(window, centre.get(), fit.hz, self.passed);
        let pitch = Hertz::new(hz)
            .map(|hertz| Pitch {
                hertz,
                margin: self.margin(&fit, window),
                confidence,
                inharmonicity: fit.inharmonicity,
            })
            .map_err(|_| NoPitch::Noise);
        (Seconds::new(time_s), pitch)
    }

    /// The tone that fits this hop best and the share of the sound it explains, or why there
    /// is none; with the window through which it was measured.
    fn listen(&mut self) -> (usize, Result<(Fit, f64), NoPitch>) {
        let (followed, passed) = (self.choice.followed(), self.passed);
        for window in &mut self.windows {
            window.spectrum.transform(&self.recent[..self.now]);
            window.peaks.find(&window.spectrum);
        }
        let opinions = self.windows.each_mut().map(|window| {
            let favoured = followed.filter(|hz| *hz >= window.lowest_hz);
            Opinion {
                best: window.comb.best(&window.peaks, favoured),
                peaks: &window.peaks,
                spectrum: &window.spectrum,
                lowest_hz: window.lowest_hz,
                hops: window.hops,
            }
        });
        let Some(hz) = self
            .choice
            .decide(&opinions, self.dynamics.fades(), self.passed)
        else {
            return (opinions.len() - 1, Err(NoPitch::Noise));
        };
        let measure = |window: usize| {
            let peaks = opinions[window].peaks;
            fit(peaks, hz, score(peaks, hz, KNOWN).partials.max(4))
        };
        let mut at = home(&opinions, hz, self.choice.age());
        let mut fitted = measure(at);
        if self.choice.age() == 0 {
            self.dynamics.begin_note();
            self.unrest.clear();
            self.smoothing.clear();
            self.track.clear();
        }
        // Asked of the longer window: a shorter one cannot keep neighbouring notes apart.
        if fitted.is_some_and(|fit| self.company.keeps(&fit, opinions[at].peaks, passed)) {
            return (at, Err(NoPitch::TwoNotes));
        }
        // The longest window evens a vibrato out by half; the middle one follows it, also on
        // notes too low to be found in it.
        if opinions
            .get(at + 1)
            .is_some_and(|shorter| hz >= 0.5 * shorter.lowest_hz)
            && (at > 0 || self.track.swings())
            && let Some(shorter) = measure(at + 1)
        {
            let hands_over = at == 0
                || self
                    .unrest
                    .moves(shorter.hz, opinions[at].peaks.bin_hz(), passed);
            if hands_over {
                at += 1;
                fitted = Some(shorter);
            }
        }
        let heard = fitted
            .map(|fit| (fit, explained(&fit, opinions[at].spectrum)))
            .filter(|(_, share)| *share >= VOICED);
        (at, heard.ok_or(NoPitch::Noise))
    }
}

/// How much more of the sound lies about the partials than noise would put there: 1 for a
/// clean note, about 0 for noise, whose share is that of the band the partials cover.
fn explained(fit: &Fit, spectrum: &Spectrum) -> f64 {
    let (lowest, highest) = (0.6 * fit.hz, spectrum.highest_hz());
    let all = spectrum.mean_square_between(lowest, highest);
    if all <= 0.0 {
        return 0.0;
    }
    let (mut found, mut covered) = (0.0, 0.0);
    let mut upto = lowest;
    for n in 1..=PARTIALS {
        let centre = fit.partial_hz(n);
        // The window's main lobe, and ten cents of vibrato to each side.
        let half = (2.2 * spectrum.bin_hz() + 0.006 * centre).min(0.3 * fit.hz);
        if centre + half > highest {
            break;
        }
        let from = upto.max(centre - half);
        found += spectrum.mean_square_between(from, centre + half);
        upto = centre + half;
        covered += upto - from;
    }
    let by_chance = covered / (highest - lowest);
    ((found / all - by_chance) / (1.0 - by_chance)).clamp(0.0, 1.0)
}
