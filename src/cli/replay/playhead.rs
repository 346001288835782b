//! Where a replay stands: its clock, speed and marks, and what happens when. Reads no clock
//! itself.

use crate::analysis::{Pitch, Reading};
use crate::rehearsal::{Entry, HeardChannel, HeardSpan, Rehearsal, SPAN, Update};
use crate::sound::SourceState;
use crate::units::{Cents, Seconds};

/// The speeds one goes through.
pub(super) const SPEEDS: [u8; 7] = [1, 2, 4, 8, 16, 30, 60];
/// What is heard again before a place that is gone to, so that needles and trails stand as
/// they stood.
const RUN_UP: Seconds = Seconds::new(25.0);
/// Time between two samples.
const SAMPLE: f64 = 0.1;
/// How often each is said within its time: a new note shows with the second reading of it.
const TIMES: usize = 3;
/// How sure a pitch is that was kept, and how exact: it was heard well enough to be kept.
const CONFIDENCE: f64 = 1.0;
const MARGIN: Cents = Cents::new(1.0);
/// A silence between two sittings that is passed over.
const LULL: Seconds = Seconds::new(5.0);
/// A mark that was just passed is not the previous one yet.
const JUST_PASSED: Seconds = Seconds::new(2.0);
/// Time between two ticks of the rehearsal while it catches up.
const STEP: Seconds = Seconds::new(0.05);

/// The position in a session, and what comes next.
#[derive(Debug)]
pub(super) struct Playhead {
    /// In the order of time.
    entries: Vec<Entry>,
    length: Seconds,
    at: Seconds,
    /// The first entry that has not been handed out.
    next: usize,
    /// Readings of spans that have begun, the next one last.
    readings: Vec<(Seconds, usize, Reading)>,
    speed: u8,
    is_paused: bool,
    /// Whether it stands still because it has come to the end.
    is_over: bool,
    marks: Vec<Seconds>,
    /// When sittings begin.
    sittings: Vec<Seconds>,
    /// Whether the screen knows that something sounds.
    is_running: bool,
}

impl Playhead {
    pub(super) fn new(mut entries: Vec<Entry>, length: Seconds, speed: u8) -> Self {
        entries.sort_by(|a, b| a.at().get().total_cmp(&b.at().get()));
        let times = |is_one: fn(&Entry) -> bool| {
            let found = entries.iter().filter(|entry| is_one(entry));
            found.map(Entry::at).collect::<Vec<_>>()
        };
        Self {
            marks: times(|entry| matches!(entry, Entry::Marked(_))),
            sittings: times(|entry| matches!(entry, Entry::Seated { .. })),
            entries,
            length,
            at: Seconds::default(),
            next: 0,
            readings: Vec::new(),
            speed,
            is_paused: false,
            is_over: false,
            is_running: false,
        }
    }

    pub(super) fn at(&self) -> Seconds {
        self.at
    }

    pub(super) fn length(&self) -> Seconds {
        self.length
    }

    pub(super) fn speed(&self) -> u8 {
        self.speed
    }

    pub(super) fn is_paused(&self) -> bool {
        self.is_paused
    }

    /// Lets so much time of the screen pass. At the end it stands still.
    pub(super) fn advance(&mut self, passed: Seconds) {
        if self.is_paused {
            return;
        }
        let on = Seconds::new(passed.get().max(0.0) * f64::from(self.speed));
        self.at = self.at + on;
        self.skip_lull();
        if self.at >= self.length {
            self.at = self.length;
            self.is_paused = true;
            self.is_over = true;
        }
    }

    /// Nobody waits from one sitting to the next.
    fn skip_lull(&mut self) {
        if let Some((last, begins)) = self.lull_before(self.next)
            && self.at - last > LULL
            && self.at < begins
        {
            self.at = begins;
        }
    }

    /// The last moment before the entry at this place and the entry's own, where a sitting
    /// begins with it and nothing has happened for long.
    fn lull_before(&self, next: usize) -> Option<(Seconds, Seconds)> {
        let begins = self.entries.get(next)?.at();
        let last = self.entries[next.checked_sub(1)?].at();
        let is_lull = self.sittings.contains(&begins) && begins - last > LULL;
        is_lull.then_some((last, begins))
    }

    pub(super) fn toggle_pause(&mut self) {
        self.is_paused = !self.is_paused;
        self.is_over = false;
    }

    pub(super) fn step_speed(&mut self, is_up: bool) {
        let next = if is_up {
            SPEEDS.into_iter().find(|speed| *speed > self.speed)
        } else {
            SPEEDS.into_iter().rfind(|speed| *speed < self.speed)
        };
        self.speed = next.unwrap_or(self.speed);
    }

    /// The mark after this place; the end after the last.
    pub(super) fn next_mark(&self) -> Seconds {
        let next = self.marks.iter().find(|mark| **mark > self.at);
        next.copied().unwrap_or(self.length)
    }

    /// The mark before this place; the beginning before the first.
    pub(super) fn previous_mark(&self) -> Seconds {
        let before = |mark: &&Seconds| self.at - **mark > JUST_PASSED;
        self.marks.iter().rfind(before).copied().unwrap_or_default()
    }

    /// Stands at another place, within the session; between two sittings, at the end of the
    /// one before on the way back and at the beginning of the next one on the way on.
    /// [`catch_up`](Self::catch_up) must follow.
    pub(super) fn go_to(&mut self, to: Seconds) {
        let to = Seconds::new(to.get().clamp(0.0, self.length.get()));
        let next = self.entries.partition_point(|entry| entry.at() <= to);
        self.at = match self.lull_before(next) {
            Some((last, _)) if to < self.at => Seconds::new(to.get().min((last + SPAN).get())),
            Some((last, begins)) if to - last > LULL => begins,
            _ => to,
        };
        self.next = 0;
        self.readings.clear();
        self.is_running = false;
        // Whoever goes back from the end wants to see it go on.
        if std::mem::take(&mut self.is_over) && self.at < self.length {
            self.is_paused = false;
        }
    }

    /// Tells a blank rehearsal all that has happened before this place: readings only of the
    /// last moments, as nothing is left of those before.
    pub(super) fn catch_up(&mut self, rehearsal: &mut Rehearsal) {
        rehearsal.hurry(true);
        let until = self.at;
        let run_up = until - RUN_UP;
        while let Some(entry) = self.entries.get(self.next)
            && entry.at() < run_up
        {
            if !matches!(entry, Entry::Heard(_)) {
                rehearsal.take(Update::Recalled(Box::new(entry.clone())));
            }
            self.next += 1;
        }
        let mut now = Seconds::new(run_up.get().max(0.0));
        while now < until {
            self.at = now;
            rehearsal.tick(now);
            for update in self.fetch() {
                rehearsal.take(update);
            }
            now = now + STEP;
        }
        self.at = until;
        for update in self.fetch() {
            rehearsal.take(update);
        }
        rehearsal.hurry(false);
        rehearsal.tick(until);
    }

    /// What has happened up to this place since the last call.
    pub(super) fn fetch(&mut self) -> Vec<Update> {
        let mut updates = Vec::new();
        if !self.is_running {
            self.is_running = true;
            updates.push(Update::State(SourceState::Running));
        }
        while let Some(entry) = self.entries.get(self.next)
            && entry.at() <= self.at
        {
            self.next += 1;
            // Readings from before stand before it.
            let at = entry.at();
            let entry = entry.clone();
            self.say_until(at, &mut updates);
            if let Entry::Heard(span) = &entry {
                self.spread(span);
            }
            updates.push(Update::Recalled(Box::new(entry)));
        }
        self.say_until(self.at, &mut updates);
        updates
    }

    fn say_until(&mut self, until: Seconds, updates: &mut Vec<Update>) {
        while let Some((_, channel, reading)) = self.readings.pop_if(|(time, _, _)| *time <= until)
        {
            updates.push(Update::Reading(channel, reading));
        }
    }

    /// Spreads the samples of a span over its time.
    fn spread(&mut self, span: &HeardSpan) {
        for heard in &span.channels {
            for (index, sample) in heard.samples.iter().enumerate() {
                let is_last = index + 1 == heard.samples.len();
                for time in 0..TIMES {
                    let within = SAMPLE * (index as f64 + time as f64 / TIMES as f64);
                    // However many there are, they lie within the span.
                    let at = span.at + Seconds::new(within.min(SPAN.get() - 1e-3));
                    let reading = reading(heard, *sample, at, is_last);
                    self.readings.push((at, heard.channel, reading));
                }
            }
        }
        // The earliest last; those of one moment in the order of channels.
        self.readings
            .sort_by(|a, b| b.0.get().total_cmp(&a.0.get()).then(b.1.cmp(&a.1)));
    }
}

fn reading(
    heard: &HeardChannel,
    sample: crate::rehearsal::Sample,
    at: Seconds,
    is_last: bool,
) -> Reading {
    Reading {
        time: at,
        available: at,
        level: heard.level,
        clipped: heard.clipped,
        pitch: sample.map(|hertz| Pitch {
            hertz,
            margin: MARGIN,
            confidence: CONFIDENCE,
            inharmonicity: 0.0,
        }),
        motion: heard.motion.filter(|_| is_last && sample.is_ok()),
    }
}
