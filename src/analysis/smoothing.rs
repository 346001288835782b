//! The last digit: readings of one note, averaged over a few hops.
//!
//! Windows that start a hop apart catch the partials at other phases, so that what their
//! neighbours and the noise do to them differs; what the player does hardly changes within so
//! short a time.

/// Hops averaged, by the window that measures, from long to short: as much as leaves a
/// vibrato alone.
const HOPS: [usize; 3] = [3, 3, 5];
/// The most of them.
const MOST: usize = 5;
/// Pitches farther apart than this are no scatter but a move, in cents.
const MOVE: f64 = 25.0;

/// The last readings of the note that sounds.
#[derive(Debug, Default)]
pub(super) struct Smoothing {
    /// Time of the window's centre and pitch in octaves above 1 Hz, from old to new.
    last: [(f64, f64); MOST],
    count: usize,
    window: usize,
}

impl Smoothing {
    /// Begins a new note.
    pub(super) fn clear(&mut self) {
        self.count = 0;
    }

    /// Takes a pitch measured through one of the windows, centred at `time_s`, `passed` hops after
    /// the last; gives the mean of the last ones from this window, and the time it belongs to.
    pub(super) fn add(&mut self, window: usize, time_s: f64, hz: f64, passed: u32) -> (f64, f64) {
        if window != self.window {
            self.clear();
            self.window = window;
        }
        // As long a time, by fewer readings.
        let most = (HOPS[window] - 1) / passed.max(1) as usize + 1;
        if self.count >= most {
            self.last.copy_within(self.count + 1 - most..self.count, 0);
            self.count = most - 1;
        }
        let newest = hz.log2();
        self.last[self.count] = (time_s, newest);
        self.count += 1;
        // Back to the first that is far from the newest.
        let near = self.last[..self.count]
            .iter()
            .rev()
            .take_while(|(_, octaves)| (octaves - newest).abs() * 1200.0 < MOVE);
        let (mut moments, mut octaves, mut n) = (0.0, 0.0, 0.0);
        for (time, octave) in near {
            moments += time;
            octaves += octave;
            n += 1.0;
        }
        (moments / n, (octaves / n).exp2())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn three_readings_are_averaged_and_dated_at_their_middle() {
        let mut smoothing = Smoothing::default();
        smoothing.add(1, 0.00, 440.0, 1);
        smoothing.add(1, 0.01, 441.0, 1);
        let (time, hz) = smoothing.add(1, 0.02, 440.5, 1);
        assert!((time - 0.01).abs() < 1e-12);
        assert!((hz - (440.0_f64 * 441.0 * 440.5).cbrt()).abs() < 1e-9);
        let (time, _) = smoothing.add(1, 0.03, 440.5, 1);
        assert!((time - 0.02).abs() < 1e-12);
    }

    #[test]
    fn another_window_another_note_or_a_leap_starts_anew() {
        let mut smoothing = Smoothing::default();
        smoothing.add(1, 0.0, 440.0, 1);
        let (time, hz) = smoothing.add(2, 0.05, 442.0, 1);
        assert!((time - 0.05).abs() < 1e-12 && (hz - 442.0).abs() < 1e-9);
        assert!((smoothing.add(2, 0.06, 460.0, 1).0 - 0.06).abs() < 1e-12);
        smoothing.clear();
        assert!((smoothing.add(2, 0.07, 460.5, 1).0 - 0.07).abs() < 1e-12);
    }
}
