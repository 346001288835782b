//! A tuning under test, and where every note of a piece stands in it.

use super::body::Body;
use super::casting::Side;
use super::key::written;
use crate::tuning::{Anchor, Chain, Partial, PitchStandard, Scale, Series, Temperament};
use crate::units::{Hertz, Note, NoteName};

/// A tuning under test.
#[derive(Debug, Clone, PartialEq)]
pub struct Choice {
    /// The temperament.
    pub temperament: Temperament,
    /// The keyboard's twelve keys.
    pub chain: Chain,
    /// The pitch standard.
    pub standard: PitchStandard,
    /// The partial the trumpets tune by: it sounds its tempered note. Usually 8.
    pub anchor: Partial,
}

impl Choice {
    /// The anchor of trumpets in `key`: the tonic where the partial is no note.
    pub fn anchor_in(&self, key: NoteName) -> Anchor {
        match written(self.anchor, key) {
            Some(note) => Anchor::PartialSounds {
                partial: self.anchor,
                note,
            },
            None => Anchor::tonic(key),
        }
    }

    /// The scale.
    pub fn scale(&self) -> Scale {
        Scale::new(&self.temperament, self.chain, self.standard)
    }

    /// Everything a note is placed by, for trumpets in `key`.
    pub(super) fn grid(&self, key: Option<NoteName>) -> Grid {
        let scale = self.scale();
        let series = key.map(|key| Series::new(key, self.anchor_in(key), &scale));
        Grid {
            scale,
            series,
            chain: self.chain,
        }
    }
}

/// Where notes stand in one piece under one choice.
#[derive(Debug, Clone, PartialEq)]
pub struct Grid {
    scale: Scale,
    series: Option<Series>,
    chain: Chain,
}

impl Grid {
    /// Where the temperament has a spelled note.
    pub fn tempered(&self, note: Note) -> Hertz {
        self.scale.frequency(note)
    }

    /// Where a partial sounds; none without trumpets.
    pub fn partial(&self, partial: Partial) -> Option<Hertz> {
        self.series.map(|series| series.frequency(partial))
    }

    /// Where someone's note stands.
    pub(super) fn place(&self, body: &Body) -> Hertz {
        match body.side {
            Side::Keyboard => self.scale.frequency(on_keys(body.note, self.chain)),
            Side::Trumpets | Side::Others => body
                .partial
                .and_then(|partial| self.partial(partial))
                .unwrap_or_else(|| self.scale.frequency(body.note)),
        }
    }
}

/// The key that is struck for a note: its own, or the one the chain has in its place.
pub(super) fn on_keys(note: Note, chain: Chain) -> Note {
    if chain.contains(note.name()) {
        return note;
    }
    let key = note.key_number();
    chain
        .notes()
        .find(|name| name.key() == note.name().key())
        .and_then(|name| {
            let octaves = [0, 1, -1].map(|step| note.octave().saturating_add(step));
            octaves
                .map(|octave| name.in_octave(octave))
                .into_iter()
                .find(|other| other.key_number() == key)
        })
        .unwrap_or(note)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_missing_accidental_is_played_on_the_key_in_its_place() {
        let check = |note: &str, expected: &str| {
            let key = on_keys(note.parse().unwrap(), Chain::usual());
            assert_eq!(key.ascii(), expected);
        };
        check("Eb4", "Eb4");
        check("D#4", "Eb4");
        check("Ab3", "G#3");
        check("B#3", "C4");
        check("Cb4", "B3");
    }
}
