//! Recorded notes mixed at known ratios, through the program: see `check.sh`.
//!
//! ```text
//! cargo run --example mixtures -- PROGRAM FOLDER_OF_RECORDINGS mixtures.csv
//! ```
//!
//! The folder holds the recordings by instrument; the mixtures are written there too. What each
//! note sounds at is known from itself alone, played just as fast: through the ear for chords, and
//! through `PROGRAM analyse`, whose estimator has nothing in common with that and is held against
//! other programs by `values.csv`. Where one recording is played at two speeds, the interval is
//! known without any estimator.

#[path = "../signals/sound_file.rs"]
mod sound_file;
#[allow(dead_code, reason = "the hearing bench uses the rest")]
#[path = "../hearing/statistics.rs"]
mod statistics;

use std::f64::consts::PI;
use std::io::{self, Write};
use std::path::Path;
use std::process::{Command, ExitCode};

use anyhow::{Context, bail, ensure};
use concento::units::SampleRate;
use serde::Deserialize;

use sound_file::first_channel;
use statistics::{mean, weighted_mean};

/// The rate and the length of the mixtures.
const RATE_HZ: u32 = 48_000;
const SECONDS: f64 = 1.6;
/// Zero crossings of the sinc on either side: enough for 80 dB below its upper limit.
const CROSSINGS: f64 = 24.0;
/// The part of the lower half rate that passes.
const PASSES: f64 = 0.95;
/// The highest amplitude of a mixture.
const LOUDEST: f64 = 0.5;

/// What all mixtures are told to stand on.
const TUNING: [&str; 6] = [
    "--a4",
    "440",
    "--fundamental",
    "73.3",
    "--temperament",
    "equal",
];

/// How far an interval may lie from that of the notes alone through the same ear, in cents: what
/// the other notes do to a note's pitch.
const BOUND: f64 = 0.7;
/// And so far where the voices are nearer than a semitone to a unison or an octave: most lines
/// of the upper one lie on the lower one's, and both swing.
const BOUND_SHARED: f64 = 1.5;
/// How far from that of the notes alone through `analyse`. On a violin's note alone the two
/// differ by 1.2 cents for a second, and on one that swings by more: they weigh partials and
/// moments differently.
const BOUND_OTHER: f64 = 2.0;
/// How far from the ratio itself where one recording is played at two speeds: its pitch wanders
/// by two cents within what one of them plays in a second and the other does not.
const BOUND_RATIO: f64 = 2.0;
/// A reported pitch farther from the true one is another note, in cents.
const REACH: f64 = 25.0;
/// The share of the updates in which a voice must be told.
const FEWEST: f64 = 0.6;

#[derive(Debug, Deserialize)]
struct Row {
    mixture: String,
    label: String,
    instrument: String,
    file: String,
    ratio: f64,
    from_s: f64,
    level_db: f64,
}

/// What `chord --format json` says of a voice.
#[derive(Debug, Deserialize)]
struct Line {
    time_s: f64,
    window_s: f64,
    hz: Option<f64>,
    status: String,
}

/// A note alone.
struct Solo {
    /// Through the ear for chords.
    lines: Vec<Line>,
    /// Through the one for single notes.
    readings: Vec<Reading>,
}

/// What `analyse --format json` says of a moment.
#[derive(Debug, Deserialize)]
struct Reading {
    time_s: f64,
    hz: Option<f64>,
}

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [program, store, list] = arguments.as_slice() else {
        let _ = writeln!(
            io::stderr(),
            "mixtures: give the program, the recordings and the list"
        );
        return ExitCode::from(2);
    };
    match check(
        program,
        Path::new(store),
        Path::new(list),
        &mut io::stdout().lock(),
    ) {
        Ok(0) => ExitCode::SUCCESS,
        Ok(faults) => {
            let _ = writeln!(
                io::stderr(),
                "mixtures: FAILED: {faults} intervals are not known"
            );
            ExitCode::FAILURE
        }
        Err(error) => {
            let _ = writeln!(io::stderr(), "mixtures: FAILED: {error:#}");
            ExitCode::FAILURE
        }
    }
}

/// Checks all mixtures in both modes and tells how many intervals are wrong.
fn check(program: &str, store: &Path, list: &Path, out: &mut dyn Write) -> anyhow::Result<usize> {
    let mut reader = csv::ReaderBuilder::new();
    let mut reader = reader.comment(Some(b'#')).from_path(list)?;
    let rows: Vec<Row> = reader.deserialize().collect::<Result<_, _>>()?;
    let (mut checked, mut faults) = (0, 0);
    for notes in rows.chunk_by(|a, b| a.mixture == b.mixture) {
        let mut alone = Vec::new();
        for note in notes {
            alone.push(note.played(store)?);
        }
        let mixed: Vec<f64> = (0..alone[0].len())
            .map(|i| alone.iter().map(|note| note[i]).sum())
            .collect();
        let peak = mixed
            .iter()
            .fold(0.0, |peak: f64, sample| peak.max(sample.abs()));
        let mut solos = Vec::new();
        for (note, samples) in notes.iter().zip(&alone) {
            let path = store.join("alone.wav");
            write(&path, samples, LOUDEST / peak)?;
            let path = text(&path)?;
            let mut arguments = vec!["chord", path, "--expect", &note.label];
            arguments.extend(TUNING);
            solos.push(Solo {
                lines: json(program, &arguments)?,
                readings: json(program, &["analyse", path])?,
            });
        }
        let path = store.join("mixture.wav");
        write(&path, &mixed, LOUDEST / peak)?;
        let labels: Vec<&str> = notes.iter().map(|note| note.label.as_str()).collect();
        for expect in [Some(labels.join(",")), None] {
            let mut arguments = vec!["chord", text(&path)?];
            arguments.extend(TUNING);
            if let Some(labels) = &expect {
                arguments.extend(["--expect", labels]);
            }
            let lines: Vec<Line> = json(program, &arguments)?;
            let mode = if expect.is_some() { "expected" } else { "free" };
            checked += notes.len() - 1;
            faults += compare(mode, notes, &lines, &solos, out)?;
        }
    }
    writeln!(
        out,
        "mixtures: {} intervals as the notes alone have them, {faults} not",
        checked - faults
    )?;
    Ok(faults)
}

impl Row {
    /// The note as it sounds in the mixture.
    fn played(&self, store: &Path) -> anyhow::Result<Vec<f64>> {
        let (samples, rate) = first_channel(&store.join(&self.instrument).join(&self.file))?;
        let step = self.ratio * rate.hz() / f64::from(RATE_HZ);
        let start = self.from_s * rate.hz();
        let count = (SECONDS * f64::from(RATE_HZ)) as usize;
        let last = start + count as f64 * step;
        ensure!(
            last < samples.len() as f64,
            "'{}' is too short: it ends before {:.1} s",
            self.file,
            last / rate.hz()
        );
        // All notes are equally loud before the level is applied.
        let sounding = &samples[start as usize..last as usize];
        let power = mean(sounding.iter().map(|s| f64::from(*s).powi(2))).unwrap_or(0.0);
        let gain = 10_f64.powf(self.level_db / 20.0) / power.sqrt();
        let at = |i: usize| gain * between(&samples, start + i as f64 * step, step);
        Ok((0..count).map(at).collect())
    }
}

/// The value of the sound at a place between its samples, without what would lie above half the
/// rate when every `step`th is taken: a sinc of linear phase through a Hann window.
fn between(samples: &[f32], place: f64, step: f64) -> f64 {
    let passes = PASSES / step.max(1.0);
    let reach = CROSSINGS / passes;
    let first = (place - reach).ceil().max(0.0) as usize;
    let around = samples.iter().enumerate().skip(first);
    around
        .take_while(|(i, _)| *i as f64 <= place + reach)
        .map(|(i, sample)| {
            let away = i as f64 - place;
            let turn = PI * passes * away;
            let sinc = if turn.abs() < 1e-9 {
                1.0
            } else {
                turn.sin() / turn
            };
            let window = (0.5 * PI * away / reach).cos().powi(2);
            f64::from(*sample) * passes * sinc * window
        })
        .sum()
}

fn write(path: &Path, samples: &[f64], gain: f64) -> anyhow::Result<()> {
    let rate = SampleRate::new(RATE_HZ)?;
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: rate.get(),
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut writer = hound::WavWriter::create(path, spec)?;
    for sample in samples {
        writer.write_sample((sample * gain * f64::from(i16::MAX)).round() as i16)?;
    }
    Ok(writer.finalize()?)
}

fn text(path: &Path) -> anyhow::Result<&str> {
    path.to_str().context("the folder's name is no text")
}

/// Runs the program and reads its lines of JSON.
fn json<T: serde::de::DeserializeOwned>(
    program: &str,
    arguments: &[&str],
) -> anyhow::Result<Vec<T>> {
    let mut command = Command::new(program);
    let output = command
        .args(arguments)
        .args(["--format", "json"])
        .output()?;
    if !output.status.success() {
        bail!("{arguments:?}: {}", String::from_utf8_lossy(&output.stderr));
    }
    let lines = String::from_utf8(output.stdout)?;
    let parse = |line| {
        serde_json::from_str(line).with_context(|| format!("no voice and no reading: {line}"))
    };
    lines.lines().map(parse).collect()
}

impl Solo {
    /// The pitch at the moment of an update through the same ear.
    fn through_chord(&self, at: &Line) -> Option<f64> {
        let same = |line: &&Line| (line.time_s - at.time_s).abs() < 1e-6;
        self.lines.iter().find(same)?.hz
    }

    /// The pitch at the moment of an update through the other one, as the mean through a Hann
    /// window.
    fn through_analyse(&self, at: &Line) -> Option<f64> {
        let inside = self.readings.iter().filter_map(|reading| {
            let turn = PI * (reading.time_s - at.time_s) / at.window_s;
            (turn.abs() < 0.5 * PI).then_some((reading.hz?.log2(), turn.cos().powi(2)))
        });
        weighted_mean(inside).map(f64::exp2)
    }
}

fn cents(hz: f64, base_hz: f64) -> f64 {
    1200.0 * (hz / base_hz).log2()
}

/// The pitches of two voices told in one update, and of the same notes alone.
struct Pair {
    told: f64,
    alone: f64,
    alone_other: f64,
}

/// Compares the intervals above the first voice with those of the notes alone; tells how many
/// are wrong.
fn compare(
    mode: &str,
    notes: &[Row],
    lines: &[Line],
    solos: &[Solo],
    out: &mut dyn Write,
) -> anyhow::Result<usize> {
    let mixture = &notes[0].mixture;
    let updates: Vec<&[Line]> = lines
        .chunk_by(|a, b| (a.time_s - b.time_s).abs() < 1e-6)
        .collect();
    ensure!(updates.len() >= 4, "{mixture}: {} updates", updates.len());
    let mut wrong = 0;
    for voice in 1..notes.len() {
        let mut pairs = Vec::new();
        for update in &updates {
            let missing = || format!("{mixture}: a note alone was not heard");
            let of = |voice: usize| -> anyhow::Result<(Option<f64>, f64, f64)> {
                let alone = solos[voice]
                    .through_chord(&update[0])
                    .with_context(missing)?;
                let other = solos[voice]
                    .through_analyse(&update[0])
                    .with_context(missing)?;
                Ok((told(update, alone), alone, other))
            };
            if let ((Some(lower), low, low_other), (Some(upper), high, high_other)) =
                (of(0)?, of(voice)?)
            {
                pairs.push(Pair {
                    told: cents(upper, lower),
                    alone: cents(high, low),
                    alone_other: cents(high_other, low_other),
                });
            }
        }
        let share = pairs.len() as f64 / updates.len() as f64;
        let off = |known: &dyn Fn(&Pair) -> f64| {
            let all = pairs.iter().map(|pair| pair.told - known(pair));
            mean(all).unwrap_or(f64::INFINITY)
        };
        let alone = off(&|pair| pair.alone);
        let other = off(&|pair| pair.alone_other);
        let ratio_cents = cents(notes[voice].ratio, notes[0].ratio);
        let same = (&notes[voice].instrument, &notes[voice].file)
            == (&notes[0].instrument, &notes[0].file);
        let ratio = same.then(|| off(&|_| ratio_cents));
        let interval = mean(pairs.iter().map(|pair| pair.told)).unwrap_or(f64::NAN);
        let from_octave = (interval - 1200.0 * (interval / 1200.0).round()).abs();
        let bound = if from_octave < 100.0 {
            BOUND_SHARED
        } else {
            BOUND
        };
        let is_right = share >= FEWEST
            && alone.abs() <= bound
            && other.abs() <= BOUND_OTHER
            && ratio.is_none_or(|ratio| ratio.abs() <= BOUND_RATIO);
        wrong += usize::from(!is_right);
        writeln!(
            out,
            "{} {mixture}, {mode}: {interval:.2} cents in {:.0} % of the updates; off the notes \
             alone {alone:+.2} (allowed {bound}), by analyse {other:+.2}{}",
            if is_right { "  " } else { "!!" },
            100.0 * share,
            ratio.map_or_else(String::new, |ratio| format!(", off the ratio {ratio:+.2}")),
        )?;
    }
    Ok(wrong)
}

/// The pitch that an update tells of a note that alone sounds at `alone_hz`.
fn told(update: &[Line], alone_hz: f64) -> Option<f64> {
    update
        .iter()
        .filter(|line| line.status == "ok")
        .filter_map(|line| line.hz)
        .filter(|hz| cents(*hz, alone_hz).abs() < REACH)
        .min_by(|a, b| {
            let off = |hz: &f64| cents(*hz, alone_hz).abs();
            off(a).total_cmp(&off(b))
        })
}
