//! What a hop costs on real sound, beside the bare FFTs of the same windows.

use std::hint::black_box;
use std::io::Write;
use std::time::Instant;

use concento::analysis::{Estimator, HOP, NoPitch, window_lengths};
use concento::units::SampleRate;

use super::bare_ffts::BareFfts;
use super::columns::{Table, section};
use super::pack::Note;

/// Real notes one after another.
pub(crate) struct Sound {
    /// One channel.
    pub(crate) samples: Vec<f32>,
    /// Its rate.
    pub(crate) rate: SampleRate,
}

/// Times that one run and the next may differ by; the best of so many counts.
const RUNS: usize = 7;
const RUNS_SHORT: usize = 3;
/// Sound that is heard in each run, in seconds.
const SECONDS: f64 = 60.0;
const SECONDS_SHORT: f64 = 10.0;

impl Sound {
    /// The recorded notes of a pack, or all where none is recorded, mixed in order so that
    /// registers and instruments follow one another; all of the first one's rate.
    pub(crate) fn of(notes: &[Note]) -> anyhow::Result<Self> {
        let any_real = notes.iter().any(|note| note.entry.is_real());
        let wanted = |note: &&Note| note.entry.is_real() || !any_real;
        let Some(rate) = notes.iter().find(wanted).map(|note| note.rate) else {
            anyhow::bail!("the pack holds no note: give one that does");
        };
        let own: Vec<&Note> = notes
            .iter()
            .filter(wanted)
            .filter(|n| n.rate == rate)
            .collect();
        // Every seventh, so that any stretch holds a bit of everything.
        let order = (0..7).flat_map(|start| own.iter().skip(start).step_by(7));
        let samples = order
            .flat_map(|note| note.samples.iter().copied())
            .collect();
        Ok(Self { samples, rate })
    }

    /// Its first `seconds`, again and again if it is shorter.
    pub(crate) fn stretch(&self, seconds: f64) -> Vec<f32> {
        let count = (seconds * self.rate.hz()) as usize;
        self.samples.iter().copied().cycle().take(count).collect()
    }
}

/// Samples of a hop.
pub(crate) fn hop(rate: SampleRate) -> usize {
    rate.frames_in(HOP).get() as usize
}

/// Microseconds a hop: the time of `work` over so many hops.
pub(crate) fn microseconds(hops: usize, work: impl FnOnce()) -> f64 {
    let start = Instant::now();
    work();
    1e6 * start.elapsed().as_secs_f64() / hops.max(1) as f64
}

/// Microseconds a hop of one estimator over `samples`.
pub(crate) fn estimator_us(samples: &[f32], rate: SampleRate) -> f64 {
    let mut estimator = Estimator::new(rate);
    microseconds(samples.len() / hop(rate), || {
        for block in samples.chunks(hop(rate)) {
            estimator.push(block.iter().copied(), |reading| {
                black_box(reading);
            });
        }
    })
}

/// Microseconds a hop of the bare FFTs over `samples`.
pub(crate) fn bare_ffts_us(samples: &[f32], rate: SampleRate) -> f64 {
    let mut ffts = BareFfts::new(rate);
    let (longest, hop) = (ffts.longest(), hop(rate));
    let hops = samples.len().saturating_sub(longest) / hop;
    microseconds(hops, || {
        for at in 0..hops {
            ffts.run(&samples[at * hop..at * hop + longest]);
        }
    })
}

/// The least of several runs of both, taken in turn.
pub(crate) fn best_of(runs: usize, samples: &[f32], rate: SampleRate) -> (f64, f64) {
    (0..runs).fold((f64::INFINITY, f64::INFINITY), |(estimator, ffts), _| {
        (
            estimator.min(estimator_us(samples, rate)),
            ffts.min(bare_ffts_us(samples, rate)),
        )
    })
}

/// Prints the cost of a hop.
pub(crate) fn print(sound: &Sound, short: bool, out: &mut dyn Write) -> anyhow::Result<()> {
    let (runs, seconds) = if short {
        (RUNS_SHORT, SECONDS_SHORT)
    } else {
        (RUNS, SECONDS)
    };
    let samples = sound.stretch(seconds);
    let mut hops = [0; 3];
    Estimator::new(sound.rate).push(samples.iter().copied(), |reading| {
        hops[match reading.pitch {
            Ok(_) => 0,
            Err(NoPitch::Silence) => 1,
            Err(NoPitch::Noise | NoPitch::TwoNotes | NoPitch::Drone) => 2,
        }] += 1;
    });
    let all = hops.iter().sum::<usize>() as f64;
    section(
        out,
        "Cost",
        &format!(
            "{seconds} s of recorded notes at {} Hz ({:.0} % of the hops with pitch, {:.0} % \
             silent), a hop at a time, best of {runs} runs. The bare FFTs are real ones in \
             single precision of the same windows ({} samples) at every hop, silent or not, \
             and nothing else.",
            sound.rate.get(),
            100.0 * hops[0] as f64 / all,
            100.0 * hops[1] as f64 / all,
            window_lengths(sound.rate).map(|n| n.to_string()).join(", ")
        ),
    )?;
    let (estimator, ffts) = best_of(runs, &samples, sound.rate);
    let hop_us = 1e6 * HOP.get();
    let mut table = Table::new(&["a hop and channel", "us", "% of real time", "of bare FFTs"]);
    for (name, us) in [("estimator", estimator), ("bare FFTs", ffts)] {
        table.row([
            name.to_owned(),
            format!("{us:.1}"),
            format!("{:.2}", 100.0 * us / hop_us),
            format!("{:.2}", us / ffts),
        ]);
    }
    writeln!(out, "{table}")?;
    Ok(())
}
