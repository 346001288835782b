//! FLAC, MP3 and OGG Vorbis, by Symphonia.

use symphonia::core::audio::Channels;
use symphonia::core::codecs::audio::well_known::CODEC_ID_MP3;
use symphonia::core::codecs::audio::{AudioDecoder, AudioDecoderOptions};
use symphonia::core::errors::Error;
use symphonia::core::formats::probe::Hint;
use symphonia::core::formats::{FormatOptions, FormatReader, TrackType};
use symphonia::core::io::{MediaSourceStream, MediaSourceStreamOptions};
use symphonia::core::meta::MetadataOptions;

use super::{Broken, Bytes, Input, Piece};

/// The most frames that can be lost between two packets: an hour at the highest rate. Times beyond
/// are those of a damaged file.
const LONGEST_GAP: u64 = 3_600 * 192_000;

/// An open compressed file.
pub(super) struct Decoded {
    reader: Box<dyn FormatReader>,
    decoder: Box<dyn AudioDecoder>,
    track: u32,
    /// An MP3 file without a table of contents.
    guessed: bool,
    total: Option<u64>,
    rate: u32,
    channels: usize,
    /// The sound of the first packet, which had to be decoded to know what is in the file.
    ahead: Option<Vec<f32>>,
    /// Frames lost in damaged packets before the next sound.
    lost: u64,
    /// Where the next packet should begin. Readers pass over damaged packets in silence.
    next: u64,
    delivered: bool,
}

/// Whether a file beginning with these bytes may be one of the compressed kinds; the name
/// speaks for MP3, which has no beginning of its own.
pub(super) fn may_be_compressed(start: &[u8], extension: &str) -> bool {
    let is_mpeg_frame = matches!(start, [0xFF, second, ..] if second & 0xE0 == 0xE0);
    start.starts_with(b"fLaC")
        || start.starts_with(b"OggS")
        || start.starts_with(b"ID3")
        || is_mpeg_frame
        || extension.eq_ignore_ascii_case("mp3")
}

impl Decoded {
    /// Finds the sound in the file; `file` stands at its beginning.
    pub(super) fn open(file: Bytes) -> Result<Self, Broken> {
        let stream = MediaSourceStream::new(file, MediaSourceStreamOptions::default());
        let reader = symphonia::default::get_probe()
            .probe(
                &Hint::new(),
                stream,
                FormatOptions::default(),
                MetadataOptions::default(),
            )
            .map_err(broken)?;
        let track = reader
            .default_track(TrackType::Audio)
            .ok_or_else(|| Broken::new("there is no sound in it"))?;
        let parameters = track
            .codec_params
            .as_ref()
            .and_then(|parameters| parameters.audio())
            .ok_or_else(|| Broken::new("there is no sound in it"))?;
        // Such files say nothing of their length; the reader guesses it from the first frames
        // and would cut the sound off where the guess ends.
        let guessed = parameters.codec == CODEC_ID_MP3 && track.delay.is_none();
        let decoder = symphonia::default::get_codecs()
            .make_audio_decoder(
                parameters,
                &AudioDecoderOptions::default().gapless(!guessed),
            )
            .map_err(|_| Broken::new("its coding is not known here"))?;
        let mut opened = Self {
            track: track.id,
            guessed,
            total: track.num_frames.filter(|_| !guessed),
            rate: parameters.sample_rate.unwrap_or(0),
            channels: parameters.channels.as_ref().map_or(0, Channels::count),
            decoder,
            ahead: None,
            lost: 0,
            next: u64::try_from(track.start_ts.get()).unwrap_or(0),
            delivered: false,
            reader,
        };
        let mut ahead = Vec::new();
        match opened.decode_next(&mut ahead) {
            Piece::Sound { .. } => opened.ahead = Some(ahead),
            Piece::End(None) if opened.total.is_some_and(|frames| frames > 0) => {
                return Err(Broken::new("none of its sound can be decoded"));
            }
            Piece::End(None) => opened.total = Some(0),
            Piece::End(Some(problem)) => return Err(problem),
        }
        opened.delivered = false;
        Ok(opened)
    }

    /// Decodes the next packet that has sound in it.
    fn decode_next(&mut self, samples: &mut Vec<f32>) -> Piece {
        loop {
            let packet = match self.reader.next_packet() {
                Ok(Some(packet)) if packet.track_id == self.track => packet,
                Ok(Some(_)) => continue,
                Ok(None) => return self.end(None),
                // A file that is cut off ends within a packet.
                Err(error) => return self.end(Some(broken(error))),
            };
            let frames = if self.guessed {
                packet.block_dur().get()
            } else {
                packet.dur.get()
            };
            // What lies before zero is the encoder's run-up and is trimmed.
            let begins = u64::try_from(packet.pts.get()).unwrap_or(0);
            let gap = begins.saturating_sub(self.next);
            if gap > LONGEST_GAP {
                return self.end(Some(Broken::new("its clock leaps by hours")));
            }
            self.lost += gap;
            self.next = begins.saturating_add(frames);
            match self.decoder.decode(&packet) {
                Ok(sound) if sound.frames() == 0 => {}
                Ok(sound) => {
                    let (rate, channels) = (sound.spec().rate(), sound.spec().channels().count());
                    if self.delivered && (rate, channels) != (self.rate, self.channels) {
                        return Piece::End(Some(Broken::new(
                            "its channels or its rate change in the middle",
                        )));
                    }
                    (self.rate, self.channels) = (rate, channels);
                    self.delivered = true;
                    sound.copy_to_vec_interleaved(samples);
                    let lost_before = std::mem::take(&mut self.lost);
                    return Piece::Sound { lost_before };
                }
                Err(Error::DecodeError(_) | Error::IoError(_)) => {
                    self.lost += frames.min(LONGEST_GAP);
                }
                Err(error) => return self.end(Some(broken(error))),
            }
        }
    }

    /// The end; damage right before it must not pass for a clean one.
    fn end(&self, problem: Option<Broken>) -> Piece {
        Piece::End(match problem {
            None if self.lost > 0 => Some(Broken::new("its end cannot be decoded")),
            problem => problem,
        })
    }
}

fn broken(error: Error) -> Broken {
    Broken(match error {
        Error::IoError(e) if e.kind() == std::io::ErrorKind::UnexpectedEof => {
            "it ends too early".to_owned()
        }
        Error::IoError(e) => e.to_string(),
        Error::Unsupported(_) => "it holds no sound of a kind known here".to_owned(),
        Error::DecodeError(what) | Error::LimitError(what) => format!("it is damaged ({what})"),
        other => format!("it is damaged ({other})"),
    })
}

impl Input for Decoded {
    fn channels(&self) -> usize {
        self.channels
    }

    fn rate(&self) -> u32 {
        self.rate
    }

    fn total_frames(&self) -> Option<u64> {
        self.total
    }

    fn read(&mut self, samples: &mut Vec<f32>, _frames: usize) -> Piece {
        if let Some(ahead) = self.ahead.take() {
            samples.extend(ahead);
            self.delivered = true;
            let lost_before = std::mem::take(&mut self.lost);
            return Piece::Sound { lost_before };
        }
        // The decoder's copy replaces what is in the vector; the caller passes an empty one.
        self.decode_next(samples)
    }
}
