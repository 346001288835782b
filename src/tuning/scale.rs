//! A temperament standing at a pitch: the frequency of every note of a chain.

use super::{Chain, PitchStandard, Temperament};
use crate::units::{Cents, Hertz, Note, NoteName};

/// One note of a scale.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ScaleNote {
    /// Its spelling.
    pub name: NoteName,
    /// Cents above C, within the octave.
    pub above_c: Cents,
}

/// A temperament at a pitch standard, over the notes of a chain.
#[derive(Debug, Clone, PartialEq)]
pub struct Scale {
    temperament: Temperament,
    chain: Chain,
    /// In rising order within the octave.
    notes: Vec<ScaleNote>,
    c4: Hertz,
}

impl Scale {
    /// Places `temperament` so that the standard's kept note keeps its level.
    pub fn new(temperament: &Temperament, chain: Chain, standard: PitchStandard) -> Self {
        let mut notes: Vec<ScaleNote> = chain
            .notes()
            .map(|name| ScaleNote {
                name,
                above_c: temperament.above_c(name),
            })
            .collect();
        notes.sort_by(|a, b| a.above_c.get().total_cmp(&b.above_c.get()));
        let kept = standard.kept().in_octave(4);
        let c4 = standard
            .kept_frequency()
            .raised(-above_c4(temperament, kept));
        Self {
            temperament: temperament.clone(),
            chain,
            notes,
            c4,
        }
    }

    /// The frequency of any spelled note, whether or not the chain owns it.
    pub fn frequency(&self, note: Note) -> Hertz {
        self.c4.raised(above_c4(&self.temperament, note))
    }

    /// The note of the chain nearest to `hertz`, and how far above it `hertz` lies.
    pub fn nearest(&self, hertz: Hertz) -> (Note, Cents) {
        let above = hertz.above(self.c4);
        let mut best = (NoteName::C, Cents::new(f64::INFINITY));
        for note in &self.notes {
            let distance = (above - note.above_c).nearest_octave();
            // On a tie (enharmonic notes of a circulating temperament) the spelling nearer to
            // the middle of the usual chain wins, as on a keyboard from E flat to G sharp.
            let closer = distance.abs().get() < best.1.abs().get() - 1e-9;
            let simpler = distance.abs().get() < best.1.abs().get() + 1e-9
                && from_middle(note.name) < from_middle(best.0);
            if closer || simpler {
                best = (note.name, distance);
            }
        }
        let (name, distance) = best;
        let octave = self.octave_of(name, hertz.raised(-distance));
        (name.in_octave(octave), distance)
    }

    /// The nearest notes of the chain on either side of `hertz`, each with how far `hertz`
    /// lies above it: at or below first (positive or zero), then above (negative).
    pub fn neighbours(&self, hertz: Hertz) -> ((Note, Cents), (Note, Cents)) {
        let (near, distance) = self.nearest(hertz);
        let place = hertz.raised(-distance);
        // The next note is looked for from the nearest one, so that a sound that sits on a
        // note, or between two spellings of one key, still has a lower and an upper one.
        let step = |up: bool| {
            let gaps = self.notes.iter().map(|note| {
                let gap = note.above_c - place.above(self.c4);
                (if up { gap } else { -gap }).within_octave()
            });
            let gap = gaps
                .filter(|gap| gap.get() > 1e-6 && gap.get() < 1200.0 - 1e-6)
                .min_by(|a, b| a.get().total_cmp(&b.get()))
                .unwrap_or(Cents::OCTAVE);
            let next = place.raised(if up { gap } else { -gap });
            (self.nearest(next).0, hertz.above(next))
        };
        if distance.get() > -1e-9 {
            ((near, distance), step(true))
        } else {
            (step(false), (near, distance))
        }
    }

    /// The notes of the chain, rising within the octave from C.
    pub fn notes(&self) -> &[ScaleNote] {
        &self.notes
    }

    /// The chain.
    pub fn chain(&self) -> Chain {
        self.chain
    }

    /// The temperament.
    pub fn temperament(&self) -> &Temperament {
        &self.temperament
    }

    /// The octave number that puts `name` nearest to `hertz`.
    fn octave_of(&self, name: NoteName, hertz: Hertz) -> i8 {
        let middle = self.frequency(name.in_octave(4));
        4 + (hertz.above(middle).get() / 1200.0)
            .round()
            .clamp(-10.0, 10.0) as i8
    }
}

/// Twice the number of fifths from the middle of the usual chain, between D and A.
fn from_middle(name: NoteName) -> i32 {
    (2 * name.fifths() - 5).abs()
}

/// Cents above middle C: the equal-tempered place by key, plus what the temperament adds.
fn above_c4(temperament: &Temperament, note: Note) -> Cents {
    let equal = Cents::new(100.0 * f64::from(note.key_number() - 60));
    equal + (temperament.above_c(note.name()) - equal).nearest_octave()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tuning::Fifths;
    use proptest::prelude::*;

    fn regular(each: &str) -> Temperament {
        let each = each.parse().unwrap();
        Temperament::new("regular", "Regular", Fifths::Regular { each }).unwrap()
    }

    fn equal() -> Temperament {
        let fifths = Fifths::Circle {
            first: NoteName::C,
            temperings: vec!["-1/12 PC".parse().unwrap(); 12],
        };
        Temperament::new("equal", "Equal", fifths).unwrap()
    }

    fn scale(temperament: &Temperament, chain: &str, kept: NoteName) -> Scale {
        let standard = PitchStandard::new(440.0).unwrap().kept_by(kept);
        Scale::new(temperament, chain.parse().unwrap(), standard)
    }

    fn hz(scale: &Scale, note: &str) -> f64 {
        scale.frequency(note.parse().unwrap()).get()
    }

    #[test]
    fn the_kept_note_keeps_its_level() {
        let quarter = regular("-1/4 SC");
        assert!((hz(&scale(&quarter, "Eb-G#", NoteName::A), "A4") - 440.0).abs() < 1e-9);
        let by_c = scale(&quarter, "Eb-G#", NoteName::C);
        // Equal-tempered middle C at A=440, by definition; the A above is 889.735 cents up.
        assert!((hz(&by_c, "C4") - 261.625_565).abs() < 1e-5);
        assert!((hz(&by_c, "A4") - 261.625_565 * 2_f64.powf(889.735 / 1200.0)).abs() < 1e-3);
    }

    #[test]
    fn the_octave_number_changes_at_c_even_where_spellings_cross_it() {
        let equal = scale(&equal(), "Fb-B#", NoteName::A);
        assert!((hz(&equal, "B#3") - hz(&equal, "C4")).abs() < 1e-9);
        assert!((hz(&equal, "Cb4") - hz(&equal, "B3")).abs() < 1e-9);
        // In quarter-comma B sharp lies a diesis (41.059 cents) below C, C flat above B.
        let quarter = scale(&regular("-1/4 SC"), "Cb-B#", NoteName::A);
        let frequency = |note: &str| quarter.frequency(note.parse().unwrap());
        assert!((frequency("C4").above(frequency("B#3")).get() - 41.059).abs() < 0.001);
        assert!((frequency("Cb4").above(frequency("B3")).get() - 41.059).abs() < 0.001);
        for note in ["B#3", "Cb4", "B3", "C4"] {
            let (found, cents) = quarter.nearest(frequency(note));
            assert_eq!(
                (found.ascii().as_str(), cents.abs().get() < 1e-9),
                (note, true)
            );
        }
    }

    #[test]
    fn keys_that_share_a_place_are_named_as_usual() {
        let equal = scale(&equal(), "Fb-B#", NoteName::A);
        for (hz, name) in [
            (261.6, "C4"),
            (277.2, "C#4"),
            (311.1, "Eb4"),
            (370.0, "F#4"),
            (415.3, "G#4"),
            (466.2, "Bb4"),
        ] {
            let (note, _) = equal.nearest(Hertz::new(hz).unwrap());
            assert_eq!(note.ascii(), name);
        }
    }

    #[test]
    fn a_sound_has_a_note_on_either_side() {
        let sixth = scale(&regular("-1/6 SC"), "Eb-G#", NoteName::A);
        let a = Hertz::new(440.0).unwrap();
        let check = |cents: f64, below: &str, above: &str| {
            let (low, high) = sixth.neighbours(a.raised(Cents::new(cents)));
            assert_eq!(
                (low.0.ascii().as_str(), high.0.ascii().as_str()),
                (below, above)
            );
            assert!(
                low.1.get() > -1e-6 && high.1.get() < 1e-6,
                "{low:?} {high:?}"
            );
        };
        check(0.0, "A4", "Bb4");
        check(1.0, "A4", "Bb4");
        check(-1.0, "G#4", "A4");
        check(330.0, "C5", "C#5");
        check(290.0, "B4", "C5");
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn every_note_of_the_chain_is_its_own_nearest(
            fifths in -8_i32..=12, octave in 0_i8..=8, off in -9.0..9.0, kept in -3_i32..=8,
        ) {
            // The closest notes of a 21-note chain in sixth-comma are a diaschisma apart
            // (19.553 cents), so an error of 9 cents still finds the right one.
            let kept = NoteName::from_fifths(kept).unwrap();
            let sixth = scale(&regular("-1/6 SC"), "Fb-B#", kept);
            let note = NoteName::from_fifths(fifths).unwrap().in_octave(octave);
            let (found, cents) = sixth.nearest(sixth.frequency(note).raised(Cents::new(off)));
            prop_assert_eq!(found, note);
            prop_assert!((cents.get() - off).abs() < 1e-6);
        }

        #[test]
        fn enharmonic_spellings_differ_only_where_they_should(fifths in -8_i32..=0) {
            let flat = NoteName::from_fifths(fifths).unwrap();
            let sharp = NoteName::from_fifths(fifths + 12).unwrap();
            let quarter = regular("-1/4 SC");
            let apart = (quarter.above_c(flat) - quarter.above_c(sharp)).nearest_octave();
            prop_assert!((apart.get() - 41.059).abs() < 0.001);
            prop_assert_eq!(equal().above_c(flat), equal().above_c(sharp));
        }

        #[test]
        fn neighbours_enclose_the_sound(hz in 30.0..4000.0) {
            let sound = Hertz::new(hz).unwrap();
            let quarter = scale(&regular("-1/4 SC"), "Ab-D#", NoteName::A);
            let ((low, above_low), (high, above_high)) = quarter.neighbours(sound);
            prop_assert!(above_low.get() > -1e-6 && above_high.get() < 1e-6);
            prop_assert!(above_low.get() - above_high.get() < 130.0);
            prop_assert!((sound.above(quarter.frequency(low)) - above_low).abs().get() < 1e-6);
            prop_assert!((sound.above(quarter.frequency(high)) - above_high).abs().get() < 1e-6);
        }
    }
}
