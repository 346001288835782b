//! A rendered scene as a source of sound: in real time like a microphone, or as fast as it is
//! taken.

use std::sync::Arc;
use std::time::Duration;

use super::playhead::{Pace, Playhead};
use super::{Delivery, Source, StreamFormat};
use crate::scene::{AtEnd, Renderer, Scene};
use crate::units::{FramePosition, Frames, SampleRate, Seconds};

/// Length of a block.
const BLOCK: Seconds = Seconds::new(0.01);

/// A scene being played.
#[derive(Debug)]
pub struct SceneSource {
    renderer: Renderer,
    format: StreamFormat,
    playhead: Playhead,
    /// One block, and whether it has been rendered and not yet delivered.
    block: Vec<f32>,
    waiting_frames: usize,
    position: FramePosition,
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
            format,
            playhead: Playhead::new(pace),
            waiting_frames: 0,
            position: FramePosition::START,
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
}

impl Source for SceneSource {
    fn next(&mut self, patience: Duration) -> Delivery<'_> {
        if let Some(delivery) = self.playhead.outside(&self.format, patience) {
            return delivery;
        }
        if self.waiting_frames == 0 {
            self.waiting_frames = self.renderer.render(&mut self.block);
        }
        if self.waiting_frames == 0 {
            return self.playhead.end();
        }
        let until = self.position + Frames::new(self.waiting_frames as u64);
        if !self.playhead.wait(until.at(self.format.rate), patience) {
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
    use crate::sound::SourceState;

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
