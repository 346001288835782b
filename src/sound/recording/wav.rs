//! WAV files, read with patience: field recorders leave odd chunks, headers that were never
//! finished and the 64-bit forms for long takes.
//!
//! Layout after "Multimedia Programming Interface and Data Specifications 1.0" (RIFF, 1991),
//! Microsoft's `WAVEFORMATEXTENSIBLE`, and ITU-R BS.2088 (`RF64`/`BW64` with a `ds64` chunk).

use std::io::{self, BufReader, Read, Seek};

use super::{Broken, Bytes, Input, Piece};

const PCM: u16 = 1;
const FLOAT: u16 = 3;
const EXTENSIBLE: u16 = 0xFFFE;
/// A length that was never filled in, or stands in the `ds64` chunk.
const UNKNOWN: u32 = u32::MAX;

/// How a sample is stored.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Storage {
    U8,
    I16,
    I24,
    I32,
    F32,
    F64,
}

impl Storage {
    fn bytes(self) -> usize {
        match self {
            Self::U8 => 1,
            Self::I16 => 2,
            Self::I24 => 3,
            Self::I32 | Self::F32 => 4,
            Self::F64 => 8,
        }
    }

    /// One sample, full scale 1. `bytes` holds [`Storage::bytes`] of them.
    fn read(self, bytes: &[u8]) -> f32 {
        let whole = |value: i32| (f64::from(value) / 2_147_483_648.0) as f32;
        match (self, bytes) {
            (Self::U8, &[a]) => (f32::from(a) - 128.0) / 128.0,
            (Self::I16, &[a, b]) => f32::from(i16::from_le_bytes([a, b])) / 32_768.0,
            (Self::I24, &[a, b, c]) => whole(i32::from_le_bytes([0, a, b, c])),
            (Self::I32, &[a, b, c, d]) => whole(i32::from_le_bytes([a, b, c, d])),
            (Self::F32, &[a, b, c, d]) => f32::from_le_bytes([a, b, c, d]),
            (Self::F64, bytes) => bytes.try_into().map_or(0.0, f64::from_le_bytes) as f32,
            _ => 0.0,
        }
    }
}

#[derive(Debug, Clone, Copy)]
struct Format {
    channels: u16,
    rate: u32,
    storage: Storage,
}

/// An open WAV file.
pub(super) struct Wav {
    file: BufReader<Bytes>,
    format: Format,
    /// Frames still to come, if the header says how many; else up to the end of the file.
    left: Option<u64>,
    total: Option<u64>,
    bytes: Vec<u8>,
}

/// Whether a file beginning with these bytes is a WAV file.
pub(super) fn is_wav(start: &[u8]) -> bool {
    matches!(start.get(..4), Some(b"RIFF" | b"RF64" | b"BW64")) && start.get(8..12) == Some(b"WAVE")
}

impl Wav {
    /// Reads the header; `file` stands at its beginning.
    pub(super) fn open(file: Bytes) -> Result<Self, Broken> {
        let length = file.byte_len().unwrap_or(u64::MAX);
        let mut file = BufReader::new(file);
        let start: [u8; 12] = array(&mut file)?;
        let riff_size = u32::from_le_bytes([start[4], start[5], start[6], start[7]]);
        let mut format = None;
        let mut long_data = None;
        loop {
            let kind: [u8; 4] = array(&mut file)?;
            let size = u32::from_le_bytes(array(&mut file)?);
            match &kind {
                b"fmt " => format = Some(read_format(&mut file, size)?),
                b"ds64" => {
                    let _riff_size: [u8; 8] = array(&mut file)?;
                    long_data = Some(u64::from_le_bytes(array(&mut file)?));
                    skip(&mut file, size, 16)?;
                }
                b"data" => {
                    let format = format.ok_or_else(|| Broken::new("its format is missing"))?;
                    let here = file.stream_position()?;
                    return Ok(Self::at_data(
                        file,
                        format,
                        claimed(riff_size, size, long_data),
                        length.saturating_sub(here),
                    ));
                }
                _ => skip(&mut file, size, 0)?,
            }
        }
    }

    fn at_data(file: BufReader<Bytes>, format: Format, claimed: Option<u64>, there: u64) -> Self {
        let frame = u64::from(format.channels) * format.storage.bytes() as u64;
        Self {
            file,
            format,
            left: claimed.map(|bytes| bytes / frame),
            // A progress bar must not wait for sound that is not in the file.
            total: Some(claimed.unwrap_or(there).min(there) / frame),
            bytes: Vec::new(),
        }
    }
}

/// The bytes of sound the header speaks of, if it knows.
fn claimed(riff_size: u32, size: u32, long_data: Option<u64>) -> Option<u64> {
    match (size, long_data) {
        (UNKNOWN, Some(size)) if size > 0 => Some(size),
        // A recorder that was cut off never came back to fill this in.
        (UNKNOWN, _) => None,
        (0, _) if matches!(riff_size, 0 | UNKNOWN) => None,
        (size, _) => Some(u64::from(size)),
    }
}

impl From<io::Error> for Broken {
    fn from(error: io::Error) -> Self {
        if error.kind() == io::ErrorKind::UnexpectedEof {
            Self::new("it ends within its header")
        } else {
            Self(error.to_string())
        }
    }
}

fn array<const N: usize>(file: &mut impl Read) -> io::Result<[u8; N]> {
    let mut bytes = [0; N];
    file.read_exact(&mut bytes)?;
    Ok(bytes)
}

/// Moves past a chunk of `size` bytes of which `done` have been read. Chunks are padded to an
/// even length.
fn skip(file: &mut BufReader<Bytes>, size: u32, done: u32) -> io::Result<()> {
    let padded = i64::from(size) + i64::from(size % 2);
    file.seek_relative((padded - i64::from(done)).max(0))
}

fn read_format(file: &mut BufReader<Bytes>, size: u32) -> Result<Format, Broken> {
    if size < 16 {
        return Err(Broken::new("its format is cut short"));
    }
    let fields: [u8; 16] = array(file)?;
    let short = |at: usize| u16::from_le_bytes([fields[at], fields[at + 1]]);
    let mut tag = short(0);
    let channels = short(2);
    let rate = u32::from_le_bytes([fields[4], fields[5], fields[6], fields[7]]);
    let frame_bytes = short(12);
    let mut done = 16;
    if tag == EXTENSIBLE && size >= 40 {
        let more: [u8; 24] = array(file)?;
        done += 24;
        // The format's tag begins the 16-byte identifier at the end.
        tag = u16::from_le_bytes([more[8], more[9]]);
    }
    skip(file, size, done)?;
    if channels == 0 {
        return Err(Broken::new("it has no channels"));
    }
    // The bytes a sample takes count, not the bits that are used of them: these are the upper
    // ones.
    let storage = match (tag, frame_bytes / channels, frame_bytes % channels) {
        (PCM, 1, 0) => Storage::U8,
        (PCM, 2, 0) => Storage::I16,
        (PCM, 3, 0) => Storage::I24,
        (PCM, 4, 0) => Storage::I32,
        (FLOAT, 4, 0) => Storage::F32,
        (FLOAT, 8, 0) => Storage::F64,
        (PCM | FLOAT, ..) => return Err(Broken::new("its samples have an unusual size")),
        _ => {
            return Err(Broken(format!(
                "its coding (number {tag}) is not known here"
            )));
        }
    };
    Ok(Format {
        channels,
        rate,
        storage,
    })
}

impl Input for Wav {
    fn channels(&self) -> usize {
        usize::from(self.format.channels)
    }

    fn rate(&self) -> u32 {
        self.format.rate
    }

    fn total_frames(&self) -> Option<u64> {
        self.total
    }

    fn read(&mut self, samples: &mut Vec<f32>, frames: usize) -> Piece {
        let sample_bytes = self.format.storage.bytes();
        let frame_bytes = sample_bytes * self.channels();
        let wanted = match self.left {
            Some(left) => left.min(frames as u64) as usize,
            None => frames,
        };
        if wanted == 0 {
            return Piece::End(None);
        }
        self.bytes.clear();
        let limit = (wanted * frame_bytes) as u64;
        let problem = (&mut self.file).take(limit).read_to_end(&mut self.bytes);
        let got = self.bytes.len() / frame_bytes;
        let whole = &self.bytes[..got * frame_bytes];
        samples.extend(
            whole
                .chunks_exact(sample_bytes)
                .map(|bytes| self.format.storage.read(bytes)),
        );
        if let Some(left) = &mut self.left {
            *left -= got as u64;
        }
        match problem {
            _ if got == wanted => Piece::Sound { lost_before: 0 },
            // Deliver what there is first; the next call comes here again with nothing.
            _ if got > 0 => Piece::Sound { lost_before: 0 },
            Err(error) => Piece::End(Some(Broken(error.to_string()))),
            Ok(_) if self.left.is_some() => {
                Piece::End(Some(Broken::new("it ends before its header says")))
            }
            Ok(_) => Piece::End(None),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn half_scale_is_one_half_in_every_storage() {
        let half = [
            (Storage::U8, vec![192]),
            (Storage::I16, vec![0, 0x40]),
            (Storage::I24, vec![0, 0, 0x40]),
            (Storage::I32, vec![0, 0, 0, 0x40]),
            (Storage::F32, 0.5_f32.to_le_bytes().to_vec()),
            (Storage::F64, 0.5_f64.to_le_bytes().to_vec()),
        ];
        for (storage, bytes) in half {
            assert_eq!(bytes.len(), storage.bytes());
            assert!((storage.read(&bytes) - 0.5).abs() < 1e-9, "{storage:?}");
        }
        assert!((Storage::I24.read(&[0, 0, 0x80]) + 1.0).abs() < 1e-9);
    }

    #[test]
    fn lengths_that_were_never_filled_in_are_not_believed() {
        assert_eq!(claimed(1036, 1000, None), Some(1000));
        assert_eq!(claimed(36, 0, None), Some(0), "finished, and empty");
        assert_eq!(claimed(0, 0, None), None);
        assert_eq!(claimed(UNKNOWN, UNKNOWN, None), None);
        assert_eq!(claimed(UNKNOWN, UNKNOWN, Some(0)), None);
        assert_eq!(claimed(UNKNOWN, UNKNOWN, Some(1 << 33)), Some(1 << 33));
    }

    #[test]
    fn wav_files_are_known_by_their_first_bytes() {
        assert!(is_wav(b"RIFF\0\0\0\0WAVEfmt "));
        assert!(is_wav(b"RF64\xFF\xFF\xFF\xFFWAVE"));
        assert!(!is_wav(b"RIFF\0\0\0\0AVI LIST"));
        assert!(!is_wav(b"RIFF"));
    }
}
