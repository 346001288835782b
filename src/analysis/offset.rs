//! Direct current: what a faulty input adds to every sample alike. It is no sound, so a level is
//! told without it.

/// The share by which a hop moves the mean, once it has been followed for half a second. Hops
/// are shorter than the period of a low note, so one alone says little.
const SHARE: f64 = 0.02;

/// The direct current of one channel.
#[derive(Debug, Default)]
pub(super) struct Offset {
    mean: f64,
    hops: u32,
}

impl Offset {
    /// Takes a hop and gives its mean square without the direct current.
    pub(super) fn take(&mut self, hop: &[f32]) -> f64 {
        let count = hop.len().max(1) as f64;
        let (sum, squares) = hop.iter().fold((0.0, 0.0), |(sum, squares), sample| {
            let sample = f64::from(*sample);
            (sum + sample, squares + sample * sample)
        });
        let (mean, whole) = (sum / count, squares / count);
        self.hops = self.hops.saturating_add(1);
        self.mean += SHARE.max(1.0 / f64::from(self.hops)) * (mean - self.mean);
        let swing = whole - 2.0 * self.mean * mean + self.mean * self.mean;
        // Where there is less without the correction it is out of date: silence is silence.
        whole.min(swing.max(0.0))
    }
}

#[cfg(test)]
mod tests {
    use std::f64::consts::TAU;

    use super::*;
    use crate::units::Dbfs;

    /// The levels of hops of 10 ms of what `sample` gives at a time in seconds.
    fn levels(seconds: f64, sample: impl Fn(f64) -> f64) -> Vec<f64> {
        let mut offset = Offset::default();
        let hops = (seconds * 100.0) as usize;
        let mut hop = |n: usize| -> f64 {
            let samples = (0..480).map(|i| sample((n * 480 + i) as f64 / 48e3) as f32);
            let samples: Vec<f32> = samples.collect();
            Dbfs::of_mean_square(offset.take(&samples)).get()
        };
        (0..hops).map(&mut hop).collect()
    }

    fn tone(hz: f64, t: f64) -> f64 {
        0.1 * (TAU * hz * t).sin()
    }

    #[test]
    fn direct_current_alone_is_silence_from_the_first_hop_on() {
        let heard = levels(1.0, |_| 0.3);
        assert!(heard.iter().all(|db| *db < -110.0), "{heard:?}");
    }

    #[test]
    fn a_tone_is_as_loud_on_direct_current_as_without() {
        for hz in [41.2, 110.0, 415.0, 1175.0] {
            let plain = levels(2.0, |t| tone(hz, t));
            let shifted = levels(2.0, |t| 0.3 + tone(hz, t));
            for (plain, shifted) in plain.iter().zip(&shifted).skip(100) {
                assert!((plain - shifted).abs() < 0.3, "{hz} Hz: {plain} {shifted}");
            }
        }
    }

    #[test]
    fn without_it_nothing_is_taken_away() {
        // The hops of the lowest notes are parts of a swing, and swing themselves.
        for hz in [41.2, 60.0, 110.0, 415.0] {
            let mut offset = Offset::default();
            for n in 0..300 {
                let hop = (0..480).map(|i| tone(hz, f64::from(n * 480 + i) / 48e3) as f32);
                let hop: Vec<f32> = hop.collect();
                let whole = hop.iter().map(|s| f64::from(*s).powi(2)).sum::<f64>() / 480.0;
                let lost = 10.0 * (whole / offset.take(&hop)).log10();
                assert!(n < 30 || lost.abs() < 0.3, "{hz} Hz, hop {n}: {lost} dB");
            }
        }
    }

    #[test]
    fn silence_after_it_is_silence_at_once() {
        let heard = levels(1.0, |t| if t < 0.5 { 0.3 } else { 0.0 });
        let silent = heard[50..].iter().all(|db| *db <= Dbfs::SILENCE.get());
        assert!(silent && heard.len() == 100, "{heard:?}");
    }
}
