//! Tables of check values in `tests/data`, each row naming its source.

use concento::session;
use concento::tuning::{Anchor, Chain, PitchStandard, Scale, Temperament, Tuning};
use concento::units::NoteName;

/// The rows of a table as the cells of the named columns.
pub(crate) fn rows<const N: usize>(table: &str, columns: [&str; N]) -> Vec<[String; N]> {
    let mut reader = csv::Reader::from_reader(table.as_bytes());
    let headings = reader.headers().unwrap().clone();
    let places = columns.map(|column| {
        headings
            .iter()
            .position(|heading| heading == column)
            .unwrap_or_else(|| panic!("no column {column}"))
    });
    reader
        .records()
        .map(|record| {
            let record = record.unwrap();
            assert!(
                !record[headings.len() - 1].is_empty(),
                "{record:?} names no source"
            );
            places.map(|place| record[place].to_owned())
        })
        .collect()
}

/// A printed number and half a unit of its last digit: what rounding can have changed.
pub(crate) fn printed(text: &str) -> (f64, f64) {
    let decimals = text.split_once('.').map_or(0, |(_, d)| d.len());
    (
        text.parse().unwrap(),
        0.5 * 10_f64.powi(-(decimals as i32)) + 1e-9,
    )
}

/// Checks `computed` against a printed number, to its printed digits.
pub(crate) fn check(computed: f64, text: &str, of: &str) {
    let (expected, tolerance) = printed(text);
    assert!(
        (computed - expected).abs() <= tolerance,
        "{of}: computed {computed}, printed {text}"
    );
}

pub(crate) fn temperament(name: &str) -> Temperament {
    let all = session::temperaments(None).unwrap();
    session::find(&all, name).unwrap().clone()
}

pub(crate) fn name(text: &str) -> NoteName {
    text.parse().unwrap()
}

pub(crate) fn scale(temperament_name: &str, a4_hz: f64) -> Scale {
    let standard = PitchStandard::new(a4_hz).unwrap();
    Scale::new(&temperament(temperament_name), Chain::usual(), standard)
}

pub(crate) fn tuning(temperament_name: &str, a4_hz: f64, key: &str) -> Tuning {
    let key = name(key);
    Tuning::new(
        PitchStandard::new(a4_hz).unwrap(),
        &temperament(temperament_name),
        Chain::usual(),
        key,
        Anchor::tonic(key),
    )
}
