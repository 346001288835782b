//! A player's readings as notes that are held: where each begins, how it came there, and how
//! long it was inside.
//!
//! Onset, end and steady part are those of [`NoteTaker`], so that an exercise and the record
//! of the rehearsal agree on where a note stood.

use super::{Approach, Hold, Target};
use crate::analysis::{NoPitch, Reading};
use crate::rehearsal::record::{NoteTaker, Taken};
use crate::rehearsal::sure::sure_pitch;
use crate::units::{Cents, Hertz, Seconds};

/// A note this far from its target is another one; what lies farther is a blip of the ear.
pub(super) const REACH: Cents = Cents::new(120.0);

/// A note that goes on into the drone is not over before this.
const IN_DRONE_S: f64 = 2.0;
/// Unsure readings and blips up to here interrupt nothing.
const UNSURE_S: f64 = 0.25;
/// What sounded so shortly before a note belongs to its attack.
const ATTACK_S: f64 = 0.3;
const ATTACK_GAP_S: f64 = 0.1;
/// When a note's approach is looked at, after its onset: its first readings are the ear's
/// guesses.
const APPROACH_FROM_S: f64 = 0.06;
const APPROACH_TO_S: f64 = 0.25;
/// A note that began so near to where it settled began there.
const DIRECT_CENTS: f64 = 8.0;
/// A swing reaches so many times its deviation, with something to spare.
const SWING: f64 = 1.5;
/// No trend is told of less.
const TREND_S: f64 = 0.5;

/// A sure reading.
#[derive(Debug, Clone, Copy)]
struct Heard {
    at: Seconds,
    hertz: Hertz,
    /// The centre of the swing it belongs to.
    centre: Option<Hertz>,
    /// Whether silence or the drone came before it.
    after_break: bool,
}

/// How a note was held, as far as its steady part does not say it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Manner {
    pub(super) begun: Seconds,
    pub(super) ended: Seconds,
    pub(super) inside: Seconds,
    pub(super) approach: Option<Approach>,
}

/// Listens to one player.
#[derive(Debug, Clone)]
pub(super) struct Listener {
    taker: NoteTaker,
    heard: Vec<Heard>,
    /// Nothing before counts.
    since: Seconds,
    is_broken: bool,
    /// Since when, and until when so far, the player has been on the drone.
    on_drone: Option<(Seconds, Seconds)>,
}

impl Listener {
    pub(super) fn new() -> Self {
        Self {
            taker: NoteTaker::for_exercises(),
            heard: Vec::new(),
            since: Seconds::new(f64::NEG_INFINITY),
            is_broken: false,
            on_drone: None,
        }
    }

    /// Takes in a reading made at `time`; gives the notes that are over.
    pub(super) fn hear(&mut self, reading: &Reading, time: Seconds) -> Vec<Taken> {
        let over = self.taker.hear(reading, time);
        if let Some(pitch) = sure_pitch(reading) {
            let swinging = reading.motion.filter(|motion| motion.vibrato.is_some());
            let centre = swinging.map(|motion| motion.centre);
            if let Some(motion) = swinging {
                self.centre_back(time - motion.span, motion.centre);
            }
            self.heard.push(Heard {
                at: time,
                hertz: pitch.hertz,
                centre,
                after_break: self.is_broken,
            });
            self.is_broken = false;
            self.on_drone = None;
        }
        match reading.pitch {
            Err(NoPitch::Silence) => self.is_broken = true,
            Err(NoPitch::Drone) => {
                self.is_broken = true;
                self.bear_drone(time);
            }
            _ => {}
        }
        over
    }

    /// The readings since `from` belong to a swing that is known only now.
    fn centre_back(&mut self, from: Seconds, centre: Hertz) {
        let recent = self.heard.iter_mut().rev();
        for heard in recent.take_while(|heard| from <= heard.at && heard.centre.is_none()) {
            if heard.hertz.above(centre).abs() < REACH {
                heard.centre = Some(centre);
            }
        }
    }

    fn bear_drone(&mut self, time: Seconds) {
        if self.taker.sounding().is_none() {
            self.on_drone = None;
            return;
        }
        let (from, until) = self.on_drone.get_or_insert((time, time));
        if (time - *from).get() <= IN_DRONE_S {
            *until = time;
            self.taker.excuse(time);
        } else {
            // It is not known how long anybody played.
            *until = Seconds::new(f64::NEG_INFINITY);
        }
    }

    /// Lets time pass; gives the notes that are over.
    pub(super) fn pass(&mut self, now: Seconds) -> Vec<Taken> {
        let over = self.taker.pass(now);
        if self.taker.sounding().is_none() && over.is_empty() {
            let attack = now - Seconds::new(1.0);
            self.heard.retain(|heard| attack <= heard.at);
        }
        over
    }

    /// Ends what sounds; whatever goes on is another note.
    pub(super) fn cut(&mut self) -> Vec<Taken> {
        self.taker.finish()
    }

    /// Forgets what was heard up to `ended`, which belongs to a note that is told.
    pub(super) fn forget(&mut self, ended: Seconds) {
        self.heard.retain(|heard| ended < heard.at);
        self.since = ended;
    }

    /// The onset of the note that sounds, to know it by, and where it stands now.
    pub(super) fn sounding(&self) -> Option<(Seconds, Hertz)> {
        self.taker.sounding()
    }

    /// What can be said of the note that sounds, held towards `target`; none of one that is
    /// out of reach.
    pub(super) fn hold(&self, target: &Target, tolerance: Cents) -> Option<Hold> {
        let (onset, stands) = self.taker.sounding()?;
        if REACH < stands.above(target.hertz).abs() {
            return None;
        }
        let so_far = self.taker.so_far();
        let last = self.heard.last()?.at;
        let stands = so_far.map_or(stands, |taken| taken.hertz);
        let spread = so_far.map(|taken| taken.spread);
        let manner = self.manner(onset, last, stands, spread, target, tolerance)?;
        let off = so_far.map(|taken| taken.hertz.above(target.hertz));
        let trend = so_far.filter(|taken| TREND_S <= taken.steady.get());
        Some(Hold {
            begun: manner.begun,
            lasting: manner.ended - manner.begun,
            inside: manner.inside,
            off,
            spread,
            drift_per_second: trend.and_then(|taken| taken.drift_per_second),
            approach: manner.approach.filter(|_| so_far.is_some()),
        })
    }

    /// How a note that is over was held towards `target`; none of one that was out of reach.
    pub(super) fn manner_of(
        &self,
        taken: &Taken,
        target: &Target,
        tolerance: Cents,
    ) -> Option<Manner> {
        if REACH < taken.hertz.above(target.hertz).abs() {
            return None;
        }
        self.manner(
            taken.begun,
            taken.ended,
            taken.hertz,
            Some(taken.spread),
            target,
            tolerance,
        )
    }

    fn manner(
        &self,
        onset: Seconds,
        ended: Seconds,
        stands: Hertz,
        spread: Option<Cents>,
        target: &Target,
        tolerance: Cents,
    ) -> Option<Manner> {
        let heard: Vec<&Heard> = self
            .heard
            .iter()
            .filter(|heard| heard.at <= ended && self.since < heard.at)
            .filter(|heard| heard.hertz.above(target.hertz).abs() <= REACH)
            .collect();
        let heard = &heard[self.attack(&heard, onset)..];
        let begun = heard.first()?.at;
        // A note that went on into the drone sounds as long as it does there.
        let drone_ended = self.on_drone.map(|(_, until)| until);
        let is_last = self.heard.last().is_some_and(|last| last.at <= ended);
        let until = drone_ended.filter(|until| is_last && ended < *until);
        Some(Manner {
            begun,
            ended: until.unwrap_or(ended),
            inside: inside(heard, target.hertz, tolerance),
            approach: approach(heard, begun, stands, spread.unwrap_or_default(), tolerance),
        })
    }

    /// Where the attack of a note begins whose pitch stands from `onset` on: a slide into it is
    /// no note of its own.
    fn attack(&self, heard: &[&Heard], onset: Seconds) -> usize {
        let mut first = heard.partition_point(|heard| heard.at < onset);
        let told = self.taker.before_ended().filter(|ended| *ended < onset);
        while let Some(before) = first.checked_sub(1) {
            let gap = heard.get(first).map_or(onset, |next| next.at) - heard[before].at;
            let is_attack = (onset - heard[before].at).get() <= ATTACK_S
                && gap.get() <= ATTACK_GAP_S
                && told.is_none_or(|told| told < heard[before].at);
            if !is_attack {
                break;
            }
            first = before;
        }
        first
    }
}

/// How long the pitch, or the centre of its swing, was within `tolerance` of `target`.
fn inside(heard: &[&Heard], target: Hertz, tolerance: Cents) -> Seconds {
    let is_inside = |heard: &Heard| {
        let aim = heard.centre.unwrap_or(heard.hertz);
        aim.above(target).abs() <= tolerance
    };
    let pairs = heard.windows(2);
    let both = pairs.filter(|pair| is_inside(pair[0]) && is_inside(pair[1]));
    let whole = both.filter(|pair| !pair[1].after_break);
    let lengths = whole.map(|pair| (pair[1].at - pair[0].at).get());
    // The sum of nothing is a negative zero.
    let sum: f64 = lengths.filter(|length| *length <= UNSURE_S).sum();
    Seconds::new(sum.max(0.0))
}

/// How a note came to where it `stands`; none before that can be told.
fn approach(
    heard: &[&Heard],
    begun: Seconds,
    stands: Hertz,
    spread: Cents,
    tolerance: Cents,
) -> Option<Approach> {
    let since = |heard: &&&Heard| (heard.at - begun).get();
    let early = heard
        .iter()
        .filter(|heard| (APPROACH_FROM_S..=APPROACH_TO_S).contains(&since(heard)));
    let mut early: Vec<f64> = early.map(|heard| heard.hertz.above(stands).get()).collect();
    // Its beginning, as most notes have come to their place by the end of it.
    early.truncate(early.len().div_ceil(3).max(3));
    early.sort_by(f64::total_cmp);
    let first = *early.get(early.len() / 2)?;
    let near = DIRECT_CENTS.max(tolerance.get()).max(SWING * spread.get());
    Some(if first.abs() <= near {
        Approach::Direct
    } else if first < 0.0 {
        Approach::Below
    } else {
        Approach::Above
    })
}
