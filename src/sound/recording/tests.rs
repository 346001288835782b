use std::fs;

use hound::{SampleFormat, WavSpec, WavWriter};
use tempfile::TempDir;

use std::time::Instant;

use super::*;
use crate::sound::SourceState;

/// What a source told, from its start to its end.
struct Heard {
    formats: Vec<StreamFormat>,
    firsts: Vec<u64>,
    samples: Vec<f32>,
    warning: Option<String>,
}

fn hear(mut recording: Recording) -> Heard {
    let mut heard = Heard {
        formats: Vec::new(),
        firsts: Vec::new(),
        samples: Vec::new(),
        warning: None,
    };
    loop {
        match recording.next(Duration::ZERO) {
            Delivery::Started(format) => heard.formats.push(format),
            Delivery::Block { first, samples } => {
                heard.firsts.push(first.get());
                heard.samples.extend(samples);
            }
            Delivery::State(SourceState::Ended) => break,
            Delivery::State(state) => assert_eq!(state, SourceState::Running),
            Delivery::Nothing => panic!("nothing from a fast recording"),
        }
    }
    assert!(matches!(recording.next(Duration::ZERO), Delivery::Nothing));
    heard.warning = recording.warning().map(str::to_owned);
    heard
}

fn fast(path: &Path) -> Recording {
    Recording::open(path, Pace::Fast).unwrap()
}

fn spec(channels: u16, rate: u32, bits: u16, sample_format: SampleFormat) -> WavSpec {
    WavSpec {
        channels,
        sample_rate: rate,
        bits_per_sample: bits,
        sample_format,
    }
}

/// Different in every sample and channel, exact in 16 bits.
fn sound(frames: usize, channels: usize) -> Vec<i32> {
    (0..frames * channels)
        .map(|n| (n as i32 * 7919) % 30_000 - 15_000)
        .collect()
}

fn write_int(path: &Path, spec: WavSpec, sound: &[i32]) {
    let mut writer = WavWriter::create(path, spec).unwrap();
    for &sample in sound {
        let shifted = sample << (spec.bits_per_sample - 16);
        writer.write_sample(shifted).unwrap();
    }
    writer.finalize().unwrap();
}

/// The frequency of one channel by its upward zero crossings.
fn frequency(samples: &[f32], channel: usize, channels: usize, rate: f64) -> f64 {
    let x: Vec<f64> = samples
        .chunks_exact(channels)
        .map(|frame| f64::from(frame[channel]))
        .collect();
    // Codecs ring at both ends.
    let x = &x[x.len() / 5..x.len() * 4 / 5];
    let crossings: Vec<f64> = (1..x.len())
        .filter(|&n| x[n - 1] < 0.0 && x[n] >= 0.0)
        .map(|n| n as f64 - x[n] / (x[n] - x[n - 1]))
        .collect();
    let span = crossings[crossings.len() - 1] - crossings[0];
    (crossings.len() - 1) as f64 * rate / span
}

#[test]
fn wav_of_every_width_channel_count_and_rate_comes_back_exactly() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("take.wav");
    let cases = [
        (1, 8_000),
        (2, 44_100),
        (3, 48_000),
        (8, 96_000),
        (32, 192_000),
    ];
    for (channels, rate) in cases {
        let sound = sound(1000, usize::from(channels));
        let expected: Vec<f32> = sound.iter().map(|&s| s as f32 / 32_768.0).collect();
        for bits in [16, 24, 32] {
            write_int(&path, spec(channels, rate, bits, SampleFormat::Int), &sound);
            let recording = fast(&path);
            assert_eq!(recording.length(), Some(Frames::new(1000)));
            let heard = hear(recording);
            assert_eq!(heard.samples, expected, "{bits} bits, {channels} channels");
            assert_eq!(heard.formats.len(), 1);
            assert_eq!(heard.formats[0].rate.get(), rate);
            assert_eq!(heard.formats[0].channels, usize::from(channels));
            assert_eq!(heard.formats[0].name, "take.wav");
            let step = u64::from(rate) / 100;
            let firsts: Vec<u64> = (0..1000).step_by(step as usize).collect();
            assert_eq!(heard.firsts, firsts);
            assert_eq!(heard.warning, None);
        }
    }
}

#[test]
fn float_files_pass_unharmed_even_what_is_not_a_number() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("take.wav");
    let mut writer = WavWriter::create(&path, spec(1, 48_000, 32, SampleFormat::Float)).unwrap();
    for sample in [0.25, f32::NAN, f32::INFINITY, -1.5] {
        writer.write_sample(sample).unwrap();
    }
    writer.finalize().unwrap();
    let heard = hear(fast(&path));
    let warning = heard.warning.unwrap();
    let told = "has samples that are no numbers, the first at 0:00.0: they count as silence";
    assert!(warning.ends_with(told), "{warning}");
    let heard = heard.samples;
    assert_eq!(heard.len(), 4);
    assert!((heard[0] - 0.25).abs() < 1e-9 && (heard[3] + 1.5).abs() < 1e-9);
    assert!(heard[1].is_nan() && heard[2].is_infinite());
}

#[test]
fn compressed_files_hold_their_tones_whatever_they_are_called() {
    let fixtures = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fixtures");
    let folder = TempDir::new().unwrap();
    // Each holds 440 Hz left and 660 Hz right, a quarter of a second at 44.1 kHz.
    for name in ["tone.flac", "tone.mp3", "tone.ogg"] {
        let disguised = folder.path().join("take.wav");
        fs::copy(fixtures.join(name), &disguised).unwrap();
        for path in [fixtures.join(name), disguised] {
            let recording = fast(&path);
            let format = recording.format().clone();
            assert_eq!((format.rate.get(), format.channels), (44_100, 2), "{name}");
            let heard = hear(recording);
            let frames = heard.samples.len() / 2;
            // MP3 files say how much to trim; a frame more or less is the encoder's business.
            assert!(frames.abs_diff(11_025) <= 1152, "{name}: {frames} frames");
            // 0.3 cents.
            let left = frequency(&heard.samples, 0, 2, 44_100.0);
            let right = frequency(&heard.samples, 1, 2, 44_100.0);
            assert!((left - 440.0).abs() < 0.08, "{name}: {left}");
            assert!((right - 660.0).abs() < 0.12, "{name}: {right}");
            assert_eq!(heard.warning, None, "{name}");
        }
    }
}

#[test]
fn an_mp3_without_its_length_is_played_to_the_end() {
    let fixtures = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fixtures");
    let whole = fs::read(fixtures.join("tone.mp3")).unwrap();
    let sync = |at: &usize| whole[*at] == 0xFF && whole[at + 1] == 0xFB;
    let frames: Vec<usize> = (0..whole.len() - 1).filter(sync).collect();
    // The first frame holds the table of contents. What follows, ten times over: the guess at
    // the length, made from the first frames, then proves wrong if they are short ones.
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("take.mp3");
    fs::write(&path, whole[frames[1]..].repeat(10)).unwrap();
    let recording = fast(&path);
    assert_eq!(recording.length(), None);
    let heard = hear(recording);
    assert_eq!(heard.warning, None);
    assert!(heard.samples.len() / 2 > 10 * 11_025);
}

#[test]
fn odd_chunks_before_the_sound_are_passed_over() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("take.wav");
    write_int(&path, spec(2, 48_000, 16, SampleFormat::Int), &sound(50, 2));
    let plain = hear(fast(&path)).samples;
    let mut bytes = fs::read(&path).unwrap();
    // A note of three bytes and its padding, between the header and the format.
    bytes.splice(12..12, *b"note\x03\0\0\0abc\0");
    fs::write(&path, bytes).unwrap();
    assert_eq!(hear(fast(&path)).samples, plain);
}

#[test]
fn a_take_that_was_cut_off_is_played_as_far_as_it_goes() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("take.wav");
    write_int(
        &path,
        spec(2, 8_000, 16, SampleFormat::Int),
        &sound(8_000, 2),
    );
    let whole = fs::read(&path).unwrap();

    // Half a frame beyond the middle.
    fs::write(&path, &whole[..44 + 16_000 + 2]).unwrap();
    let recording = fast(&path);
    assert_eq!(recording.length(), Some(Frames::new(4_000)));
    let heard = hear(recording);
    assert_eq!(heard.samples.len(), 8_000);
    let warning = heard.warning.unwrap();
    assert!(warning.contains("breaks off at 0:00.5"), "{warning}");

    // The recorder lost power before it wrote the lengths: all there is counts.
    let mut unfinished = whole;
    unfinished[4..8].fill(0);
    unfinished[40..44].fill(0);
    fs::write(&path, unfinished).unwrap();
    let heard = hear(fast(&path));
    assert_eq!(heard.samples.len(), 16_000);
    assert_eq!(heard.warning, None);
}

#[test]
fn damage_inside_a_compressed_file_leaves_the_rest_in_its_place() {
    let fixtures = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fixtures");
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("take.flac");
    let whole = fs::read(fixtures.join("tone.flac")).unwrap();
    let clean = hear(fast(&fixtures.join("tone.flac"))).samples.len() / 2;

    let mut bytes = whole.clone();
    let middle = bytes.len() / 2;
    bytes[middle..middle + 1500].fill(0x5A);
    fs::write(&path, bytes).unwrap();
    let heard = hear(fast(&path));
    let warning = heard.warning.unwrap();
    assert!(warning.contains("damaged"), "{warning}");
    let lost = clean - heard.samples.len() / 2;
    assert!(
        (1..=4 * 1152).contains(&lost),
        "{lost} frames of {clean} lost"
    );
    let jumps = |firsts: &[u64]| firsts.windows(2).any(|w| w[1] - w[0] >= lost as u64);
    assert!(jumps(&heard.firsts), "the gap shows in the stamps");

    fs::write(&path, &whole[..whole.len() * 2 / 3]).unwrap();
    let heard = hear(fast(&path));
    assert!(!heard.samples.is_empty());
    let warning = heard.warning.unwrap();
    assert!(warning.contains("breaks off"), "{warning}");
}

#[track_caller]
fn check_refusal(path: &Path, expected: &str) {
    match Recording::open(path, Pace::Fast) {
        Ok(_) => panic!("opened, but should be refused: {expected}"),
        Err(error) => {
            let text = error.to_string();
            assert!(text.contains(expected), "{text}");
            let name = path.file_name().unwrap().to_string_lossy();
            assert!(text.contains(&*name), "{text}");
        }
    }
}

#[test]
fn refusals_name_the_file_and_what_to_do() {
    let folder = TempDir::new().unwrap();
    let at = |name: &str, bytes: &[u8]| {
        let path = folder.path().join(name);
        fs::write(&path, bytes).unwrap();
        path
    };
    check_refusal(&folder.path().join("none.wav"), "does not exist: check");
    check_refusal(
        folder.path(),
        "is no file but a folder, a device or a pipe: give",
    );
    check_refusal(&at("nothing.wav", b""), "is empty: record");
    check_refusal(&at("words.wav", b"no sound at all here"), "give WAV, FLAC");
    check_refusal(&at("words.mp3", &[b'x'; 4000]), "cannot be played");
    check_refusal(
        &at("short.wav", b"RIFF\x24\0\0\0WAVEfmt "),
        "within its header",
    );
    check_refusal(&at("short.flac", b"fLaC\0\0\0\x22\x10"), "cannot be played");

    let path = folder.path().join("shape.wav");
    write_int(
        &path,
        spec(33, 48_000, 16, SampleFormat::Int),
        &sound(4, 33),
    );
    check_refusal(&path, "33 channels: split");
    write_int(&path, spec(1, 7_999, 16, SampleFormat::Int), &sound(4, 1));
    check_refusal(&path, "7999 Hz: convert");
    write_int(&path, spec(1, 48_000, 16, SampleFormat::Int), &[]);
    check_refusal(&path, "is empty");
}

#[test]
fn real_time_keeps_its_pace_and_does_not_run_ahead() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("take.wav");
    write_int(&path, spec(1, 8_000, 16, SampleFormat::Int), &sound(400, 1));
    let mut recording = Recording::open(&path, Pace::RealTime).unwrap();
    assert!(matches!(
        recording.next(Duration::ZERO),
        Delivery::Started(_)
    ));
    assert!(matches!(recording.next(Duration::ZERO), Delivery::State(_)));
    let start = Instant::now();
    assert!(matches!(recording.next(Duration::ZERO), Delivery::Nothing));
    let mut frames = 0;
    loop {
        match recording.next(Duration::from_secs(5)) {
            Delivery::Block { samples, .. } => {
                frames += samples.len();
                let due = Duration::from_secs_f64(frames as f64 / 8_000.0);
                assert!(start.elapsed() >= due, "a block came before it was played");
            }
            Delivery::State(SourceState::Ended) => break,
            other => panic!("{other:?}"),
        }
    }
    assert_eq!(frames, 400);
}
