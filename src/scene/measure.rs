//! Measuring rendered sound in tests by other means than those that made it: plain DFT sums
//! in double precision.

use std::f64::consts::TAU;

use super::{Item, PlayerScore, Renderer, Scene, Score, Sound, TrumpetScore, Version};
use crate::tuning::{Chain, Comma, Fifths, PitchStandard, Temperament, Tempering};
use crate::units::{NoteName, SampleRate};

/// Sixth-comma meantone: each fifth narrow by 1/6 of the syntonic comma.
pub(super) fn sixth_comma() -> Temperament {
    let each = Tempering::Part {
        numerator: -1,
        denominator: 6,
        comma: Comma::Syntonic,
    };
    Temperament::new("sixth-comma", "Sixth-comma", Fifths::Regular { each }).unwrap()
}

/// A dry, noiseless score without players.
pub(super) fn empty_score(length_s: f64) -> Score {
    Score {
        version: Version,
        title: "Test".to_owned(),
        about: String::new(),
        pitch: PitchStandard::new(415.0).unwrap(),
        temperament: "sixth-comma".to_owned(),
        chain: Chain::usual(),
        trumpets: TrumpetScore { key: NoteName::D },
        length_s,
        at_end: super::AtEnd::Stop,
        room: None,
        noise_dbfs: None,
        drift_cents_per_minute: 0.0,
        seed: 1,
        phrases: std::collections::BTreeMap::new(),
        players: Vec::new(),
        leader: Vec::new(),
    }
}

/// A player with a part.
pub(super) fn player(name: &str, sound: Sound, part: Vec<Item>) -> PlayerScore {
    PlayerScore {
        name: name.to_owned(),
        instrument: "organ".to_owned(),
        sound,
        level_dbfs: -20.0,
        drift_cents_per_minute: 0.0,
        moves: Vec::new(),
        vibrato: None,
        part,
    }
}

/// A plain note.
pub(super) fn play(note: &str, for_s: f64) -> Item {
    Item::Play {
        note: note.parse().unwrap(),
        for_s,
        with: Vec::new(),
        cents: 0.0,
        path: Vec::new(),
        level_db: 0.0,
        vibrato: None,
        attack_s: None,
        release_s: None,
    }
}

/// A score with these players, ready to play.
pub(super) fn scene(length_s: f64, players: Vec<PlayerScore>) -> Scene {
    let score = Score {
        players,
        ..empty_score(length_s)
    };
    Scene::compose(&score, &sixth_comma()).unwrap()
}

/// All samples of each channel, asked for in blocks of `block_frames`.
pub(super) fn render(scene: &Scene, rate: u32, block_frames: usize) -> Vec<Vec<f32>> {
    let rate = SampleRate::new(rate).unwrap();
    let mut renderer = Renderer::new(std::sync::Arc::new(scene.clone()), rate);
    let n = renderer.channels();
    let mut block = vec![0.0; block_frames * n];
    let mut channels = vec![Vec::new(); n];
    loop {
        let frames = renderer.render(&mut block);
        if frames == 0 {
            return channels;
        }
        for frame in block[..frames * n].chunks_exact(n) {
            for (channel, sample) in channels.iter_mut().zip(frame) {
                channel.push(*sample);
            }
        }
    }
}

/// Frequency and amplitude of the sinusoid nearest to `near_hz`: the phase of a Hann-windowed
/// DFT sum advances between the two halves of the stretch by the frequency's error.
pub(super) fn sinusoid(samples: &[f32], rate_hz: f64, near_hz: f64) -> (f64, f64) {
    let half = samples.len() / 2;
    let mut hz = near_hz;
    for _ in 0..3 {
        let a = dft(&samples[..half], rate_hz, hz, 0);
        let b = dft(&samples[half..2 * half], rate_hz, hz, half);
        let advance = (b.1 * a.0 - b.0 * a.1).atan2(b.0 * a.0 + b.1 * a.1);
        hz += advance / (TAU * half as f64 / rate_hz);
    }
    let (re, im) = dft(&samples[..half], rate_hz, hz, 0);
    (hz, re.hypot(im))
}

fn dft(samples: &[f32], rate_hz: f64, hz: f64, first: usize) -> (f64, f64) {
    let n = samples.len() as f64;
    let mut sum = (0.0, 0.0, 0.0);
    for (i, sample) in samples.iter().enumerate() {
        let window = 0.5 - 0.5 * (TAU * (i as f64 + 0.5) / n).cos();
        let angle = TAU * ((first + i) as f64 * hz / rate_hz).fract();
        sum.0 += window * f64::from(*sample) * angle.cos();
        sum.1 -= window * f64::from(*sample) * angle.sin();
        sum.2 += window;
    }
    (2.0 * sum.0 / sum.2, 2.0 * sum.1 / sum.2)
}

/// RMS level in decibels relative to full scale.
pub(super) fn level_db(samples: &[f32]) -> f64 {
    let power: f64 = samples.iter().map(|s| f64::from(*s).powi(2)).sum();
    10.0 * (power / samples.len() as f64).max(1e-30).log10()
}

/// How far `hz` lies above `reference_hz`, in cents.
pub(super) fn cents(hz: f64, reference_hz: f64) -> f64 {
    1200.0 * (hz / reference_hz).log2()
}
