//! The voices of a shared channel become notes.

use super::robust;
use super::taking::Taken;
use crate::analysis::chord::{ChordSound, HeardChord, HeardVoice, VoiceStatus};
use crate::rehearsal::{SoughtVoices, VoiceLabel};
use crate::units::{Cents, Dbfs, Hertz, Seconds};

/// A voice that is not heard for so long has ended.
const PAUSE_S: f64 = 0.6;
/// Fewer measurements stand for nothing.
const FEWEST: usize = 3;
/// A voice that lasts longer is told in parts, as notes of solo channels are.
const LONGEST_S: f64 = 20.0;

/// A voice while it sounds.
#[derive(Debug, Clone)]
struct Open {
    identity: u32,
    label: VoiceLabel,
    origin: Hertz,
    /// Time, cents above the origin, margin.
    points: Vec<(f64, f64, f64)>,
    /// How long a stretch each was measured over.
    span_s: f64,
    level: Dbfs,
    goes_on: bool,
}

/// Takes down the notes of one shared channel: of voices that have a pitch of their own and of
/// which it is known whose they are.
#[derive(Debug, Clone, Default)]
pub(in crate::rehearsal) struct VoiceTaker {
    open: Vec<Open>,
}

impl VoiceTaker {
    /// Takes in a chord heard at `time`; gives the notes that are over.
    pub(in crate::rehearsal) fn hear(
        &mut self,
        chord: &HeardChord,
        names: &SoughtVoices,
        time: Seconds,
    ) -> Vec<(VoiceLabel, Taken)> {
        let mut over = self.pass(time);
        if chord.sound != ChordSound::Held {
            return over;
        }
        for voice in &chord.voices {
            if let Some(label) = whose(voice, names) {
                self.follow(voice, label, chord, time, &mut over);
            }
        }
        over
    }

    fn follow(
        &mut self,
        voice: &HeardVoice,
        label: VoiceLabel,
        chord: &HeardChord,
        time: Seconds,
        over: &mut Vec<(VoiceLabel, Taken)>,
    ) {
        let (time_s, margin) = (time.get(), voice.margin.get());
        let known = self
            .open
            .iter()
            .position(|open| open.identity == voice.identity);
        let mut goes_on = false;
        if let Some(index) = known {
            let open = &mut self.open[index];
            let is_same = open.label == label;
            if is_same && time_s - open.points[0].0 < LONGEST_S {
                let cents = voice.hertz.above(open.origin).get();
                open.points.push((time_s, cents, margin));
                return;
            }
            goes_on = is_same;
            over.extend(self.open.swap_remove(index).measure());
        }
        self.open.push(Open {
            identity: voice.identity,
            label,
            origin: voice.hertz,
            points: vec![(time_s, 0.0, margin)],
            span_s: chord.span.get(),
            level: chord.level,
            goes_on,
        });
    }

    /// Lets time pass; gives the notes that are over.
    pub(in crate::rehearsal) fn pass(&mut self, time: Seconds) -> Vec<(VoiceLabel, Taken)> {
        let sounds = |open: &Open| {
            let last = open.points.last().map_or(0.0, |point| point.0);
            time.get() - last <= PAUSE_S
        };
        let ended = self.open.extract_if(.., |open| !sounds(open));
        ended.filter_map(|open| open.measure()).collect()
    }

    /// Ends whatever sounds.
    pub(in crate::rehearsal) fn finish(&mut self) -> Vec<(VoiceLabel, Taken)> {
        self.open
            .drain(..)
            .filter_map(|open| open.measure())
            .collect()
    }
}

/// Whose voice it is, if that and its pitch are known.
fn whose(voice: &HeardVoice, names: &SoughtVoices) -> Option<VoiceLabel> {
    let is_sure = voice.status == VoiceStatus::Ok && voice.is_named;
    names.label(voice.place).filter(|_| is_sure)
}

impl Open {
    fn measure(&self) -> Option<(VoiceLabel, Taken)> {
        if self.points.len() < FEWEST {
            return None;
        }
        let weigh = |(_, cents, margin): &(f64, f64, f64)| (*cents, 1.0 / margin.max(0.2).powi(2));
        let mut values: Vec<robust::Weighted> = self.points.iter().map(weigh).collect();
        let middle = robust::median(&mut values)?;
        let mut margins: Vec<robust::Weighted> = self.points.iter().map(|p| (p.2, 1.0)).collect();
        let (first, last) = (self.points.first()?.0, self.points.last()?.0);
        // A measurement comes at the end of its span, and the voice began before the first.
        let begun = first - if self.goes_on { 0.0 } else { self.span_s };
        let taken = Taken {
            begun: Seconds::new(begun.max(0.0)),
            ended: Seconds::new(last),
            steady: Seconds::new(last - begun.max(0.0)),
            hertz: self.origin.raised(Cents::new(middle)),
            drift_per_second: None,
            // Spans overlap, so that measurements hardly average out.
            margin: Cents::new(robust::median(&mut margins)?),
            spread: Cents::new(robust::spread(&values, middle)),
            level: self.level,
            goes_on: self.goes_on,
        };
        Some((self.label, taken))
    }
}
