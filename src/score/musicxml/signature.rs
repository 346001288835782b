//! Time and key signatures as they are written.

use roxmltree::Node;

use super::part::text_of;
use crate::score::BarFault;
use crate::score::names::tidy;

/// Beats in a bar that are believed.
const MOST_BEATS: u64 = 1_000;
/// The shortest note a beat can be: a hundred and twenty-eighth.
const SHORTEST_BEAT: u64 = 128;

/// A time signature.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Meter {
    /// How many.
    pub(super) beats: u64,
    /// Of which part of a whole note: a power of two.
    pub(super) beat_type: u64,
}

impl Meter {
    /// Reads a `<time>`; none where the music is unmeasured. Several signatures in one count
    /// together, in the shortest of their beats.
    pub(super) fn read(node: Node) -> Result<Option<Self>, BarFault> {
        let texts = |name: &str| -> Vec<&str> {
            node.children()
                .filter(|child| child.tag_name().name() == name)
                .map(|child| child.text().unwrap_or_default().trim())
                .collect()
        };
        let (beats, beat_types) = (texts("beats"), texts("beat-type"));
        let wrong = || {
            BarFault::Meter(tidy(&format!(
                "{}/{}",
                beats.join("+"),
                beat_types.join("+")
            )))
        };
        if beats.is_empty() && beat_types.is_empty() {
            return Ok(None);
        }
        if beats.len() != beat_types.len() || beats.len() > 16 {
            return Err(wrong());
        }
        let mut sum = Self {
            beats: 0,
            beat_type: 1,
        };
        for (&beats, &beat_type) in beats.iter().zip(&beat_types) {
            let beat_type: u64 = beat_type.parse().map_err(|_| wrong())?;
            if !beat_type.is_power_of_two() || beat_type > SHORTEST_BEAT {
                return Err(wrong());
            }
            let mut count = 0;
            for beats in beats.split('+') {
                let beats: u64 = beats.trim().parse().map_err(|_| wrong())?;
                count += beats.min(MOST_BEATS + 1);
            }
            if count == 0 || count > MOST_BEATS {
                return Err(wrong());
            }
            let shortest = sum.beat_type.max(beat_type);
            sum = Self {
                beats: sum.beats * (shortest / sum.beat_type) + count * (shortest / beat_type),
                beat_type: shortest,
            };
        }
        Ok(Some(sum))
    }

    /// The length of a beat where a quarter note is `per_quarter` long.
    pub(super) fn beat(self, per_quarter: u64) -> u64 {
        per_quarter * 4 / self.beat_type
    }

    /// The length of a bar.
    pub(super) fn bar(self, per_quarter: u64) -> u64 {
        self.beats * self.beat(per_quarter)
    }
}

/// Reads the fifths of a `<key>`; none where it is one of single accidentals.
pub(super) fn fifths(node: Node) -> Result<Option<i8>, BarFault> {
    let Some(text) = text_of(node, "fifths") else {
        return Ok(None);
    };
    let fifths = text
        .trim()
        .parse()
        .ok()
        .filter(|fifths: &i8| (-7..=7).contains(fifths));
    fifths
        .map(Some)
        .ok_or_else(|| BarFault::Signature(tidy(text)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use roxmltree::Document;

    fn read(inside: &str) -> Result<Option<(u64, u64)>, BarFault> {
        let text = format!("<time>{inside}</time>");
        let document = Document::parse(&text).unwrap();
        let meter = Meter::read(document.root_element())?;
        Ok(meter.map(|meter| (meter.beats, meter.beat_type)))
    }

    #[test]
    fn time_signatures_are_read() {
        let check = |inside: &str, expected| assert_eq!(read(inside), Ok(expected), "{inside}");
        check("<beats>3</beats><beat-type>4</beat-type>", Some((3, 4)));
        check(
            "<beats>3+2 + 3</beats><beat-type>8</beat-type>",
            Some((8, 8)),
        );
        check(
            "<beats>2</beats><beat-type>4</beat-type><beats>3</beats><beat-type>8</beat-type>",
            Some((7, 8)),
        );
        check("<senza-misura/>", None);
    }

    #[test]
    fn a_key_of_more_than_seven_sharps_or_flats_is_named() {
        let check = |text: &str, expected| {
            let text = format!("<key><fifths>{text}</fifths></key>");
            let document = Document::parse(&text).unwrap();
            assert_eq!(fifths(document.root_element()).ok(), expected, "{text}");
        };
        check("-7", Some(Some(-7)));
        check(" 7 ", Some(Some(7)));
        for wrong in ["8", "-8", "127", "-128", "128", "1.5", "G"] {
            check(wrong, None);
        }
    }

    #[test]
    fn impossible_ones_are_named() {
        let check = |beats: &str, beat_type: &str| {
            let error = read(&format!(
                "<beats>{beats}</beats><beat-type>{beat_type}</beat-type>"
            ));
            let expected = format!("'{beats}/{beat_type}' is no time signature: correct it");
            assert_eq!(error.unwrap_err().to_string(), expected);
        };
        check("0", "4");
        check("4", "0");
        check("4", "3");
        check("-3", "4");
        check("3", "256");
        check("1001", "4");
        check("99999999999999999999", "4");
        check("18446744073709551615+1", "4");
        assert!(read("<beats>3</beats>").is_err());
    }
}
