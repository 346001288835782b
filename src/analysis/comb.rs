//! The fundamental that explains a spectrum's peaks best: candidates are compared by the
//! partials they predict, found or missing.

use super::peaks::{MOST, Peak, Peaks};

/// Highest partial looked for.
pub(super) const PARTIALS: usize = 40;
/// What each predicted partial costs, found or not. A partial found pays it back when it
/// lies less than about 44 dB below the strongest.
const COST: f64 = 0.2;
/// Strongest peaks from which candidates are drawn.
const SEEDS: usize = 8;
/// A seed is taken as this partial at most.
const SEED_PARTIALS: usize = 12;

/// Fundamentals no farther apart than this share are one: the search refines them anyway.
const SAME: f64 = 0.002;
/// A lower octave is taken when the partials that only it explains weigh at least this much
/// in all, and this share of those that both explain ...
const LEAST_ALONE: f64 = 1.6;
const LEAST_ALONE_TAKEN: f64 = 0.4;
/// ... and left when they weigh less than this share. A flute's breath and a bow's rub give
/// octaves below a note up to a quarter; organ stops and basses show a half or more.
const LEAST_ALONE_KEPT: f64 = 0.3;
/// A fundamental is none, but its second, third ... partial is, when the partials that are no
/// multiples of that one have less power than this share of those that are. Recorded and
/// synthetic notes have no less than 0.015, 0.09, 0.35 and 1.2 for the first four, a badly
/// clipped one less; a hum or another player beneath a note gives hardly anything.
const LEAST_POWER_ALONE: [(usize, f64); 5] =
    [(2, 0.008), (3, 0.025), (5, 0.12), (7, 0.2), (11, 0.2)];
/// A note whose octave or twelfth was taken for it, or the other way round, is one of these.
const RELATED: [f64; 7] = [0.25, 1.0 / 3.0, 0.5, 1.5, 2.0, 3.0, 4.0];
/// Peaks below this share of the strongest begin no other note.
const WEAK: f64 = 0.03;
/// Trust in a fundamental that was measured before.
pub(super) const KNOWN: f64 = 50.0;

/// A fundamental under consideration.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct Candidate {
    /// Its frequency, refined by its partials.
    pub(super) hz: f64,
    /// Partials found minus what they cost, times the root of the share of the peaks' power
    /// that they hold; one strong partial alone gives 0.8.
    pub(super) score: f64,
    /// The partials up to which the score was best.
    pub(super) partials: usize,
}

/// Searches the peaks of one spectrum.
pub(super) struct Comb {
    lowest_hz: f64,
    highest_hz: f64,
    seeds: Vec<(f64, f64)>,
    /// Fundamentals considered in this search.
    tried: Vec<f64>,
    /// What each peak and all above it can add to a score at most.
    hope_from: Vec<f64>,
}

impl Comb {
    /// A search for fundamentals between two frequencies.
    pub(super) fn new(lowest_hz: f64, highest_hz: f64) -> Self {
        Self {
            lowest_hz,
            highest_hz,
            seeds: Vec::with_capacity(SEEDS + 1),
            tried: Vec::with_capacity(SEEDS * SEED_PARTIALS),
            hope_from: Vec::with_capacity(MOST + 1),
        }
    }

    /// The best candidate, with `favoured` (a fundamental heard just before) ahead on a tie.
    pub(super) fn best(&mut self, peaks: &Peaks, favoured: Option<f64>) -> Option<Candidate> {
        self.choose_seeds(peaks.list());
        self.sum_hopes(peaks.list());
        let within = |hz: &f64| (self.lowest_hz..=self.highest_hz).contains(hz);
        let mut best = Candidate::default();
        let mut consider = |hz: f64, trust: f64, bonus: f64| {
            let least = best.score - bonus;
            // Most fundamentals miss a strong peak early, and need not be followed further.
            let hopeless = |sum: f64, from: usize, upto: usize| {
                sum + self.hope_from[from] - self.hope_from[upto] <= least
            };
            let candidate = score_unless(peaks, hz, trust, hopeless);
            if candidate.score > least {
                best = candidate;
                best.score += bonus;
            }
        };
        if let Some(hz) = favoured.filter(within) {
            consider(hz, KNOWN, 0.15);
        }
        self.tried.clear();
        // While every strong peak is a partial of the note heard just before, the only other
        // notes there can be are its octaves, twelfths and their like.
        let known = favoured.filter(|hz| self.all_belong_to(*hz, peaks));
        if let Some(hz) = known {
            for ratio in RELATED {
                if within(&(hz * ratio)) {
                    consider(hz * ratio, KNOWN, 0.0);
                }
            }
        }
        let seeds = if known.is_some() {
            &[]
        } else {
            &self.seeds[..]
        };
        for &(hz, _) in seeds {
            for n in 1..=SEED_PARTIALS {
                let fundamental = hz / n as f64;
                // The partials of one note lead to the same fundamentals again and again.
                let again = |tried: &f64| (tried - fundamental).abs() < SAME * fundamental;
                if within(&fundamental) && !self.tried.iter().any(again) {
                    self.tried.push(fundamental);
                    consider(fundamental, (n * n) as f64, 0.0);
                }
            }
        }
        let pairs = if known.is_some() { &[] } else { peaks.list() };
        for pair in pairs.windows(2) {
            let gap = pair[1].hz - pair[0].hz;
            let strong = pair
                .iter()
                .all(|peak| peak.amplitude > 0.1 * peaks.strongest());
            if strong && within(&gap) {
                consider(gap, 1.0, 0.0);
            }
        }
        (best.score > 0.0).then(|| settle_octave(peaks, best, self.lowest_hz))
    }

    /// Whether every seed of weight is a partial of a fundamental at `hz`.
    fn all_belong_to(&self, hz: f64, peaks: &Peaks) -> bool {
        self.seeds.iter().all(|(seed, amplitude)| {
            let n = (seed / hz).round().max(1.0);
            let tolerance = 2.0 * tolerance_hz(hz, n as usize, peaks.bin_hz());
            *amplitude < WEAK * peaks.strongest() || (seed - n * hz).abs() <= tolerance
        })
    }

    fn sum_hopes(&mut self, peaks: &[Peak]) {
        self.hope_from.clear();
        self.hope_from.resize(peaks.len() + 1, 0.0);
        let mut sum = 0.0;
        for (hope, peak) in self.hope_from.iter_mut().zip(peaks).rev() {
            sum += (peak.weight - COST).max(0.0);
            *hope = sum;
        }
    }

    fn choose_seeds(&mut self, peaks: &[Peak]) {
        self.seeds.clear();
        for peak in peaks {
            let at = self
                .seeds
                .partition_point(|(_, amplitude)| *amplitude >= peak.amplitude);
            if at < SEEDS {
                self.seeds.insert(at, (peak.hz, peak.amplitude));
                self.seeds.truncate(SEEDS);
            }
        }
    }
}

/// How well a fundamental at `hz` explains `peaks`.
pub(super) fn score(peaks: &Peaks, hz: f64, trust: f64) -> Candidate {
    score_unless(peaks, hz, trust, |_, _, _| false)
}

/// The same, given up when `hopeless` says so of the score so far and the part of the list
/// that is left; the score is then what it was by that time.
fn score_unless(
    peaks: &Peaks,
    hz: f64,
    trust: f64,
    hopeless: impl Fn(f64, usize, usize) -> bool,
) -> Candidate {
    let highest = highest_partial(peaks, hz);
    let mut refined = Refined {
        hz,
        weight: trust,
        sum: trust * hz,
    };
    // Beyond the last partial, unless it is stretched by more than a string of gut is.
    let end = peaks.first_at(hz * (highest as f64 + 1.0) * 1.1);
    let mut sum = 0.0;
    let (mut power, mut best_power) = (0.0, 0.0);
    let mut best = Candidate {
        hz,
        score: f64::NEG_INFINITY,
        partials: 0,
    };
    for n in 1..=highest {
        let expected = refined.hz * n as f64;
        let tolerance = tolerance_hz(refined.hz, n, peaks.bin_hz());
        let at = peaks.first_at(expected - tolerance);
        if hopeless(sum, at, end) {
            break;
        }
        sum -= COST;
        if let Some(peak) = peaks.nearest_from(at, expected, tolerance) {
            sum += peak.weight;
            power += peak.amplitude * peak.amplitude;
            refined.add(peak.hz / n as f64, peak.weight * (n * n) as f64);
        }
        if sum > best.score {
            best_power = power;
            best = Candidate {
                hz: refined.hz,
                score: sum,
                partials: n,
            };
        }
    }
    // Weights count decibels, so that many weak partials, a hum's, outdo few strong ones; power
    // puts that right.
    if best.score > 0.0 {
        best.score *= (best_power / peaks.power()).min(1.0).sqrt();
    }
    best
}

/// Moves the fundamental to where the power and the weight of the partials that only the lower
/// candidate explains say.
fn settle_octave(peaks: &Peaks, best: Candidate, lowest_hz: f64) -> Candidate {
    let moved = |hz: f64| Candidate {
        score: best.score,
        ..score(peaks, hz, KNOWN)
    };
    let powers = PartialPowers::of(peaks, best.hz);
    if let Some((number, _)) = LEAST_POWER_ALONE
        .into_iter()
        .find(|(number, least)| powers.alone(*number) < *least)
    {
        return moved(best.hz * number as f64);
    }
    let own = Witnesses::of(peaks, best.hz, 2);
    if own.alone < LEAST_ALONE_KEPT * own.shared {
        return moved(best.hz * 2.0);
    }
    for (divisor, least) in &LEAST_POWER_ALONE[..2] {
        let lower = best.hz / *divisor as f64;
        if lower < lowest_hz {
            break;
        }
        let witnesses = Witnesses::of(peaks, lower, *divisor);
        if witnesses.alone > LEAST_ALONE
            && witnesses.alone > LEAST_ALONE_TAKEN * witnesses.shared
            && PartialPowers::of(peaks, lower).alone(*divisor) > *least
        {
            return moved(lower);
        }
    }
    best
}

/// Power of each partial of a fundamental, from the first.
struct PartialPowers {
    powers: [f64; PARTIALS],
}

impl PartialPowers {
    fn of(peaks: &Peaks, hz: f64) -> Self {
        let mut powers = [0.0; PARTIALS];
        for (n, power) in (1..=highest_partial(peaks, hz)).zip(&mut powers) {
            *power = peaks
                .nearest(hz * n as f64, witness_tolerance_hz(peaks, hz, n))
                .map_or(0.0, |peak| peak.amplitude * peak.amplitude);
        }
        Self { powers }
    }

    /// Power of the partials that are no multiples of `number`, over that of those that are.
    fn alone(&self, number: usize) -> f64 {
        let (mut alone, mut shared) = (0.0, 0.0);
        for (n, power) in (1..).zip(self.powers) {
            if n % number == 0 {
                shared += power;
            } else {
                alone += power;
            }
        }
        if shared > 0.0 {
            alone / shared
        } else {
            f64::INFINITY
        }
    }
}

/// The highest partial of a fundamental that is looked for.
fn highest_partial(peaks: &Peaks, hz: f64) -> usize {
    ((peaks.highest_hz() / hz) as usize).min(PARTIALS)
}

/// How far from its place a partial may stand and still bear witness.
fn witness_tolerance_hz(peaks: &Peaks, hz: f64, n: usize) -> f64 {
    (0.35 * peaks.bin_hz() + 0.005 * hz * n as f64).min(0.15 * hz)
}

/// What speaks for a fundamental rather than for one a whole number of times as high.
struct Witnesses {
    /// Weight of its first six partials that the higher one would lack.
    alone: f64,
    /// Weight of the first six that both explain.
    shared: f64,
}

impl Witnesses {
    fn of(peaks: &Peaks, hz: f64, divisor: usize) -> Self {
        let weight_of = |n: usize| {
            peaks
                .nearest(hz * n as f64, witness_tolerance_hz(peaks, hz, n))
                .map_or(0.0, |peak| peak.weight)
        };
        let sum = |numbers: &mut dyn Iterator<Item = usize>| numbers.take(6).map(weight_of).sum();
        Self {
            alone: sum(&mut (1..).filter(|n| n % divisor != 0)),
            shared: sum(&mut (1..).map(|n| n * divisor)),
        }
    }
}

/// How far from its expected place partial `n` is looked for.
pub(super) fn tolerance_hz(fundamental_hz: f64, n: usize, bin_hz: f64) -> f64 {
    // A bin for the interpolation's scatter, and 0.8 % (14 cents) of stretch, but never so
    // far that most of the spectrum would count as expected.
    (0.5 * bin_hz + 0.008 * fundamental_hz * n as f64).min(0.15 * fundamental_hz)
}

/// A running fundamental: stiff strings stretch their partials, so each found partial
/// corrects where the next is expected.
struct Refined {
    hz: f64,
    weight: f64,
    sum: f64,
}

impl Refined {
    fn add(&mut self, hz: f64, weight: f64) {
        self.weight += weight;
        self.sum += weight * hz;
        self.hz = self.sum / self.weight;
    }
}
