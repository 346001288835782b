//! The score of one note: the errors of the held part, and how soon after the onset it is read.

use super::ear::{GROSS, cents_above, hear, latency_s};
use super::pack::{Entry, Note};

/// What the estimator made of one recording.
pub(crate) struct Score {
    /// What was to be heard.
    pub(crate) entry: Entry,
    /// Readings of the held part, with pitch or without.
    pub(crate) frames: usize,
    /// Those with pitch.
    pub(crate) heard: Vec<Heard>,
    /// Seconds from the onset to three readings in a row within 3 cents.
    pub(crate) latency_3_s: Option<f64>,
    /// The same within 1 cent.
    pub(crate) latency_1_s: Option<f64>,
}

/// One reading with pitch, in cents.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Heard {
    /// Above the truth.
    pub(crate) error: f64,
    /// The stated distance within which the truth should lie 19 times in 20.
    pub(crate) margin: f64,
}

/// A note's place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Register {
    /// Below 110 Hz.
    Low,
    /// 110 to 440 Hz.
    Mid,
    /// Above 440 Hz.
    High,
}

impl Register {
    /// All of them, from below.
    pub(crate) const ALL: [Self; 3] = [Self::Low, Self::Mid, Self::High];

    /// The word for it.
    pub(crate) fn word(self) -> &'static str {
        match self {
            Self::Low => "low",
            Self::Mid => "mid",
            Self::High => "high",
        }
    }
}

impl Heard {
    /// Wrong by more than half a semitone.
    pub(crate) fn is_gross(self) -> bool {
        self.error.abs() > GROSS
    }

    /// Whether the truth lies within `times` the stated margin.
    pub(crate) fn within(self, times: f64) -> bool {
        self.error.abs() <= times * self.margin
    }
}

impl Score {
    /// Hears a recording and compares.
    pub(crate) fn of(note: &Note) -> Self {
        let entry = note.entry.clone();
        let readings = hear(&note.samples, note.rate);
        let truth = |time_s: f64| entry.hz_at(time_s);
        let [start, end] = entry.steady;
        let held = readings
            .iter()
            .filter(|r| (start..=end).contains(&r.time.get()));
        let heard = held.clone().filter_map(|reading| {
            Some(Heard {
                error: cents_above(reading, truth(reading.time.get()))?,
                margin: reading.pitch.ok()?.margin.get(),
            })
        });
        Self {
            frames: held.clone().count(),
            heard: heard.collect(),
            latency_3_s: latency_s(&readings, entry.onset_s, 3.0, truth),
            latency_1_s: latency_s(&readings, entry.onset_s, 1.0, truth),
            entry,
        }
    }

    /// The note's place.
    pub(crate) fn register(&self) -> Register {
        match self.entry.truth_hz {
            hz if hz < 110.0 => Register::Low,
            hz if hz <= 440.0 => Register::Mid,
            _ => Register::High,
        }
    }

    /// Share of the held part with pitch.
    pub(crate) fn voiced(&self) -> f64 {
        self.heard.len() as f64 / self.frames.max(1) as f64
    }

    /// Share of the readings that are wrong notes; all of them where nothing was heard.
    pub(crate) fn gross(&self) -> f64 {
        if self.heard.is_empty() {
            return 1.0;
        }
        self.share(|heard| heard.is_gross())
    }

    /// Share of the readings about `octaves` from the truth.
    pub(crate) fn octave(&self, octaves: f64) -> f64 {
        self.share(|heard| (heard.error - 1200.0 * octaves).abs() < 100.0)
    }

    fn share(&self, is: impl Fn(&Heard) -> bool) -> f64 {
        let count = self.heard.iter().filter(|heard| is(heard)).count();
        count as f64 / self.heard.len().max(1) as f64
    }
}
