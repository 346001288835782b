//! Which voice of the trumpets' chord a player belongs to, and how far off the place is.

use super::{HeldVoice, Pulse};
use crate::tuning::{OfPure, Ratio, Ratios};
use crate::units::{Cents, Hertz, Seconds};

/// Another place must be better by this much before it takes over, in bits of simplicity: a
/// player who slides keeps the place for 6 cents beyond the middle.
const ADVANTAGE: f64 = 0.5;

/// A place once taken is kept this much beyond its reach.
const KEPT_BEYOND: Cents = Cents::new(8.0);

/// Nearer than this nobody is sent anywhere.
const NEAR_ENOUGH: Cents = Cents::new(1.0);

/// Where beats grow slower.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Way {
    /// Up.
    Higher,
    /// Down.
    Lower,
}

impl Way {
    /// The word for a player.
    pub fn word(self) -> &'static str {
        match self {
            Self::Higher => "higher",
            Self::Lower => "lower",
        }
    }
}

/// A player's place beside a voice of the chord.
#[derive(Debug, Clone, PartialEq)]
pub struct Match {
    /// The voice.
    pub voice: HeldVoice,
    /// How the player stands to it.
    pub ratio: Ratio,
    /// The place where nothing beats.
    pub place: Hertz,
    /// How far above it the player is.
    pub cents: Cents,
    /// The beats with the voice.
    pub pulse: Pulse,
}

impl Match {
    /// Where a player on `hertz` belongs among `voices`: the simplest ratio within reach. The
    /// place of `before` is kept as long as no other is clearly simpler or nearer.
    pub(super) fn find(
        hertz: Hertz,
        voices: &[HeldVoice],
        before: Option<&Self>,
        elapsed: Seconds,
    ) -> Option<Self> {
        let best = voices
            .iter()
            .flat_map(|voice| {
                let near = Ratios::OF_PLAYERS.near(hertz.above(voice.hertz));
                near.map(move |of| (voice, of))
            })
            .min_by(|a, b| a.1.cost.total_cmp(&b.1.cost));
        let kept = before.and_then(|before| before.kept(hertz, voices));
        let (voice, of) = match (kept, best) {
            (Some(kept), Some(best)) if best.1.cost + ADVANTAGE < kept.1.cost => best,
            (Some(kept), _) => kept,
            (None, best) => best?,
        };
        Some(Self::new(hertz, voice, of, before, elapsed))
    }

    /// A player's own voice, if the chord has it.
    pub(super) fn own(
        hertz: Hertz,
        voice: &HeldVoice,
        before: Option<&Self>,
        elapsed: Seconds,
    ) -> Self {
        let of = OfPure::new(Ratio::UNISON, hertz.above(voice.hertz));
        Self::new(hertz, voice, of, before, elapsed)
    }

    fn new(
        hertz: Hertz,
        voice: &HeldVoice,
        of: OfPure,
        before: Option<&Self>,
        elapsed: Seconds,
    ) -> Self {
        let beats_hz = of.ratio.beats_hz(hertz, voice.hertz);
        let pulse = match before.filter(|before| before.is_of(voice, of.ratio)) {
            Some(before) => {
                let mut pulse = before.pulse;
                pulse.go_on(beats_hz, elapsed);
                pulse
            }
            None => Pulse::new(beats_hz),
        };
        Self {
            voice: voice.clone(),
            ratio: of.ratio,
            place: of.ratio.place(voice.hertz),
            cents: of.cents,
            pulse,
        }
    }

    fn is_of(&self, voice: &HeldVoice, ratio: Ratio) -> bool {
        self.ratio == ratio
            && self.voice.label == voice.label
            && self.voice.channel == voice.channel
    }

    /// This place again, if the player is still within reach of it.
    fn kept<'a>(&self, hertz: Hertz, voices: &'a [HeldVoice]) -> Option<(&'a HeldVoice, OfPure)> {
        let voice = voices.iter().find(|voice| self.is_of(voice, self.ratio))?;
        let of = OfPure::new(self.ratio, hertz.above(voice.hertz));
        let reach = Ratios::OF_PLAYERS.reach(self.ratio)? + KEPT_BEYOND;
        (of.cents.abs() <= reach).then_some((voice, of))
    }

    /// Which way the beats grow slower; none where they stand still, or the player so near
    /// that the way would change with every breath.
    pub fn slower(&self) -> Option<Way> {
        let is_there = self.pulse.is_still() || self.cents.abs() < NEAR_ENOUGH;
        (!is_there).then_some(if self.cents.get() > 0.0 {
            Way::Lower
        } else {
            Way::Higher
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rehearsal::held::tests::held;
    use crate::rehearsal::tests::sixth_comma;
    use proptest::prelude::*;

    fn find(hertz: Hertz, voices: &[HeldVoice], before: Option<&Match>) -> Option<Match> {
        Match::find(hertz, voices, before, Seconds::new(0.03))
    }

    fn note(name: &str) -> Hertz {
        sixth_comma().scale().frequency(name.parse().unwrap())
    }

    fn check(chord: &[(u8, f64)], name: &str, expected: &str) {
        let found = find(note(name), &held(chord).voices, None);
        let found = found.map(|m| format!("{} of {}", m.ratio, m.voice.label));
        assert_eq!(found.as_deref().unwrap_or("none"), expected, "{name}");
    }

    #[test]
    fn a_player_belongs_to_the_simplest_voice_within_reach() {
        let d_major = [(8, 0.0), (10, 0.0), (12, 0.0)];
        check(&d_major, "A4", "1/2 of p12");
        check(&d_major, "F#4", "1/2 of p10");
        check(&d_major, "D4", "1/2 of p8");
        check(&d_major, "D3", "1/4 of p8");
        check(&d_major, "B4", "2/3 of p10");
        check(&d_major, "G4", "2/3 of p8");
        check(&d_major, "Eb4", "none");
        let e_major = [(9, 0.0), (11, 0.0), (13, 0.0)];
        check(&e_major, "G#4", "1/2 of p11");
        check(&e_major, "E3", "1/4 of p9");
        check(&[], "A4", "none");
    }

    #[test]
    fn cents_and_beats_are_those_of_the_place() {
        let chord = held(&[(8, 0.0)]);
        let voice = chord.voices[0].hertz;
        let place = voice.times(0.75);
        let found = find(place.raised(Cents::new(6.0)), &chord.voices, None).unwrap();
        assert_eq!((found.ratio.over(), found.ratio.under()), (3, 4));
        assert!((found.cents.get() - 6.0).abs() < 1e-9);
        assert!((found.place.get() - place.get()).abs() < 1e-9);
        // 4 f(player) - 3 f(voice): definition.
        let beats = 3.0 * voice.get() * (2_f64.powf(6.0 / 1200.0) - 1.0);
        assert!((found.pulse.rate_hz() - beats).abs() < 1e-9);
        assert_eq!(found.slower(), Some(Way::Lower));
        let below = find(place.raised(Cents::new(-6.0)), &chord.voices, None).unwrap();
        assert_eq!(below.slower(), Some(Way::Higher));
        assert_eq!(find(place, &chord.voices, None).unwrap().slower(), None);
    }

    #[test]
    fn a_sliding_player_keeps_the_place_until_another_is_clearly_nearer() {
        // The thirteenth of D and the fourth below its ninth lie 65 cents apart.
        let voices = held(&[(9, 0.0), (13, 0.0)]).voices;
        let start = voices[1].hertz.times(0.5);
        let mut changes = 0;
        let mut last: Option<Match> = None;
        // Up and down by a few cents about every place on the way: at most one change in all.
        for step in 0..=650 {
            let slide = 0.1 * f64::from(step);
            let sway = if step % 2 == 0 { 4.0 } else { -4.0 };
            let found = find(
                start.raised(Cents::new(slide + sway)),
                &voices,
                last.as_ref(),
            );
            let found = found.unwrap();
            changes += u32::from(last.is_some_and(|last| !last.is_of(&found.voice, found.ratio)));
            last = Some(found);
        }
        assert_eq!(changes, 1);
    }

    #[test]
    fn beats_go_on_while_the_place_is_kept() {
        let voices = held(&[(8, 0.0)]).voices;
        let hertz = voices[0].hertz.raised(Cents::new(4.0));
        let mut last = find(hertz, &voices, None);
        for _ in 0..5 {
            last = find(hertz, &voices, last.as_ref());
        }
        assert!(last.unwrap().pulse.swell().unwrap() < 0.99);
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn the_place_and_the_cents_agree(hz in 60.0..1500.0_f64, off in -30.0..30.0) {
            let voices = held(&[(8, off), (11, 0.0), (12, -off)]).voices;
            let hertz = Hertz::new(hz).unwrap();
            if let Some(found) = find(hertz, &voices, None) {
                prop_assert!((hertz.above(found.place) - found.cents).abs().get() < 1e-6);
                let again = find(hertz, &voices, Some(&found)).unwrap();
                prop_assert!(again.is_of(&found.voice, found.ratio), "the same sound, the same place");
            }
        }
    }
}
