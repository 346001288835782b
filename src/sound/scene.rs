//! A rendered scene as a source of sound: in real time like a microphone, or as fast as it is
//! taken.

use std::sync::Arc;
use std::thread;
use std::time::{Duration, Instant};

use super::{Delivery, Source, SourceState, StreamFormat};
use crate::scene::{AtEnd, Renderer, Scene};
use crate::units::{FramePosition, Frames, SampleRate, Seconds};

/// Length of a block.
const BLOCK: Seconds = Seconds::new(0.01);

/// A listener who was away for longer than this does not get what was missed at a run: the
/// scene goes on from where it stood.
const AWAY: Duration = Duration::from_secs(1);

/// How fast a scene is played.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Pace {
    /// In real time, like a microphone.
    RealTime,
    /// As fast as it is taken.
    Fast,
}

/// A scene being played.
#[derive(Debug)]
pub struct SceneSource {
    renderer: Renderer,
    pace: Pace,
    format: StreamFormat,
    stage: Stage,
    /// One block, and whether it has been rendered and not yet delivered.
    block: Vec<f32>,
    waiting_frames: usize,
    position: FramePosition,
    /// When the first frame was due.
    start: Option<Instant>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Stage {
    Start,
    Started,
    Playing,
    Ended,
}

impl SceneSource {
    /// Plays `scene` at `rate`; it ends or repeats as the scene says.
    pub fn new(scene: Arc<Scene>, rate: SampleRate, pace: Pace) -> Self {
        let renderer = Renderer::new(scene, rate);
        let format = StreamFormat {
            name: renderer.scene().title().to_owned(),
            rate,
            channels: renderer.channels(),
        };
        let block_frames = rate.frames_in(BLOCK).get() as usize;
        Self {
            block: vec![0.0; block_frames * format.channels],
            renderer,
            pace,
            format,
            stage: Stage::Start,
            waiting_frames: 0,
            position: FramePosition::START,
            start: None,
        }
    }

    /// The same with another way to end.
    pub fn ending(self, at_end: AtEnd) -> Self {
        Self {
            renderer: self.renderer.ending(at_end),
            ..self
        }
    }

    /// The scene that is played.
    pub fn scene(&self) -> &Arc<Scene> {
        self.renderer.scene()
    }

    /// The shape of the stream.
    pub fn format(&self) -> &StreamFormat {
        &self.format
    }

    /// How long the waiting block has to wait until its last frame could have been heard.
    fn until_due(&mut self, now: Instant) -> Duration {
        if self.pace == Pace::Fast {
            return Duration::ZERO;
        }
        let end = self.position + Frames::new(self.waiting_frames as u64);
        let offset = Duration::from_secs_f64(end.at(self.format.rate).get());
        let start = *self.start.get_or_insert(now);
        let late = now.saturating_duration_since(start + offset);
        if late > AWAY {
            self.start = Some(start + late);
        }
        (start + offset).saturating_duration_since(now)
    }
}

impl Source for SceneSource {
    fn next(&mut self, patience: Duration) -> Delivery<'_> {
        match self.stage {
            Stage::Start => {
                self.stage = Stage::Started;
                return Delivery::Started(self.format.clone());
            }
            Stage::Started => {
                self.stage = Stage::Playing;
                return Delivery::State(SourceState::Running);
            }
            Stage::Playing => {}
            Stage::Ended => {
                thread::sleep(patience);
                return Delivery::Nothing;
            }
        }
        if self.waiting_frames == 0 {
            self.waiting_frames = self.renderer.render(&mut self.block);
        }
        if self.waiting_frames == 0 {
            self.stage = Stage::Ended;
            return Delivery::State(SourceState::Ended);
        }
        let due = self.until_due(Instant::now());
        thread::sleep(due.min(patience));
        if due > patience {
            return Delivery::Nothing;
        }
        let first = self.position;
        let frames = std::mem::take(&mut self.waiting_frames);
        self.position = first + Frames::new(frames as u64);
        Delivery::Block {
            first,
            samples: &self.block[..frames * self.format.channels],
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::session::demo_scene;

    fn source(pace: Pace) -> SceneSource {
        let scene = demo_scene(Some("alone")).unwrap().load().unwrap();
        let rate = SampleRate::new(8_000).unwrap();
        SceneSource::new(Arc::new(scene), rate, pace)
    }

    #[test]
    fn a_scene_starts_runs_and_ends() {
        let mut source = source(Pace::Fast).ending(AtEnd::Stop);
        let length = source.scene().length().get();
        assert!(
            matches!(source.next(Duration::ZERO), Delivery::Started(format)
            if format.channels == 1 && format.rate.get() == 8_000)
        );
        let running = Delivery::State(SourceState::Running);
        assert_eq!(
            format!("{:?}", source.next(Duration::ZERO)),
            format!("{running:?}")
        );
        let mut expected = FramePosition::START;
        loop {
            match source.next(Duration::ZERO) {
                Delivery::Block { first, samples } => {
                    assert_eq!(first, expected);
                    assert_eq!(samples.len(), 80);
                    expected = expected + Frames::new(samples.len() as u64);
                }
                Delivery::State(SourceState::Ended) => break,
                other => panic!("{other:?}"),
            }
        }
        assert_eq!(expected.get(), (length * 8_000.0) as u64);
        assert!(matches!(source.next(Duration::ZERO), Delivery::Nothing));
    }

    #[test]
    fn in_real_time_a_block_is_due_when_its_last_frame_has_sounded() {
        let mut source = source(Pace::RealTime);
        source.waiting_frames = 80;
        let start = Instant::now();
        let due = |source: &mut SceneSource, ms| {
            source
                .until_due(start + Duration::from_millis(ms))
                .as_millis()
        };
        assert_eq!(due(&mut source, 0), 10);
        assert_eq!(due(&mut source, 4), 6);
        // Late: at once, and the clock stands, so that the next blocks catch up.
        assert_eq!(due(&mut source, 500), 0);
        assert_eq!(due(&mut source, 4), 6);
        // Away: the clock is set anew.
        assert_eq!(due(&mut source, 60_000), 0);
        source.position = FramePosition::new(80);
        assert_eq!(due(&mut source, 60_000), 10);
    }

    #[test]
    fn a_repeating_scene_goes_on() {
        let mut source = source(Pace::Fast);
        let blocks = (source.scene().length().get() * 100.0) as usize + 200;
        for _ in 0..blocks {
            assert!(!matches!(
                source.next(Duration::ZERO),
                Delivery::State(SourceState::Ended) | Delivery::Nothing
            ));
        }
    }
}
