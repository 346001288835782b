//! How the cost grows with channels, rate and time.

use std::hint::black_box;
use std::io::Write;

use concento::analysis::{Ears, Estimator, HOP};
use concento::units::{FramePosition, SampleRate};

use super::columns::{self, Table, paragraph, section};
use super::cost::{Sound, best_of, hop, microseconds};
use super::statistics::{mean, median};
use super::tones::{Tone, noisy};

const CHANNELS: [usize; 6] = [1, 2, 4, 8, 16, 32];
const RATES_HZ: [u32; 6] = [44_100, 48_000, 88_200, 96_000, 176_400, 192_000];
/// Sound of each channel, in seconds.
const CHANNEL_S: f64 = 2.0;
const CHANNEL_SHORT_S: f64 = 0.5;
/// Sound at each rate, in seconds.
const RATE_S: f64 = 6.0;
const RATE_SHORT_S: f64 = 2.0;
const RUNS: usize = 3;
/// Minutes of the long feed.
const MINUTES: usize = 10;
const MINUTES_SHORT: usize = 2;

/// Prints the growth.
pub(crate) fn print(sound: &Sound, short: bool, out: &mut dyn Write) -> anyhow::Result<()> {
    let (channel_s, rate_s, minutes) = if short {
        (CHANNEL_SHORT_S, RATE_SHORT_S, MINUTES_SHORT)
    } else {
        (CHANNEL_S, RATE_S, MINUTES)
    };
    section(
        out,
        "Growth",
        &format!("With the hop: it is fixed at {:.0} ms.", 1000.0 * HOP.get()),
    )?;
    let text = format!(
        "With the channels of one stream, on one thread: 32 stretches of recorded notes \
         ({channel_s} s each), so many at a time, best of {RUNS} runs each:"
    );
    paragraph(out, &text)?;
    channels(sound, channel_s, out)?;
    let text = format!(
        "With the rate: tones from 65 to 988 Hz in faint noise, {rate_s} s, best of \
         {RUNS} runs:"
    );
    paragraph(out, &text)?;
    rates(rate_s, out)?;
    let text = format!(
        "With time: the same minute of recorded notes fed {minutes} times to one \
         estimator; of the first: median of the 60 ratios, second by second:"
    );
    paragraph(out, &text)?;
    time(sound, minutes, out)
}

fn channels(sound: &Sound, seconds: f64, out: &mut dyn Write) -> anyhow::Result<()> {
    let frames = (seconds * sound.rate.hz()) as usize;
    let most = CHANNELS[CHANNELS.len() - 1];
    let sample = |channel: usize, frame: usize| {
        let start = channel * sound.samples.len() / most;
        sound.samples[(start + frame) % sound.samples.len()]
    };
    let mut table = Table::new(&[
        "channels",
        "us a hop and channel",
        "of one",
        "% of real time",
    ]);
    let mut one = None;
    for count in CHANNELS {
        // All channels of the largest stream, so many at a time: every line hears the same.
        let mut sum_us = 0.0;
        for first in (0..most).step_by(count) {
            let frame = |frame| (first..first + count).map(move |channel| sample(channel, frame));
            let interleaved: Vec<f32> = (0..frames).flat_map(frame).collect();
            let run = |_| ears_us(&interleaved, count, sound.rate);
            sum_us += (0..RUNS).map(run).fold(f64::INFINITY, f64::min);
        }
        let us = sum_us / (most / count) as f64;
        let one = *one.get_or_insert(us);
        table.row([
            count.to_string(),
            format!("{us:.1}"),
            format!("{:.2}", us / one),
            format!("{:.1}", 100.0 * us * count as f64 / (1e6 * HOP.get())),
        ]);
    }
    writeln!(out, "{table}")?;
    Ok(())
}

/// Microseconds a hop and channel of interleaved sound.
fn ears_us(interleaved: &[f32], channels: usize, rate: SampleRate) -> f64 {
    let wanted: Vec<usize> = (0..channels).collect();
    let mut ears = Ears::new(rate, channels, &wanted);
    let frames = interleaved.len() / channels;
    microseconds(channels * (frames / hop(rate)), || {
        for (index, block) in interleaved.chunks(hop(rate) * channels).enumerate() {
            let first = FramePosition::new((index * hop(rate)) as u64);
            ears.hear(first, block, |_, reading| {
                black_box(reading);
            });
        }
    })
}

fn rates(seconds: f64, out: &mut dyn Write) -> anyhow::Result<()> {
    let mut table = Table::new(&[
        "rate Hz",
        "us a hop",
        "of 48 kHz",
        "bare FFTs us",
        "of 48 kHz",
        "of bare FFTs",
    ]);
    let mut rows = Vec::new();
    for rate_hz in RATES_HZ {
        let rate = SampleRate::new(rate_hz)?;
        let notes = [65.4, 98.0, 164.8, 293.7, 440.0, 987.8];
        let length_s = seconds / notes.len() as f64;
        let samples = notes.map(|hz| {
            let tone = Tone::steady(hz);
            let deviation = tone.noise_deviation(50.0);
            noisy(tone.samples(rate_hz, length_s), hz as u64, deviation)
        });
        rows.push((rate_hz, best_of(RUNS, &samples.concat(), rate)));
    }
    let usual = rows.iter().find(|(rate_hz, _)| *rate_hz == 48_000);
    let (usual, usual_ffts) = usual.map_or((1.0, 1.0), |(_, times)| *times);
    for (rate_hz, (estimator, ffts)) in rows {
        table.row([
            rate_hz.to_string(),
            format!("{estimator:.1}"),
            format!("{:.2}", estimator / usual),
            format!("{ffts:.1}"),
            format!("{:.2}", ffts / usual_ffts),
            format!("{:.2}", estimator / ffts),
        ]);
    }
    writeln!(out, "{table}")?;
    Ok(())
}

fn time(sound: &Sound, minutes: usize, out: &mut dyn Write) -> anyhow::Result<()> {
    let minute = sound.stretch(60.0);
    let second = sound.rate.get() as usize;
    let mut estimator = Estimator::new(sound.rate);
    let mut feed = |samples: &[f32]| {
        microseconds(samples.len() / hop(sound.rate), || {
            for block in samples.chunks(hop(sound.rate)) {
                estimator.push(block.iter().copied(), |reading| {
                    black_box(reading);
                });
            }
        })
    };
    let times: Vec<Vec<f64>> = (0..minutes)
        .map(|_| minute.chunks(second).map(&mut feed).collect())
        .collect();
    let mut table = Table::new(&["minute", "us a hop", "of the first"]);
    for (number, seconds) in (1..).zip(&times) {
        let ratios = seconds.iter().zip(&times[0]).map(|(us, first)| us / first);
        table.row([
            number.to_string(),
            columns::number(mean(seconds.iter().copied()), 1),
            columns::number(median(ratios), 3),
        ]);
    }
    writeln!(out, "{table}")?;
    Ok(())
}
