//! A sounding frequency against its two true places: the partial and the tempered note.

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

    /// The partial that sounds within 70 cents; failing that, the pitch class of one that
    /// does so in another octave, named by its lowest number.
    fn nearest_partial(&self, hertz: Hertz) -> Option<PartialPlace> {
        let above = hertz.above(self.series.fundamental());
        let own_octave =
            Partial::all().map(|partial| (partial, 0, above - partial.above_fundamental()));
        let folded = Partial::all()
            .filter(|partial| partial.number() % 2 == 1 && partial.number() < HIGHEST_FOLDED)
            .map(|partial| {
                let distance = above - partial.above_fundamental();
                let cents = distance.nearest_octave();
                let octaves = ((distance - cents).get() / 1200.0).round() as i8;
                (partial, octaves, cents)
            });
        nearest(own_octave)
            .or_else(|| nearest(folded))
            .map(|(partial, octaves, cents)| PartialPlace {
                partial,
                octaves,
                place: hertz.raised(-cents),
                cents,
            })
    }
}

/// The candidate with the smallest distance, if any lies within reach.
fn nearest(candidates: impl Iterator<Item = (Partial, i8, Cents)>) -> Option<(Partial, i8, Cents)> {
    candidates
        .filter(|(_, _, cents)| cents.abs() <= REACH)
        .min_by(|a, b| a.2.abs().get().total_cmp(&b.2.abs().get()))
}
