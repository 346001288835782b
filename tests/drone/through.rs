//! How a player is read through a drone: recordings of single notes, with a rendered drone on
//! its way through an invented room added, against the readings of the recordings alone.
//!
//!     cargo run --release --example through -- FILE.wav...
//!
//! Prints a line for each drone and level: how many of the frames that are read without the drone
//! are read through it, and how far off, in cents; how many are said to be on the drone, or are
//! lost; then how often something is read before the player begins and after the end, where
//! nobody plays, and how often somebody is said to be on the drone then.

#![allow(
    clippy::print_stdout,
    clippy::print_stderr,
    reason = "it is run by hand, for its table"
)]

use std::path::{Path, PathBuf};

use concento::analysis::cancel::Canceller;
use concento::analysis::{Estimator, NoPitch, Reading};
use concento::drone::{Passage, Synth, Timbre, Wanted, WantedTone};
use concento::sound::recording::Recording;
use concento::sound::{Delivery, Pace, Source};
use concento::units::{Dbfs, Hertz, SampleRate};

/// Seconds of drone alone before the player begins.
const ALONE_S: f64 = 3.0;
/// Seconds of drone alone after the player has ended.
const AFTER_S: f64 = 1.5;
/// What of that may belong to the player's last note still.
const DYING_S: f64 = 0.2;
/// What lies between loudspeaker and microphone.
const LATENCY_S: f64 = 0.083;

fn main() {
    let files: Vec<PathBuf> = std::env::args().skip(1).map(PathBuf::from).collect();
    let mut table = Table::default();
    for file in &files {
        let Some((rate, player)) = load(file) else {
            eprintln!("{}: cannot be read", file.display());
            continue;
        };
        judge(rate, &player, &mut table);
    }
    table.print();
}

fn load(file: &Path) -> Option<(SampleRate, Vec<f32>)> {
    let mut recording = Recording::open(file, Pace::Fast).ok()?;
    let (mut rate, mut channels, mut sound) = (None, 1, Vec::new());
    loop {
        match recording.next(std::time::Duration::ZERO) {
            Delivery::Started(format) => {
                rate = Some(format.rate);
                channels = format.channels;
            }
            Delivery::Block { samples, .. } => sound.extend(samples.iter().step_by(channels)),
            Delivery::State(concento::sound::SourceState::Ended) => return Some((rate?, sound)),
            Delivery::State(_) | Delivery::Nothing => {}
        }
    }
}

fn readings(rate: SampleRate, sound: &[f32]) -> Vec<Reading> {
    let mut ear = Estimator::new(rate);
    let mut all = Vec::new();
    ear.push(sound.iter().copied(), |reading| all.push(*reading));
    all
}

/// The player's usual pitch.
fn middle(readings: &[Reading]) -> Option<Hertz> {
    let mut pitches: Vec<f64> = readings
        .iter()
        .filter_map(|r| Some(r.pitch.ok()?.hertz.get()))
        .collect();
    pitches.sort_by(f64::total_cmp);
    Hertz::new(*pitches.get(pitches.len() / 2)?).ok()
}

fn judge(rate: SampleRate, player: &[f32], table: &mut Table) {
    let alone = readings(rate, player);
    let Some(pitch) = middle(&alone) else { return };
    let raised = |cents: f64| pitch.get() * (cents / 1200.0).exp2();
    let loudness = rms(player);
    for (name, tones) in [
        ("same note 20 cents above", vec![raised(20.0)]),
        ("octave below, 16 cents off", vec![raised(-1216.0)]),
        (
            "fifth below, pure, and octave",
            vec![pitch.get() / 1.5, pitch.get() / 3.0],
        ),
        ("third below, tempered", vec![raised(-400.0)]),
        (
            "three tones",
            vec![raised(-1230.0), raised(-830.0), raised(-520.0)],
        ),
    ] {
        for db in [10.0, 0.0, -10.0] {
            let mut scene = Scene::new(rate, &tones, player.len());
            let gain = loudness * 10_f64.powf(db / 20.0) / rms(&scene.drone[scene.begins()..]);
            for sample in &mut scene.drone {
                *sample *= gain as f32;
            }
            let begins = scene.begins();
            for (slot, sample) in scene.drone[begins..].iter_mut().zip(player) {
                *slot += sample;
            }
            let heard = scene.hear();
            let first = begins / (rate.get() as usize / 100);
            let before = &heard[..first];
            let row = table.row(name, db);
            row.before += before.iter().filter(|r| r.pitch.is_ok()).count();
            row.frames_before += before.len();
            let ended = first + alone.len() + (DYING_S * 100.0) as usize;
            let after = heard.get(ended..).unwrap_or(&[]);
            row.after += after.iter().filter(|r| r.pitch.is_ok()).count();
            row.frames_after += after.len();
            for (with, without) in heard[first..].iter().zip(&alone) {
                let Ok(true_pitch) = without.pitch else {
                    continue;
                };
                row.frames += 1;
                match with.pitch {
                    Ok(pitch) => {
                        let off = pitch.hertz.above(true_pitch.hertz).abs().get();
                        row.off.push(off);
                    }
                    Err(NoPitch::Drone) => row.on_drone += 1,
                    Err(_) => row.lost += 1,
                }
            }
        }
    }
}

fn rms(sound: &[f32]) -> f64 {
    let sum: f64 = sound.iter().map(|s| f64::from(*s).powi(2)).sum();
    (sum / sound.len().max(1) as f64).sqrt().max(1e-9)
}

/// A drone as a microphone hears it.
struct Scene {
    rate: SampleRate,
    drone: Vec<f32>,
    passages: Vec<Passage>,
}

impl Scene {
    fn new(rate: SampleRate, tones: &[f64], player: usize) -> Self {
        let mut synth = Synth::new(rate);
        let tones = tones.iter().filter_map(|hz| Hertz::new(*hz).ok());
        synth.want(Wanted {
            tones: tones.map(|hertz| WantedTone { hertz, pan: 0.0 }).collect(),
            timbre: Timbre::Organ,
            level: Dbfs::new(-20.0),
        });
        let begins = (ALONE_S * rate.hz()) as usize;
        let mut passages = Vec::new();
        let after = (AFTER_S * rate.hz()) as usize;
        let mut stereo = vec![0.0; 2 * (begins + player + after + rate.get() as usize)];
        synth.render(&mut stereo, |passage| passages.push(passage.clone()));
        let left: Vec<f32> = stereo.iter().step_by(2).copied().collect();
        Self {
            rate,
            drone: through_room(&left, rate, begins + player + after),
            passages,
        }
    }

    /// Where the player begins.
    fn begins(&self) -> usize {
        let hop = self.rate.get() as usize / 100;
        (ALONE_S * self.rate.hz()) as usize / hop * hop
    }

    fn hear(&self) -> Vec<Reading> {
        let mut canceller = Canceller::new(self.rate);
        canceller.begin(self.rate, 0.0);
        for passage in &self.passages {
            canceller.tell(passage.clone());
        }
        let mut ear = Estimator::new(self.rate);
        let mut all = Vec::new();
        for hop in self.drone.chunks(480) {
            let mut left = Vec::new();
            canceller.take(hop.iter().copied(), |_, rest| left.extend_from_slice(rest));
            ear.push(left.iter().copied(), |reading| all.push(*reading));
            if let Some(last) = all.last_mut() {
                canceller.judge(last);
            }
        }
        all
    }
}

/// A direct way and some reflections, a clock 60 parts in a million off that changes by 20
/// after two seconds.
fn through_room(played: &[f32], rate: SampleRate, frames: usize) -> Vec<f32> {
    let mut random = fastrand::Rng::with_seed(7);
    let mut taps = vec![(0_usize, 1.0_f32)];
    for _ in 0..40 {
        let s = random.f64() * 0.25;
        let gain = 0.5 * (-s / 0.06).exp() * (random.f64() - 0.5);
        taps.push(((s * rate.hz()) as usize, gain as f32));
    }
    let mut wet = vec![0.0_f32; played.len()];
    for (delay, gain) in taps {
        for (slot, sample) in wet[delay..].iter_mut().zip(played) {
            *slot += gain * sample;
        }
    }
    let mut at = -LATENCY_S * rate.hz();
    (0..frames)
        .map(|n| {
            let skew = if (n as f64) < 4.0 * rate.hz() {
                60e-6
            } else {
                80e-6
            };
            at += 1.0 + skew;
            between(&wet, at)
        })
        .collect()
}

/// Band-limited interpolation: a sinc under a Hann window of 32 samples.
fn between(sound: &[f32], at: f64) -> f32 {
    let first = at.floor() as i64 - 15;
    let mut sum = 0.0;
    for n in first..first + 32 {
        let Some(sample) = usize::try_from(n).ok().and_then(|n| sound.get(n)) else {
            continue;
        };
        let x = at - n as f64;
        let sinc = if x.abs() < 1e-9 {
            1.0
        } else {
            (std::f64::consts::PI * x).sin() / (std::f64::consts::PI * x)
        };
        sum += f64::from(*sample) * sinc * (0.5 + 0.5 * (std::f64::consts::PI * x / 16.5).cos());
    }
    sum as f32
}

#[derive(Default)]
struct Row {
    frames: usize,
    off: Vec<f64>,
    on_drone: usize,
    lost: usize,
    before: usize,
    frames_before: usize,
    after: usize,
    on_drone_after: usize,
    frames_after: usize,
}

#[derive(Default)]
struct Table(Vec<(String, f64, Row)>);

impl Table {
    fn row(&mut self, name: &str, db: f64) -> &mut Row {
        let at = self
            .0
            .iter()
            .position(|(n, d, _)| n == name && (*d - db).abs() < 0.1);
        let at = at.unwrap_or_else(|| {
            self.0.push((name.to_owned(), db, Row::default()));
            self.0.len() - 1
        });
        &mut self.0[at].2
    }

    fn print(&mut self) {
        println!(
            "{:32} {:>5} {:>7} {:>6} {:>6} {:>6} {:>6} {:>6} {:>6} {:>8}",
            "drone", "dB", "frames", "<=2c", "median", "p95", "read", "drone", "lost", "drone read"
        );
        for (name, db, row) in &mut self.0 {
            row.off.sort_by(f64::total_cmp);
            let share = |n: usize| 100.0 * n as f64 / row.frames.max(1) as f64;
            let within = row.off.partition_point(|off| *off <= 2.0);
            let at = |q: f64| {
                row.off
                    .get((q * row.off.len() as f64) as usize)
                    .copied()
                    .unwrap_or(f64::NAN)
            };
            println!(
                "{name:32} {db:5.0} {:7} {:6.1} {:6.2} {:6.2} {:6.1} {:6.1} {:6.1} {:4}/{} {:4} {:4}/{}",
                row.frames,
                100.0 * within as f64 / row.off.len().max(1) as f64,
                at(0.5),
                at(0.95),
                share(row.off.len()),
                share(row.on_drone),
                share(row.lost),
                row.before,
                row.frames_before,
                row.after,
                row.on_drone_after,
                row.frames_after,
            );
        }
    }
}
