//! The time axis of a picture, without the breaks between sittings. Times are minutes from the
//! beginning of the first sitting; places are minutes along the axis.

use crate::units::Seconds;

/// A break that is longer is left out, in minutes.
const BREAK: f64 = 5.0;
/// What is left of a break, as a part of all that sounded.
const GAP: f64 = 0.04;

/// Where moments lie.
#[derive(Debug)]
pub(super) struct Axis {
    /// Never empty, in order.
    stretches: Vec<Stretch>,
    gap: f64,
}

/// What lies between two breaks.
#[derive(Debug)]
struct Stretch {
    begun: f64,
    ended: f64,
    place: f64,
}

impl Axis {
    /// The axis from the beginning of the first sitting to the `latest` minute; of each sitting
    /// it is known when it began and ended.
    pub(super) fn new(sittings: &[(Seconds, Seconds)], latest: f64) -> Self {
        let mut stretches = vec![Stretch {
            begun: 0.0,
            ended: 0.0,
            place: 0.0,
        }];
        for sitting in sittings {
            let [begun, ended] = [sitting.0, sitting.1].map(|time| time.get() / 60.0);
            match stretches.last_mut() {
                Some(last) if begun - last.ended <= BREAK => last.ended = last.ended.max(ended),
                _ => stretches.push(Stretch {
                    begun,
                    ended,
                    place: 0.0,
                }),
            }
        }
        if let Some(last) = stretches.last_mut() {
            last.ended = last.ended.max(latest);
        }
        let sounded: f64 = stretches.iter().map(|s| s.ended - s.begun).sum();
        let gap = GAP * sounded;
        let mut place = 0.0;
        for stretch in &mut stretches {
            stretch.place = place;
            place += stretch.ended - stretch.begun + gap;
        }
        Self { stretches, gap }
    }

    /// How long it is.
    pub(super) fn length(&self) -> f64 {
        let last = self.stretches.last();
        last.map_or(0.0, |last| last.place + last.ended - last.begun)
    }

    /// Whether anything is left out.
    pub(super) fn is_broken(&self) -> bool {
        self.stretches.len() > 1
    }

    /// Whether a break ends at this minute.
    pub(super) fn begins_after_break(&self, minute: f64) -> bool {
        let mut later = self.stretches.iter().skip(1);
        later.any(|stretch| (stretch.begun - minute).abs() < 1e-9)
    }

    /// The middle of every gap.
    pub(super) fn breaks(&self) -> impl Iterator<Item = f64> {
        let later = self.stretches.iter().skip(1);
        later.map(|stretch| stretch.place - self.gap / 2.0)
    }

    /// Where a minute lies; one within a break at the end of what was before it.
    pub(super) fn place(&self, minute: f64) -> f64 {
        let stretch = &self.stretches[self.index(minute)];
        stretch.place + minute.min(stretch.ended) - stretch.begun
    }

    /// Which minute lies at a place.
    pub(super) fn minute(&self, place: f64) -> f64 {
        let before = self.stretches.partition_point(|s| s.place <= place);
        let stretch = &self.stretches[before.saturating_sub(1)];
        (stretch.begun + place - stretch.place).min(stretch.ended)
    }

    /// A line of minutes in order, in pieces that no break lies within, as places.
    pub(super) fn stretches(&self, points: &[(f64, f64)]) -> Vec<Vec<(f64, f64)>> {
        let pieces = points.chunk_by(|a, b| self.index(a.0) == self.index(b.0));
        let on_axis = |(minute, height): &(f64, f64)| (self.place(*minute), *height);
        pieces
            .map(|piece| piece.iter().map(on_axis).collect())
            .collect()
    }

    fn index(&self, minute: f64) -> usize {
        let before = self.stretches.partition_point(|s| s.begun <= minute);
        before.saturating_sub(1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sitting(begun: f64, ended: f64) -> (Seconds, Seconds) {
        (Seconds::new(60.0 * begun), Seconds::new(60.0 * ended))
    }

    fn check(told: impl IntoIterator<Item = f64>, expected: &[f64]) {
        let told: Vec<f64> = told.into_iter().collect();
        let is_near = |(a, b): (&f64, &f64)| (a - b).abs() < 1e-9;
        let all = told.len() == expected.len() && told.iter().zip(expected).all(is_near);
        assert!(all, "{told:?}, not {expected:?}");
    }

    #[test]
    fn a_long_break_is_left_out() {
        let axis = Axis::new(&[sitting(0.0, 30.0), sitting(180.0, 250.0)], 250.0);
        check([axis.length()], &[104.0]);
        let places = [0.0, 30.0, 100.0, 180.0, 250.0].map(|minute| axis.place(minute));
        check(places, &[0.0, 30.0, 30.0, 34.0, 104.0]);
        let minutes = [0.0, 30.0, 32.0, 34.0, 104.0].map(|place| axis.minute(place));
        check(minutes, &[0.0, 30.0, 30.0, 180.0, 250.0]);
        check(axis.breaks(), &[32.0]);
        assert!(axis.is_broken() && axis.begins_after_break(180.0));
        let line = [(0.0, 1.0), (30.0, 2.0), (181.0, 3.0)];
        let pieces = axis.stretches(&line);
        assert_eq!(pieces, [vec![(0.0, 1.0), (30.0, 2.0)], vec![(35.0, 3.0)]]);
    }

    #[test]
    fn a_short_pause_is_drawn_as_it_was() {
        let axis = Axis::new(&[sitting(0.0, 30.0), sitting(34.0, 60.0)], 61.0);
        assert!(!axis.is_broken() && !axis.begins_after_break(34.0));
        check(
            [axis.length(), axis.place(32.0), axis.minute(45.0)],
            &[61.0, 32.0, 45.0],
        );
        check([Axis::new(&[], 3.0).length()], &[3.0]);
    }
}
