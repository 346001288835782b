//! Where the tones of a drone stand.

use super::{Tone, Tones};
use crate::tuning::{Placement, TemperedPlace, Tuning};
use crate::units::{Cents, Hertz, Note};

/// What places are found by.
pub struct Pitches<'a> {
    /// What notes are measured against.
    pub tuning: &'a Tuning,
    /// Where the player stands by agreement on a note between these places, if anywhere.
    pub agreed: &'a dyn Fn(&Placement) -> Option<Hertz>,
}

/// A tone of a drone and where it stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sounding {
    /// As it was asked for.
    pub tone: Tone,
    /// Its frequency, in the drone's octave.
    pub hertz: Hertz,
}

impl Pitches<'_> {
    /// Where all `tones` stand, in their order.
    pub fn of(&self, tones: &Tones) -> Vec<Hertz> {
        let mut places: Vec<Hertz> = Vec::new();
        for tone in tones.list() {
            let place = match tone {
                Tone::Partial(partial) => self.tuning.series().frequency(*partial),
                Tone::Tempered(note) => self.tuning.scale().frequency(*note),
                Tone::Agreed(note) => {
                    let places = self.places(*note);
                    (self.agreed)(&places).unwrap_or(places.tempered.place)
                }
                Tone::Above(ratio, of) => match places.get(*of) {
                    Some(other) => ratio.place(*other),
                    None => continue,
                },
            };
            places.push(place);
        }
        places
    }

    /// Both places of a note.
    pub fn places(&self, note: Note) -> Placement {
        self.tuning.places_of(TemperedPlace {
            note,
            place: self.tuning.scale().frequency(note),
            cents: Cents::UNISON,
        })
    }
}
