//! Whole recordings.

use std::path::Path;
use std::time::Duration;

use concento::sound::recording::Recording;
use concento::sound::{Delivery, Pace, Source, SourceState};
use concento::units::SampleRate;

/// The samples of a recording's first channel, and their rate. What cannot be read to its end
/// is an error.
pub(crate) fn first_channel(path: &Path) -> anyhow::Result<(Vec<f32>, SampleRate)> {
    let mut recording = Recording::open(path, Pace::Fast)?;
    let (rate, channels) = (recording.format().rate, recording.format().channels);
    let mut own = Vec::new();
    loop {
        match recording.next(Duration::ZERO) {
            Delivery::Block { samples, .. } => own.extend(samples.iter().step_by(channels)),
            Delivery::State(SourceState::Ended) | Delivery::Nothing => break,
            Delivery::Started(_) | Delivery::State(_) => {}
        }
    }
    if let Some(warning) = recording.warning() {
        anyhow::bail!("{warning}");
    }
    Ok((own, rate))
}
