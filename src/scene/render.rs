//! Plays a scene: samples for every player, block after block, for as long as wanted.

use std::sync::Arc;

use super::hiss::{self, Hiss};
use super::room::{Reverberation, Walls};
use super::timeline::{Event, Player, Scene};
use super::voice::{Motion, Voice};
use super::{AtEnd, Sound};
use crate::units::SampleRate;

/// Control blocks a second, at least: pitch and level are set anew this often.
const CONTROL_HZ: f64 = 1_200.0;

/// Where loud peaks begin to be rounded, and the room left for them below full scale.
const KNEE: f32 = 0.8;
const HEADROOM: f32 = 0.19;

/// Plays a scene as interleaved samples, one channel for each player.
///
/// Not meant for an audio callback: starting a note takes memory.
#[derive(Debug)]
pub struct Renderer {
    scene: Arc<Scene>,
    rate: SampleRate,
    at_end: AtEnd,
    /// Frames in one time through.
    n_frames: u64,
    /// Frames played this time through.
    at: u64,
    desks: Vec<Desk>,
    walls: Option<Walls>,
    leak: f32,
    floor_rms: f32,
    /// One control block of every player, one after the other.
    dry: Vec<f32>,
    /// The same, finished and interleaved, and how much of it has been handed out.
    block: Vec<f32>,
    handed_out: usize,
    control_frames: usize,
}

/// What one player needs in order to sound.
#[derive(Debug)]
struct Desk {
    next_event: usize,
    voices: Vec<Voice>,
    breath: Hiss,
    floor: Hiss,
    reverberation: Option<Reverberation>,
}

impl Renderer {
    /// Begins `scene` at `rate`; it ends or repeats as the scene says.
    pub fn new(scene: Arc<Scene>, rate: SampleRate) -> Self {
        let rate_hz = rate.hz();
        let walls = scene.room.map(|room| Walls::new(room, rate_hz));
        let desks = (0..scene.players.len())
            .map(|player| Desk {
                next_event: 0,
                voices: Vec::new(),
                breath: Hiss::new(hiss::seed(scene.seed, player, 3), 3_000.0, rate_hz),
                floor: Hiss::new(hiss::seed(scene.seed, player, 4), 1_000.0, rate_hz),
                reverberation: walls.as_ref().map(Reverberation::new),
            })
            .collect();
        let gain = |db: Option<f64>| db.map_or(0.0, |db| decibels(db) as f32);
        let n_players = scene.players.len();
        let control_frames = ((rate_hz / CONTROL_HZ) as usize).max(8);
        Self {
            at_end: scene.at_end,
            n_frames: rate.frames_in(scene.length()).get().max(1),
            leak: gain(scene.room.and_then(|room| room.leak_db)),
            floor_rms: gain(scene.noise_dbfs),
            scene,
            rate,
            at: 0,
            desks,
            walls,
            dry: Vec::with_capacity(control_frames * n_players),
            block: Vec::with_capacity(control_frames * n_players),
            handed_out: 0,
            control_frames,
        }
    }

    /// The same with another way to end.
    pub fn ending(self, at_end: AtEnd) -> Self {
        Self { at_end, ..self }
    }

    /// The scene that is played.
    pub fn scene(&self) -> &Arc<Scene> {
        &self.scene
    }

    /// Frames a second.
    pub fn rate(&self) -> SampleRate {
        self.rate
    }

    /// Channels in each frame.
    pub fn channels(&self) -> usize {
        self.desks.len()
    }

    /// Fills `out` with whole frames and returns how many: fewer than fit only at the
    /// scene's end, zero after it. Full scale is 1 and is never reached.
    pub fn render(&mut self, out: &mut [f32]) -> usize {
        let channels = self.channels();
        let wanted = out.len() / channels * channels;
        let mut filled = 0;
        while filled < wanted {
            if self.handed_out == self.block.len() && !self.next_block() {
                break;
            }
            let left = &self.block[self.handed_out..];
            let n = left.len().min(wanted - filled);
            out[filled..filled + n].copy_from_slice(&left[..n]);
            filled += n;
            self.handed_out += n;
        }
        filled / channels
    }

    /// Renders the next control block; `false` at the end of the scene.
    fn next_block(&mut self) -> bool {
        if self.at == self.n_frames {
            match self.at_end {
                AtEnd::Stop => return false,
                AtEnd::Repeat => {
                    self.at = 0;
                    for desk in &mut self.desks {
                        desk.next_event = 0;
                    }
                }
            }
        }
        self.start_notes();
        let n = self.frames_to_go();
        self.dry.clear();
        self.dry.resize(n * self.desks.len(), 0.0);
        let rate_hz = self.rate.hz();
        let players = self.scene.players.iter().zip(&mut self.desks);
        for ((player, desk), out) in players.zip(self.dry.chunks_exact_mut(n)) {
            desk.play(player, out, rate_hz);
        }
        self.mix(n);
        self.at += n as u64;
        self.handed_out = 0;
        true
    }

    fn frame_of(&self, event: &Event) -> u64 {
        (event.start_s * self.rate.hz()).round() as u64
    }

    /// Starts every note whose time has come.
    fn start_notes(&mut self) {
        let scene = Arc::clone(&self.scene);
        for (index, player) in scene.players.iter().enumerate() {
            while let Some(event) = player.events.get(self.desks[index].next_event)
                && self.frame_of(event) <= self.at
            {
                let desk = &mut self.desks[index];
                let voice = Voice::new(player, desk.next_event, self.rate.hz(), scene.length_s);
                desk.voices.push(voice);
                desk.next_event += 1;
            }
        }
    }

    /// Frames until something has to change: the control block's end, the next note's start
    /// or the scene's end.
    fn frames_to_go(&self) -> usize {
        let starts = self.scene.players.iter().zip(&self.desks);
        starts
            .filter_map(|(player, desk)| player.events.get(desk.next_event))
            .map(|event| self.frame_of(event))
            .chain([self.n_frames])
            .map(|frame| (frame - self.at) as usize)
            .fold(self.control_frames, usize::min)
            .max(1)
    }

    /// Adds leak, room and noise, keeps the peaks below full scale and interleaves.
    fn mix(&mut self, n: usize) {
        let channels = self.desks.len();
        self.block.clear();
        self.block.resize(n * channels, 0.0);
        for frame in 0..n {
            let all: f32 = (0..channels).map(|c| self.dry[c * n + frame]).sum();
            for (channel, desk) in self.desks.iter_mut().enumerate() {
                let own = self.dry[channel * n + frame];
                let direct = own + self.leak * (all - own);
                let room = match (&self.walls, &mut desk.reverberation) {
                    (Some(walls), Some(reverberation)) => reverberation.next(walls, direct),
                    _ => 0.0,
                };
                let floor = self.floor_rms * desk.floor.next();
                self.block[frame * channels + channel] = rounded(direct + room + floor);
            }
        }
    }
}

impl Desk {
    /// Renders one control block of every sounding note into `out`.
    fn play(&mut self, player: &Player, out: &mut [f32], rate_hz: f64) {
        let n = out.len();
        let mut noise = (0.0, 0.0);
        for voice in &mut self.voices {
            let event = &player.events[voice.event];
            let from_s = voice.elapsed as f64 / rate_hz;
            let to_s = from_s + n as f64 / rate_hz;
            let middle_s = event.start_s + f64::midpoint(from_s, to_s);
            let rms = |since_s| {
                let db = event.level_dbfs + player.shimmer.at(event.start_s + since_s);
                decibels(db) * envelope(event, since_s)
            };
            let rms = (rms(from_s), rms(to_s));
            noise.0 += rms.0 * noise_gain(player.sound, from_s);
            noise.1 += rms.1 * noise_gain(player.sound, to_s);
            let motion = Motion {
                hz: event.pitch_at(player, middle_s),
                rms,
                // The tone opens as the note builds up.
                loud: event.loud * envelope(event, from_s),
            };
            voice.add_to(out, rate_hz, motion);
        }
        let slope = (noise.1 - noise.0) / n as f64;
        if noise.0 + noise.1 > 0.0 {
            for (index, sample) in out.iter_mut().enumerate() {
                *sample += (noise.0 + slope * index as f64) as f32 * self.breath.next();
            }
        }
        self.voices.retain(|voice| {
            let event = &player.events[voice.event];
            let held_s = event.end_s - event.start_s;
            (voice.elapsed as f64) < (held_s + event.release_s) * rate_hz
        });
    }
}

/// Share of the full amplitude a note has so long after its start.
fn envelope(event: &Event, since_s: f64) -> f64 {
    let smooth = |share: f64| 0.5 - 0.5 * (std::f64::consts::PI * share.clamp(0.0, 1.0)).cos();
    let risen = if event.attack_s > 0.0 {
        smooth(since_s / event.attack_s)
    } else {
        1.0
    };
    let after_s = since_s - (event.end_s - event.start_s);
    risen * (1.0 - smooth(after_s / event.release_s))
}

/// Breath or bow noise relative to the note, so long after its start.
fn noise_gain(sound: Sound, since_s: f64) -> f64 {
    let manner = sound.manner();
    decibels(manner.noise_db) + decibels(manner.onset_noise_db) * (-since_s / 0.02).exp()
}

fn decibels(db: f64) -> f64 {
    10_f64.powf(db / 20.0)
}

/// Rounds off what would exceed full scale.
fn rounded(sample: f32) -> f32 {
    let over = sample.abs() - KNEE;
    if over <= 0.0 {
        return sample;
    }
    (KNEE + HEADROOM * (over / HEADROOM).tanh()).copysign(sample)
}

#[cfg(test)]
mod tests;
