//! A sounding frequency against its two true places: the partial and the tempered note.

use std::fmt;

use super::{Chain, Partial, PitchStandard, Scale, Series, Temperament};
use crate::units::{Cents, Hertz, Note};

/// A note farther than this from every partial is said to have none.
const REACH: Cents = Cents::new(70.0);

/// Partials above this are taken only in their own octave: players of the other instruments
/// do not know the extreme ones, and folded down they would fill the octave so closely that
/// every note would seem to have a partial.
const HIGHEST_FOLDED: u8 = 16;

/// Nature's place for a sounding frequency.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PartialPlace {
    /// The partial.
    pub partial: Partial,
    /// Octaves from where the partial sounds to where it was measured; negative is lower.
    pub octaves: i8,
    /// The frequency of that place.
    pub place: Hertz,
    /// How far above the place the sound lies.
    pub cents: Cents,
}

impl fmt::Display for PartialPlace {
    /// The partial's number, with how many octaves lower or higher it was measured than it
    /// sounds: `11`, `11↓`, `13↓2`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.partial.number())?;
        let arrow = if self.octaves < 0 {
            '\u{2193}'
        } else {
            '\u{2191}'
        };
        match self.octaves.unsigned_abs() {
            0 => Ok(()),
            1 => write!(f, "{arrow}"),
            count => write!(f, "{arrow}{count}"),
        }
    }
}

/// The tempered place for a sounding frequency.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TemperedPlace {
    /// The nearest note of the scale.
    pub note: Note,
    /// The frequency of that place.
    pub place: Hertz,
    /// How far above the place the sound lies.
    pub cents: Cents,
}

/// Where a frequency lies.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Placement {
    /// Against the series; `None` where no partial lies within 70 cents.
    pub partial: Option<PartialPlace>,
    /// Against the temperament.
    pub tempered: TemperedPlace,
}

impl Placement {
    /// How far the partial's place lies above the tempered place.
    pub fn gap(&self) -> Option<Cents> {
        self.partial
            .map(|partial| partial.place.above(self.tempered.place))
    }
}

/// Everything a frequency is measured against.
#[derive(Debug, Clone, PartialEq)]
pub struct Tuning {
    standard: PitchStandard,
    scale: Scale,
    series: Series,
}

impl Tuning {
    /// A tuning from its parts. The series is tied to the scale by `anchor`.
    pub fn new(
        standard: PitchStandard,
        temperament: &Temperament,
        chain: Chain,
        key: crate::units::NoteName,
        anchor: super::Anchor,
    ) -> Self {
        let scale = Scale::new(temperament, chain, standard);
        let series = Series::new(key, anchor, &scale);
        Self {
            standard,
            scale,
            series,
        }
    }

    /// The same at another pitch standard.
    pub fn at_standard(&self, standard: PitchStandard) -> Self {
        self.rebuilt(standard, self.scale.temperament(), self.scale.chain())
    }

    /// The same in another temperament.
    pub fn in_temperament(&self, temperament: &Temperament) -> Self {
        self.rebuilt(self.standard, temperament, self.scale.chain())
    }

    /// The same over another chain: a player's own accidentals.
    pub fn over_chain(&self, chain: Chain) -> Self {
        self.rebuilt(self.standard, self.scale.temperament(), chain)
    }

    /// The same with the trumpets' series standing on `anchor`.
    pub fn anchored(&self, anchor: super::Anchor) -> Self {
        Self::new(
            self.standard,
            self.scale.temperament(),
            self.scale.chain(),
            self.series.key(),
            anchor,
        )
    }

    fn rebuilt(&self, standard: PitchStandard, temperament: &Temperament, chain: Chain) -> Self {
        Self::new(
            standard,
            temperament,
            chain,
            self.series.key(),
            self.series.anchor(),
        )
    }

    /// The pitch standard.
    pub fn standard(&self) -> PitchStandard {
        self.standard
    }

    /// The scale.
    pub fn scale(&self) -> &Scale {
        &self.scale
    }

    /// The trumpets' series.
    pub fn series(&self) -> &Series {
        &self.series
    }

    /// Measures `hertz` against both places.
    pub fn place(&self, hertz: Hertz) -> Placement {
        let (note, cents) = self.scale.nearest(hertz);
        Placement {
            partial: self.nearest_partial(hertz),
            tempered: TemperedPlace {
                note,
                place: hertz.raised(-cents),
                cents,
            },
        }
    }

    /// The nearest of the partials where they sound and of the folded ones an octave or more
    /// away. Where both lie equally near (the sixth and the third are one pitch class) the
    /// one that sounds there is named; folded ones are named by their lowest number.
    /// Both places of the tempered note itself, whatever sounds near it: what is agreed on a note
    /// is about these. A player far off a note may be nearer to another partial than the note is.
    pub fn places_of(&self, tempered: TemperedPlace) -> Placement {
        Placement {
            partial: self.nearest_partial(tempered.place),
            tempered,
        }
    }

    fn nearest_partial(&self, hertz: Hertz) -> Option<PartialPlace> {
        let above = hertz.above(self.series.fundamental());
        let sounding =
            Partial::all().map(|partial| (partial, 0, above - partial.above_fundamental()));
        let folded = Partial::all()
            .filter(|partial| partial.number() % 2 == 1 && partial.number() < HIGHEST_FOLDED)
            .map(|partial| {
                let distance = above - partial.above_fundamental();
                let cents = distance.nearest_octave();
                let octaves = ((distance - cents).get() / 1200.0).round() as i8;
                (partial, octaves, cents)
            });
        let mut best: Option<(Partial, i8, Cents)> = None;
        for candidate in sounding.chain(folded) {
            let nearer =
                best.is_none_or(|best| candidate.2.abs().get() < best.2.abs().get() - 1e-6);
            if nearer && candidate.2.abs() <= REACH {
                best = Some(candidate);
            }
        }
        best.map(|(partial, octaves, cents)| PartialPlace {
            partial,
            octaves,
            place: hertz.raised(-cents),
            cents,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tuning::{Anchor, Fifths, Tempering};
    use crate::units::NoteName;
    use proptest::prelude::*;

    fn equal() -> Temperament {
        let each: Tempering = "-1/12 PC".parse().unwrap();
        let fifths = Fifths::Circle {
            first: NoteName::C,
            temperings: vec![each; 12],
        };
        Temperament::new("equal", "Equal", fifths).unwrap()
    }

    fn regular(each: &str) -> Temperament {
        let each = each.parse().unwrap();
        Temperament::new("regular", "Regular", Fifths::Regular { each }).unwrap()
    }

    fn tuning(temperament: &Temperament, a4_hz: f64, key: NoteName) -> Tuning {
        let standard = PitchStandard::new(a4_hz).unwrap();
        Tuning::new(
            standard,
            temperament,
            Chain::usual(),
            key,
            Anchor::tonic(key),
        )
    }

    fn place(tuning: &Tuning, note: &str) -> Placement {
        tuning.place(tuning.scale().frequency(note.parse().unwrap()))
    }

    /// Number, octaves and cents of the partial place of a tempered note.
    fn check(tuning: &Tuning, note: &str, expected: Option<(u8, i8, f64)>) {
        let found = place(tuning, note).partial;
        match (found, expected) {
            (None, None) => {}
            (Some(found), Some((number, octaves, cents))) => {
                assert_eq!((found.partial.number(), found.octaves), (number, octaves));
                assert!(
                    (found.cents.get() - cents).abs() < 0.001,
                    "{note}: {found:?}"
                );
            }
            _ => panic!("{note}: {found:?}, expected {expected:?}"),
        }
    }

    #[test]
    fn notes_between_and_below_the_series_are_folded_into_it() {
        // Deviations as computed from the ratios; harmonic-series table for trumpets in C.
        let sixth = tuning(&regular("-1/6 SC"), 440.0, NoteName::C);
        check(&sixth, "A3", Some((13, -2, 54.584)));
        check(&sixth, "F#3", Some((11, -2, 38.906)));
        check(&sixth, "G2", Some((3, -1, -3.584)));
        check(&sixth, "E1", Some((5, -3, 7.169)));
        check(&sixth, "G4", Some((6, 0, -3.584)));
        check(&sixth, "C7", Some((1, 5, 0.0)));
    }

    #[test]
    fn the_nearest_place_wins_over_a_farther_one_in_its_own_octave() {
        // Equal A4 lies 68.8 above the 7th and 59.5 above the pitch class of the 13th.
        let equal = tuning(&equal(), 440.0, NoteName::C);
        check(&equal, "A4", Some((13, -1, 59.472)));
        check(&equal, "A5", Some((13, 0, 59.472)));
    }

    #[test]
    fn a_note_without_partial_says_so() {
        for temperament in [regular("-1/6 SC"), regular("-1/4 SC"), equal()] {
            let tuning = tuning(&temperament, 415.0, NoteName::D);
            for note in ["Eb2", "Eb3", "Eb4", "Eb5"] {
                check(&tuning, note, None);
                assert_eq!(place(&tuning, note).gap(), None);
            }
            // High up, the 17th sounds there.
            assert_eq!(place(&tuning, "Eb6").partial.unwrap().partial.number(), 17);
        }
    }

    #[test]
    fn the_gap_is_the_partial_above_the_tempered_place() {
        let tuning = tuning(&equal(), 440.0, NoteName::C);
        // A player anywhere near the 11th sees the same gap: 551.318 - 600.
        for cents in [-15.0, 0.0, 15.0] {
            let f_sharp = tuning.scale().frequency("F#5".parse().unwrap());
            let placement = tuning.place(f_sharp.raised(Cents::new(-30.0 + cents)));
            assert_eq!(placement.tempered.note.ascii(), "F#5");
            assert!((placement.gap().unwrap().get() + 48.682).abs() < 0.001);
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn every_partial_is_found_at_its_own_place(
            number in 1_u8..=24, a4_hz in 350.0..500.0, flat in any::<bool>(),
        ) {
            let key = if flat { NoteName::C } else { NoteName::D };
            let tuning = tuning(&regular("-1/6 SC"), a4_hz, key);
            let partial = Partial::new(number).unwrap();
            let found = tuning.place(tuning.series().frequency(partial)).partial.unwrap();
            prop_assert_eq!(found.partial, partial);
            prop_assert_eq!(found.octaves, 0);
            prop_assert!(found.cents.abs().get() < 1e-6);
        }

        #[test]
        fn both_places_give_back_the_sound(hz in 20.0..5000.0) {
            let tuning = tuning(&regular("-1/4 SC"), 415.0, NoteName::D);
            let hertz = Hertz::new(hz).unwrap();
            let placement = tuning.place(hertz);
            let tempered = placement.tempered;
            prop_assert!((tempered.place.raised(tempered.cents).get() - hz).abs() < 1e-6);
            let named = tuning.scale().frequency(tempered.note);
            prop_assert!(named.above(tempered.place).abs().get() < 1e-6);
            if let Some(found) = placement.partial {
                prop_assert!(found.cents.abs().get() <= 70.0);
                let octave = 2_f64.powi(found.octaves.into());
                let sounding = tuning.series().frequency(found.partial).times(octave);
                prop_assert!(sounding.above(found.place).abs().get() < 1e-6);
            }
        }
    }
}
