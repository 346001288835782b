//! The drone as it is set: its tones and everything a hand can change about it.

use super::{Pitches, Sounding, Timbre, Tone, Tones, Wanted, WantedTone};
use crate::tuning::{Partial, PartialPlace};
use crate::units::{Dbfs, Note, NoteName};

/// RMS level of a drone that has just begun.
pub const START_LEVEL: Dbfs = Dbfs::new(-38.0);
/// RMS level that is not passed unless it is asked for.
pub const CEILING: Dbfs = Dbfs::new(-20.0);
/// The highest ceiling that can be asked for: above it peaks would reach full scale.
pub const HIGHEST_CEILING: Dbfs = Dbfs::new(-12.0);
/// The softest level there is.
pub const LOWEST_LEVEL: Dbfs = Dbfs::new(-62.0);

/// One step of the level, in decibels.
const STEP_DB: f64 = 2.0;
/// Octaves up or down from where the tones are written.
const MOST_OCTAVES: i8 = 3;

/// A drone and how it is set. It begins silent.
#[derive(Debug, Clone, PartialEq)]
pub struct Drone {
    tones: Tones,
    is_sounding: bool,
    timbre: Timbre,
    octave: i8,
    is_apart: bool,
    level: Dbfs,
    ceiling: Dbfs,
}

impl Drone {
    /// A silent drone of these tones.
    pub fn new(tones: Tones) -> Self {
        Self {
            tones,
            is_sounding: false,
            timbre: Timbre::default(),
            octave: 0,
            is_apart: false,
            level: START_LEVEL,
            ceiling: CEILING,
        }
    }

    /// The same with another sound.
    pub fn in_timbre(self, timbre: Timbre) -> Self {
        Self { timbre, ..self }
    }

    /// The same so many octaves up, or down if negative; within three.
    pub fn in_octave(self, octave: i8) -> Self {
        let octave = octave.clamp(-MOST_OCTAVES, MOST_OCTAVES);
        Self { octave, ..self }
    }

    /// The same with another ceiling, at most [`HIGHEST_CEILING`].
    pub fn under(self, ceiling: Dbfs) -> Self {
        let ceiling = if ceiling > HIGHEST_CEILING {
            HIGHEST_CEILING
        } else {
            ceiling
        };
        Self { ceiling, ..self }.at_level(START_LEVEL)
    }

    /// The same with its tones on both sides, or all in the middle.
    pub fn apart(self, is_apart: bool) -> Self {
        Self { is_apart, ..self }
    }

    /// The same at a level; the ceiling is not passed.
    pub fn at_level(mut self, level: Dbfs) -> Self {
        self.set_level(level);
        self
    }

    /// Its tones.
    pub fn tones(&self) -> &Tones {
        &self.tones
    }

    /// Sounds other tones from now on.
    pub fn set_tones(&mut self, tones: Tones) {
        self.tones = tones;
    }

    /// Whether it sounds.
    pub fn is_sounding(&self) -> bool {
        self.is_sounding
    }

    /// Begins or ends.
    pub fn toggle(&mut self) {
        self.is_sounding = !self.is_sounding;
    }

    /// What it sounds like.
    pub fn timbre(&self) -> Timbre {
        self.timbre
    }

    /// Takes the next sound.
    pub fn next_timbre(&mut self) {
        self.timbre = self.timbre.next();
    }

    /// Octaves from where the tones are written.
    pub fn octave(&self) -> i8 {
        self.octave
    }

    /// So many octaves up, or down.
    pub fn shift_octave(&mut self, by: i8) {
        self.octave = (self.octave + by).clamp(-MOST_OCTAVES, MOST_OCTAVES);
    }

    /// Whether the tones come from both sides rather than the middle.
    pub fn is_apart(&self) -> bool {
        self.is_apart
    }

    /// Puts the tones on both sides, or back.
    pub fn toggle_apart(&mut self) {
        self.is_apart = !self.is_apart;
    }

    /// RMS level of the whole drone.
    pub fn level(&self) -> Dbfs {
        self.level
    }

    /// The level that is not passed.
    pub fn ceiling(&self) -> Dbfs {
        self.ceiling
    }

    /// A step louder, or softer if negative. Says whether that could be done.
    pub fn louder(&mut self, steps: i8) -> bool {
        let before = self.level;
        self.set_level(Dbfs::new(before.get() + STEP_DB * f64::from(steps)));
        self.level != before
    }

    fn set_level(&mut self, level: Dbfs) {
        let db = level.get().min(self.ceiling.get());
        self.level = Dbfs::new(db.max(LOWEST_LEVEL.get()));
    }

    /// Moves all tones that are partials to the next one, or the one before, and all that are
    /// notes by a step of the player's accidentals (the scale's chain); ratios move along. At the
    /// end of the series none moves, so that a chord stays as it is.
    pub fn step(&mut self, steps: isize, pitches: &Pitches<'_>) {
        let tones = self.tones.list().iter().map(|tone| {
            Some(match tone {
                Tone::Partial(partial) => {
                    let number = u8::try_from(partial.number() as isize + steps).ok()?;
                    Tone::Partial(Partial::new(number).ok()?)
                }
                Tone::Tempered(note) => Tone::Tempered(stepped(*note, steps, pitches)),
                Tone::Agreed(note) => Tone::Agreed(stepped(*note, steps, pitches)),
                Tone::Above(..) => *tone,
            })
        });
        if let Some(Ok(tones)) = tones.collect::<Option<_>>().map(Tones::new) {
            self.tones = tones;
        }
    }

    /// Swings every tone to the next place of its note: from the partial to the tempered note,
    /// from there to the agreed place if there is one, and back to the partial that sounds there.
    /// Tones without another place stay. Says whether any moved.
    pub fn swing(&mut self, pitches: &Pitches<'_>) -> bool {
        let tones = self.tones.list().iter().map(|tone| match tone {
            Tone::Partial(partial) => {
                let hertz = pitches.tuning.series().frequency(*partial);
                Tone::Tempered(pitches.tuning.scale().nearest(hertz).0)
            }
            Tone::Tempered(note) if (pitches.agreed)(&pitches.places(*note)).is_some() => {
                Tone::Agreed(*note)
            }
            Tone::Tempered(note) | Tone::Agreed(note) => match pitches.places(*note).partial {
                Some(PartialPlace {
                    partial,
                    octaves: 0,
                    ..
                }) => Tone::Partial(partial),
                _ => Tone::Tempered(*note),
            },
            Tone::Above(..) => *tone,
        });
        let Ok(tones) = Tones::new(tones.collect()) else {
            return false;
        };
        let moved = tones != self.tones;
        self.tones = tones;
        moved
    }

    /// Its tones and where they stand, octave included.
    pub fn soundings(&self, pitches: &Pitches<'_>) -> Vec<Sounding> {
        let octave = 2_f64.powi(self.octave.into());
        let places = pitches.of(&self.tones).into_iter().zip(self.tones.list());
        places
            .map(|(place, tone)| Sounding {
                tone: *tone,
                hertz: place.times(octave),
            })
            .collect()
    }

    /// What has to sound now: nothing while it is silent.
    pub fn wanted(&self, pitches: &Pitches<'_>) -> Wanted {
        let mut tones = Vec::new();
        if self.is_sounding {
            let soundings = self.soundings(pitches);
            let last = soundings.len().saturating_sub(1);
            tones.extend(
                soundings
                    .iter()
                    .enumerate()
                    .map(|(n, sounding)| WantedTone {
                        hertz: sounding.hertz,
                        pan: match (self.is_apart, last) {
                            (true, 1..) => 2.0 * n as f64 / last as f64 - 1.0,
                            _ => 0.0,
                        },
                    }),
            );
        }
        Wanted {
            tones,
            timbre: self.timbre,
            level: self.level,
        }
    }
}

/// The note so many steps along the scale's keys.
fn stepped(note: Note, steps: isize, pitches: &Pitches<'_>) -> Note {
    let key = note.key_number() + steps as i32;
    let names = pitches.tuning.scale().chain().notes();
    let of_key = |name: &NoteName| name.key() as i32 == key.rem_euclid(12);
    // Of two names of one key (G sharp and A flat in a longer chain) the first serves.
    let Some(name) = names.into_iter().find(of_key) else {
        return note;
    };
    (0..=9)
        .map(|octave| name.in_octave(octave))
        .find(|note| note.key_number() == key)
        .unwrap_or(note)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rehearsal::tests::sixth_comma;

    fn drone(text: &str) -> Drone {
        Drone::new(text.parse().unwrap())
    }

    fn with<T>(run: impl FnOnce(&Pitches<'_>) -> T) -> T {
        let tuning = sixth_comma();
        run(&Pitches {
            tuning: &tuning,
            agreed: &|places| Some(places.tempered.place.raised(crate::units::Cents::new(-9.0))),
        })
    }

    #[test]
    fn next_and_previous_go_along_partials_and_keys() {
        with(|pitches| {
            let mut moved = drone("8,12");
            moved.step(1, pitches);
            assert_eq!(moved.tones().to_string(), "p9,p13");
            moved.step(-20, pitches);
            assert_eq!(moved.tones().to_string(), "p9,p13", "a chord stays a chord");
            let mut moved = drone("D3,3/2,agreed:B3");
            moved.step(1, pitches);
            assert_eq!(moved.tones().to_string(), "E\u{266d}3,3/2@1,agreed:C4");
            moved.step(-1, pitches);
            assert_eq!(moved.tones().to_string(), "D3,3/2@1,agreed:B3");
        });
    }

    #[test]
    fn a_swing_goes_to_the_other_place_and_back() {
        with(|pitches| {
            let mut swung = drone("11");
            assert!(swung.swing(pitches));
            assert_eq!(swung.tones().to_string(), "G\u{266f}5");
            assert!(swung.swing(pitches));
            assert_eq!(swung.tones().to_string(), "agreed:G\u{266f}5");
            assert!(swung.swing(pitches));
            assert_eq!(swung.tones().to_string(), "p11");
            // No partial of a trumpet in D sounds near E flat 4.
            let mut between = drone("Eb4");
            assert!(between.swing(pitches) && between.swing(pitches));
            assert_eq!(between.tones().to_string(), "E\u{266d}4");
        });
    }

    #[test]
    fn tones_stand_where_they_should() {
        with(|pitches| {
            let hertz = |text: &str| -> Vec<f64> {
                let soundings = drone(text).in_octave(-1).soundings(pitches);
                soundings.iter().map(|s| 2.0 * s.hertz.get()).collect()
            };
            let scale = pitches.tuning.scale();
            let d3 = scale.frequency("D3".parse().unwrap()).get();
            let found = hertz("D3,5/4,6/5@2");
            for (found, expected) in found.iter().zip([d3, 1.25 * d3, 1.5 * d3]) {
                assert!((found - expected).abs() < 1e-9);
            }
            // Partial 8 stands on the tempered tonic.
            let found = hertz("8,D5,agreed:D5");
            assert!((found[0] - found[1]).abs() < 1e-9);
            let below = 1200.0 * (found[2] / found[1]).log2();
            assert!((below + 9.0).abs() < 1e-6, "{below}");
        });
    }

    #[test]
    fn the_ceiling_holds_until_it_is_raised() {
        let mut loud = drone("D3");
        assert_eq!(loud.level(), START_LEVEL);
        while loud.louder(1) {}
        assert_eq!(loud.level(), CEILING);
        let mut louder = drone("D3").under(Dbfs::new(0.0));
        assert_eq!(louder.level(), START_LEVEL);
        while louder.louder(1) {}
        assert_eq!(louder.level(), HIGHEST_CEILING);
        assert!(louder.louder(-1));
        let low = drone("D3").under(Dbfs::new(-50.0));
        assert_eq!(low.level(), Dbfs::new(-50.0));
    }

    #[test]
    fn a_silent_drone_wants_nothing_and_one_that_is_apart_has_two_sides() {
        with(|pitches| {
            let mut drone = drone("D3,A3").apart(true);
            assert!(drone.wanted(pitches).tones.is_empty());
            drone.toggle();
            let pans: Vec<f64> = drone.wanted(pitches).tones.iter().map(|t| t.pan).collect();
            assert_eq!(pans, [-1.0, 1.0]);
        });
    }
}
