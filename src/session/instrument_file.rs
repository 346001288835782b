//! The shipped instruments.

use std::sync::LazyLock;

use serde::Deserialize;

use super::fields::Version;
use super::file_error::parse;
use super::suggestion::Unknown;
use crate::rehearsal::Instrument;

static SHIPPED: LazyLock<Vec<Instrument>> = LazyLock::new(|| {
    parse::<File>(include_str!("../../assets/instruments.ron"))
        .expect("a test reads the shipped instruments")
        .instruments
});

#[derive(Deserialize)]
#[serde(rename = "instruments", deny_unknown_fields)]
struct File {
    #[serde(rename = "version")]
    _version: Version,
    instruments: Vec<Instrument>,
}

/// Every instrument the program knows, family by family.
pub fn instruments() -> &'static [Instrument] {
    &SHIPPED
}

/// The instrument called `name`.
///
/// # Errors
///
/// There is none; the error says which one was probably meant.
pub fn instrument(name: &str) -> Result<&'static Instrument, Unknown> {
    SHIPPED
        .iter()
        .find(|instrument| instrument.name == name)
        .ok_or_else(|| Unknown::new("instrument", name, SHIPPED.iter().map(|i| i.name.as_str())))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rehearsal::Family;
    use crate::session::fields::{CommandName, Line};
    use crate::units::Note;
    use std::collections::HashSet;

    #[test]
    fn instruments_have_names_of_their_own_and_ranges_the_right_way_up() {
        let mut names = HashSet::new();
        for instrument in instruments() {
            assert!(names.insert(&instrument.name), "{}", instrument.name);
            assert!(CommandName::try_from(instrument.name.clone()).is_ok());
            assert!(Line::try_from(instrument.title.clone()).is_ok());
            let octaves = instrument.highest.key_number() - instrument.lowest.key_number();
            assert!(octaves >= 12, "{}", instrument.name);
        }
    }

    #[test]
    fn the_extremes_of_the_trade_are_covered() {
        let covers = |name: &str, note: &str| {
            let instrument = instrument(name).unwrap();
            let note: Note = note.parse().unwrap();
            (instrument.lowest.key_number()..=instrument.highest.key_number())
                .contains(&note.key_number())
        };
        assert!(covers("double-bass", "E1") && covers("double-bass-c", "C1"));
        assert!(covers("natural-trumpet", "D6") && covers("room", "E1"));
        assert!(instrument("harpsichord").unwrap().inharmonic);
        assert!(!instrument("organ").unwrap().inharmonic);
        assert_eq!(instrument("room").unwrap().family, Family::Room);
        assert_eq!(instrument("section").unwrap().family, Family::Section);
    }

    #[test]
    fn a_mistyped_instrument_is_guessed() {
        let error = instrument("trumpet").unwrap_err().to_string();
        assert_eq!(
            error,
            "no instrument is called 'trumpet': did you mean 'natural-trumpet'?"
        );
    }
}
