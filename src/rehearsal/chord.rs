//! A shared channel as the screen shows it: the voices of its chord, followed one by one.

use super::steady::SteadyPart;
use super::{Pulse, SoughtVoices, Sounding, Trace, VoiceLabel};
use crate::analysis::chord::{ChordSound, HeardChord, HeardVoice, VoiceStatus};
use crate::tuning::Tuning;
use crate::units::{Cents, Seconds};

/// How long a voice stays on the screen after it was last heard: two chords at five a second.
const LINGER: Seconds = Seconds::new(0.5);

/// How long it can still be held after that.
const REMEMBERED: Seconds = Seconds::new(2.0);

/// How long a channel may say nothing at all before it counts as unheard.
const PATIENCE: Seconds = Seconds::new(1.5);

/// The share of a margin that is kept from one chord to the next.
const MARGIN_KEPT: f64 = 0.7;

/// What is said of a voice.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Standing {
    /// It has a pitch of its own.
    Clear,
    /// It lies on a partial of another and has none.
    Merged {
        /// The other voice.
        with: VoiceLabel,
        /// The partial of it; 1 for a unison.
        partial: u8,
    },
    /// Probably there; the pitch is a rough one.
    Doubtful,
    /// Expected and not heard.
    Absent,
}

/// Two voices too near one another for two pitches.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Together {
    /// The other voice.
    pub with: VoiceLabel,
    /// Its identity.
    pub identity: u32,
    /// The beats between them.
    pub pulse: Pulse,
}

/// One voice, followed by its identity.
#[derive(Debug, Clone, PartialEq)]
pub struct ChordVoice {
    identity: u32,
    label: VoiceLabel,
    sounding: Sounding,
    margin: Cents,
    standing: Standing,
    /// Another standing heard once: it is shown when heard twice.
    another: Option<Standing>,
    together: Option<Together>,
    is_named: bool,
    heard_at: Seconds,
    history: Trace,
}

impl ChordVoice {
    fn begin(heard: &HeardVoice, label: VoiceLabel, standing: Standing, tuning: &Tuning) -> Self {
        Self {
            identity: heard.identity,
            label,
            sounding: Sounding::begin(heard.hertz, tuning),
            margin: heard.margin,
            standing,
            another: None,
            together: None,
            is_named: heard.is_named,
            heard_at: Seconds::new(f64::NEG_INFINITY),
            history: Trace::new(Seconds::new(20.0), Seconds::new(0.1)),
        }
    }

    fn go_on(&mut self, heard: &HeardVoice, standing: Standing, time: Seconds, tuning: &Tuning) {
        let elapsed = time - self.heard_at;
        let was_absent = self.standing == Standing::Absent;
        if standing == self.standing || self.another == Some(standing) {
            self.standing = standing;
            self.another = None;
        } else {
            self.another = Some(standing);
        }
        if was_absent && standing != Standing::Absent {
            // A voice that enters comes from nowhere.
            self.sounding = Sounding::begin(heard.hertz, tuning);
            self.standing = standing;
            self.history = Trace::new(self.history.span(), Seconds::new(0.1));
        }
        if elapsed.get().is_finite() {
            let mut needle = self.sounding.needle();
            needle.follow(heard.hertz, elapsed);
            self.sounding.go_on(needle, tuning);
        }
        let kept = (self.margin * MARGIN_KEPT).get();
        self.margin = Cents::new(heard.margin.get().max(kept));
        self.is_named = heard.is_named;
        self.heard_at = time;
        if standing != Standing::Absent {
            self.history.push(time, heard.hertz);
        }
    }

    /// Stays the same as long as the voice is followed.
    pub fn identity(&self) -> u32 {
        self.identity
    }

    /// What it is called.
    pub fn label(&self) -> VoiceLabel {
        self.label
    }

    /// Where it stands, of an absent voice where it is expected.
    pub fn sounding(&self) -> &Sounding {
        &self.sounding
    }

    /// The true pitch lies within this distance, 19 times in 20.
    pub fn margin(&self) -> Cents {
        self.margin
    }

    /// What may be said of it.
    pub fn standing(&self) -> Standing {
        self.standing
    }

    /// The voice it cannot be told from, if there is one.
    pub fn together(&self) -> Option<&Together> {
        self.together.as_ref()
    }

    /// Whether it is known which of two voices almost in unison this is.
    pub fn is_named(&self) -> bool {
        self.is_named
    }

    /// When it was last heard.
    pub(super) fn heard_at(&self) -> Seconds {
        self.heard_at
    }

    /// Where it has stood, and when it was last heard; none where that cannot be said.
    pub(super) fn steady(&self) -> Option<SteadyPart> {
        let has_pitch = match self.standing {
            Standing::Clear | Standing::Merged { .. } => true,
            Standing::Doubtful | Standing::Absent => false,
        };
        let part = SteadyPart::of_means(self.history.points())?;
        (has_pitch && self.is_named).then_some(part)
    }
}

/// What a shared channel has been doing.
#[derive(Debug, Clone, PartialEq)]
pub struct ChordState {
    sound: ChordSound,
    span: Seconds,
    heard_at: Seconds,
    quiet_since: Option<Seconds>,
    now: Seconds,
    voices: Vec<ChordVoice>,
}

impl ChordState {
    /// A channel nothing has been heard of.
    pub(super) fn new() -> Self {
        Self {
            sound: ChordSound::Silent,
            span: Seconds::new(0.0),
            heard_at: Seconds::new(f64::NEG_INFINITY),
            quiet_since: None,
            now: Seconds::new(0.0),
            voices: Vec::new(),
        }
    }

    /// Takes in a chord heard at `time` on the rehearsal's clock. Voices at places that are
    /// not among `names` are passed over.
    pub(super) fn hear(
        &mut self,
        chord: &HeardChord,
        time: Seconds,
        names: &SoughtVoices,
        tuning: &Tuning,
    ) {
        self.sound = chord.sound;
        self.span = chord.span;
        self.heard_at = time;
        self.quiet_since = match chord.sound {
            ChordSound::Silent => self.quiet_since.or(Some(time)),
            ChordSound::Settling | ChordSound::Held => None,
        };
        if chord.sound == ChordSound::Held {
            for heard in &chord.voices {
                self.hear_voice(heard, chord, time, names, tuning);
            }
            self.voices.sort_by(|a, b| {
                let hertz = |voice: &ChordVoice| voice.sounding.needle().hertz().get();
                hertz(a).total_cmp(&hertz(b))
            });
        }
        if time > self.now {
            self.tick(time);
        }
    }

    fn hear_voice(
        &mut self,
        heard: &HeardVoice,
        chord: &HeardChord,
        time: Seconds,
        names: &SoughtVoices,
        tuning: &Tuning,
    ) {
        let Some(label) = names.label(heard.place) else {
            return;
        };
        let other = |position: usize| {
            let other = chord.voices.get(position)?;
            Some((other.identity, names.label(other.place)?))
        };
        let standing = match heard.status {
            VoiceStatus::Ok => Standing::Clear,
            VoiceStatus::Doubtful => Standing::Doubtful,
            VoiceStatus::Absent => Standing::Absent,
            VoiceStatus::Merged { with, partial } => match other(with) {
                Some((_, with)) => Standing::Merged { with, partial },
                None => Standing::Doubtful,
            },
        };
        let found = self
            .voices
            .iter()
            .position(|v| v.identity == heard.identity);
        let index = found.unwrap_or_else(|| {
            self.voices
                .push(ChordVoice::begin(heard, label, standing, tuning));
            self.voices.len() - 1
        });
        let voice = &mut self.voices[index];
        let elapsed = time - voice.heard_at;
        voice.label = label;
        voice.go_on(heard, standing, time, tuning);
        let beating = heard
            .beating
            .and_then(|b| Some((other(b.with)?, b.rate_hz)));
        voice.together = beating.map(|((identity, with), rate_hz)| {
            let before = voice.together.filter(|before| before.identity == identity);
            let mut pulse = before.map_or(Pulse::new(rate_hz), |before| before.pulse);
            // Time passes in `tick`; here only the rate is drawn on.
            if elapsed.get().is_finite() {
                pulse.draw_to(rate_hz, elapsed);
            }
            Together {
                with,
                identity,
                pulse,
            }
        });
    }

    /// Lets time pass.
    pub(super) fn tick(&mut self, now: Seconds) {
        let elapsed = now - self.now;
        self.now = now;
        self.voices
            .retain(|voice| now - voice.heard_at < REMEMBERED);
        for together in self.voices.iter_mut().filter_map(|v| v.together.as_mut()) {
            let rate = together.pulse.rate_hz();
            together.pulse.go_on(rate, elapsed);
        }
        if now - self.heard_at >= PATIENCE {
            self.sound = ChordSound::Silent;
            self.quiet_since = None;
        }
    }

    /// Measures what sounds against another tuning.
    pub(super) fn remeasure(&mut self, tuning: &Tuning) {
        for voice in &mut self.voices {
            voice.sounding.remeasure(tuning);
        }
    }

    /// The voices from low to high; none while the chord settles or rests.
    pub fn voices(&self) -> impl Iterator<Item = &ChordVoice> {
        let now = self.now;
        self.voices
            .iter()
            .filter(move |voice| now - voice.heard_at < LINGER)
    }

    /// Those and the ones heard within the last two seconds.
    pub(super) fn remembered(&self) -> impl Iterator<Item = &ChordVoice> {
        self.voices.iter()
    }

    /// What the channel is doing; none while nothing has been heard of it.
    pub fn sound(&self) -> Option<ChordSound> {
        (self.now - self.heard_at < PATIENCE).then_some(self.sound)
    }

    /// For how long nothing has sounded.
    pub fn quiet_for(&self) -> Option<Seconds> {
        self.quiet_since.map(|since| self.now - since)
    }

    /// How long a stretch of sound each pitch was measured over.
    pub fn span(&self) -> Seconds {
        self.span
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::chord::Beating;
    use crate::rehearsal::tests::{chord, sixth_comma, voice};
    use proptest::prelude::*;

    const NAMES: [&str; 4] = ["p8", "p12", "A4", "D5"];

    fn names() -> SoughtVoices {
        let labels: Vec<VoiceLabel> = NAMES.iter().map(|name| name.parse().unwrap()).collect();
        SoughtVoices::expected(&labels, &sixth_comma())
    }

    fn hear(state: &mut ChordState, time: f64, sound: ChordSound, voices: &[HeardVoice]) {
        let time = Seconds::new(time);
        state.tick(time);
        let tuning = sixth_comma();
        state.hear(&chord(sound, voices), time, &names(), &tuning);
    }

    fn seen(state: &ChordState) -> Vec<String> {
        let tell = |voice: &ChordVoice| format!("{:#} {:?}", voice.label(), voice.standing());
        state.voices().map(tell).collect()
    }

    fn hz(label: &str) -> f64 {
        label
            .parse::<VoiceLabel>()
            .unwrap()
            .frequency(&sixth_comma())
            .get()
    }

    #[test]
    fn voices_stand_while_the_chord_is_held_and_linger_shortly() {
        let mut state = ChordState::new();
        assert_eq!(state.sound(), None);
        let voices = [voice(7, 1, hz("p12")), voice(4, 0, hz("p8"))];
        hear(&mut state, 1.0, ChordSound::Held, &voices);
        assert_eq!(seen(&state), ["p8 Clear", "p12 Clear"], "from low to high");
        hear(&mut state, 1.2, ChordSound::Settling, &[]);
        assert_eq!(seen(&state).len(), 2);
        hear(&mut state, 1.6, ChordSound::Settling, &[]);
        assert!(seen(&state).is_empty());
        assert_eq!(state.remembered().count(), 2, "they can still be held");
        hear(&mut state, 3.1, ChordSound::Silent, &[]);
        hear(&mut state, 4.1, ChordSound::Silent, &[]);
        hear(&mut state, 5.1, ChordSound::Silent, &[]);
        assert_eq!(state.remembered().count(), 0);
        let quiet = state.quiet_for().unwrap().get();
        assert!((quiet - 2.0).abs() < 1e-9);
        state.tick(Seconds::new(7.0));
        assert_eq!(state.sound(), None, "nothing more is heard of the channel");
    }

    #[test]
    fn a_voice_is_followed_by_its_identity() {
        let mut state = ChordState::new();
        let start = hz("p8");
        hear(&mut state, 1.0, ChordSound::Held, &[voice(4, 0, start)]);
        for step in 1..=10 {
            let time = 1.0 + 0.2 * f64::from(step);
            hear(
                &mut state,
                time,
                ChordSound::Held,
                &[voice(4, 0, start * 1.004)],
            );
        }
        let followed: Vec<&ChordVoice> = state.voices().collect();
        assert_eq!(followed.len(), 1);
        let cents = followed[0].sounding().needle().figure().get() / start;
        assert!(
            (1200.0 * cents.log2() - 6.9).abs() < 0.3,
            "led to the new pitch"
        );
        // Eleven measurements of which ten agree.
        let part = followed[0].steady().unwrap();
        assert!((part.hertz.get() - start * 1.004).abs() < 1e-9);
    }

    #[test]
    fn a_standing_is_shown_when_it_was_heard_twice() {
        let mut state = ChordState::new();
        let clear = voice(4, 0, hz("p8"));
        let doubtful = HeardVoice {
            status: VoiceStatus::Doubtful,
            ..clear
        };
        hear(&mut state, 1.0, ChordSound::Held, &[clear]);
        hear(&mut state, 1.2, ChordSound::Held, &[doubtful]);
        assert_eq!(seen(&state), ["p8 Clear"]);
        hear(&mut state, 1.4, ChordSound::Held, &[clear]);
        hear(&mut state, 1.6, ChordSound::Held, &[doubtful]);
        assert_eq!(seen(&state), ["p8 Clear"], "the count begins again");
        hear(&mut state, 1.8, ChordSound::Held, &[doubtful]);
        assert_eq!(seen(&state), ["p8 Doubtful"]);
        assert!(
            state.voices().next().unwrap().steady().is_none(),
            "too rough to be held"
        );
    }

    #[test]
    fn merged_voices_name_the_other() {
        let mut state = ChordState::new();
        let merged = HeardVoice {
            status: VoiceStatus::Merged {
                with: 0,
                partial: 2,
            },
            ..voice(9, 3, hz("D5"))
        };
        hear(
            &mut state,
            1.0,
            ChordSound::Held,
            &[voice(4, 2, hz("A4")), merged],
        );
        let standing = state.voices().last().unwrap().standing();
        let with = "A4".parse().unwrap();
        assert_eq!(standing, Standing::Merged { with, partial: 2 });
        // A voice that is not there cannot be named.
        let lost = HeardVoice {
            status: VoiceStatus::Merged {
                with: 5,
                partial: 2,
            },
            ..voice(10, 0, hz("p8"))
        };
        hear(&mut state, 1.2, ChordSound::Held, &[lost]);
        assert!(seen(&state).contains(&"p8 Doubtful".to_owned()));
    }

    #[test]
    fn voices_together_beat_at_one_rate() {
        let mut state = ChordState::new();
        let pair = |identity, place, with| HeardVoice {
            beating: Some(Beating { with, rate_hz: 2.0 }),
            is_named: false,
            ..voice(identity, place, hz("p8"))
        };
        hear(
            &mut state,
            1.0,
            ChordSound::Held,
            &[pair(1, 0, 1), pair(2, 3, 0)],
        );
        let together = *state.voices().next().unwrap().together().unwrap();
        assert_eq!(
            (format!("{:#}", together.with), together.identity),
            ("D5".into(), 2)
        );
        state.tick(Seconds::new(1.25));
        let pulse = state.voices().next().unwrap().together().unwrap().pulse;
        assert!(
            pulse.swell().unwrap() < 1e-9,
            "a quarter of a second is half a beat"
        );
        assert!(
            state.voices().all(|voice| voice.steady().is_none()),
            "whose pitch is it?"
        );
    }

    #[test]
    fn an_absent_voice_that_enters_begins_anew() {
        let mut state = ChordState::new();
        let absent = HeardVoice {
            status: VoiceStatus::Absent,
            ..voice(4, 0, hz("p8"))
        };
        hear(&mut state, 1.0, ChordSound::Held, &[absent]);
        assert_eq!(seen(&state), ["p8 Absent"]);
        hear(
            &mut state,
            1.2,
            ChordSound::Held,
            &[voice(4, 0, hz("p8") * 1.01)],
        );
        assert_eq!(seen(&state), ["p8 Clear"], "at once");
        let needle = state.voices().next().unwrap().sounding().needle().hertz();
        assert!(
            (needle.get() / hz("p8") - 1.01).abs() < 1e-9,
            "without a slide from its place"
        );
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn whatever_is_heard_can_be_shown(
            heard in prop::collection::vec((0_u32..4, 0_usize..6, 0_u8..5, 0_usize..5, 60.0..2000.0_f64), 0..40),
        ) {
            let mut state = ChordState::new();
            for (step, chunk) in heard.chunks(4).enumerate() {
                let voices: Vec<HeardVoice> = chunk.iter().map(|(identity, place, kind, with, hz)| HeardVoice {
                    status: match kind {
                        0 => VoiceStatus::Absent,
                        1 => VoiceStatus::Doubtful,
                        2 => VoiceStatus::Merged { with: *with, partial: 3 },
                        _ => VoiceStatus::Ok,
                    },
                    beating: (*kind == 4).then_some(Beating { with: *with, rate_hz: hz / 100.0 }),
                    ..voice(*identity, *place, *hz)
                }).collect();
                hear(&mut state, 0.2 * step as f64, ChordSound::Held, &voices);
                let hertz: Vec<f64> = state.voices().map(|v| v.sounding().needle().hertz().get()).collect();
                prop_assert!(hertz.windows(2).all(|pair| pair[0] <= pair[1]));
                let mut identities: Vec<u32> = state.voices().map(ChordVoice::identity).collect();
                identities.sort_unstable();
                identities.dedup();
                prop_assert_eq!(identities.len(), state.voices().count());
            }
        }
    }
}
