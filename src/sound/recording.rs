//! Recordings as a source of sound: WAV, FLAC, MP3 and OGG Vorbis, at any rate from 8 to
//! 192 kHz and with up to 32 channels, played as if by a microphone or as fast as they are read.
//!
//! Not-a-number and infinite samples of float files pass unchanged and are warned of; the
//! analysis counts them as silence.

mod decoded;
mod wav;

use std::fs::File;
use std::io::{Cursor, ErrorKind, Read, Seek};
use std::path::{Path, PathBuf};
use std::time::Duration;

use super::capture::MOST_CHANNELS;
use super::playhead::{Pace, Playhead};
use super::{Delivery, Source, StreamFormat};
use crate::units::{FramePosition, Frames, SampleRate};
use decoded::Decoded;
use symphonia::core::io::MediaSource;
use wav::Wav;

/// A file that cannot be played.
#[derive(Debug, thiserror::Error)]
pub enum RecordingError {
    /// There is no such file.
    #[error("'{}' does not exist: check the name and the folder", .0.display())]
    Missing(PathBuf),
    /// The file cannot be read.
    #[error("'{}' cannot be read: make sure it is a file that you may open", .path.display())]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// The system's reason.
        source: std::io::Error,
    },
    /// It is a folder, a device or a pipe.
    #[error("'{}' is no file but a folder, a device or a pipe: give the name of a recording", .0.display())]
    NotAFile(PathBuf),
    /// The file is none of the known kinds.
    #[error("'{}' is not a sound file that can be read: give WAV, FLAC, MP3 or OGG Vorbis", .0.display())]
    NotSound(PathBuf),
    /// It is of a known kind and cannot be played.
    #[error("'{}' cannot be played, as {reason}: copy it again, or save it as WAV or FLAC", .path.display())]
    Broken {
        /// The file.
        path: PathBuf,
        /// What is wrong: "it ends within its header".
        reason: String,
    },
    /// There is no sound in it.
    #[error("'{}' is empty: record it again", .0.display())]
    Empty(PathBuf),
    /// It has more channels than can be listened to.
    #[error("'{}' has {channels} channels: split it into files of at most 32", .path.display())]
    Channels {
        /// The file.
        path: PathBuf,
        /// Its channels.
        channels: usize,
    },
    /// Its rate lies outside 8 to 192 kHz.
    #[error("'{}' has a rate of {rate_hz} Hz: convert it to 48000 Hz (8000 to 192000 can be read)", .path.display())]
    Rate {
        /// The file.
        path: PathBuf,
        /// Its rate in hertz.
        rate_hz: u32,
    },
}

/// What is wrong with a file's contents, to follow "as": "it ends within its header".
#[derive(Debug, Clone, PartialEq, Eq)]
struct Broken(String);

impl Broken {
    fn new(what: &str) -> Self {
        Self(what.to_owned())
    }
}

/// What one reading step of a file gave.
enum Piece {
    /// Interleaved samples were added.
    Sound {
        /// Frames that were lost to damage right before them.
        lost_before: u64,
    },
    /// There is no more, for a reason if that was not the proper end.
    End(Option<Broken>),
}

/// A file that lies on a disk or in memory.
type Bytes = Box<dyn MediaSource>;

/// A file of one kind.
trait Input: Send {
    fn channels(&self) -> usize;
    fn rate(&self) -> u32;
    /// The length, where the file says it.
    fn total_frames(&self) -> Option<u64>;
    /// Adds samples to the empty `samples`: about `frames` frames, or as many as come at once.
    fn read(&mut self, samples: &mut Vec<f32>, frames: usize) -> Piece;
}

/// A recording being played.
pub struct Recording {
    path: PathBuf,
    input: Box<dyn Input>,
    format: StreamFormat,
    playhead: Playhead,
    /// Frames of about 10 ms.
    block_frames: usize,
    /// Read and not yet delivered; what lies before `from` has been.
    samples: Vec<f32>,
    from: usize,
    /// The place of the next frame to deliver.
    position: u64,
    pieces_lost: u64,
    /// Where the first sample stands that is no number, in words, once there was one.
    no_number: Option<String>,
    warning: Option<String>,
}

impl Recording {
    /// Opens a file and reads as much of it as is needed to know that it can be played. Its
    /// kind is told by its contents, not by its name.
    ///
    /// # Errors
    ///
    /// Each names the file and what to do. Damage further inside is no error: see
    /// [`Source::warning`].
    pub fn open(path: &Path, pace: Pace) -> Result<Self, RecordingError> {
        let unreadable = |source: std::io::Error| match source.kind() {
            ErrorKind::NotFound => RecordingError::Missing(path.to_owned()),
            _ => RecordingError::Unreadable {
                path: path.to_owned(),
                source,
            },
        };
        // Opening a pipe would wait for whoever is at its other end.
        if !path.metadata().map_err(unreadable)?.is_file() {
            return Err(RecordingError::NotAFile(path.to_owned()));
        }
        let file = File::open(path).map_err(unreadable)?;
        Self::of(Box::new(file), path, pace)
    }

    /// The same of a file's bytes, which `path` names.
    ///
    /// # Errors
    ///
    /// As for [`Recording::open`].
    pub fn of_bytes(bytes: Vec<u8>, path: &Path, pace: Pace) -> Result<Self, RecordingError> {
        Self::of(Box::new(Cursor::new(bytes)), path, pace)
    }

    fn of(bytes: Bytes, path: &Path, pace: Pace) -> Result<Self, RecordingError> {
        let input = recognised(bytes, path)?;
        let channels = input.channels();
        if channels > MOST_CHANNELS {
            return Err(RecordingError::Channels {
                path: path.to_owned(),
                channels,
            });
        }
        if input.total_frames() == Some(0) || channels == 0 {
            return Err(RecordingError::Empty(path.to_owned()));
        }
        let rate = SampleRate::new(input.rate()).map_err(|_| RecordingError::Rate {
            path: path.to_owned(),
            rate_hz: input.rate(),
        })?;
        let name = path.file_name().map_or_else(
            || path.display().to_string(),
            |n| n.to_string_lossy().into(),
        );
        Ok(Self {
            path: path.to_owned(),
            input,
            format: StreamFormat {
                name,
                rate,
                channels,
            },
            playhead: Playhead::new(pace),
            block_frames: (rate.get() / 100) as usize,
            samples: Vec::new(),
            from: 0,
            position: 0,
            pieces_lost: 0,
            no_number: None,
            warning: None,
        })
    }

    /// The shape of the recording.
    pub fn format(&self) -> &StreamFormat {
        &self.format
    }

    /// The whole length, where the file says it.
    pub fn length(&self) -> Option<Frames> {
        self.input.total_frames().map(Frames::new)
    }

    /// The place of the next frame to be delivered.
    pub fn position(&self) -> FramePosition {
        FramePosition::new(self.position)
    }

    /// Makes sure that there is something to deliver; false at the end.
    fn fill(&mut self) -> bool {
        while self.from >= self.samples.len() {
            self.samples.clear();
            self.from = 0;
            match self.input.read(&mut self.samples, self.block_frames) {
                Piece::Sound { lost_before } => {
                    if lost_before > 0 {
                        self.note_damage();
                        self.position = self.position.saturating_add(lost_before);
                    }
                    self.look_for_no_numbers();
                }
                Piece::End(problem) => {
                    match problem {
                        Some(Broken(reason)) => {
                            self.warn(format!(
                                "'{}' breaks off at {}, as {reason}: what comes before was read",
                                self.path.display(),
                                self.clock_time(),
                            ));
                        }
                        None => self.note_missing(),
                    }
                    return false;
                }
            }
        }
        true
    }

    /// Warns if more than a tenth of a second is missing at the end, as some readers pass over
    /// damage in silence. Encoders round a little.
    fn note_missing(&mut self) {
        let rate = self.format.rate;
        let missing = self.length().unwrap_or_default().get();
        let missing = Frames::new(missing.saturating_sub(self.position))
            .at(rate)
            .get();
        if missing > 0.1 {
            self.warn(format!(
                "'{}' is {missing:.1} s shorter than it says: pieces of it are damaged or missing",
                self.path.display(),
            ));
        }
    }

    fn note_damage(&mut self) {
        self.pieces_lost += 1;
        let plural = if self.pieces_lost == 1 { "" } else { "s" };
        self.warn(format!(
            "'{}' is damaged: {} piece{plural} could not be read, the last at {}",
            self.path.display(),
            self.pieces_lost,
            self.clock_time(),
        ));
    }

    /// Warns once of samples that are no numbers, as a program writes that has failed.
    fn look_for_no_numbers(&mut self) {
        if self.no_number.is_some() {
            return;
        }
        let Some(at) = self.samples.iter().position(|sample| !sample.is_finite()) else {
            return;
        };
        let at = self.position() + Frames::new((at / self.format.channels) as u64);
        let text = format!(
            "'{}' has samples that are no numbers, the first at {}: they count as silence",
            self.path.display(),
            clock_time(at, self.format.rate),
        );
        self.no_number = Some(text);
        if let Some(damage) = self.warning.take() {
            self.warn(damage);
        } else {
            self.warning.clone_from(&self.no_number);
        }
    }

    fn warn(&mut self, damage: String) {
        self.warning = Some(match &self.no_number {
            Some(no_number) => format!("{no_number}; {damage}"),
            None => damage,
        });
    }

    /// The present place as minutes and seconds.
    fn clock_time(&self) -> String {
        clock_time(self.position(), self.format.rate)
    }
}

fn clock_time(at: FramePosition, rate: SampleRate) -> String {
    let seconds = at.at(rate).get();
    format!("{}:{:04.1}", (seconds / 60.0) as u64, seconds % 60.0)
}

impl Source for Recording {
    fn next(&mut self, patience: Duration) -> Delivery<'_> {
        if let Some(delivery) = self.playhead.outside(&self.format, patience) {
            return delivery;
        }
        if !self.fill() {
            return self.playhead.end();
        }
        let channels = self.format.channels;
        let end = (self.from + self.block_frames * channels).min(self.samples.len());
        let frames = (end - self.from) / channels;
        let until = self.position() + Frames::new(frames as u64);
        if !self.playhead.wait(until.at(self.format.rate), patience) {
            return Delivery::Nothing;
        }
        let first = self.position();
        let samples = &self.samples[self.from..end];
        self.from = end;
        self.position += frames as u64;
        Delivery::Block { first, samples }
    }

    fn warning(&self) -> Option<&str> {
        self.warning.as_deref()
    }
}

/// A reader for whatever kind of file these bytes are.
fn recognised(mut file: Bytes, path: &Path) -> Result<Box<dyn Input>, RecordingError> {
    let unreadable = |source: std::io::Error| RecordingError::Unreadable {
        path: path.to_owned(),
        source,
    };
    let mut start = Vec::new();
    (&mut file)
        .take(12)
        .read_to_end(&mut start)
        .map_err(unreadable)?;
    file.rewind().map_err(unreadable)?;
    if start.is_empty() {
        return Err(RecordingError::Empty(path.to_owned()));
    }
    let extension = path.extension().unwrap_or_default().to_string_lossy();
    let broken = |Broken(reason)| RecordingError::Broken {
        path: path.to_owned(),
        reason,
    };
    if wav::is_wav(&start) {
        Ok(Box::new(Wav::open(file).map_err(broken)?))
    } else if decoded::may_be_compressed(&start, &extension) {
        Ok(Box::new(Decoded::open(file).map_err(broken)?))
    } else {
        Err(RecordingError::NotSound(path.to_owned()))
    }
}

#[cfg(test)]
mod tests;
