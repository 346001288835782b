use super::*;
use crate::analysis::{Estimator, NoPitch, Reading};
use crate::drone::{Passage, Synth, Timbre, Wanted, WantedTone};
use crate::units::{Hertz, SampleRate};

const RATE: u32 = 48_000;

fn rate() -> SampleRate {
    SampleRate::new(RATE).unwrap()
}

/// Someone who plays at a microphone that hears a drone.
struct Room {
    passages: Vec<Passage>,
    latency_s: f64,
    /// How much faster the loudspeaker's clock goes.
    skew: f64,
    /// The drone's gain from a moment on.
    gains: Vec<(f64, f64)>,
}

impl Room {
    /// A room whose loudspeaker plays each of these from its moment on, at -20 dBFS.
    fn with(script: &[(f64, &[f64])]) -> Self {
        let mut synth = Synth::new(rate());
        let mut passages = Vec::new();
        let mut at = 0.0;
        for (begins, tones) in script {
            let frames = ((begins - at) * f64::from(RATE)) as usize;
            synth.render(&mut vec![0.0; 2 * frames], |p| passages.push(p.clone()));
            at = *begins;
            let tone = |hz: &f64| WantedTone {
                hertz: Hertz::new(*hz).unwrap(),
                pan: 0.0,
            };
            synth.want(Wanted {
                tones: tones.iter().map(tone).collect(),
                timbre: Timbre::Organ,
                level: Dbfs::new(-20.0),
            });
        }
        synth.render(&mut vec![0.0; RATE as usize], |p| passages.push(p.clone()));
        Self {
            passages,
            latency_s: 0.093,
            skew: 70e-6,
            gains: vec![(0.0, 0.8)],
        }
    }

    /// What the loudspeaker plays at a moment between its frames.
    fn played(&self, frame: f64) -> f64 {
        let mut sum = 0.0;
        for (index, passage) in self.passages.iter().enumerate() {
            let next = self.passages.get(index + 1);
            let gain = passage.risen(frame) - next.map_or(0.0, |next| next.risen(frame));
            if gain > 0.0 {
                let at = |c: &crate::drone::Component| c.mono() * c.phase_at(frame).sin();
                sum += gain * passage.components.iter().map(at).sum::<f64>();
            }
        }
        sum
    }

    /// What the microphone hears of it: the way itself and two reflections.
    fn drone(&self, seconds: f64) -> Vec<f32> {
        let frames = (seconds * f64::from(RATE)) as usize;
        let sound = (0..frames).map(|n| {
            let s = n as f64 / f64::from(RATE);
            let gain = self.gains.iter().rev().find(|(from, _)| s >= *from);
            let sum: f64 = [(0.0, 1.0), (0.011, -0.4), (0.0237, 0.25)]
                .iter()
                .map(|(late, gain)| {
                    let frame =
                        n as f64 * (1.0 + self.skew) - (self.latency_s + late) * f64::from(RATE);
                    gain * self.played(frame)
                })
                .sum();
            (gain.map_or(0.0, |(_, gain)| *gain) * sum) as f32
        });
        sound.collect()
    }

    /// Readings of what the microphone hears, each with what is said of the drone.
    fn readings(&self, sound: &[f32]) -> Vec<(Reading, HeardThrough)> {
        let mut canceller = Canceller::new(rate());
        canceller.begin(rate(), 0.0);
        for passage in &self.passages {
            canceller.tell(passage.clone());
        }
        let mut ear = Estimator::new(rate());
        let mut all = Vec::new();
        canceller.take(sound.iter().copied(), |canceller, rest| {
            ear.push(rest.iter().copied(), |reading| {
                let mut reading = *reading;
                canceller.judge(&mut reading);
                all.push((reading, canceller.heard()));
            });
        });
        all
    }
}

/// A player's note: twelve partials with a little unrest, faded in and out.
fn note(hz: f64, rms: f64, from_s: f64, to_s: f64, seconds: f64) -> Vec<f32> {
    let frames = (seconds * f64::from(RATE)) as usize;
    let power: f64 = (1..=12).map(|n| 0.5 / f64::from(n * n)).sum();
    let mut turns = 0.0;
    let sound = (0..frames).map(|n| {
        let s = n as f64 / f64::from(RATE);
        let unrest = 1.0 * (17.3 * s).sin() + 0.7 * (5.1 * s).sin();
        turns += hz * (unrest / 1200.0_f64).exp2() / f64::from(RATE);
        let gain = ((s - from_s) / 0.05).min((to_s - s) / 0.05).clamp(0.0, 1.0);
        let partial = |n: u32| {
            let phase = std::f64::consts::TAU * (turns * f64::from(n)).fract();
            (phase + f64::from(n * n)).sin() / f64::from(n)
        };
        (gain * rms / power.sqrt() * (1..=12).map(partial).sum::<f64>()) as f32
    });
    sound.collect()
}

fn mixed(a: &[f32], b: &[f32]) -> Vec<f32> {
    a.iter().zip(b).map(|(a, b)| a + b).collect()
}

fn removed(heard: &HeardThrough) -> Option<(f64, f64)> {
    match heard.leak {
        Leak::Removed {
            latency, depth_db, ..
        } => Some((latency?.get(), depth_db)),
        _ => None,
    }
}

/// Pitched readings within a time.
fn pitched(readings: &[(Reading, HeardThrough)], from_s: f64, to_s: f64) -> usize {
    let within = |r: &&(Reading, HeardThrough)| (from_s..to_s).contains(&r.0.available.get());
    readings
        .iter()
        .filter(within)
        .filter(|r| r.0.pitch.is_ok())
        .count()
}

#[test]
fn nothing_is_changed_where_nothing_is_played() {
    let sound = note(220.0, 0.1, 0.0, 1.0, 1.0);
    let mut canceller = Canceller::new(rate());
    let mut rest = Vec::new();
    canceller.take(sound.iter().copied(), |_, hop| rest.extend_from_slice(hop));
    assert_eq!(rest, sound);
    assert_eq!(canceller.heard().leak, Leak::Silent);
}

#[test]
fn the_drone_alone_is_found_taken_out_and_never_read_as_a_player() {
    for tones in [&[138.62, 207.5][..], &[554.5], &[69.3, 86.6, 103.9]] {
        let room = Room::with(&[(0.3, tones)]);
        let readings = room.readings(&room.drone(4.0));
        assert_eq!(pitched(&readings, 0.0, 4.0), 0, "{tones:?}");
        let (latency_s, depth_db) = removed(&readings.last().unwrap().1).unwrap();
        assert!((latency_s - 0.1).abs() < 0.02, "{tones:?}: {latency_s} s");
        assert!(depth_db > 40.0, "{tones:?}: {depth_db} dB");
    }
}

#[test]
fn a_player_is_read_through_a_drone_ten_decibels_louder() {
    let room = Room::with(&[(0.1, &[138.62, 207.5])]);
    let drone = room.drone(6.0);
    let power = |s: &[f32]| s.iter().map(|s| f64::from(*s).powi(2)).sum::<f64>() / s.len() as f64;
    let rms = (0.1 * power(&drone[96_000..])).sqrt();
    // An octave above the first tone and 17 cents off; another note.
    for hz in [2.0 * 138.62 * (17.0_f64 / 1200.0).exp2(), 329.4] {
        let player = note(hz, rms, 2.5, 4.5, 6.0);
        let mut alone = Vec::new();
        let mut ear = Estimator::new(rate());
        ear.push(player.iter().copied(), |reading| alone.push(*reading));
        let readings = room.readings(&mixed(&drone, &player));
        let (mut all, mut near) = (0, 0);
        for ((through, _), alone) in readings.iter().zip(&alone) {
            let Ok(truth) = alone.pitch else { continue };
            all += 1;
            let is_near =
                |pitch: crate::analysis::Pitch| pitch.hertz.above(truth.hertz).abs().get() < 2.0;
            near += usize::from(through.pitch.is_ok_and(is_near));
        }
        assert!(all > 150 && near * 100 >= all * 95, "{hz}: {near} of {all}");
        assert_eq!(
            pitched(&readings, 0.0, 2.5) + pitched(&readings, 4.75, 6.0),
            0
        );
    }
}

#[test]
fn a_changing_drone_is_followed() {
    let room = Room::with(&[
        (0.1, &[207.5]),
        (2.0, &[220.0]),
        (3.0, &[207.5]),
        (4.0, &[]),
    ]);
    let player = note(349.2, 0.05, 1.5, 5.5, 6.0);
    let readings = room.readings(&mixed(&room.drone(6.0), &player));
    let truth = Hertz::new(349.2).unwrap();
    for (reading, _) in &readings {
        let off = reading
            .pitch
            .map_or(0.0, |p| p.hertz.above(truth).abs().get());
        assert!(off < 5.0, "{off} at {:?}", reading.available);
    }
    for from_s in [2.0, 3.0, 4.0] {
        // The way, the ramp, and what it takes to find an unknown tone.
        assert!(
            pitched(&readings, from_s + 0.8, from_s + 0.95) > 13,
            "{from_s}"
        );
    }
    assert_eq!(readings.last().unwrap().1.leak, Leak::Silent);
}

#[test]
fn a_drone_that_is_not_heard_takes_nothing_from_the_player() {
    let room = Room::with(&[(0.1, &[220.0])]);
    let before = note(247.0, 0.05, 0.2, 2.5, 6.0);
    let player = mixed(&before, &note(220.0, 0.05, 3.2, 5.5, 6.0));
    let readings = room.readings(&player);
    assert!(pitched(&readings, 1.0, 2.5) == 0 || pitched(&readings, 1.0, 2.5) > 140);
    assert_eq!(readings.last().unwrap().1.leak, Leak::NotHeard);
    assert!(pitched(&readings, 5.0, 5.5) > 45);
}

#[test]
fn a_knob_that_is_turned_is_no_player() {
    let mut room = Room::with(&[(0.1, &[138.62, 207.5])]);
    room.gains.push((2.5, 0.4));
    let readings = room.readings(&room.drone(5.0));
    assert_eq!(pitched(&readings, 0.0, 5.0), 0);
    let on_drone = |r: &&(Reading, HeardThrough)| r.0.pitch == Err(NoPitch::Drone);
    assert!(readings.iter().filter(on_drone).count() < 80);
    assert!(readings.last().unwrap().0.pitch == Err(NoPitch::Silence));
}

#[test]
fn a_player_on_the_very_drone_is_said_to_be_there() {
    let room = Room::with(&[(0.1, &[207.5])]);
    // The same sinusoids once more, from somebody who keeps as still as no player does.
    let drone = room.drone(6.0);
    let mut sound = drone.clone();
    for n in 2 * RATE as usize..5 * RATE as usize {
        sound[n] += 0.6 * drone[n - 1_234];
    }
    let readings = room.readings(&sound);
    let judged = |from_s: f64, to_s: f64, why: NoPitch| {
        let within = |r: &&(Reading, HeardThrough)| (from_s..to_s).contains(&r.0.available.get());
        let all = readings.iter().filter(within).count();
        let so = |r: &&(Reading, HeardThrough)| r.0.pitch == Err(why);
        readings.iter().filter(within).filter(so).count() * 100 / all
    };
    assert!(judged(2.7, 5.0, NoPitch::Drone) > 90);
    assert!(judged(5.4, 6.0, NoPitch::Silence) > 90);
}

#[test]
fn beats_are_counted_as_the_formula_has_them() {
    let room = Room::with(&[(0.1, &[207.5])]);
    let drone = room.drone(7.0);
    for off_hz in [0.9, 1.7, 4.0] {
        let player = note(207.5 + off_hz, 0.04, 2.0, 7.0, 7.0);
        let readings = room.readings(&mixed(&drone, &player));
        let counted = readings.last().unwrap().1.beats_hz;
        // Partial n of both beats n times as fast: which one is listened to is not said.
        let counted = counted.expect("beats are heard");
        let n = (counted / off_hz).round();
        assert!(
            n >= 1.0 && (counted - n * off_hz).abs() < 0.15,
            "{off_hz}: {counted}"
        );
    }
}
