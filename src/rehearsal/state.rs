//! One channel as the screen shows it: built from readings, read by views.

use super::doing::{Doing, Word};
use super::meter::Meter;
use super::sounding::Sounding;
use super::steady::SteadyPart;
use super::sure::{LINGER, is_sure};
use super::trace::Trace;
use crate::analysis::{NoPitch, Reading};
use crate::tuning::Tuning;
use crate::units::{Cents, Hertz, Seconds};

/// How long a channel may say nothing at all before it counts as unheard.
const PATIENCE: Seconds = Seconds::new(1.0);

/// A pitch this far from the needle belongs to another note.
const ANOTHER_NOTE: Cents = Cents::new(80.0);

/// Readings in a row that must agree on another note: one odd reading moves nothing.
const AGREEING_READINGS: u8 = 3;

/// How near to each other those readings must lie.
const AGREEMENT: Cents = Cents::new(50.0);

/// The share of a margin that is kept from one reading to the next, so that it narrows
/// without a flicker.
const MARGIN_KEPT: f64 = 0.93;

/// What one channel has been doing.
#[derive(Debug, Clone, PartialEq)]
pub struct ChannelState {
    latest: Option<Reading>,
    heard_at: Seconds,
    sure_at: Seconds,
    /// When the last note began, whether or not it still sounds.
    begun_at: Seconds,
    quiet_since: Option<Seconds>,
    now: Seconds,
    sounding: Option<Sounding>,
    another: Option<(Hertz, u8)>,
    margin: Cents,
    word: Word,
    trail: Trace,
    history: Trace,
    meter: Meter,
}

impl ChannelState {
    /// A channel nothing has been heard of.
    pub(super) fn new() -> Self {
        Self {
            latest: None,
            heard_at: Seconds::new(0.0),
            sure_at: Seconds::new(f64::NEG_INFINITY),
            begun_at: Seconds::new(f64::NEG_INFINITY),
            quiet_since: None,
            now: Seconds::new(0.0),
            sounding: None,
            another: None,
            margin: Cents::UNISON,
            word: Word::new(Doing::Unheard),
            trail: Trace::new(Seconds::new(1.5), Seconds::new(0.01)),
            history: Trace::new(Seconds::new(20.0), Seconds::new(0.04)),
            meter: Meter::new(),
        }
    }

    /// Takes in a reading made at `time` on the rehearsal's clock.
    pub(super) fn hear(&mut self, reading: Reading, time: Seconds, tuning: &Tuning) {
        let elapsed = time - self.heard_at;
        self.latest = Some(reading);
        self.heard_at = time;
        self.meter.show(reading.level, reading.clipped, time);
        let doing = match reading.pitch {
            Ok(pitch) if is_sure(pitch) => {
                // The ear places a vibrato at its centre, and so does the needle.
                let swinging = reading.motion.filter(|motion| motion.vibrato.is_some());
                let aim = swinging.map_or(pitch.hertz, |motion| motion.centre);
                if self.follow(pitch.hertz, aim, elapsed, time, tuning) {
                    let kept = (self.margin * MARGIN_KEPT).get();
                    self.margin = Cents::new(pitch.margin.get().max(kept));
                }
                Doing::of_note(reading.motion)
            }
            Ok(_) => Doing::Unclear,
            Err(NoPitch::Silence) => Doing::Quiet {
                lasting: time - *self.quiet_since.get_or_insert(time),
            },
            Err(NoPitch::Noise) => Doing::Noise,
            Err(NoPitch::TwoNotes) => Doing::TwoNotes,
            Err(NoPitch::Drone) => Doing::OnDrone,
        };
        if reading.pitch != Err(NoPitch::Silence) {
            self.quiet_since = None;
        }
        self.word.hear(doing, time);
        self.tick(self.now);
    }

    /// Leads the needle to a reading; says whether it took it for the note on the screen.
    fn follow(
        &mut self,
        hertz: Hertz,
        aim: Hertz,
        elapsed: Seconds,
        time: Seconds,
        tuning: &Tuning,
    ) -> bool {
        let within = time - self.sure_at < LINGER;
        self.sure_at = time;
        self.trail.push(time, hertz);
        self.history.push(time, hertz);
        let Some(sounding) = self.sounding.as_mut().filter(|_| within) else {
            self.another = None;
            self.sounding = Some(Sounding::begin(hertz, tuning));
            self.margin = Cents::UNISON;
            self.begun_at = time;
            return true;
        };
        let mut needle = sounding.needle();
        if hertz.above(needle.hertz()).abs() <= ANOTHER_NOTE {
            self.another = None;
            needle.follow(aim, elapsed);
            sounding.go_on(needle, tuning);
            return true;
        }
        let count = match self.another {
            Some((other, count)) if hertz.above(other).abs() <= AGREEMENT => count + 1,
            _ => 1,
        };
        if count >= AGREEING_READINGS {
            self.another = None;
            *sounding = Sounding::begin(hertz, tuning);
            self.margin = Cents::UNISON;
            self.begun_at = time;
            return true;
        }
        self.another = Some((hertz, count));
        false
    }

    /// Lets time pass.
    pub(super) fn tick(&mut self, now: Seconds) {
        self.now = now;
        if now - self.sure_at >= LINGER && self.heard_at - self.sure_at >= LINGER
            || now - self.heard_at >= PATIENCE
        {
            self.sounding = None;
            self.another = None;
        }
        if now - self.heard_at >= PATIENCE {
            self.word = Word::new(Doing::Unheard);
            self.quiet_since = None;
        }
        self.trail.forget(now);
        self.history.forget(now);
        if now > self.heard_at {
            self.meter.fall(now);
        }
    }

    /// The steady part of the last note, and when that note was last sure.
    pub(super) fn steady(&self) -> Option<(SteadyPart, Seconds)> {
        let part = SteadyPart::of(self.history.points(), self.begun_at, self.sure_at)?;
        Some((part, self.sure_at))
    }

    /// Measures what sounds against another tuning.
    pub(super) fn remeasure(&mut self, tuning: &Tuning) {
        if let Some(sounding) = &mut self.sounding {
            sounding.remeasure(tuning);
        }
    }

    /// The last reading, sure or not.
    pub fn latest(&self) -> Option<&Reading> {
        self.latest.as_ref()
    }

    /// The note on the screen; none while unsure.
    pub fn sounding(&self) -> Option<&Sounding> {
        self.sounding.as_ref()
    }

    /// The pitch heard is right to this distance, 19 times in 20. It narrows as a note lasts,
    /// and widens at once.
    pub fn margin(&self) -> Cents {
        self.margin
    }

    /// What the player is doing.
    pub fn doing(&self) -> Doing {
        self.word.shown()
    }

    /// Where the player has been within the last one and a half seconds.
    pub fn trail(&self) -> &Trace {
        &self.trail
    }

    /// Where the player has been within the last twenty seconds.
    pub fn history(&self) -> &Trace {
        &self.history
    }

    /// The stream begins anew.
    pub(super) fn begin_stream(&mut self) {
        self.meter.restart();
    }

    /// The level meter.
    pub fn meter(&self) -> &Meter {
        &self.meter
    }

    /// The moment this state is of.
    pub fn now(&self) -> Seconds {
        self.now
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::{Motion, Vibrato};
    use crate::rehearsal::tests::{reading, sixth_comma, unpitched};

    /// Feeds `hops` readings of `hz`, 10 ms apart, beginning at `from` seconds.
    fn play(state: &mut ChannelState, from: f64, hops: u32, hz: f64) -> f64 {
        let tuning = sixth_comma();
        for hop in 1..=hops {
            let time = Seconds::new(from + 0.01 * f64::from(hop));
            state.tick(time);
            state.hear(reading(hz), time, &tuning);
        }
        from + 0.01 * f64::from(hops)
    }

    fn rest(state: &mut ChannelState, from: f64, hops: u32, why: NoPitch) -> f64 {
        let tuning = sixth_comma();
        for hop in 1..=hops {
            let time = Seconds::new(from + 0.01 * f64::from(hop));
            state.tick(time);
            state.hear(unpitched(why), time, &tuning);
        }
        from + 0.01 * f64::from(hops)
    }

    fn needle_hz(state: &ChannelState) -> Option<f64> {
        state.sounding().map(|s| s.needle().hertz().get())
    }

    #[test]
    fn a_note_appears_lingers_and_goes() {
        let mut state = ChannelState::new();
        let t = play(&mut state, 0.0, 50, 415.0);
        assert!((needle_hz(&state).unwrap() - 415.0).abs() < 1e-9);
        let t = rest(&mut state, t, 28, NoPitch::Silence);
        assert!(state.sounding().is_some(), "a short gap blanks nothing");
        rest(&mut state, t, 5, NoPitch::Silence);
        assert!(state.sounding().is_none());
        assert!(matches!(state.doing(), Doing::Quiet { .. }));
    }

    #[test]
    fn one_odd_reading_moves_nothing_and_three_begin_another_note() {
        let mut state = ChannelState::new();
        let t = play(&mut state, 0.0, 20, 415.0);
        let t = play(&mut state, t, 2, 830.0);
        assert!((needle_hz(&state).unwrap() - 415.0).abs() < 1e-9);
        let t = play(&mut state, t, 1, 415.0);
        let t = play(&mut state, t, 3, 554.0);
        // A new note stands at once: the needle does not sweep across the octave.
        assert!((needle_hz(&state).unwrap() - 554.0).abs() < 1e-9);
        play(&mut state, t, 1, 554.0);
    }

    #[test]
    fn the_needle_stands_at_the_centre_of_a_vibrato() {
        let mut state = ChannelState::new();
        let tuning = sixth_comma();
        let (centre, mut widest) = (Hertz::new(415.0).unwrap(), 0.0_f64);
        for hop in 0..200 {
            let time = 0.01 * f64::from(hop);
            let swing = Cents::new(20.0 * (std::f64::consts::TAU * 5.5 * time).sin());
            let mut swinging = reading(centre.raised(swing).get());
            swinging.motion = Some(Motion {
                centre,
                spread: Cents::new(14.0),
                drift_per_second: Cents::UNISON,
                vibrato: Some(Vibrato {
                    rate_hz: 5.5,
                    extent: Cents::new(20.0),
                }),
                span: Seconds::new(1.0),
            });
            state.hear(swinging, Seconds::new(time), &tuning);
            let needle = state.sounding().unwrap().needle().hertz();
            if hop > 50 {
                widest = widest.max(needle.above(centre).abs().get());
            }
        }
        assert!(widest < 0.5, "the needle swings by {widest} cents");
    }

    #[test]
    fn an_unsure_pitch_is_not_shown() {
        let mut state = ChannelState::new();
        let tuning = sixth_comma();
        for hop in 0..50 {
            let mut unsure = reading(300.0);
            if let Ok(pitch) = &mut unsure.pitch {
                pitch.confidence = 0.2;
            }
            state.hear(unsure, Seconds::new(0.01 * f64::from(hop)), &tuning);
        }
        assert!(state.sounding().is_none());
        assert_eq!(state.doing(), Doing::Unclear);
        assert_eq!(state.trail().points().count(), 0);
    }

    #[test]
    fn a_stream_that_stops_leaves_nothing_standing() {
        let mut state = ChannelState::new();
        let t = play(&mut state, 0.0, 50, 415.0);
        state.tick(Seconds::new(t + 1.1));
        assert!(state.sounding().is_none());
        assert_eq!(state.doing(), Doing::Unheard);
    }

    #[test]
    fn quiet_is_counted_from_its_beginning() {
        let mut state = ChannelState::new();
        let t = play(&mut state, 0.0, 50, 415.0);
        let t = rest(&mut state, t, 4_020, NoPitch::Silence);
        assert_eq!(state.doing().to_string(), "quiet 0:40");
        rest(&mut state, t, 60, NoPitch::TwoNotes);
        assert_eq!(state.doing(), Doing::TwoNotes);
    }
}
