//! Chords held as they sounded, on a shelf of nine.

use super::VoiceLabel;
use crate::tuning::Tuning;
use crate::units::{Cents, Hertz, NoteName, Seconds};

/// How many chords are kept at hand.
pub const SHELF: usize = 9;

/// One voice of a held chord.
#[derive(Debug, Clone, PartialEq)]
pub struct HeldVoice {
    /// What it is called.
    pub label: VoiceLabel,
    /// Where it stood: the median over its steady part.
    pub hertz: Hertz,
    /// How far it strayed from there, as a standard deviation.
    pub spread: Cents,
    /// The channel it was heard on.
    pub channel: String,
    /// The note of the others that it may have been instead, where that was not known. It is
    /// told when the chord is held, and not kept in files.
    pub or_label: Option<VoiceLabel>,
}

/// What a chord was held in.
#[derive(Debug, Clone, PartialEq)]
pub struct Setting {
    /// The programme or the band.
    pub title: String,
    /// The A4 of the pitch standard.
    pub a4: Hertz,
    /// The note that keeps this level.
    pub kept_by: NoteName,
    /// The temperament's name.
    pub temperament: String,
    /// The keyboard's accidentals, as in files.
    pub chain: String,
    /// The key of the trumpets.
    pub key: NoteName,
    /// The fundamental of their series.
    pub fundamental: Hertz,
}

impl Setting {
    /// The setting of a rehearsal called `title`.
    pub fn new(title: &str, tuning: &Tuning) -> Self {
        Self {
            title: title.to_owned(),
            a4: tuning.standard().a4(),
            kept_by: tuning.standard().kept(),
            temperament: tuning.scale().temperament().name.clone(),
            chain: format!("{:#}", tuning.scale().chain()),
            key: tuning.series().key(),
            fundamental: tuning.series().fundamental(),
        }
    }
}

/// When a chord was held.
#[derive(Debug, Clone, PartialEq)]
pub enum Moment {
    /// In this rehearsal, on its clock.
    Now(Seconds),
    /// In an earlier one, at this date and time.
    Earlier(String),
}

/// A chord as it sounded.
#[derive(Debug, Clone, PartialEq)]
pub struct HeldChord {
    /// The voices from low to high; never none.
    pub voices: Vec<HeldVoice>,
    /// What was measured against.
    pub setting: Setting,
    /// When.
    pub moment: Moment,
}

impl HeldChord {
    /// The voices' names from low to high.
    pub fn names(&self) -> String {
        let names: Vec<String> = self.voices.iter().map(|v| v.label.to_string()).collect();
        names.join(" ")
    }

    /// The same with what is not sure: `p8/D5 p12 from Room, whoever played there`. A chord held
    /// from a room may have a string on a partial in it.
    pub fn taken(&self) -> String {
        let name = |voice: &HeldVoice| match voice.or_label {
            Some(other) => format!("{}/{other}", voice.label),
            None => voice.label.to_string(),
        };
        let unsure = self.voices.iter().filter(|voice| voice.or_label.is_some());
        let mut rooms: Vec<&str> = unsure.map(|voice| voice.channel.as_str()).collect();
        rooms.sort_unstable();
        rooms.dedup();
        let names: Vec<String> = self.voices.iter().map(name).collect();
        let names = names.join(" ");
        if rooms.is_empty() {
            return names;
        }
        format!("{names} from {}, whoever played there", rooms.join(", "))
    }
}

/// Chords that can be recalled by number, and the one in use.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Shelf {
    places: [Option<HeldChord>; SHELF],
    /// Where the next one goes: after nine the oldest gives way.
    next: usize,
    current: Option<usize>,
}

impl Shelf {
    /// Puts a chord into the next place without using it; says its number.
    pub(super) fn put(&mut self, chord: HeldChord) -> usize {
        let place = self.next;
        self.places[place] = Some(chord);
        self.next = (place + 1) % SHELF;
        place + 1
    }

    /// Takes the chord of this number into use; says whether there is one.
    pub(super) fn recall(&mut self, number: usize) -> bool {
        let found = number
            .checked_sub(1)
            .filter(|place| self.places.get(*place).is_some_and(Option::is_some));
        if found.is_some() {
            self.current = found;
        }
        found.is_some()
    }

    /// Takes the next chord into use, round and round; says its number.
    pub(super) fn recall_next(&mut self) -> Option<usize> {
        let after = self.current.map_or(self.next, |current| current + 1);
        let next = (after..after + SHELF)
            .map(|place| place % SHELF)
            .find(|place| self.places[*place].is_some())?;
        self.current = Some(next);
        Some(next + 1)
    }

    /// Uses none; all stay on the shelf.
    pub(super) fn release(&mut self) {
        self.current = None;
    }

    /// The chord in use, with its number.
    pub fn current(&self) -> Option<(usize, &HeldChord)> {
        let place = self.current?;
        Some((place + 1, self.places[place].as_ref()?))
    }

    /// All chords with their numbers.
    pub fn chords(&self) -> impl Iterator<Item = (usize, &HeldChord)> {
        let numbered = self.places.iter().enumerate();
        numbered.filter_map(|(place, chord)| Some((place + 1, chord.as_ref()?)))
    }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use crate::rehearsal::tests::sixth_comma;
    use proptest::prelude::*;

    /// A chord of these partials, each so many cents off.
    pub(crate) fn held(voices: &[(u8, f64)]) -> HeldChord {
        let tuning = sixth_comma();
        let voice = |(number, cents): &(u8, f64)| HeldVoice {
            label: format!("p{number}").parse().unwrap(),
            hertz: tuning
                .series()
                .frequency((*number).try_into().unwrap())
                .raised(Cents::new(*cents)),
            spread: Cents::new(0.5),
            channel: format!("Trumpet {number}"),
            or_label: None,
        };
        HeldChord {
            voices: voices.iter().map(voice).collect(),
            setting: Setting::new("An afternoon", &tuning),
            moment: Moment::Now(Seconds::new(0.0)),
        }
    }

    #[test]
    fn nine_are_kept_and_the_oldest_gives_way() {
        let mut shelf = Shelf::default();
        assert!(!shelf.recall(1) && shelf.recall_next().is_none());
        for number in 1..=10 {
            assert_eq!(
                shelf.put(held(&[(number, 0.0)])),
                usize::from((number - 1) % 9 + 1)
            );
        }
        assert_eq!(shelf.chords().count(), 9);
        assert!(shelf.recall(1));
        assert_eq!(shelf.current().unwrap().1.names(), "p10");
        assert_eq!(shelf.recall_next(), Some(2));
        shelf.release();
        assert!(shelf.current().is_none());
        // After a release the oldest comes first.
        assert_eq!(shelf.recall_next(), Some(2));
        assert!(!shelf.recall(0) && !shelf.recall(10));
        assert_eq!(
            shelf.current().unwrap().0,
            2,
            "a number without chord changes nothing"
        );
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn whatever_is_in_use_is_on_the_shelf(steps in prop::collection::vec(0_usize..13, 0..60)) {
            let mut shelf = Shelf::default();
            for step in steps {
                match step {
                    10 => { shelf.put(held(&[(8, 0.0)])); }
                    11 => { shelf.recall_next(); }
                    12 => shelf.release(),
                    number => { shelf.recall(number); }
                }
                if let Some((number, _)) = shelf.current() {
                    prop_assert!(shelf.chords().any(|(other, _)| other == number));
                }
            }
        }
    }
}
