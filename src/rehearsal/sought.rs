//! Which voices are looked for on a shared channel, and what each is called.
//!
//! The order of the places depends on the channel and its chain alone, so that a chord heard
//! while another temperament was chosen still has the right names.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use super::{Channel, Family, MOST_PLAYERS};
use crate::analysis::chord::{Company, Place, Sought};
use crate::tuning::{Partial, SeriesError, Tuning};
use crate::units::{Cents, Hertz, Note, ParseNoteError};

/// The partials trumpets are looked for on where nothing is known of the music.
const LOWEST_PARTIAL: u8 = 3;
const HIGHEST_PARTIAL: u8 = 16;

/// The notes looked for where nothing is known of the instruments, by key: G1 to E6.
const WIDEST_RANGE: (i32, i32) = (31, 88);

/// What a voice is called: a partial of the trumpets or a note of the scale. In files it is
/// text: `p8`, `F#4`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub enum VoiceLabel {
    /// Played on this partial.
    Partial(Partial),
    /// Played as this note.
    Note(Note),
}

impl VoiceLabel {
    /// Who plays it.
    pub fn company(self) -> Company {
        match self {
            Self::Partial(_) => Company::Trumpets,
            Self::Note(_) => Company::Others,
        }
    }

    /// Where it stands in `tuning`.
    pub fn frequency(self, tuning: &Tuning) -> Hertz {
        match self {
            Self::Partial(partial) => tuning.series().frequency(partial),
            Self::Note(note) => tuning.scale().frequency(note),
        }
    }

    /// What a note of a channel with one player is called: a trumpet's by its partial where
    /// one is near.
    pub(super) fn of_player(player: &Channel, hertz: Hertz, note: Note, tuning: &Tuning) -> Self {
        let nearest = || {
            let off = |partial: &Partial| tuning.series().frequency(*partial).above(hertz).abs();
            let near = Partial::all().filter(|partial| off(partial) <= Cents::new(72.0));
            near.min_by(|a, b| off(a).get().total_cmp(&off(b).get()))
        };
        let is_trumpet = player.instrument.family == Family::Trumpets;
        is_trumpet
            .then(nearest)
            .flatten()
            .map_or(Self::Note(note), Self::Partial)
    }

    /// The partial, if it is one.
    pub fn partial(self) -> Option<Partial> {
        match self {
            Self::Partial(partial) => Some(partial),
            Self::Note(_) => None,
        }
    }
}

impl fmt::Display for VoiceLabel {
    /// `p8` or `F♯4`; the alternate form is ASCII, as in files: `F#4`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Partial(partial) => f.pad(&format!("p{}", partial.number())),
            Self::Note(note) => note.fmt(f),
        }
    }
}

/// Text that names no voice.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum VoiceLabelError {
    /// A partial that cannot be.
    #[error(transparent)]
    Partial(#[from] SeriesError),
    /// Neither a partial nor a note.
    #[error("'{text}' names no voice: write a partial (p8) or a note (F#4)")]
    Text {
        /// What was written.
        text: String,
        /// Why it is no note either.
        source: ParseNoteError,
    },
}

impl FromStr for VoiceLabel {
    type Err = VoiceLabelError;
    fn from_str(text: &str) -> Result<Self, VoiceLabelError> {
        let trimmed = text.trim();
        let digits = trimmed.strip_prefix('p').filter(|digits| {
            (1..=3).contains(&digits.len()) && digits.bytes().all(|b| b.is_ascii_digit())
        });
        if let Some(digits) = digits {
            let number: u16 = digits.parse().unwrap_or(u16::MAX);
            let number = u8::try_from(number).unwrap_or(u8::MAX);
            return Ok(Self::Partial(Partial::new(number)?));
        }
        match trimmed.parse() {
            Ok(note) => Ok(Self::Note(note)),
            Err(source) => Err(VoiceLabelError::Text {
                text: trimmed.escape_debug().to_string(),
                source,
            }),
        }
    }
}

impl TryFrom<String> for VoiceLabel {
    type Error = VoiceLabelError;
    fn try_from(text: String) -> Result<Self, VoiceLabelError> {
        text.parse()
    }
}

impl From<VoiceLabel> for String {
    fn from(label: VoiceLabel) -> Self {
        format!("{label:#}")
    }
}

/// What is sought on a channel, with the name of every place.
#[derive(Debug, Clone, PartialEq)]
pub struct SoughtVoices {
    labels: Vec<VoiceLabel>,
    sought: Sought,
}

impl SoughtVoices {
    /// What may sound on `channel` when nothing is known of the music: the partials 3 to 16
    /// where trumpets play, the notes of the scale within the instrument's range where others
    /// do, as many at once as there are players.
    pub fn free(channel: &Channel, tuning: &Tuning) -> Self {
        let instrument = &channel.instrument;
        let range = match instrument.family {
            Family::Room | Family::Section => WIDEST_RANGE,
            Family::Trumpets
            | Family::Strings
            | Family::Plucked
            | Family::Winds
            | Family::Voices
            | Family::Keyboard => (
                instrument.lowest.key_number(),
                instrument.highest.key_number(),
            ),
        };
        Self::within(
            instrument.family.companies(),
            range,
            channel.players,
            tuning,
        )
    }

    /// The same where no more is known than who plays.
    pub fn of_companies(companies: &[Company], tuning: &Tuning) -> Self {
        Self::within(companies, WIDEST_RANGE, MOST_PLAYERS, tuning)
    }

    fn within(companies: &[Company], range: (i32, i32), most: usize, tuning: &Tuning) -> Self {
        let mut labels = Vec::new();
        if companies.contains(&Company::Trumpets) {
            let partials = LOWEST_PARTIAL..=HIGHEST_PARTIAL;
            labels.extend(
                partials
                    .filter_map(|n| Partial::new(n).ok())
                    .map(VoiceLabel::Partial),
            );
        }
        if companies.contains(&Company::Others) {
            labels.extend(
                notes_within(range, tuning)
                    .into_iter()
                    .map(VoiceLabel::Note),
            );
        }
        Self {
            sought: Sought::Free {
                places: places(&labels, tuning),
                most,
            },
            labels,
        }
    }

    /// Exactly these voices.
    pub fn expected(labels: &[VoiceLabel], tuning: &Tuning) -> Self {
        Self {
            labels: labels.to_vec(),
            sought: Sought::Expected(places(labels, tuning)),
        }
    }

    /// For whoever listens.
    pub fn sought(&self) -> &Sought {
        &self.sought
    }

    /// What the place of this number is called, counted from 0 as in
    /// [`HeardVoice::place`](crate::analysis::chord::HeardVoice::place).
    pub fn label(&self, place: usize) -> Option<VoiceLabel> {
        self.labels.get(place).copied()
    }

    /// All names, in the order of the places.
    pub fn labels(&self) -> &[VoiceLabel] {
        &self.labels
    }
}

fn places(labels: &[VoiceLabel], tuning: &Tuning) -> Vec<Place> {
    let place = |label: &VoiceLabel| Place {
        hertz: label.frequency(tuning),
        company: label.company(),
    };
    labels.iter().map(place).collect()
}

/// The notes of the scale within a range of keys, rising by key and, where two spellings share
/// one, by fifths.
fn notes_within((lowest, highest): (i32, i32), tuning: &Tuning) -> Vec<Note> {
    let chain = tuning.scale().chain();
    let mut notes: Vec<Note> = (-1..=9)
        .flat_map(|octave| chain.notes().map(move |name| name.in_octave(octave)))
        .filter(|note| (lowest..=highest).contains(&note.key_number()))
        .collect();
    notes.sort_by_key(|note| (note.key_number(), note.name().fifths()));
    notes
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rehearsal::tests::{band, regular, sixth_comma};
    use proptest::prelude::*;

    fn channel(family: Family, players: usize) -> Channel {
        let mut channel = band(&["Several"]).channels.remove(0);
        channel.instrument.family = family;
        channel.players = players;
        channel
    }

    fn free(family: Family) -> (Vec<VoiceLabel>, Vec<Place>, usize) {
        let voices = SoughtVoices::free(&channel(family, 3), &sixth_comma());
        match voices.sought() {
            Sought::Free { places, most } => (voices.labels().to_vec(), places.clone(), *most),
            Sought::Expected(_) => panic!("nothing is expected"),
        }
    }

    #[test]
    fn trumpets_are_sought_on_partials_3_to_16() {
        let (labels, places, most) = free(Family::Trumpets);
        assert_eq!((labels.len(), places.len(), most), (14, 14, 3));
        assert_eq!(
            (labels[0].to_string(), labels[13].to_string()),
            ("p3".into(), "p16".into())
        );
        assert!(
            places
                .iter()
                .all(|place| place.company == Company::Trumpets)
        );
        // Partial 8 of trumpets in D is a just fourth and a sixth of a comma above A4, 501.629.
        let cents = places[5].hertz.above(Hertz::new(415.0).unwrap()).get();
        assert!((cents - 501.629).abs() < 1e-3, "{cents}");
    }

    #[test]
    fn others_are_sought_on_the_notes_of_their_range() {
        let (labels, places, _) = free(Family::Strings);
        // G3 to E6, twelve to the octave.
        assert_eq!(labels.len(), 34);
        assert_eq!(format!("{:#} {:#}", labels[0], labels[33]), "G3 E6");
        assert!(places.iter().all(|place| place.company == Company::Others));
        let (labels, ..) = free(Family::Section);
        assert_eq!(
            format!("{:#} {:#}", labels[0], labels[labels.len() - 1]),
            "G1 E6"
        );
    }

    #[test]
    fn a_room_holds_both_companies() {
        let (labels, places, _) = free(Family::Room);
        assert_eq!(labels.len(), 14 + 58);
        for (label, place) in labels.iter().zip(&places) {
            assert_eq!(label.company(), place.company);
        }
    }

    #[test]
    fn what_is_expected_is_sought_in_its_order() {
        let labels: Vec<VoiceLabel> = ["p12", "F#4", "p8"].map(|t| t.parse().unwrap()).to_vec();
        let voices = SoughtVoices::expected(&labels, &sixth_comma());
        let Sought::Expected(places) = voices.sought() else {
            panic!("these are expected")
        };
        let companies: Vec<Company> = places.iter().map(|place| place.company).collect();
        assert_eq!(
            companies,
            [Company::Trumpets, Company::Others, Company::Trumpets]
        );
        assert_eq!(voices.label(1), Some(labels[1]));
        assert_eq!(voices.label(3), None);
    }

    #[test]
    fn the_names_of_places_outlast_a_temperament() {
        let chain = "Ab-D#".parse().unwrap();
        let sixth = sixth_comma().over_chain(chain);
        let fifths = sixth.in_temperament(&regular("pythagorean", "0"));
        // A flat lies above G sharp in one and below it in the other.
        let names = |tuning: &Tuning| {
            SoughtVoices::free(&channel(Family::Strings, 2), tuning)
                .labels()
                .to_vec()
        };
        assert_eq!(names(&sixth), names(&fifths));
    }

    #[test]
    fn nonsense_names_no_voice() {
        for text in [
            "",
            "p",
            "p0",
            "p25",
            "p999",
            "p1234",
            "8",
            "H4",
            "partial 8",
            "p-1",
        ] {
            assert!(text.parse::<VoiceLabel>().is_err(), "{text}");
        }
        let error = "x".parse::<VoiceLabel>().unwrap_err().to_string();
        assert_eq!(
            error,
            "'x' names no voice: write a partial (p8) or a note (F#4)"
        );
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn labels_survive_there_and_back(number in 1_u8..=24, fifths in -8_i32..=12, octave in 0_i8..=8) {
            let name = crate::units::NoteName::from_fifths(fifths).unwrap();
            for label in [
                VoiceLabel::Partial(Partial::new(number).unwrap()),
                VoiceLabel::Note(name.in_octave(octave)),
            ] {
                prop_assert_eq!(String::from(label).parse::<VoiceLabel>().unwrap(), label);
                prop_assert_eq!(label.to_string().parse::<VoiceLabel>().unwrap(), label);
            }
        }
    }
}
