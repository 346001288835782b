//! Pitches of raw samples by the McLeod method of the crate pitch-detection.
//!
//! Reads one channel of little-endian 32-bit floats from standard input and writes a line for
//! each hop: the time of the window's centre in seconds, and the pitch in hertz or nothing.
//!
//! ```text
//! mcleod RATE WINDOW HOP LEAST_MEAN_SQUARE LEAST_CLARITY < samples
//! ```

use std::io::{self, BufWriter, Read, Write};
use std::process::ExitCode;

use pitch_detection::detector::PitchDetector;
use pitch_detection::detector::mcleod::McLeodDetector;

fn main() -> ExitCode {
    let given: Vec<f64> = std::env::args()
        .skip(1)
        .filter_map(|text| text.parse().ok())
        .collect();
    let &[rate, window, hop, least_mean_square, least_clarity] = given.as_slice() else {
        eprintln!("mcleod: give RATE WINDOW HOP LEAST_MEAN_SQUARE LEAST_CLARITY");
        return ExitCode::from(2);
    };
    let (window, hop) = (window as usize, hop as usize);
    match run(rate, window, hop, least_mean_square, least_clarity) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("mcleod: samples or results cannot be passed on: {error}");
            ExitCode::FAILURE
        }
    }
}

fn run(
    rate: f64,
    window: usize,
    hop: usize,
    least_mean_square: f64,
    least_clarity: f64,
) -> io::Result<()> {
    let mut bytes = Vec::new();
    io::stdin().lock().read_to_end(&mut bytes)?;
    let samples: Vec<f32> = bytes
        .chunks_exact(4)
        .map(|b| f32::from_le_bytes([b[0], b[1], b[2], b[3]]))
        .collect();
    let mut out = BufWriter::new(io::stdout().lock());
    let mut detector = McLeodDetector::<f32>::new(window, window / 2);
    let least_power = (least_mean_square * window as f64) as f32;
    for (number, frame) in samples.windows(window).step_by(hop).enumerate() {
        let centre_s = (number * hop + window / 2) as f64 / rate;
        let pitch = detector.get_pitch(frame, rate as usize, least_power, least_clarity as f32);
        match pitch {
            Some(pitch) => writeln!(out, "{centre_s},{}", pitch.frequency)?,
            None => writeln!(out, "{centre_s},")?,
        }
    }
    out.flush()
}
