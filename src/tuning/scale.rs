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
            // On a tie (enharmonic notes of a circulating temperament) the spelling with
            // fewer accidentals wins.
            let closer = distance.abs().get() < best.1.abs().get() - 1e-9;
            let simpler = distance.abs().get() < best.1.abs().get() + 1e-9
                && note.name.sharps().abs() < best.0.sharps().abs();
            if closer || simpler {
                best = (note.name, distance);
            }
        }
        let (name, distance) = best;
        let octave = self.octave_of(name, hertz.raised(-distance));
        (name.in_octave(octave), distance)
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

/// Cents above middle C: the equal-tempered place by key, plus what the temperament adds.
fn above_c4(temperament: &Temperament, note: Note) -> Cents {
    let equal = Cents::new(100.0 * f64::from(note.key_number() - 60));
    equal + (temperament.above_c(note.name()) - equal).nearest_octave()
}
