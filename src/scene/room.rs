//! The room round a player: a feedback delay network whose sound dies away at a stated rate.
//!
//! Eight delay lines feed each other through a reflection matrix that neither adds nor takes
//! energy (a Householder matrix; J. M. Jot and A. Chaigne, "Digital delay networks for
//! designing artificial reverberators", AES convention 90, 1991, from memory). Each line
//! loses exactly what its length asks for, so all of it dies away at the same rate.

use super::Room;

const LINES: usize = 8;

/// Lengths in seconds, without simple ratios between them.
const LENGTHS_S: [f64; LINES] = [
    0.0297, 0.0371, 0.0411, 0.0437, 0.0533, 0.0613, 0.0671, 0.0797,
];

/// What a room does at one sample rate: the same for all players.
#[derive(Debug, Clone)]
pub(super) struct Walls {
    lengths: [usize; LINES],
    /// What is left of a sound that went through a line.
    kept: [f32; LINES],
    /// Share of the treble let in.
    share: f32,
    /// Gain on the way out.
    wet: f32,
}

/// The sound in the room of one player.
#[derive(Debug, Clone)]
pub(super) struct Reverberation {
    lines: [Vec<f32>; LINES],
    places: [usize; LINES],
    dulled: f32,
}

impl Walls {
    /// The walls of `room`. The reverberation of steady noise is `wet_db` above the noise;
    /// that of a single tone depends on the room's own resonances.
    pub(super) fn new(room: Room, rate_hz: f64) -> Self {
        let lengths = LENGTHS_S.map(|seconds| ((seconds * rate_hz) as usize) | 1);
        let kept = lengths
            .map(|frames| 10_f64.powf(-3.0 * frames as f64 / (room.rt60_s * rate_hz)) as f32);
        let mut walls = Self {
            lengths,
            kept,
            // The air and the walls take the treble above some 5 kHz.
            share: (1.0 - (-std::f64::consts::TAU * 5_000.0 / rate_hz).exp()) as f32,
            wet: 1.0,
        };
        let mut empty = Reverberation::new(&walls);
        let frames = (room.rt60_s * rate_hz) as usize;
        let energy: f64 = (0..frames)
            .map(|frame| {
                let impulse = if frame == 0 { 1.0 } else { 0.0 };
                f64::from(empty.next(&walls, impulse)).powi(2)
            })
            .sum();
        walls.wet = (10_f64.powf(room.wet_db / 20.0) / energy.max(1e-12).sqrt()) as f32;
        walls
    }
}

impl Reverberation {
    /// A quiet room.
    pub(super) fn new(walls: &Walls) -> Self {
        Self {
            lines: walls.lengths.map(|frames| vec![0.0; frames]),
            places: [0; LINES],
            dulled: 0.0,
        }
    }

    /// The room's answer to the next sample.
    pub(super) fn next(&mut self, walls: &Walls, dry: f32) -> f32 {
        self.dulled += walls.share * (dry - self.dulled);
        let mut heard = [0.0_f32; LINES];
        for (index, heard) in heard.iter_mut().enumerate() {
            *heard = self.lines[index][self.places[index]] * walls.kept[index];
        }
        let sum: f32 = heard.iter().sum();
        let reflected = sum * (2.0 / LINES as f32);
        let mut out = 0.0;
        for (index, heard) in heard.iter().enumerate() {
            let fed = heard - reflected + self.dulled;
            let line = &mut self.lines[index];
            // Numbers too small for a float's normal form would slow the machine down.
            line[self.places[index]] = if fed.abs() < 1e-15 { 0.0 } else { fed };
            self.places[index] += 1;
            if self.places[index] == line.len() {
                self.places[index] = 0;
            }
            out += if index % 2 == 0 { *heard } else { -*heard };
        }
        out * walls.wet
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Time of decay by 60 dB from a straight line through -5 to -35 dB of the energy that
    /// is still to come: ISO 3382-2, T30, with the backward integration of M. R. Schroeder,
    /// J. Acoust. Soc. Am. 37 (1965).
    fn t30(impulse: &[f32], rate_hz: f64) -> f64 {
        let mut left = vec![0.0_f64; impulse.len() + 1];
        for i in (0..impulse.len()).rev() {
            left[i] = left[i + 1] + f64::from(impulse[i]).powi(2);
        }
        let points: Vec<(f64, f64)> = left[..impulse.len()]
            .iter()
            .enumerate()
            .map(|(i, e)| (i as f64 / rate_hz, 10.0 * (e / left[0]).log10()))
            .filter(|(_, db)| (-35.0..=-5.0).contains(db))
            .collect();
        let n = points.len() as f64;
        let (mean_t, mean_db) = points
            .iter()
            .fold((0.0, 0.0), |(t, d), p| (t + p.0 / n, d + p.1 / n));
        let (num, den) = points.iter().fold((0.0, 0.0), |(num, den), (t, db)| {
            let t = t - mean_t;
            (num + t * (db - mean_db), den + t * t)
        });
        -60.0 * den / num
    }

    fn impulse(room: Room, rate_hz: f64) -> Vec<f32> {
        let walls = Walls::new(room, rate_hz);
        let mut reverberation = Reverberation::new(&walls);
        (0..(1.5 * room.rt60_s * rate_hz) as usize)
            .map(|i| reverberation.next(&walls, if i == 0 { 1.0 } else { 0.0 }))
            .collect()
    }

    #[test]
    fn sound_dies_away_as_stated() {
        for rt60_s in [0.4, 1.2, 3.0] {
            for rate_hz in [8_000.0, 44_100.0, 96_000.0] {
                let room = Room {
                    rt60_s,
                    wet_db: -10.0,
                    leak_db: None,
                };
                let measured = t30(&impulse(room, rate_hz), rate_hz);
                assert!(
                    (measured / rt60_s - 1.0).abs() < 0.15,
                    "{rt60_s} s at {rate_hz}: {measured}"
                );
            }
        }
    }

    #[test]
    fn the_wet_level_is_that_of_steady_noise() {
        let room = Room {
            rt60_s: 1.5,
            wet_db: -12.0,
            leak_db: None,
        };
        let energy: f64 = impulse(room, 48_000.0)
            .iter()
            .map(|h| f64::from(*h).powi(2))
            .sum();
        assert!((10.0 * energy.log10() + 12.0).abs() < 0.1, "{energy}");
    }
}
