//! The note a player is on, kept through small swings across a boundary.

use super::needle::Needle;
use crate::tuning::{PartialPlace, Placement, TemperedPlace, Tuning};
use crate::units::{Cents, Hertz};

/// Another place must be nearer by this much before it takes over.
const ADVANTAGE: Cents = Cents::new(4.0);

/// A partial once shown is kept up to here; one not shown must come this much nearer than
/// the 70 cents within which a placement finds any.
const KEEP_PARTIAL: Cents = Cents::new(72.0);
const TAKE_PARTIAL: Cents = Cents::new(68.0);

/// How sure a note is kept on its tempered place: beyond this the player has moved on.
const KEEP_NOTE: Cents = Cents::new(100.0);

/// A note that sounds: where the needle points, and the two places it is measured from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sounding {
    needle: Needle,
    places: Placement,
}

impl Sounding {
    /// A note that begins on `hertz`.
    pub(super) fn begin(hertz: Hertz, tuning: &Tuning) -> Self {
        Self {
            needle: Needle::at(hertz),
            places: tuning.place(hertz),
        }
    }

    /// The note goes on to `needle`.
    pub(super) fn go_on(&mut self, needle: Needle, tuning: &Tuning) {
        self.needle = needle;
        let hertz = needle.hertz();
        let fresh = tuning.place(hertz);
        let tempered = keep_tempered(self.places.tempered, fresh.tempered, hertz);
        // Another note brings its own partial with it: the two belong together.
        let partial = if tempered.note == self.places.tempered.note {
            keep_partial(self.places.partial, fresh.partial, hertz)
        } else {
            fresh.partial
        };
        self.places = Placement { partial, tempered };
    }

    /// Measures the note anew, with nothing kept.
    pub(super) fn remeasure(&mut self, tuning: &Tuning) {
        self.places = tuning.place(self.needle.hertz());
    }

    /// The needle.
    pub fn needle(&self) -> Needle {
        self.needle
    }

    /// The two places, with the needle's deviation from each.
    pub fn places(&self) -> Placement {
        self.places
    }

    /// The middle of the axis: half-way between the two places, or the tempered one where
    /// no partial is near.
    pub fn centre(&self) -> Hertz {
        let half = self.places.gap().unwrap_or(Cents::UNISON) * 0.5;
        self.places.tempered.place.raised(half)
    }
}

fn keep_tempered(held: TemperedPlace, fresh: TemperedPlace, hertz: Hertz) -> TemperedPlace {
    let held = TemperedPlace {
        cents: hertz.above(held.place),
        ..held
    };
    let near = held.cents.abs() < fresh.cents.abs() + ADVANTAGE;
    if held.note != fresh.note && near && held.cents.abs() < KEEP_NOTE {
        held
    } else {
        fresh
    }
}

fn keep_partial(
    held: Option<PartialPlace>,
    fresh: Option<PartialPlace>,
    hertz: Hertz,
) -> Option<PartialPlace> {
    let held = held.map(|held| PartialPlace {
        cents: hertz.above(held.place),
        ..held
    });
    match (held, fresh) {
        (Some(held), Some(fresh)) => {
            let same = held.partial == fresh.partial && held.octaves == fresh.octaves;
            let near = held.cents.abs() < fresh.cents.abs() + ADVANTAGE;
            Some(if !same && near { held } else { fresh })
        }
        (Some(held), None) => (held.cents.abs() <= KEEP_PARTIAL).then_some(held),
        (None, Some(fresh)) => (fresh.cents.abs() <= TAKE_PARTIAL).then_some(fresh),
        (None, None) => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rehearsal::tests::sixth_comma;
    use proptest::prelude::*;

    fn glide(from: Hertz, cents: f64) -> Sounding {
        let tuning = sixth_comma();
        let mut sounding = Sounding::begin(from, &tuning);
        let steps = 1 + (cents.abs() * 2.0) as u32;
        for step in 1..=steps {
            let interval = Cents::new(cents * f64::from(step) / f64::from(steps));
            sounding.go_on(Needle::at(from.raised(interval)), &tuning);
        }
        sounding
    }

    #[test]
    fn a_note_does_not_flip_at_the_boundary() {
        let tuning = sixth_comma();
        let d4 = tuning.scale().frequency("D4".parse().unwrap());
        let e4 = tuning.scale().frequency("Eb4".parse().unwrap());
        let half_way = e4.above(d4).get() / 2.0;
        // 4 cents nearer means 2 beyond the middle.
        let name = |cents: f64| glide(d4, cents).places().tempered.note.ascii();
        assert_eq!(
            tuning
                .place(d4.raised(Cents::new(half_way + 1.0)))
                .tempered
                .note
                .ascii(),
            "Eb4"
        );
        assert_eq!(name(half_way + 1.0), "D4");
        assert_eq!(name(half_way + 3.0), "Eb4");
    }

    #[test]
    fn a_partial_is_kept_a_little_beyond_its_reach() {
        let tuning = sixth_comma();
        // Between partials 8 and 9 there is a stretch without any: only reach decides there.
        let partial_8 = tuning.series().frequency(8.try_into().unwrap());
        let number = |cents: f64| {
            glide(partial_8, cents)
                .places()
                .partial
                .map(|p| p.partial.number())
        };
        assert_eq!(number(65.0), Some(8));
        assert_eq!(number(71.0), Some(8));
        assert_eq!(number(73.0), None);
        let e_flat = partial_8.raised(Cents::new(100.0));
        assert_eq!(
            glide(e_flat, -31.0).places().partial,
            None,
            "not yet near enough"
        );
    }

    #[test]
    fn the_axis_is_centred_half_way() {
        let tuning = sixth_comma();
        let partial_11 = tuning.series().frequency(11.try_into().unwrap());
        let sounding = Sounding::begin(partial_11, &tuning);
        let places = sounding.places();
        let nature = places.partial.unwrap().place.above(sounding.centre()).get();
        let tempered = places.tempered.place.above(sounding.centre()).get();
        assert!((nature + tempered).abs() < 1e-6, "{nature} {tempered}");
        assert!(nature.abs() > 15.0);
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn kept_deviations_belong_to_the_kept_places(start in 80.0..1100.0_f64, cents in -150.0..150.0) {
            let sounding = glide(Hertz::new(start).unwrap(), cents);
            let places = sounding.places();
            let hertz = sounding.needle().hertz();
            prop_assert!((hertz.above(places.tempered.place) - places.tempered.cents).abs().get() < 1e-6);
            if let Some(partial) = places.partial {
                prop_assert!((hertz.above(partial.place) - partial.cents).abs().get() < 1e-6);
                prop_assert!(partial.cents.abs().get() <= 72.0);
            }
            prop_assert!(places.tempered.cents.abs().get() <= 100.0);
        }
    }
}
