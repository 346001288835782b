//! Rendered sound as a new WAV file.

use std::fs::File;
use std::io::{self, BufWriter};
use std::path::Path;

use anyhow::Context;
use indicatif::{ProgressBar, ProgressStyle};

use super::Usage;
use crate::session::NewFile;
use crate::units::{SampleRate, Seconds};

/// What the header of a WAV file can count, less the header itself.
const LARGEST_BYTES: u64 = u32::MAX as u64 - 4_096;

/// Frames that are rendered at a time.
const BLOCK_FRAMES: usize = 4_096;

/// What is written.
pub(super) struct WaveForm {
    pub(super) rate: SampleRate,
    pub(super) n_channels: usize,
    pub(super) length: Seconds,
}

impl WaveForm {
    /// Writes what `render` renders to `path`, which must not exist yet, as 32-bit floats.
    /// `render` fills interleaved frames and says how many; none is the end.
    pub(super) fn write(
        &self,
        path: &Path,
        mut render: impl FnMut(&mut [f32]) -> usize,
    ) -> anyhow::Result<()> {
        if path
            .extension()
            .is_none_or(|ending| !ending.eq_ignore_ascii_case("wav"))
        {
            return Err(Usage(format!(
                "'{}' does not end in '.wav', and only WAV is written: give another name",
                path.display()
            ))
            .into());
        }
        let n_frames = self.rate.frames_in(self.length).get();
        if n_frames * self.n_channels as u64 * 4 > LARGEST_BYTES {
            return Err(Usage(format!(
                "{} s at {} Hz do not fit into a WAV file: save fewer seconds or a lower rate",
                self.length.get(),
                self.rate.get()
            ))
            .into());
        }
        let new = NewFile::begin(path, false)?;
        self.save(&mut render, n_frames, new.file())
            .with_context(|| format!("cannot write '{}'", path.display()))?;
        Ok(new.finish()?)
    }

    fn save(
        &self,
        render: &mut impl FnMut(&mut [f32]) -> usize,
        n_frames: u64,
        file: &File,
    ) -> anyhow::Result<()> {
        let spec = hound::WavSpec {
            channels: self.n_channels as u16,
            sample_rate: self.rate.get(),
            bits_per_sample: 32,
            sample_format: hound::SampleFormat::Float,
        };
        let mut writer = hound::WavWriter::new(BufWriter::new(file), spec).map_err(plainly)?;
        let bar = progress(n_frames, self.rate);
        let mut block = vec![0.0; BLOCK_FRAMES * self.n_channels];
        let mut left = n_frames;
        while left > 0 {
            let wanted = left.min(BLOCK_FRAMES as u64) as usize * self.n_channels;
            let frames = render(&mut block[..wanted]);
            if frames == 0 {
                break;
            }
            for sample in &block[..frames * self.n_channels] {
                writer.write_sample(*sample).map_err(plainly)?;
            }
            left -= frames as u64;
            bar.inc(frames as u64);
        }
        writer.finalize().map_err(plainly)?;
        bar.finish_and_clear();
        Ok(())
    }
}

/// The system's own reason where there is one.
fn plainly(error: hound::Error) -> anyhow::Error {
    match error {
        hound::Error::IoError(error) => error.into(),
        other => other.into(),
    }
}

/// A bar on standard error, which hides itself where that is no terminal.
fn progress(n_frames: u64, rate: SampleRate) -> ProgressBar {
    use io::IsTerminal;
    if !io::stderr().is_terminal() {
        return ProgressBar::hidden();
    }
    let bar = ProgressBar::new(n_frames);
    if let Ok(style) = ProgressStyle::with_template("{bar:40} {percent:>3} % of {msg}") {
        bar.set_style(style);
    }
    bar.set_message(format!("{:.0} s of sound", n_frames as f64 / rate.hz()));
    bar
}
